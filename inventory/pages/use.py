"""Stock taken outside a batch's own steps, and parts made in house."""

from typing import Any

from django import forms
from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.urls import reverse

from inventory.actions import issue_piece, issue_stock, make_part
from inventory.models import Item, Lot, Posting
from inventory.pages import display
from inventory.pages.forms import ActionForm, ActionPage, DayField, QuantityFormField
from inventory.pages.item import lot_mark
from inventory.pages.movements import with_undo
from inventory.pages.piece import PiecePage
from inventory.pages.reasons import ReasonForm
from inventory.queries.stock import lots_here


class UseForm(ReasonForm):
    field_order = ["qty", "reason", "lot", "day", "note"]
    qty = QuantityFormField(label="How much")
    lot = forms.ModelChoiceField(
        Lot.objects.none(), required=False, empty_label="first to expire, then the oldest"
    )

    def __init__(self, *args: Any, item: Item, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["qty"].of(item)
        if item.stock_unit == Item.Unit.EACH:
            self.fields["qty"].initial = "1"
        self.fields["lot"].queryset = lots_here(item)
        self.fields["lot"].label_from_instance = lambda lot: f"{lot.number}, {lot_mark(lot)[0]}"


class UseStock(ActionPage):
    form_class = UseForm
    submit_label = "Take it out"

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.item = get_object_or_404(Item, code=kwargs["code"])
        self.heading, self.sub = f"Use {self.item.code}", self.item.name

    def get_initial(self) -> dict:
        asked = self.request.GET
        return {name: asked[name] for name in ("lot", "reason") if name in asked}

    def get_form_kwargs(self) -> dict:
        return {**super().get_form_kwargs(), "item": self.item}

    def act(self, form: UseForm) -> Posting:
        self.taken, self.lot = form.cleaned_data["qty"], form.cleaned_data["lot"]
        return issue_stock(item=self.item, **form.asked)

    def message_for(self, result: Posting) -> str:
        shown = display.quantity_text(self.taken, self.item.stock_unit, self.request.user)
        return with_undo(f"{shown} of {self.item.code} taken out as entry {result.pk}.", result)

    def done_url(self, result: Posting) -> str:
        return (self.lot or self.item).get_absolute_url()

    def back_url(self) -> str:
        return reverse("item", args=[self.item.code])


class UsePiece(PiecePage):
    what = "Use up"
    form_class = ReasonForm
    submit_label = "Take the whole piece out"

    def get_initial(self) -> dict:
        return {"reason": self.request.GET.get("reason")}

    def act(self, form: ReasonForm) -> Posting:
        return issue_piece(piece=self.piece, **form.asked)

    def message_for(self, result: Posting) -> str:
        return with_undo(f"Piece {self.piece.label} is out of stock, entry {result.pk}.", result)


class MakeForm(ActionForm):
    qty = forms.IntegerField(label="Good ones made", min_value=1, max_value=100_000)
    start = forms.IntegerField(
        label="Started", required=False, min_value=1, help_text="Empty: as many as turned out good."
    )
    day = DayField()
    note = forms.CharField(max_length=200, required=False)


class MakePart(ActionPage):
    form_class = MakeForm
    submit_label = "Take materials out, parts in"

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.item = get_object_or_404(Item, code=kwargs["code"], kind=Item.Kind.MADE)
        self.heading = f"Make {self.item.code}"
        self.sub = f"{self.item.name}: what its bill takes leaves stock, the parts come in."

    def act(self, form: MakeForm) -> Lot:
        return make_part(item=self.item, **form.asked)

    def message_for(self, result: Lot) -> str:
        waits = (
            f" It is usable from {display.day(result.usable_from)}." if result.usable_from else ""
        )
        return f"Lot {result.number} is in stock.{waits}"

    def back_url(self) -> str:
        return reverse("item", args=[self.item.code])
