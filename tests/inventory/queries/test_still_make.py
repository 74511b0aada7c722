"""What a piece still yields, blank by blank."""

import pytest

from inventory.queries.still_make import still_made_from
from tests.factories import MM, bar, bill, line, made_part, rack, sheet, simple_knife, step

pytestmark = pytest.mark.django_db


def yields(piece):
    return {made.owner.code: (made.blanks, made.knives) for made in still_made_from(piece)}


def test_remnant_too_short_for_one_model_is_good_for_another():
    # Paper: 180 mm hold no 240; 80 + 1.5 + 80 = 161.5 mm fit, a third doesn't.
    steel = bar()
    simple_knife("LONG", line(steel, 1, cut=(240 * MM, None)))
    simple_knife("SHORT", line(steel, 1, cut=(80 * MM, None)))
    (piece,) = rack(steel, 180)
    assert yields(piece) == {"SHORT": (2, 2), "LONG": (0, 0)}


def test_narrow_sheet_of_enough_area_yields_nothing():
    # Paper: 600 x 35 mm is 21 000 mm², four times a 120 x 40 blank, and too narrow for one.
    scales = sheet()
    simple_knife("TRAIL", line(scales, 2, cut=(120 * MM, 40 * MM)))
    (piece,) = rack(scales, (600, 35))
    assert yields(piece) == {"TRAIL": (0, 0)}


def test_grain_decides_whether_a_blank_may_be_turned():
    # Paper: across the grain 2 blanks of 120 x 40 lie side by side on 130 x 90 (40 + 2 + 40 = 82).
    for code, grain, blanks in [("WOVEN", True, 0), ("PLAIN", False, 2)]:
        scales = sheet(code, has_grain=grain)
        simple_knife(f"K-{code}", line(scales, 2, cut=(120 * MM, 40 * MM)))
        (piece,) = rack(scales, (90, 130))
        assert yields(piece) == {f"K-{code}": (blanks, blanks // 2)}


def test_allowance_kerf_and_trim_are_counted():
    # Paper: (240 + 2 x 5) x 2 + 1.5 = 501.5 and 4 of trim: 505 yields one, 506 two.
    steel = bar(trim_um=4 * MM)
    simple_knife("TRAIL", line(steel, 1, cut=(240 * MM, None), allowance_um=5 * MM))
    short, long = rack(steel, 505, 506)
    assert (yields(short), yields(long)) == ({"TRAIL": (1, 1)}, {"TRAIL": (2, 2)})


def test_parts_made_in_house_count_and_an_unused_item_yields_nothing():
    laminate = sheet()
    block = made_part("BLOCK")
    bill(block, step(10, "Saw", line(laminate, 2, cut=(120 * MM, 40 * MM))))
    (piece,) = rack(laminate, (250, 40))
    assert yields(piece) == {"BLOCK": (2, 1)}
    (bar_end,) = rack(bar(), 500)
    assert still_made_from(bar_end) == []
