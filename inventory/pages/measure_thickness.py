"""The thickness of a lot or a piece, measured."""

from typing import Any

from inventory.actions import measure_thickness
from inventory.models import Lot, Piece
from inventory.pages.forms import ActionForm, LengthField
from inventory.pages.lot import LotPage
from inventory.pages.piece import PiecePage
from inventory.pages.thickness_words import off_words, warning
from inventory.queries.thickness import thickness_of


class ThicknessForm(ActionForm):
    thickness_um = LengthField(
        label="Measured thickness", help_text="Measure at several spots and enter the usual one."
    )


class MeasureLot(LotPage):
    what = "Thickness of"
    form_class = ThicknessForm
    submit_label = "Enter it"

    def get_initial(self) -> dict[str, Any]:
        return {"thickness_um": self.lot.thickness_um}

    def act(self, form: ThicknessForm) -> Lot:
        return measure_thickness(of=self.lot, **form.asked)

    def message_for(self, result: Lot) -> str:
        return _said(result, None, self.request.user)


class MeasurePiece(PiecePage):
    what = "Thickness of"
    form_class = ThicknessForm
    submit_label = "Enter it"

    def get_initial(self) -> dict[str, Any]:
        return {"thickness_um": self.piece.thickness_um or self.piece.lot.thickness_um}

    def act(self, form: ThicknessForm) -> Piece:
        return measure_thickness(of=self.piece, **form.asked)

    def message_for(self, result: Piece) -> str:
        return _said(result.lot, result, self.request.user)


def _said(lot: Lot, piece: Piece | None, user: Any) -> str:
    compared = thickness_of(lot, piece)
    if compared is None:
        return "The thickness is entered."
    told = f"Entered: {off_words(compared, user)}."
    return f"{told} {warning(compared, user)}" if compared.is_off else told
