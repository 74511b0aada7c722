"""Can this batch be made: every figure worked out on paper beside its check."""

import pytest

from inventory import actions
from inventory.errors import Refused
from inventory.queries.batch_check import check_batch, check_planned_batch
from inventory.queries.batch_needs import Wanted
from tests.factories import (
    DAY,
    MM,
    D,
    bar,
    bill,
    cutter,
    days,
    epoxy,
    fitted,
    knife_shop,
    line,
    made_part,
    offer,
    on_hand,
    order,
    plan,
    product,
    rack,
    reserved,
    screws,
    service,
    sheet,
    shop,
    simple_knife,
    step,
    stock,
    vendor,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def thornwick(db):
    return shop()


def check(knife, wanted=4, day=DAY, **values):
    return check_batch([Wanted(knife, wanted, **values)], day)


def material(found, item):
    return next(one for one in found.materials if one.item == item)


def test_full_shelf_makes_the_whole_batch_today():
    trail = knife_shop()
    found = check(trail.knife, 8)
    assert (found.is_possible, found.can_make, found.short) == (True, [8], [])
    assert (found.start_on, found.limited_by) == (DAY, [])


def test_check_writes_nothing(django_assert_max_num_queries):
    trail = knife_shop()
    before = on_hand(trail.screws), trail.screws.movements.count()
    with django_assert_max_num_queries(60) as asked:
        check(trail.knife, 8)
    assert not any(
        query["sql"].split()[0] in ("INSERT", "UPDATE", "DELETE")
        for query in asked.captured_queries
    )
    assert (on_hand(trail.screws), trail.screws.movements.count()) == before


def test_shortage_says_how_much_and_how_many_knives_the_rest_makes():
    item = screws()
    stock(item, 20)
    found = check(simple_knife("TRAIL", line(item, 3)), 8)
    # Paper: 8 x 3 = 24, 20 are there, 20 // 3 = 6.
    assert (material(found, item).need, material(found, item).short) == (24, 4)
    assert (found.can_make, found.limited_by) == ([6], [item])
    assert not found.is_possible


def test_loss_on_the_way_is_part_of_the_need():
    item = screws()
    found = check(simple_knife("TRAIL", line(item, 3, loss_share=D("0.04"))), 8)
    # Paper: 24 / 0.96 = 25.
    assert material(found, item).need == 25


@pytest.mark.parametrize(("per", "need"), [("knife", 90), ("setup", 30), ("batch", 10)], ids=str)
def test_need_follows_knife_setup_or_batch(per, need):
    # Paper: 9 knives in setups of 4 are 3 setups.
    glue = epoxy()
    knife = simple_knife("TRAIL", line(glue, 10, per=per), setup_size=4)
    assert material(check(knife, 9), glue).need == need


def test_knives_lost_early_take_nothing_later():
    early, late = screws("EARLY"), screws("LATE")
    knife = product()
    bill(
        knife,
        step(10, "Mill", line(early), good_share=D("0.5")),
        step(20, "Glue", line(late), good_share=D("0.5")),
    )
    found = check(knife, 2, start=16)
    # Paper: 16 enter milling, 8 gluing, 4 are good.
    assert (material(found, early).need, material(found, late).need) == (16, 8)
    assert found.lines[0].start.expected_good == 4


def test_expired_held_and_quarantined_stock_does_not_help():
    item = screws()
    stock(item, 100, days(-9), expires_on=days(-1))
    stock(item, 100, status="quarantine")
    knife = simple_knife("TRAIL", line(item, 3))
    stock(item, 12)
    reserved(knife, 3)
    assert check(knife, 4).can_make == [1]


def test_planned_batch_counts_what_is_held_for_it():
    item = screws()
    stock(item, 12)
    batch = reserved(simple_knife("TRAIL", line(item, 3)), 4)
    assert check_planned_batch(batch, DAY).is_possible


def test_remnants_long_enough_in_total_make_no_blade():
    steel = bar()
    rack(steel, *[180] * 5)
    offer(steel, piece_length_um=1000 * MM, lead_days=9)
    found = check(simple_knife("TRAIL", line(steel, 1, cut=(240 * MM, None))), 3)
    assert (found.can_make, found.limited_by) == ([0], [steel])
    # Paper: one new bar of 1000 gives 4 blanks of 240 + 1.5.
    assert material(found, steel).pieces_short == 1
    assert found.start_on == days(9)


def test_pieces_nobody_sells_leave_the_start_open():
    steel = bar()
    found = check(simple_knife("TRAIL", line(steel, 1, cut=(240 * MM, None))), 3)
    assert material(found, steel).short == 720
    assert (found.start_on, found.ready_on) == (None, None)


def test_open_order_says_when_the_batch_can_start():
    item = screws()
    bags = offer(item, pack_qty=D(100), lead_days=28)
    order(bags, 1, days(-8))
    found = check(simple_knife("TRAIL", line(item, 3)), 8)
    assert found.start_on == days(20)
    assert material(found, item).covered_by == "order O-0001"


def test_block_that_must_cure_moves_the_start_a_day():
    trail = knife_shop()
    found = check(trail.knife, 16, start=18)
    block = next(part for part in found.made if part.item == trail.block)
    # Paper: 18 x 0.9 = 16.2, so 17 blocks; 12 are there.
    assert (block.made.needed, block.made.from_stock, block.made.to_make) == (17, 12, 5)
    assert (block.ahead, found.start_on) == (True, days(1))


def test_material_of_made_parts_is_part_of_the_check():
    screw, block = screws(), made_part("BLOCK")
    bill(block, step(10, "Pin", line(screw, 2)))
    stock(screw, 5)
    found = check(simple_knife("TRAIL", line(block)), 4)
    assert (material(found, screw).need, found.can_make) == (8, [2])


def test_service_costs_its_lot_charge_and_its_minimum():
    harden, ember = service(), vendor()
    offer(harden, ember, price=2, lot_charge=D(30), minimum_packs=20, lead_days=21)
    knife = product()
    bill(knife, step(10, "Harden", service=harden, wait_days=1))
    found = check(knife, 12)
    (fire,) = found.services
    # Paper: 30 + 20 x 2 = 70 for 12 blades.
    assert (fire.qty, fire.cost, fire.below_minimum) == (12, 70, True)
    assert round(fire.cost_each, 2) == D("5.83")
    assert found.ready_on == days(22)


def test_service_nobody_offers_is_named_without_a_price():
    harden = service()
    knife = product()
    bill(knife, step(10, "Harden", service=harden))
    (fire,) = check(knife, 12).services
    assert (fire.offer, fire.cost) == (None, 0)


def test_several_products_share_one_shelf_in_order():
    item = screws()
    stock(item, 20)
    trail, camp = (simple_knife(code, line(item, 3)) for code in ("TRAIL", "CAMP"))
    found = check_batch([Wanted(trail, 4), Wanted(camp, 4)], DAY)
    assert material(found, item).short == 4
    assert found.can_make == [4, 2]


def test_colours_that_do_not_match_are_a_shortage_though_the_area_is_there():
    scales = sheet("ORANGE", lot_match="batch")
    for _ in range(2):
        rack(scales, (210, 110))
    found = check(simple_knife("TRAIL", line(scales, 2, cut=(100 * MM, 50 * MM))), 4)
    assert (found.is_possible, found.can_make) == (False, [2])


def test_one_knife_takes_both_scales_from_one_lot():
    # Paper: each sheet gives 3 scales of 100 x 50; matched pairs: 1 + 1.
    scales = sheet("ORANGE", lot_match="knife")
    for _ in range(2):
        rack(scales, (310, 50))
    knife = simple_knife("TRAIL", line(scales, 2, cut=(100 * MM, 50 * MM)))
    assert check(knife, 3).can_make == [2]


def test_cutter_that_will_not_last_is_named_with_the_spares_to_lay_out():
    item = cutter()
    fitting = fitted(item)
    actions.log_wear(fitting=fitting, amount=D(110), day=DAY)
    knife = product()
    bill(knife, step(10, "Mill", wear=((item, D(5)),)))
    found = check(knife, 12)
    (wear,) = found.wear
    assert (wear.job, wear.status, wear.spares) == (60, "will not last", 0)
    assert wear.spares_wanted >= 1
    assert not found.is_possible
    stock(item, 5)
    assert check(knife, 12).is_possible


def test_cautions_are_shown_once_with_what_they_are_about():
    glue = epoxy(hazard_codes="H317 H319", caution="Gloves.")
    stock(glue, 500)
    knife = simple_knife("TRAIL", line(glue, 10), caution="Extraction on.")
    texts = [one.text for one in check(knife, 4).cautions]
    assert texts[0] == "Extraction on."
    assert texts[1].startswith("Gloves. H317 ")
    assert len(texts) == 2


@pytest.mark.parametrize("wanted", [0, 2001])
def test_silly_number_is_refused(wanted):
    with pytest.raises(Refused, match="1 to 2000"):
        check(simple_knife("TRAIL", line(screws())), wanted)


def test_queries_do_not_grow_with_the_bill(django_assert_max_num_queries):
    def knife_of(count):
        items = [screws(f"S{count}-{n}") for n in range(count)]
        for item in items:
            stock(item, 100)
        return simple_knife(f"K{count}", *(line(item) for item in items))

    small, large = knife_of(3), knife_of(30)
    with django_assert_max_num_queries(60) as few:
        check(small, 4)
    with django_assert_max_num_queries(60) as many:
        check(large, 4)
    assert len(many.captured_queries) == len(few.captured_queries)


def test_planned_batch_waits_for_its_reservation_only():
    item = screws()
    stock(item, 11)
    batch = plan(simple_knife("TRAIL", line(item, 3)), 4)
    found = check_planned_batch(batch, DAY)
    assert (found.can_make, material(found, item).short) == ([3], 1)
