"""What a batch needs of one item against the pieces on its rack."""

import pytest

from inventory import actions
from inventory.errors import NotEnough
from inventory.models import Item
from inventory.queries.batch_check import check_batch
from inventory.queries.batch_needs import Wanted
from tests.factories import (
    DAY,
    MM,
    D,
    bar,
    bill,
    line,
    on_hand,
    option,
    product,
    rack,
    sheet,
    shop,
    simple_knife,
    step,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def thornwick(db):
    return shop()


def planned(*wanted):
    (check,) = [one for one in check_batch(list(wanted), DAY).materials if one.material]
    return check.material


def parts_cut(material):
    return sum(len(piece.placed) for piece in material.plan.rack_pieces)


def two_colours(steel):
    knife = product(options=[("scales", "black", True), ("scales", "orange", False)])
    bill(knife, step(10, "Saw", line(steel, 1, cut=(240 * MM, None))))
    return Wanted(knife, 2), Wanted(knife, 3, options=(option(knife, "orange"),))


def test_one_knife_in_two_colours_takes_a_blank_for_each_and_no_more():
    steel = bar()
    rack(steel, 1000, 1000, 1000)
    material = planned(*two_colours(steel))
    assert parts_cut(material) == 5
    assert material.can_make == {"TRAIL (black)": 2, "TRAIL (orange)": 3}


def test_batch_in_two_colours_is_cut_as_checked():
    # Paper: 5 blanks of 240 and 5 kerfs of 1.5 leave 2000 - 1207.5.
    steel = bar(keep_length_um=10 * MM)
    rack(steel, 1000, 1000)
    batch = actions.plan_batch(lines=two_colours(steel), start_on=DAY)
    actions.reserve_batch(batch=batch, day=DAY)
    actions.start_batch(batch=batch, day=DAY)
    assert on_hand(steel) == D("792.5")


def test_second_colour_gets_what_the_first_leaves():
    steel = bar()
    rack(steel, 1000)
    first, second = two_colours(steel)
    assert check_batch([first, second], DAY).can_make == [2, 2]


def test_same_size_with_and_without_a_grain_rule_stays_two_sizes():
    # Paper: a sheet 120 x 42 holds a 40 x 120 only turned; the one with grain does not fit.
    scales = sheet(has_grain=True)
    rack(scales, (120, 42))
    knife = product()
    cut = {"cut": (40 * MM, 120 * MM)}
    bill(
        knife,
        step(10, "Saw", line(scales, 1, **cut, may_turn=True), line(scales, 1, **cut)),
    )
    material = planned(Wanted(knife, 1))
    assert len(material.blanks) == 2
    assert material.can_make == {"TRAIL": 0}


def test_sizes_a_micrometre_apart_stay_two_sizes():
    steel = bar()
    rack(steel, 3000)
    knife = product()
    bill(
        knife,
        step(
            10,
            "Saw",
            line(steel, 1, cut=(1_234_567, None)),
            line(steel, 1, cut=(1_234_568, None)),
        ),
    )
    assert len(planned(Wanted(knife, 1)).blanks) == 2


def test_grain_keeps_scales_along_the_sheet():
    rack(sheet("WOVEN", has_grain=True), (50, 300))
    rack(sheet("PLAIN"), (50, 300))
    for code, knives in [("WOVEN", 0), ("PLAIN", 2)]:
        item = Item.objects.get(code=code)
        knife = simple_knife(f"K-{code}", line(item, 1, cut=(100 * MM, 48 * MM)))
        assert planned(Wanted(knife, 2)).can_make == {f"K-{code}": knives}


def test_trim_is_taken_from_a_new_bar_and_not_from_a_squared_remnant():
    # Paper: 5 + 4 x 1.5 + 5 x 198.8 = 1005 > 1000; a remnant is square already.
    steel = bar(trim_um=5 * MM)
    (piece,) = rack(steel, 1003)
    knife = simple_knife("TRAIL", line(steel, 1, cut=(198_800, None)))
    assert planned(Wanted(knife, 5)).can_make == {"TRAIL": 4}
    actions.cut_piece(piece=piece, parts=[(1 * MM, None, 1)], remnants=[(1000 * MM, None)], day=DAY)
    assert planned(Wanted(knife, 5)).can_make == {"TRAIL": 5}


def test_remnant_below_the_keeping_length_is_waste():
    # Paper: 1000 - 3 x 241.5 = 275.5 is kept from 100 on, not from 300 on.
    for keep, left in [(100, D("275.5")), (300, 0)]:
        steel = bar(f"BAR-{keep}", keep_length_um=keep * MM)
        rack(steel, 1000)
        knife = simple_knife(f"K-{keep}", line(steel, 1, cut=(240 * MM, None)))
        batch = actions.plan_batch(lines=[Wanted(knife, 3)], start_on=DAY)
        actions.reserve_batch(batch=batch, day=DAY)
        actions.start_batch(batch=batch, day=DAY)
        assert on_hand(steel) == left


def test_sheet_that_is_large_enough_in_area_but_not_in_shape_makes_nothing():
    scales = sheet()
    rack(scales, (900, 30))
    knife = simple_knife("TRAIL", line(scales, 2, cut=(120 * MM, 40 * MM)))
    batch = actions.plan_batch(lines=[Wanted(knife, 2)], start_on=DAY)
    with pytest.raises(NotEnough, match="SHEET-6"):
        actions.reserve_batch(batch=batch, day=DAY)
