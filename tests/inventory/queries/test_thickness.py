"""Measured thickness against nominal."""

import pytest

from inventory import actions
from inventory.queries.thickness import allowed_um, thickness_of
from tests.factories import MM, bar, rack, sheet

pytestmark = pytest.mark.django_db


# Tolerances of glass grades of laminated sheet, both ways, in inches: a laminate maker's table
# (read): .031/.0065 .062/.0075 .093/.009 .125/.012 .156/.015 .187/.019.
@pytest.mark.parametrize(
    ("nominal_in", "tolerance_in"),
    [
        (0.031, 0.0065),
        (0.062, 0.0075),
        (0.093, 0.009),
        (0.125, 0.012),
        (0.156, 0.015),
        (0.187, 0.019),
    ],
)
def test_usual_tolerance_of_glass_laminate_is_the_makers(nominal_in, tolerance_in):
    laminate = sheet(thickness_um=round(nominal_in * 25_400))
    assert allowed_um(laminate) == pytest.approx(tolerance_in * 25_400, abs=1)


@pytest.mark.parametrize(
    ("measured_um", "is_off"),
    [(2900, False), (3400, False), (2869, True), (3481, True)],
    ids=["thin", "thick", "too thin", "too thick"],
)
def test_eighth_of_an_inch_may_be_off_by_twelve_thousandths(measured_um, is_off):
    # By arithmetic: 3.175 mm and 0.012 in = 0.305 mm, so 2.870 to 3.480 mm.
    (piece,) = rack(sheet(thickness_um=3175), (600, 300), thickness_um=measured_um)
    assert thickness_of(piece.lot).is_off is is_off


def test_bar_rolled_thicker_than_it_was_sold_is_off():
    # Common practice, no source: a 4.0 bar arrives at 4.3 as rolled.
    (piece,) = rack(bar(thickness_um=4 * MM), 1000, thickness_um=4300)
    found = thickness_of(piece.lot)
    assert (found.off_um, found.is_off) == (300, True)


def test_shops_own_tolerance_comes_first():
    (piece,) = rack(bar(thickness_um=4 * MM, thickness_off_um=400), 1000, thickness_um=4300)
    assert not thickness_of(piece.lot).is_off


def test_piece_measured_by_itself_counts_for_itself():
    (piece,) = rack(bar(thickness_um=4 * MM), 1000, thickness_um=4100)
    assert not thickness_of(piece.lot, piece).is_off
    actions.measure_thickness(of=piece, thickness_um=3700)
    assert thickness_of(piece.lot, piece).off_um == -300


def test_nothing_is_compared_before_it_is_measured_or_without_a_nominal_thickness():
    (nominal,) = rack(bar(thickness_um=4 * MM), 1000)
    (measured,) = rack(sheet(), (600, 300), thickness_um=6100)
    assert thickness_of(nominal.lot, nominal) is None
    assert thickness_of(measured.lot, measured) is None
