import pytest

from inventory import actions
from inventory.errors import Refused
from tests.factories import DAY, MM, rack, sheet

pytestmark = pytest.mark.django_db


def test_thickness_is_measured_on_a_lot_or_on_one_piece():
    first, second = rack(sheet(thickness_um=6 * MM), (600, 300), (600, 300))
    actions.measure_thickness(of=first.lot, thickness_um=6100)
    actions.measure_thickness(of=second, thickness_um=6300)
    first.lot.refresh_from_db()
    second.refresh_from_db()
    assert (first.lot.thickness_um, second.thickness_um) == (6100, 6300)


@pytest.mark.parametrize("um", [0, 600 * MM], ids=["nothing", "a wall"])
def test_thickness_no_sheet_has_is_refused(um):
    (piece,) = rack(sheet(), (600, 300))
    with pytest.raises(Refused, match="Check the unit"):
        actions.measure_thickness(of=piece.lot, thickness_um=um)


def test_remnant_keeps_the_thickness_of_its_piece():
    (piece,) = rack(sheet(), (600, 300))
    actions.measure_thickness(of=piece, thickness_um=6300)
    actions.cut_piece(
        piece=piece, parts=[(300 * MM, 300 * MM, 1)], remnants=[(250 * MM, 300 * MM)], day=DAY
    )
    assert piece.remnants.get().thickness_um == 6300
