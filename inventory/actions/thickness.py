"""The thickness of a lot or of one piece, as measured."""

from inventory.actions.request import action
from inventory.errors import Refused
from inventory.models import Lot, Piece, User

THICKEST_UM = 500_000


@action
def measure_thickness(*, of: Lot | Piece, thickness_um: int, by: User | None = None) -> Lot | Piece:
    """Note the measured thickness of a whole lot, or of one piece that differs from it.

    Refuses nothing and more than half a metre.
    """
    if not 0 < thickness_um <= THICKEST_UM:
        raise Refused(f"{of}: no bar, sheet or roll is that thick. Check the unit.")
    of.thickness_um = thickness_um
    of.save(update_fields=["thickness_um"])
    return of
