"""Stock that comes back to the shelf: returned because it wasn't used, or found again."""

from collections.abc import Callable

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


class MoreOfLot(LotQuantityPage):
    """More of a lot is here than before; set `book`, the action, and `said`, what is told then."""

    book: Callable[..., Posting]
    said = ""

    def act(self, form: ActionForm) -> Posting:
        self.qty = form.cleaned_data["qty"]
        return self.book(lot=self.lot, **form.asked)

    def message_for(self, result: Posting) -> str:
        shown = display.quantity_text(self.qty, self.lot.item.stock_unit, self.request.user)
        return with_undo(self.said.format(qty=shown, lot=self.lot, entry=result.pk), result)


class ReturnToLot(MoreOfLot):
    what = "Return to"
    form_class = ReturnForm
    submit_label = "It is back"
    book = staticmethod(return_stock)
    said = "{qty} is back in lot {lot}, entry {entry}."


class TurnedUpForm(ActionForm):
    qty = QuantityFormField(label="How much turned up")
    place = forms.ModelChoiceField(
        Place.objects.all(), required=False, empty_label="where the item belongs"
    )
    day = DayOrToday()
    note = forms.CharField(max_length=200, required=False)


class FindOfLot(MoreOfLot):
    what = "Found of"
    form_class = TurnedUpForm
    submit_label = "It is there"
    book = staticmethod(find_stock)
    said = "{qty} more in lot {lot} than was recorded, entry {entry}."


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
