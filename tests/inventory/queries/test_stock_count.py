"""What a list covers, which line comes next, and what the review says."""

from datetime import timedelta

import pytest
from django.utils import timezone

from inventory import actions
from inventory.models import Item
from inventory.queries.stock_count import (
    CountScope,
    balances_to_count,
    counts_with_progress,
    next_line,
    review,
)
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate()


def covered(**scope):
    return [balance.item.code for balance in balances_to_count(CountScope(**scope), TODAY)]


@pytest.fixture
def shelves(db):
    """Screws on B, epoxy and bars on A, blades at the vendor."""
    rack_a, rack_b = make.place("Rack A"), make.place("Rack B")
    out = make.place("At Ember", supplier=make.vendor())
    make.stock(make.screws(), 100, place=rack_b, unit_cost=make.D("0.05"))
    make.stock(make.epoxy(), 500, place=rack_a)
    make.rack(make.bar(), 1000, 500, place=rack_a, unit_cost=make.D("0.02"))
    make.stock(make.made_part("BLADE"), 12, place=out)
    Item.objects.filter(code="EPOXY").update(value_class="A")
    return rack_a, rack_b, out


def test_walk_goes_by_place_then_item_and_leaves_vendors_out(shelves):
    assert covered() == ["BAR-4X40", "BAR-4X40", "EPOXY", "SCREW-M4"]


def test_vendor_is_counted_when_it_is_named(shelves):
    assert covered(place=shelves[2]) == ["BLADE"]


@pytest.mark.parametrize(
    ("scope", "codes", "words"),
    [
        ({"kind": "bar"}, ["BAR-4X40", "BAR-4X40"], "bar"),
        ({"value_class": "A"}, ["EPOXY"], "class A"),
        ({"kind": "bar", "value_class": "A"}, [], "bar, class A"),
        ({}, ["BAR-4X40", "BAR-4X40", "EPOXY", "SCREW-M4"], "the whole shop"),
    ],
    ids=["kind", "class", "both", "all"],
)
def test_list_is_narrowed_by_what_is_named(shelves, scope, codes, words):
    assert covered(**scope) == codes
    assert str(CountScope(**scope)) == words


def test_what_was_counted_or_came_in_lately_is_not_due(shelves):
    lot = make.stock(make.screws("NEW"), 5, TODAY)
    count = actions.start_count(day=TODAY, kind="adhesive")
    actions.enter_count(line=count.lines.get(), counted=make.D(500))
    assert covered(idle_days=30) == ["BAR-4X40", "BAR-4X40", "EPOXY", "SCREW-M4"]
    actions.post_count(count=count)
    assert covered(idle_days=30) == ["BAR-4X40", "BAR-4X40", "SCREW-M4"]
    assert lot.item.code in covered()


def test_lot_counted_by_itself_is_not_due_either(shelves):
    lot = Item.objects.get(code="SCREW-M4").lots.get()
    month_ago = TODAY - timedelta(days=20)
    actions.count_lot(
        lot=lot, place=shelves[1], counted=make.D(99), day=month_ago, reason="counted"
    )
    assert "SCREW-M4" not in covered(idle_days=30)
    assert "SCREW-M4" in covered(idle_days=10)


def counted(count, code, qty):
    line = count.lines.get(lot__item__code=code)
    return actions.enter_count(line=line, counted=make.D(qty))


def test_next_line_follows_the_walk_and_comes_back_to_what_was_skipped(shelves):
    count = actions.start_count(day=TODAY)
    first = next_line(count)
    last = count.lines.get(lot__item__code="SCREW-M4")
    assert next_line(count, after=last) == first
    actions.enter_piece(line=first, length_um=first.piece.length_um)
    assert next_line(count).piece != first.piece
    for line in count.lines.filter(counted=None, piece__isnull=False):
        actions.enter_piece(line=line, length_um=0)
    counted(count, "EPOXY", 500)
    counted(count, "SCREW-M4", 100)
    assert next_line(count) is None


def test_line_to_be_counted_again_comes_up_again(shelves):
    count = actions.start_count(day=TODAY, kind="adhesive")
    line = counted(count, "EPOXY", 480)
    actions.ask_recount(line=line)
    assert next_line(count) == line
    assert counts_with_progress().get().counted_count == 0


def test_review_shows_differences_with_their_value_the_largest_first(shelves):
    count = actions.start_count(day=TODAY)
    counted(count, "SCREW-M4", 90)
    counted(count, "EPOXY", 500)
    gone = count.lines.get(piece__length_um=1000 * make.MM)
    actions.enter_piece(line=gone, length_um=0)
    found = review(count, TODAY)
    assert [(each.difference, each.value) for each in found.differences] == [
        (-1000, make.D(-20)),
        (-10, make.D("-0.5")),
    ]
    assert (found.agreeing, found.uncounted, found.total) == (1, 1, make.D("-20.5"))


def test_difference_of_unknown_cost_is_named_and_left_out_of_the_value(shelves):
    count = actions.start_count(day=TODAY)
    counted(count, "EPOXY", 490)
    found = review(count, TODAY)
    assert found.differences[0].value is None
    assert (found.without_cost, found.total) == (1, 0)


def test_review_tells_what_was_entered_since_the_line_was_counted(shelves):
    count = actions.start_count(day=TODAY)
    line = counted(count, "SCREW-M4", 90)
    actions.issue_stock(item=line.lot.item, qty=make.D(8), day=TODAY, reason="repair")
    (each,) = review(count, TODAY).differences
    assert (each.difference, each.since) == (-10, -8)
    count = actions.post_count(count=count, reason="counted")
    (each,) = review(count, TODAY).differences
    assert (each.difference, each.since) == (-10, -8)


def test_review_reads_a_long_list_in_few_queries(shelves, django_assert_max_num_queries):
    for number in range(30):
        make.stock(make.screws(f"S-{number}"), 10, unit_cost=make.D(1))
    count = actions.start_count(day=TODAY, kind="fastener")
    for line in count.lines.all():
        actions.enter_count(line=line, counted=make.D(9))
    with django_assert_max_num_queries(8):
        assert len(review(count, TODAY).differences) == 31
