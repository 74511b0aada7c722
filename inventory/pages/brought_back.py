"""Stock that comes back to the shelf: returned because it wasn't used, or found again."""

from django import forms

from inventory.actions import find_stock, return_piece, return_stock
from inventory.models import Place, Posting
from inventory.pages import display
from inventory.pages.forms import ActionForm, QuantityFormField
from inventory.pages.lot import LotQuantityPage
from inventory.pages.movements import with_undo
from inventory.pages.piece import PiecePage
from inventory.pages.reasons import DayOrToday, ReasonForm, purposes


class ReturnForm(ReasonForm):
    field_order = ["qty", "reason", "place", "day", "note"]
    qty = QuantityFormField(label="How much came back")
    reason = forms.ChoiceField(label="It had been taken for", choices=purposes)
    place = forms.ModelChoiceField(
        Place.objects.all(), required=False, empty_label="where the item belongs"
    )


class ReturnToLot(LotQuantityPage):
    what = "Return to"
    form_class = ReturnForm
    submit_label = "It is back"

    def act(self, form: ReturnForm) -> Posting:
        self.qty = form.cleaned_data["qty"]
        return return_stock(lot=self.lot, **form.asked)

    def message_for(self, result: Posting) -> str:
        shown = display.quantity_text(self.qty, self.lot.item.stock_unit, self.request.user)
        return with_undo(f"{shown} is back in lot {self.lot.number}, entry {result.pk}.", result)


class FoundForm(ActionForm):
    qty = QuantityFormField(label="How much turned up")
    place = forms.ModelChoiceField(
        Place.objects.all(), required=False, empty_label="where the item belongs"
    )
    day = DayOrToday()
    note = forms.CharField(max_length=200, required=False)


class FindOfLot(LotQuantityPage):
    what = "Found of"
    form_class = FoundForm
    submit_label = "It is there"

    def act(self, form: FoundForm) -> Posting:
        self.qty = form.cleaned_data["qty"]
        return find_stock(lot=self.lot, **form.asked)

    def message_for(self, result: Posting) -> str:
        shown = display.quantity_text(self.qty, self.lot.item.stock_unit, self.request.user)
        return with_undo(
            f"{shown} more in lot {self.lot.number} than was recorded, entry {result.pk}.", result
        )


class ReturnPieceForm(ReasonForm):
    field_order = ["reason", "place", "day", "note"]
    reason = forms.ChoiceField(label="It had been taken for", choices=purposes)
    place = forms.ModelChoiceField(
        Place.objects.all(), required=False, empty_label="where it lay before"
    )


class ReturnPiece(PiecePage):
    what = "Return"
    form_class = ReturnPieceForm
    submit_label = "It is back, whole"

    def act(self, form: ReturnPieceForm) -> Posting:
        return return_piece(piece=self.piece, **form.asked)

    def message_for(self, result: Posting) -> str:
        return with_undo(f"Piece {self.piece.label} is back, entry {result.pk}.", result)
