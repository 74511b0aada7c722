"""What batches really take is learned from the finished ones, and the forecast reckons with it."""

import pytest

from inventory import actions
from inventory.models import Posting
from inventory.queries.real_use import learned_by_item
from inventory.queries.usage import usage_by_product
from tests.factories import (
    DAY,
    MM,
    D,
    bar,
    bill,
    days,
    in_work,
    line,
    made_part,
    offer,
    only_line,
    operation,
    product,
    rack,
    screws,
    simple_knife,
    step,
    stock,
)

pytestmark = pytest.mark.django_db


def learned(item):
    return learned_by_item(days(30))[item.pk]


def test_batch_that_took_what_its_bill_says_teaches_nothing_new():
    item = screws()
    stock(item, 100)
    actions.finish_batch(batch=in_work(simple_knife("TRAIL", line(item, 3)), 10), day=days(9))
    assert (learned(item).factor, learned(item).batches) == (1, 1)


def test_dropped_screws_raise_the_use_of_the_next_batches():
    # 30 by the bill, 36 really: (36 + 2 x 30) / (30 + 2 x 30).
    item = screws()
    stock(item, 100)
    knife = simple_knife("TRAIL", line(item, 3))
    actions.finish_batch(batch=in_work(knife, 10), day=days(9), used={item.pk: D(36)})
    assert learned(item).factor == pytest.approx(96 / 90)
    [usage] = usage_by_product(days(30))
    assert usage.per_knife == pytest.approx(3 * 96 / 90)


def test_blades_cut_from_a_rack_of_odd_lengths_take_more_bar_than_a_full_one_yields():
    # A bar of 1000 yields 4 of 240 with kerf 1.5: 250 each. Four blades from four ends of 300,
    # whose rests of 58.5 are thrown away: 300 each.
    steel = bar(keep_length_um=100 * MM)
    offer(steel, piece_length_um=1000 * MM, pack_qty=D(1000), pieces_per_pack=1)
    rack(steel, 300, 300, 300, 300)
    batch = in_work(simple_knife("TRAIL", line(steel, 1, cut=(240 * MM, None))), 4)
    actions.finish_batch(batch=batch, day=days(9))
    assert learned(steel).factor == pytest.approx((1200 + 2 * 1000) / (1000 + 2 * 1000))


def test_batch_still_in_work_teaches_nothing_yet():
    item = screws()
    stock(item, 100)
    in_work(simple_knife("TRAIL", line(item, 3)), 10)
    assert learned_by_item(DAY) == {}


def test_use_that_was_undone_teaches_nothing():
    item = screws()
    stock(item, 100)
    batch = in_work(simple_knife("TRAIL", line(item, 3)), 3)
    actions.finish_batch(batch=batch, day=days(9))
    used = Posting.objects.get(batch=batch, kind=Posting.Kind.ISSUE)
    actions.reverse_posting(posting=used, day=days(9))
    assert learned_by_item(days(30)) == {}


def test_batch_is_measured_by_the_bill_of_its_time():
    # A sheath took 4 rivets then and takes 8 now: the batch took what its bill said.
    rivets, sheath = screws("RIVET"), made_part()
    bill(sheath, step(10, "Form", line(rivets, 4)), day=days(-90))
    stock(rivets, 100)
    batch = in_work(simple_knife("TRAIL", line(sheath)), 5)
    actions.finish_batch(batch=batch, day=days(9))
    bill(sheath, step(10, "Form", line(rivets, 8)), day=days(20))
    assert learned(rivets).factor == 1
    [usage] = usage_by_product(days(30))
    assert usage.per_knife == 8


def test_scrap_is_no_waste_of_what_comes_after_it_but_no_one_foresees_how_much():
    # The bill scraps none: one batch loses 3 of 10 before the screws, the other none.
    item = screws()
    stock(item, 100)
    knife = product()
    bill(knife, step(10, "Mill"), step(20, "Screw", line(item, 3)))
    for batch, scrapped in ((in_work(knife, 10), 3), (in_work(knife, 10, days(1)), 0)):
        mill = operation(batch, "Mill")
        actions.count_stage(line=only_line(batch), operation=mill, scrapped=scrapped, day=days(5))
        actions.finish_batch(batch=batch, day=days(9))
    assert (learned(item).factor, learned(item).error) == (1, 0)
    # 21 and 30 of 30 foreseen: deviation 6.36 of their mean 25.5, for a next one times sqrt(1.5).
    assert learned(item).scatter == pytest.approx(4.5 * 2**0.5 / 25.5 * 1.5**0.5)
