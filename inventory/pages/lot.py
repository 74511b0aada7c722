"""One lot: where it lies, where it came from, and what is done with it as a whole."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from inventory.actions import count_lot, extend_lot, move_stock, open_lot, set_lot_status
from inventory.models import Item, Lot, Place, Posting
from inventory.pages import display
from inventory.pages.at_hand import hand_of_lot
from inventory.pages.forms import ActionForm, DayField, QuantityFormField, RecordActionPage
from inventory.pages.item import BalanceTable, PieceTable, lot_mark
from inventory.pages.item_words import ratio_words
from inventory.pages.movements import newest_movements, with_undo
from inventory.pages.reasons import DayOrToday
from inventory.pages.thickness_words import said_of
from inventory.queries.mixing import two_part_systems
from inventory.queries.stock import balances_of_lot
from inventory.queries.trace import made_from, went_into

COUNT_REASONS = [
    ("", "it is as recorded"),
    ("counted", "routine count"),
    ("dropped or lost", "dropped or lost"),
    ("short pack", "the pack held less"),
    ("not booked", "used without an entry"),
    ("found", "found again"),
]


def lot_page(request: HttpRequest, number: str) -> HttpResponse:
    lot = get_object_or_404(Lot.objects.select_related("item", "supplier"), number=number)
    by_hand = request.user.may_write and not lot.item.in_pieces
    table = PieceTable if lot.item.in_pieces else BalanceTable
    balances = balances_of_lot(lot)
    word, mark = lot_mark(lot)
    shown = {
        "lot": lot,
        "item": lot.item,
        "heading": f"Lot {lot.number}",
        "word": word,
        "mark": mark,
        "hand": hand_of_lot(lot, request.user) if by_hand else None,
        "left": sum(balance.qty for balance in balances),
        "balance_table": table(balances, request=request, exclude=["lot", "maker_number"]),
        "made_from": made_from(lot) if lot.item.kind == Item.Kind.MADE else [],
        "went_into": went_into(lot),
        "movements": newest_movements(request, lot=lot),
        "today": timezone.localdate(),
        "mixes": [
            (mix, ratio_words(mix)) for mix in two_part_systems(timezone.localdate(), [lot.item])
        ],
        "thickness": said_of(lot, None, request.user),
    }
    return render(request, "stock/lot.html", shown)


class LotPage(RecordActionPage):
    """An action on one lot."""

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        lots = Lot.objects.select_related("item")
        self.lot = self.about = get_object_or_404(lots, number=kwargs["number"])
        self.heading, self.sub = f"{self.what} lot {self.lot.number}", str(self.lot.item)


class StatusForm(ActionForm):
    status = forms.ChoiceField(label="The lot is", choices=Lot.Status.choices)
    note = forms.CharField(max_length=200, required=False, label="Why, or which test")


class SetLotStatus(LotPage):
    what = "Status of"
    form_class = StatusForm

    def get_initial(self) -> dict:
        return {"status": self.lot.status}

    def act(self, form: StatusForm) -> Lot:
        return set_lot_status(lot=self.lot, **form.asked)

    def message_for(self, result: Lot) -> str:
        return f"Lot {result.number} is {result.get_status_display()}."


class OpenForm(ActionForm):
    day = DayField(label="Day the container was opened")


class OpenLot(LotPage):
    what = "Open"
    form_class = OpenForm
    submit_label = "It is open"

    def act(self, form: OpenForm) -> Lot:
        return open_lot(lot=self.lot, **form.asked)

    def message_for(self, result: Lot) -> str:
        return f"Lot {result.number} is open; use by {display.day(result.expires_on) or 'any day'}."


class ExtendForm(ActionForm):
    expires_on = DayField(label="New use-by day", initial=None)
    note = forms.CharField(max_length=200, label="Which test showed it, or why it was wrong")


class ExtendLot(LotPage):
    what = "Extend"
    form_class = ExtendForm
    submit_label = "Extend"

    def act(self, form: ExtendForm) -> Lot:
        return extend_lot(lot=self.lot, **form.asked)

    def message_for(self, result: Lot) -> str:
        still = "may be used until" if result.expires_on >= timezone.localdate() else "expired on"
        return f"Lot {result.number} {still} {display.day(result.expires_on)}."


class CountForm(ActionForm):
    place = forms.ModelChoiceField(Place.objects.all(), empty_label=None)
    counted = QuantityFormField(label="What is there")
    reason = forms.ChoiceField(label="If it differs, why", choices=COUNT_REASONS, required=False)
    day = DayField()
    note = forms.CharField(max_length=200, required=False)


class LotQuantityPage(LotPage):
    """A form about how much of the lot lies where it mostly lies."""

    def get_form(self, form_class: Any = None) -> ActionForm:
        form = super().get_form(form_class)
        field = form.fields["counted" if "counted" in form.fields else "qty"]
        field.of(self.lot.item)
        return form

    def get_initial(self) -> dict:
        balances = balances_of_lot(self.lot)
        place = max(balances, key=lambda balance: balance.qty).place if balances else None
        return {"place": place, "place_from": place}


class CountLot(LotQuantityPage):
    what = "Count"
    form_class = CountForm
    submit_label = "Enter the count"

    def act(self, form: CountForm) -> Posting | None:
        return count_lot(lot=self.lot, **form.asked)

    def message_for(self, result: Posting | None) -> str:
        if result is None:
            return "The count agrees with the record."
        change = sum(line.qty for line in result.movements.all())
        shown = display.quantity_text(abs(change), self.lot.item.stock_unit, self.request.user)
        differs = f"{shown} {'more' if change > 0 else 'less'} than recorded"
        return with_undo(f"{differs}, entry {result.pk}.", result)


class MoveForm(ActionForm):
    qty = QuantityFormField(label="How much")
    place_from = forms.ModelChoiceField(Place.objects.all(), label="From", empty_label=None)
    place_to = forms.ModelChoiceField(Place.objects.all(), label="To")
    day = DayOrToday()
    note = forms.CharField(max_length=200, required=False)


class MoveLot(LotQuantityPage):
    what = "Move"
    form_class = MoveForm
    submit_label = "Move"

    def act(self, form: MoveForm) -> Posting:
        self.qty, self.place = form.cleaned_data["qty"], form.cleaned_data["place_to"]
        return move_stock(lot=self.lot, **form.asked)

    def message_for(self, result: Posting) -> str:
        shown = display.quantity_text(self.qty, self.lot.item.stock_unit, self.request.user)
        return with_undo(f"{shown} moved to {self.place}, entry {result.pk}.", result)
