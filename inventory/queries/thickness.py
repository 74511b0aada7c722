"""Measured thickness against nominal: a bar sold as 4 mm may come in at 4.3."""

from dataclasses import dataclass

from inventory.models import Item, Lot, Piece

INCH = 25_400
GLASS_EPOXY = [
    (0.031, 0.0065),
    (0.062, 0.0075),
    (0.093, 0.009),
    (0.125, 0.012),
    (0.156, 0.015),
    (0.187, 0.019),
]
"""Nominal thickness and its tolerance, both ways, in inches: glass grades of laminated sheet, from
a laminate maker's table (read). Thicker sheet by proportion of the last line (no source)."""

OTHER_UM = 200
"""Bars and the rest: what grinding takes off a side. Common practice, no source."""


@dataclass(frozen=True)
class Thickness:
    """A measured thickness in µm, the nominal one and how far they may lie apart."""

    measured_um: int
    nominal_um: int
    allowed_um: int

    @property
    def off_um(self) -> int:
        """Above nominal, or below it (negative)."""
        return self.measured_um - self.nominal_um

    @property
    def is_off(self) -> bool:
        return abs(self.off_um) > self.allowed_um


def thickness_of(lot: Lot, piece: Piece | None = None) -> Thickness | None:
    """What was measured on the piece, else on its lot; None when there is nothing to compare."""
    measured = (piece and piece.thickness_um) or lot.thickness_um
    if not measured or not lot.item.thickness_um:
        return None
    return Thickness(measured, lot.item.thickness_um, allowed_um(lot.item))


def allowed_um(item: Item) -> int:
    """How far an item's thickness may be off: its own figure, else the usual one."""
    if item.thickness_off_um is not None:
        return item.thickness_off_um
    if item.kind != Item.Kind.SHEET:
        return OTHER_UM
    return round(_sheet_tolerance(item.thickness_um / INCH) * INCH)


def _sheet_tolerance(nominal_in: float) -> float:
    thickest, widest = GLASS_EPOXY[-1]
    if nominal_in > thickest:
        return nominal_in * widest / thickest
    return min(GLASS_EPOXY, key=lambda row: abs(row[0] - nominal_in))[1]
