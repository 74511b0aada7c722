"""What holds for every rack, tried on many small ones."""

from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.cutting import (
    Bar,
    Blank,
    Kit,
    Part,
    Rules,
    Sheet,
    check,
    plan_bars,
    plan_sheets,
    usable_for,
)

few = settings(
    max_examples=25,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
lots = st.sampled_from(["", "heat 1", "heat 2"])


@st.composite
def bar_racks(draw, last_aim="remnant"):
    parts = [Part(f"p{n}", draw(st.integers(30, 400))) for n in range(draw(st.integers(1, 3)))]
    bars = [
        Bar(
            f"b{n}",
            draw(st.integers(20, 1500)),
            draw(st.integers(1, 3)),
            draw(lots),
            is_remnant=draw(st.booleans()),
            trim_first=draw(st.sampled_from([0, 4])),
            trim_last=draw(st.sampled_from([0, 7])),
        )
        for n in range(draw(st.integers(1, 5)))
    ]
    if draw(st.booleans()):
        bars.append(Bar("new", 1000, 30, "new", purchasable=True, cost=draw(st.integers(0, 50))))
    kits = [
        Kit(
            f"k{n}",
            {part.id: draw(st.integers(0, 2)) for part in parts} | {"p0": 1},
            draw(st.integers(1, 12)),
            draw(st.booleans()),
        )
        for n in range(draw(st.integers(1, 2)))
    ]
    rules = Rules(draw(st.integers(0, 5)), (draw(st.integers(0, 90)), 0), last_aim=last_aim)
    return parts, bars, kits, replace(rules, time_limit_s=10)


@st.composite
def sheet_racks(draw, last_aim="remnant"):
    blanks = [
        Blank(f"s{n}", draw(st.integers(80, 140)), draw(st.integers(25, 60)), draw(st.booleans()))
        for n in range(draw(st.integers(1, 3)))
    ]
    sheets = [
        Sheet(
            f"sheet{n}",
            draw(st.integers(60, 600)),
            draw(st.integers(40, 300)),
            lot=draw(lots),
            is_remnant=draw(st.booleans()),
            trim_x=draw(st.sampled_from([0, 3])),
            trim_y=draw(st.sampled_from([0, 3])),
            rip=draw(st.sampled_from(["x", "y", "both"])),
        )
        for n in range(draw(st.integers(1, 4)))
    ]
    kits = [Kit("k", {blank.id: 2 for blank in blanks}, draw(st.integers(1, 8)))]
    rules = Rules(
        draw(st.integers(0, 3)),
        (20, 50),
        stages=draw(st.sampled_from([2, 3])),
        exact_strips=draw(st.booleans()),
        time_limit_s=10,
        last_aim=last_aim,
    )
    return blanks, sheets, kits, rules


def knives(plan):
    return sum(plan.made_from_rack.values())


@few
@given(bar_racks())
def test_every_bar_plan_can_be_cut_as_drawn(rack):
    assert check(plan_bars(*rack), *rack) == []


@few
@given(sheet_racks())
def test_every_sheet_plan_can_be_cut_as_drawn(rack):
    assert check(plan_sheets(*rack), *rack) == []


@few
@given(bar_racks("knives"), st.integers(20, 1500))
def test_one_more_bar_never_makes_fewer_knives(rack, length):
    parts, bars, kits, rules = rack
    more = [*bars, Bar("one more", length, lot="heat 1")]
    assert knives(plan_bars(parts, more, kits, rules)) >= knives(plan_bars(*rack))


@few
@given(bar_racks("knives"))
def test_a_wider_kerf_never_makes_more_knives(rack):
    parts, bars, kits, rules = rack
    wider = replace(rules, kerf=rules.kerf + 3)
    assert knives(plan_bars(parts, bars, kits, wider)) <= knives(plan_bars(*rack))


@few
@given(sheet_racks("knives"))
def test_free_grain_never_makes_fewer_knives(rack):
    blanks, sheets, kits, rules = rack
    free = [replace(blank, rotate=True) for blank in blanks]
    assert knives(plan_sheets(free, sheets, kits, rules)) >= knives(plan_sheets(*rack))


@few
@given(bar_racks("knives"), st.sampled_from([7, 25400]))
def test_the_unit_of_length_does_not_matter(rack, unit):
    parts, bars, kits, rules = rack
    plan = plan_bars(
        [replace(part, length=part.length * unit) for part in parts],
        [
            replace(
                bar,
                length=bar.length * unit,
                trim_first=bar.trim_first * unit,
                trim_last=bar.trim_last * unit,
            )
            for bar in bars
        ],
        kits,
        replace(rules, kerf=rules.kerf * unit),
    )
    assert knives(plan) == knives(plan_bars(*rack))


@few
@given(bar_racks("knives"), st.randoms(use_true_random=False))
def test_the_order_of_the_records_does_not_matter(rack, shuffler):
    parts, bars, kits, rules = rack
    mixed = [shuffler.sample(records, len(records)) for records in (parts, bars, kits)]
    assert plan_bars(*mixed, rules).made_from_rack == plan_bars(*rack).made_from_rack


@few
@given(sheet_racks("knives"))
def test_one_blank_alone_is_cut_as_often_as_the_sheet_yields(rack):
    blanks, sheets, _, rules = rack
    kits = [Kit("k", {"s0": 1}, 200)]
    most = usable_for(blanks[0], sheets[0], rules)
    assert knives(plan_sheets(blanks[:1], sheets[:1], kits, rules)) == most
