"""Lots that may not be mixed: enough in total but not in one lot is short."""

import pytest

from inventory import actions
from inventory.errors import NotEnough
from inventory.models import Movement
from inventory.queries.batch_check import check_batch
from inventory.queries.batch_needs import Wanted
from inventory.queries.lot_match import equal_sets, in_whole_sets, match_lots
from tests.factories import (
    DAY,
    D,
    bill,
    days,
    epoxy,
    in_work,
    item,
    line,
    made_part,
    on_hand,
    product,
    reserved,
    screws,
    shop,
    simple_knife,
    step,
    stock,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def thornwick(db):
    return shop()


def scales(match, *lots):
    """Scales bought by the piece, a lot a colour delivery."""
    bought = item("SCALE", "packaging", lot_match=match)
    return bought, [stock(bought, qty, days(number)) for number, qty in enumerate(lots)]


def check(knife, wanted):
    answer = check_batch([Wanted(knife, wanted)], days(30))
    (material,) = answer.materials
    return material, answer.can_make


def test_sets_are_given_to_the_first_lot_that_holds_them():
    # Paper: 2 + 2 out of 5, 2 out of 3; the odd ones stay.
    matched = match_lots({1: D(5), 2: D(3)}, [D(2)] * 3)
    assert (matched.by_lot, matched.missing) == ({1: 4, 2: 2}, 0)
    assert match_lots({1: D(5), 2: D(3)}, [D(2)] * 4).missing == 2
    assert in_whole_sets({1: D(5), 2: D(3)}, D(2)) == 6
    assert equal_sets(D(5), D(2)) == [2, 2, 1]


def test_both_scales_of_a_knife_come_from_one_lot():
    # Paper: lots of 3, 3 and 2 hold 8 scales and 3 pairs; a fourth knife has one of each colour.
    bought, _ = scales("knife", 3, 3, 2)
    knife = simple_knife("TRAIL", line(bought, 2))
    material, possible = check(knife, 4)
    assert (material.short, material.split, possible) == (2, True, [3])
    assert not check(knife, 3)[0].is_short


def test_whole_batch_comes_from_one_lot_and_a_new_lot_must_hold_all_of_it():
    bought, _ = scales("batch", 6, 4)
    knife = simple_knife("TRAIL", line(bought, 2))
    material, possible = check(knife, 4)
    assert (material.need, material.short, material.split, possible) == (8, 8, True, [3])
    assert material.stock.available == 10


def test_lots_of_what_need_not_match_are_added_up():
    bought, _ = scales("none", 3, 3, 2)
    assert not check(simple_knife("TRAIL", line(bought, 2)), 4)[0].is_short


def test_batch_short_in_one_lot_is_not_reserved_and_says_why():
    bought, _ = scales("batch", 6, 4)
    with pytest.raises(NotEnough, match=r"SCALE 8 \(enough in total, not in one lot\)"):
        reserved(simple_knife("TRAIL", line(bought, 2)), 4, days(30))


def test_batch_holds_and_uses_the_lot_that_is_large_enough():
    bought, (older, newer) = scales("batch", 4, 8)
    batch = in_work(simple_knife("TRAIL", line(bought, 2)), 4, days(30))
    actions.finish_batch(batch=batch, day=days(31))
    assert (on_hand(older), on_hand(newer)) == (4, 0)


def test_pairs_held_of_two_lots_are_used_as_they_were_held():
    bought, (older, newer) = scales("knife", 3, 5)
    batch = in_work(simple_knife("TRAIL", line(bought, 2)), 3, days(30))
    actions.finish_batch(batch=batch, day=days(31))
    assert (on_hand(older), on_hand(newer)) == (1, 1)


def test_part_made_in_house_comes_from_one_lot_or_is_all_made_new():
    laminate = screws("LAYER")
    stock(laminate, 100)
    block = made_part("BLOCK", lot_match="batch")
    bill(block, step(10, "Glue", line(laminate)))
    for count in (2, 3):
        actions.make_part(item=block, qty=count, day=DAY)
    knife = product()
    bill(knife, step(10, "Fit", line(block)))
    (made,) = check_batch([Wanted(knife, 3)], days(30)).made
    assert (made.made.from_stock, made.made.to_make) == (3, 0)
    (made,) = check_batch([Wanted(knife, 4)], days(30)).made
    assert (made.made.from_stock, made.made.to_make) == (0, 4)
    batch = in_work(knife, 3, days(30))
    taken = Movement.objects.filter(posting__batch=batch, item=block)
    assert [(-move.qty, move.lot_id) for move in taken] == [(3, block.lots.last().pk)]


def test_pairs_made_in_house_are_counted_in_pairs():
    # Paper: lots of 3 and 3 hold two pairs; for three knives two more have to be made.
    layer = screws("LAYER")
    stock(layer, 100)
    half = made_part("HALF", lot_match="knife")
    bill(half, step(10, "Saw", line(layer)))
    for _ in range(2):
        actions.make_part(item=half, qty=3, day=DAY)
    knife = product()
    bill(knife, step(10, "Fit", line(half, 2)))
    (made,) = check_batch([Wanted(knife, 3)], days(30)).made
    assert (made.made.from_stock, made.made.to_make) == (4, 2)
    batch = reserved(knife, 2, days(30))
    assert sorted(batch.reservations.values_list("qty", flat=True)) == [2, 2]


def test_part_is_made_of_one_lot_of_what_must_match():
    bought, (older, newer) = scales("batch", 2, 6)
    block = made_part("BLOCK")
    bill(block, step(10, "Glue", line(bought, 2)))
    actions.make_part(item=block, qty=3, day=days(30))
    assert (on_hand(older), on_hand(newer)) == (2, 0)
    with pytest.raises(NotEnough, match="2 free and usable"):
        actions.make_part(item=block, qty=2, day=days(30))


def test_issue_by_hand_takes_one_lot_or_says_how_to_go_on():
    bought, (older, newer) = scales("knife", 3, 5)
    with pytest.raises(NotEnough, match="6 asked for; that is here in total, but at most 5"):
        actions.issue_stock(item=bought, qty=D(6), day=days(30), reason="one-off")
    actions.issue_stock(item=bought, qty=D(4), day=days(30), reason="one-off")
    assert (on_hand(older), on_hand(newer)) == (3, 1)
    actions.issue_stock(item=bought, qty=D(3), day=days(30), reason="one-off", lot=older)
    assert on_hand(older) == 0


def test_scrap_needs_no_match():
    bought, _ = scales("knife", 3, 5)
    actions.issue_stock(item=bought, qty=D(6), day=days(30), reason="scrap")
    assert on_hand(bought) == 2


def test_resin_a_bill_takes_alone_goes_only_as_far_as_its_hardener():
    # Paper: 100 : 50; 40 g of hardener are enough for 80 g of resin, two knives of 40 g.
    hardener = epoxy("HARDENER")
    resin = epoxy("RESIN", mixed_with=hardener, mix_share=D("0.5"))
    stock(resin, 1000)
    stock(hardener, 40)
    alone = simple_knife("ALONE", line(resin, 40))
    material, possible = check(alone, 3)
    assert (material.short, possible) == (40, [2])
    assert material.stock.unusable == {"without HARDENER": 920}
    stock(hardener, 20)
    assert not check(alone, 3)[0].is_short


def test_either_of_two_hardeners_will_do():
    # Paper: 10 g of the fast one take 20 g of resin, 30 g of the slow one take 60 g.
    resin = epoxy("RESIN")
    stock(resin, 1000)
    for code, grams in (("FAST", 10), ("SLOW", 30)):
        stock(epoxy(code, mixed_with=resin, mix_share=D(2)), grams)
    material, possible = check(simple_knife("TRAIL", line(resin, 40)), 3)
    assert (material.short, possible) == (40, [2])
    assert material.stock.unusable == {"without FAST or SLOW": 920}


def test_bill_that_takes_both_parts_checks_each_by_itself():
    hardener = epoxy("HARDENER")
    resin = epoxy("RESIN", mixed_with=hardener, mix_share=D("0.5"))
    stock(resin, 1000)
    stock(hardener, 10)
    both = simple_knife("BOTH", line(resin, 40), line(hardener, 20))
    answer = check_batch([Wanted(both, 1)], DAY)
    assert {row.item.code: row.short for row in answer.materials} == {"RESIN": 0, "HARDENER": 10}


def test_batch_is_held_when_hardener_suffices_and_refused_when_it_does_not():
    hardener = epoxy("HARDENER")
    resin = epoxy("RESIN", mixed_with=hardener, mix_share=D("0.5"))
    stock(resin, 1000)
    stock(hardener, 40)
    knife = simple_knife("TRAIL", line(resin, 40))
    assert reserved(knife, 2).state == "reserved"
    with pytest.raises(NotEnough, match="short of RESIN 120 g"):
        reserved(knife, 5)
