"""A piece whose lot nobody can tell any more."""

from django import forms

from inventory.actions import doubt_lot
from inventory.models import Piece
from inventory.pages.forms import ActionForm, DayField
from inventory.pages.piece import PiecePage


class DoubtForm(ActionForm):
    note = forms.CharField(
        max_length=200,
        label="Why it is in doubt",
        help_text="As in: the stamp was cut off, two steels lay on one rack.",
    )
    day = DayField()


class DoubtLot(PiecePage):
    what = "Lot unknown:"
    form_class = DoubtForm
    submit_label = "Nobody can tell"

    def act(self, form: DoubtForm) -> Piece:
        return doubt_lot(piece=self.piece, **form.asked)

    def done_url(self, result: Piece) -> str:
        return result.get_absolute_url()

    def message_for(self, result: Piece) -> str:
        return (
            f"It goes on as {result.label}, for practice cuts only. Label it so; release lot "
            f"{result.lot.number} with a note when a test tells what it is."
        )
