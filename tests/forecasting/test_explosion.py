"""From knives to what they take; every figure worked out on paper."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from forecasting.errors import BadInput
from forecasting.explosion import Bill, Build, Line, Step, Worn, explode, usage_per_knife


def D(number):
    return Decimal(str(number))


def line(item, qty=1, per="knife", **values):
    return Line(item, per, D(qty), **values)


def bill(*steps, owner="TRAIL"):
    return Bill(owner, steps)


def step(number, *lines, **values):
    return Step(number, f"Step {number}", lines=lines, **values)


def needs(builds, made=None, stock=None):
    totals = {}
    for need in explode(builds, made or {}, stock or {}).needs:
        totals[need.item] = totals.get(need.item, 0) + need.qty
    return totals


def test_need_follows_knife_setup_and_batch():
    one = bill(
        step(
            10,
            line("SCREW", 3),
            line("EPOXY", 40, "setup"),
            line("SOAP", 5, "batch"),
            setup_size=4,
        )
    )
    assert needs([Build(one, 9, 9)]) == {"SCREW": 27, "EPOXY": 120, "SOAP": 5}


def test_setup_without_a_size_is_one_a_batch():
    one = bill(step(10, line("EPOXY", 40, "setup")))
    assert needs([Build(one, 9, 9)]) == {"EPOXY": 40}


def test_knives_scrapped_at_a_step_take_nothing_later():
    one = bill(step(10, line("A"), good_share=D("0.5")), step(20, line("B")))
    assert needs([Build(one, 8, 4)]) == {"A": 8, "B": 4}


def test_fraction_of_a_knife_is_laid_out_as_a_whole_one():
    one = bill(step(10, line("A"), good_share=D("0.9")), step(20, line("B")))
    assert needs([Build(one, 12, 10)]) == {"A": 12, "B": 11}


def test_step_is_never_laid_out_for_fewer_than_are_wanted():
    one = bill(step(10, line("A"), good_share=D("0.9")), step(20, line("B")))
    assert needs([Build(one, 10, 10)])["B"] == 10


def test_counted_knives_replace_the_expected_ones():
    one = bill(step(10, line("A"), good_share=D("0.5")), step(20, line("B")))
    assert needs([Build(one, 8, 4, entering=(8, 7))]) == {"A": 8, "B": 7}


def test_batch_that_lost_every_knife_takes_nothing_per_batch_or_setup():
    one = bill(step(10, line("A")), step(20, line("B", 5, "batch"), line("C", 5, "setup")))
    assert needs([Build(one, 8, 4, entering=(8, 0))]) == {"A": 8, "B": 0, "C": 0}


def test_loss_is_charged_on_what_is_taken():
    # 1.242 g of glue with a fifth of the mix lost: 1.5525 g.
    one = bill(step(10, line("EPOXY", "1.242", loss=D("0.2"))))
    assert needs([Build(one, 1, 1)]) == {"EPOXY": D("1.5525")}


def test_cut_parts_are_whole_and_differ_by_size():
    one = bill(step(10, line("BAR", 1, loss=D("0.1"), cut="240"), line("BAR", 2, cut="80")))
    found = explode([Build(one, 12, 12)], {}, {}).needs
    assert [(need.cut, need.qty) for need in found] == [("240", 14), ("80", 24)]


def test_wear_and_services_follow_the_knives_that_reach_them():
    one = bill(
        step(10, good_share=D("0.5"), wear=(("MILL", D(5)),)),
        step(20, service="HARDEN", wear=(("MILL", D(2)),)),
    )
    found = explode([Build(one, 8, 4)], {}, {})
    assert [(need.step, need.life) for need in found.wear] == [(10, 40), (20, 8)]
    assert [(need.item, need.qty) for need in found.services] == [("HARDEN", 4)]


BLOCK = bill(step(10, line("SHEET", 2), wait_days=1), owner="BLOCK")


def test_part_in_stock_is_used_first_and_only_the_rest_exploded():
    one = bill(step(10, line("BLOCK")))
    found = explode([Build(one, 8, 8)], {"BLOCK": BLOCK}, {"BLOCK": D(5)})
    (part,) = found.made
    assert (part.needed, part.from_stock, part.to_make, part.wait_days) == (8, 5, 3, 1)
    assert [(need.item, need.qty, need.owner) for need in found.needs] == [("SHEET", 6, "BLOCK")]


def test_part_that_is_all_there_takes_no_material():
    one = bill(step(10, line("BLOCK")))
    assert needs([Build(one, 8, 8)], {"BLOCK": BLOCK}, {"BLOCK": D(50)}) == {}


@pytest.mark.parametrize(("there", "used"), [("2.5", 2), ("3.5", 3), ("3.999", 3), ("0.5", 0)])
def test_part_of_a_made_part_in_stock_does_not_count(there, used):
    one = bill(step(10, line("BLOCK")))
    (part,) = explode([Build(one, 8, 8)], {"BLOCK": BLOCK}, {"BLOCK": D(there)}).made
    assert (part.from_stock, part.to_make) == (used, 8 - used)


def test_part_with_a_yield_is_started_in_greater_number():
    poor = bill(step(10, line("SHEET"), good_share=D("0.5")), owner="BLOCK")
    (part,) = explode([Build(bill(step(10, line("BLOCK"))), 4, 4)], {"BLOCK": poor}, {}).made
    # Median of the negative binomial with 4 successes at 1/2: 7 trials give 4 with chance 1/2.
    assert (part.to_make, part.start) == (4, 7)


def test_stock_of_a_part_is_shared_between_products():
    first, second = bill(step(10, line("BLOCK"))), bill(step(10, line("BLOCK")), owner="CAMP")
    found = explode([Build(first, 4, 4), Build(second, 4, 4)], {"BLOCK": BLOCK}, {"BLOCK": D(6)})
    assert [(part.from_stock, part.to_make) for part in found.made] == [(6, 2)]


def test_part_that_contains_itself_is_refused_with_the_loop():
    loop = {
        "CORE": bill(step(10, line("SHELL")), owner="CORE"),
        "SHELL": bill(step(10, line("CORE")), owner="SHELL"),
    }
    with pytest.raises(BadInput, match="contains itself .CORE in SHELL in CORE."):
        explode([], loop, {})
    with pytest.raises(BadInput, match="Take it out of one of these bills"):
        usage_per_knife(bill(step(10, line("CORE"))), loop)


# Average use


def test_average_use_charges_scrap_where_it_happens():
    one = bill(step(10, line("A", 2), good_share=D("0.95")), step(20, line("B", 3)))
    usage = {use.item: (use.per_knife, use.per_batch) for use in usage_per_knife(one, {})}
    assert usage == {"A": (2, 0), "B": (pytest.approx(2.85), 0)}


def test_average_use_shares_setups_and_keeps_batches_apart():
    one = bill(
        step(10, line("EPOXY", 40, "setup"), line("SOAP", 5, "batch"), setup_size=4),
        step(20, line("TAPE", 7, "setup")),
    )
    usage = {use.item: (use.per_knife, use.per_batch) for use in usage_per_knife(one, {})}
    assert usage == {"EPOXY": (10, 0), "SOAP": (0, 5), "TAPE": (0, 7)}


def test_average_use_of_a_made_part_allows_for_its_yield():
    poor = bill(step(10, line("SHEET", 2), good_share=D("0.8")), owner="BLOCK")
    (use,) = usage_per_knife(bill(step(10, line("BLOCK"))), {"BLOCK": poor})
    assert (use.item, use.per_knife) == ("SHEET", pytest.approx(2.5))


def test_average_use_tells_stock_cuts_wear_and_services_apart():
    one = bill(
        step(
            10, line("BAR", 1, cut="240"), line("BAR", 3), wear=(("MILL", D(5)),), service="HARDEN"
        )
    )
    found = {(use.item, use.cut): use.per_knife for use in usage_per_knife(one, {})}
    assert found == {("BAR", "240"): 1, ("BAR", None): 3, ("MILL", Worn()): 5, ("HARDEN", None): 1}


@settings(max_examples=60, deadline=None)
@given(
    start=st.integers(1, 400),
    yields=st.lists(st.decimals("0.5", "1", places=2), min_size=1, max_size=6),
    qty=st.decimals("0.001", "50", places=3),
)
def test_large_batches_use_what_the_average_says(start, yields, qty):
    """No step takes less than the average, and no more than one knife above it."""
    steps = [step(n, line(f"I{n}", qty), good_share=share) for n, share in enumerate(yields)]
    one = bill(*steps)
    exact = needs([Build(one, start, 0)])
    for use in usage_per_knife(one, {}):
        average = use.per_knife * start
        assert average - 1e-6 <= float(exact[use.item]) <= average + float(qty) + 1e-6
