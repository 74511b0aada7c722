"""Racks whose best plan can be worked out on paper."""

import pytest

from inventory.cutting import (
    BadCuttingInput,
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

MM = 1000


def bars_plan(lengths, part_length, knives, kerf=1500, **rules):
    parts = [Part("blade", part_length)]
    bars = [Bar(f"bar {n}", length) for n, length in enumerate(lengths)]
    kits = [Kit("knife", {"blade": 1}, knives)]
    settings = Rules(kerf, **rules)
    plan = plan_bars(parts, bars, kits, settings)
    assert check(plan, parts, bars, kits, settings) == []
    return plan


# Paper: 5 x 198.8 + 4 x 1.5 = 1000.0; with a kerf of 1.6 the sum is 1000.4.
@pytest.mark.parametrize(("kerf", "knives"), [(1500, 5), (1600, 4)], ids=["exact", "over"])
def test_exact_fit_counts_the_kerf_between_parts_only(kerf, knives):
    assert bars_plan([1000 * MM], 198_800, 9, kerf).made_from_rack == {"knife": knives}


def test_remnants_too_short_make_no_knife_though_their_total_is_enough():
    assert bars_plan([180 * MM] * 5, 240 * MM, 3).made_from_rack == {"knife": 0}


def test_blades_and_liners_of_one_knife_are_made_together():
    parts = [Part("blade", 4000), Part("liner", 3000)]
    bars = [Bar("bar", 10_000, count=2)]
    kits = [Kit("knife", {"blade": 1, "liner": 2}, 2)]
    plan = plan_bars(parts, bars, kits, Rules(0))
    assert plan.made_from_rack == {"knife": 2}
    assert check(plan, parts, bars, kits, Rules(0)) == []


@pytest.mark.parametrize(("one_lot", "pairs"), [(True, 2), (False, 3)], ids=["matched", "mixed"])
def test_scales_of_a_pair_come_from_one_lot(one_lot, pairs):
    blanks = [Blank("scale", 98 * MM, 48 * MM)]
    sheets = [Sheet(lot, 300 * MM, 48 * MM, lot=lot) for lot in ("L1", "L2")]
    kits = [Kit("knife", {"scale": 2}, 5, one_lot=one_lot)]
    plan = plan_sheets(blanks, sheets, kits, Rules(2000))
    assert plan.made_from_rack == {"knife": pairs}
    assert plan.stages[0].proven
    assert check(plan, blanks, sheets, kits, Rules(2000)) == []


# Paper: 3 x 98 + 2 x 2 = 298 <= 300; 2 x 48 + 2 = 98 <= 100, but not <= 97.
@pytest.mark.parametrize(("trim", "scales"), [(0, 6), (3 * MM, 3)], ids=["square", "to square"])
def test_squaring_an_edge_can_cost_a_strip(trim, scales):
    blank, sheet = Blank("scale", 98 * MM, 48 * MM), Sheet("A", 300 * MM, 100 * MM, trim_y=trim)
    kits = [Kit("knife", {"scale": 1}, 9)]
    plan = plan_sheets([blank], [sheet], kits, Rules(2000))
    assert plan.made_from_rack == {"knife": scales}
    assert usable_for(blank, sheet, Rules(2000)) == scales
    assert check(plan, [blank], [sheet], kits, Rules(2000)) == []


@pytest.mark.parametrize(("rotate", "scales"), [(False, 3), (True, 4)], ids=["grain", "free"])
def test_grain_can_cost_a_scale(rotate, scales):
    blank, sheet = Blank("scale", 120 * MM, 40 * MM, rotate), Sheet("A", 200 * MM, 130 * MM)
    kits = [Kit("knife", {"scale": 1}, 9)]
    plan = plan_sheets([blank], [sheet], kits, Rules(2000))
    assert plan.made_from_rack == {"knife": scales}
    assert usable_for(blank, sheet, Rules(2000)) == scales


def test_remnants_are_used_before_a_full_bar():
    parts, kits = [Part("blade", 250 * MM)], [Kit("knife", {"blade": 1}, 3)]
    bars = [
        Bar("full", 2000 * MM),
        Bar("r1", 260 * MM, is_remnant=True),
        Bar("r2", 520 * MM, is_remnant=True),
    ]
    plan = plan_bars(parts, bars, kits, Rules(2000))
    assert sorted(piece.piece for piece in plan.pieces) == ["r1", "r2"]


def test_what_the_rack_lacks_is_bought_and_both_plans_are_drawn():
    parts, kits = [Part("blade", 250 * MM)], [Kit("knife", {"blade": 1}, 9)]
    bars = [Bar("full", 1100 * MM), Bar("new", 600 * MM, count=9, purchasable=True, cost=40)]
    plan = plan_bars(parts, bars, kits, Rules(2000))
    assert (plan.made_from_rack, plan.missing) == ({"knife": 4}, {"knife": 5})
    assert (plan.planned, plan.buy) == ({"knife": 9}, {"new": 3})
    assert [piece.piece for piece in plan.rack_pieces] == ["full"]
    assert check(plan, parts, bars, kits, Rules(2000)) == []


def test_nothing_on_the_rack_makes_nothing():
    plan = bars_plan([], 250 * MM, 4)
    assert (plan.made_from_rack, plan.pieces) == ({"knife": 0}, ())


@pytest.mark.parametrize(
    ("parts", "kits", "message"),
    [
        ([Part("blade", 0)], [], "part 'blade': sizes and counts are whole numbers from 1"),
        ([Part("blade", 9)] * 2, [], "part id 'blade' is given twice"),
        ([], [Kit("knife", {"blade": 1}, 1)], "kit 'knife' needs 'blade', which is not among"),
        ([Part("blade", 9)], [Kit("knife", {}, 1)], "kit 'knife' needs nothing"),
        ([Part("blade", 2.5)], [], "but got 2.5"),
    ],
    ids=["no length", "twice", "unknown part", "empty kit", "fraction"],
)
def test_bad_sizes_and_kits_are_refused_with_the_record_named(parts, kits, message):
    with pytest.raises(BadCuttingInput, match=message):
        plan_bars(parts, [], kits, Rules(0))
