"""What a good knife costs: worked by hand beside the query."""

from decimal import Decimal

import pytest

from inventory import actions
from inventory.queries.knife_cost import knife_cost
from inventory.queries.products import active_bill
from inventory.queries.unit_costs import unit_costs
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(db):
    return make.shop(hour_cost=make.D(60), start_confidence=make.D("0.5"))


def cost_of(knife, wanted, shop):
    return knife_cost(active_bill(knife), (), wanted, make.DAY, shop)


def amounts(cost):
    return {line.item.code: line.amount for line in cost.lines}


def test_materials_minutes_and_setups_are_summed(shop):
    screws, epoxy = make.screws(), make.epoxy()
    make.stock(screws, 100, unit_cost=make.D("0.10"))
    make.stock(epoxy, 500, unit_cost=make.D("0.04"))
    knife = make.simple_knife(
        "TRAIL",
        make.line(screws, 3),
        make.line(epoxy, 40, per="setup"),
        setup_size=4,
        bench_minutes=make.D(12),
        setup_minutes=make.D(8),
    )
    cost = cost_of(knife, 10, shop)
    # 3 setups for 10 knives: 120 g of epoxy, 24 min; 12 min a knife besides.
    assert amounts(cost) == {"SCREW-M4": Decimal("0.3"), "EPOXY": Decimal("0.48")}
    assert cost.minutes == Decimal("14.4")
    assert cost.total == Decimal("0.3") + Decimal("0.48") + Decimal("14.4")


def test_good_knives_pay_for_the_scrapped_ones(shop):
    screws = make.screws()
    make.stock(screws, 100, unit_cost=make.D(1))
    knife = make.simple_knife("TRAIL", make.line(screws, 1), good_share=make.D("0.8"))
    assert amounts(cost_of(knife, 40, shop)) == {"SCREW-M4": Decimal("1.25")}


def test_cut_part_counts_with_its_allowance(shop):
    bar = make.bar()
    make.rack(bar, 1000, unit_cost=make.D("0.02"))
    cut = {"cut": (236 * make.MM, None), "allowance_um": 2 * make.MM}
    knife = make.simple_knife("TRAIL", make.line(bar, 1, **cut))
    assert amounts(cost_of(knife, 5, shop)) == {"BAR-4X40": Decimal("4.8")}


def test_part_made_in_house_is_paid_by_its_materials(shop):
    plastic, sheath = make.sheet("PLASTIC-2"), make.made_part()
    make.rack(plastic, (1200, 600), unit_cost=make.D("0.0001"))
    form = make.step(10, "Form", make.line(plastic, 1, cut=(200 * make.MM, 150 * make.MM)))
    make.bill(sheath, form)
    knife = make.simple_knife("TRAIL", make.line(sheath))
    assert amounts(cost_of(knife, 10, shop)) == {"PLASTIC-2": Decimal(3)}


def test_wear_is_the_share_of_a_usual_life(shop):
    mill = make.cutter(rated_life=make.D(120))
    make.stock(mill, 2, unit_cost=make.D(18))
    knife = make.simple_knife("TRAIL", wear=((mill, make.D(5)),))
    assert amounts(cost_of(knife, 10, shop)) == {"MILL-6": Decimal("0.75")}


def test_charge_of_a_load_is_shared_by_the_batch(shop):
    harden = make.service()
    make.offer(harden, price=8, lot_charge=make.D(60))
    knife = make.product()
    make.bill(knife, make.step(10, "Harden", service=harden))
    # 12 blades: 8 each and 5 of the charge.
    assert amounts(cost_of(knife, 12, shop)) == {"HARDEN": Decimal(13)}


def test_item_of_unknown_cost_is_named_and_not_counted(shop):
    screws = make.screws()
    knife = make.simple_knife("TRAIL", make.line(screws, 3))
    cost = cost_of(knife, 10, shop)
    assert cost.without_cost == [screws]
    assert cost.total == 0


def test_cost_comes_from_stock_then_delivery_then_offer(db):
    make.shop()
    offered, used_up, there = make.screws("A"), make.screws("B"), make.screws("C")
    for each in (offered, used_up, there):
        make.offer(each, price=10, pack_qty=make.D(100))
    gone = make.stock(used_up, 10, unit_cost=make.D("0.2"))
    actions.issue_stock(item=used_up, qty=make.D(10), day=make.DAY, reason="repair", lot=gone)
    make.stock(there, 10, unit_cost=make.D("0.1"))
    make.stock(there, 30, unit_cost=make.D("0.3"))
    costs = unit_costs([offered, used_up, there], make.DAY)
    assert {code: (cost.amount, cost.known_from) for code, cost in costs.items()} == {
        "A": (Decimal("0.1"), "offer"),
        "B": (Decimal("0.2"), "delivery of 3 Mar 2025"),
        "C": (Decimal("0.25"), "average on hand"),
    }


def test_cutters_are_told_by_operation_and_add_up_to_their_lines(shop):
    mill = make.cutter(rated_life=make.D(120))
    make.stock(mill, 2, unit_cost=make.D(24))
    knife = make.product()
    make.bill(
        knife,
        make.step(10, "Profile", wear=((mill, make.D(5)),)),
        make.step(20, "Bevels", wear=((mill, make.D(15)),)),
    )
    cost = cost_of(knife, 5, shop)
    # 24 a cutter over 120 min is 0.20 a minute.
    assert [(wear.step, wear.life, wear.amount) for wear in cost.worn] == [
        ("Profile", Decimal(5), Decimal(1)),
        ("Bevels", Decimal(15), Decimal(3)),
    ]
    assert cost.worn_amount == amounts(cost)["MILL-6"] == 4
