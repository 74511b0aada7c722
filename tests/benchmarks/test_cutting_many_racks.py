"""Generated racks of the project's size: how many plans are proven, how long they take.

Run: python -m pytest tests/benchmarks/test_cutting_many_racks.py -m benchmark -s
24 racks of 60 bars in 30 lengths for 200 parts of 10 lengths; 16 racks of 15 sheets in 8 sizes for
120 blanks of 8 sizes, full sheets in two standard sizes; the same 16 with full sheets in four odd
sizes, where hardly two ways to open sheets count alike. Length on the rack over need: 1.6, 1.15,
1.04, and 0.9 where some must be bought; area over need: 2, 1.5, 1.25 and 1.06, which is too little.
Invented, not from a shop.
"""

import random
from collections.abc import Callable
from dataclasses import replace
from statistics import median
from time import perf_counter

import pytest

from inventory.cutting import (
    Bar,
    Blank,
    Kit,
    Part,
    Plan,
    Rules,
    Sheet,
    check,
    plan_bars,
    plan_sheets,
)

pytestmark = pytest.mark.benchmark

PAIRS = [8, 8, 8, 8, 7, 7, 7, 7]
BAR_RULES = Rules(1500, (150_000, 0), last_aim="opened")
SHEET_RULES = Rules(1500, (40_000, 100_000), last_aim="opened")


def bar_rack(seed: int, tightness: float):
    rng = random.Random(f"bars {seed}")
    parts = [Part(f"p{n}", 100 * rng.randint(900, 3300)) for n in range(10)]
    kits = [Kit(f"k{part.id}", {part.id: 1}, 20) for part in parts]
    need = sum(20 * (part.length + 1500) for part in parts)
    lengths = [rng.randint(250, 1600) for _ in range(20)]
    lengths += [rng.randint(1800, 3000) for _ in range(10)]
    scale = tightness * need / (2 * sum(lengths))
    bars = [
        Bar(f"b{n}", int(scale * length), 2, is_remnant=n < 20, trim_first=3000)
        for n, length in enumerate(lengths)
    ]
    bars.append(Bar("new", 1_829_000, 99, purchasable=True, cost=1, trim_first=3000))
    return parts, bars, kits, BAR_RULES


def sheet_rack(seed: int, tightness: float):
    """Full sheets as they are sold; the blanks are scaled to the rack."""
    rng = random.Random(f"standard sheets {seed}")
    sizes = [(600_000, 300_000, 3, False), (450_000, 300_000, 2, False)]
    for count in (2, 2, 2, 2, 1, 1):
        sizes.append((500 * rng.randint(300, 900), 500 * rng.randint(200, 560), count, True))
    shapes = [(rng.randint(180, 360), rng.randint(60, 110), rng.random() < 0.5) for _ in range(8)]
    area = sum(n * x * y for x, y, n, _ in sizes)
    need = sum(2 * n * along * across for n, (along, across, _) in zip(PAIRS, shapes, strict=True))
    side = (area / (need * tightness)) ** 0.5
    blanks = [
        Blank(f"s{n}", 500 * round(side * along / 500), 500 * round(side * across / 500), turn)
        for n, (along, across, turn) in enumerate(shapes)
    ]
    return _with_new(blanks, [(f"r{n}", *size) for n, size in enumerate(sizes)])


def odd_sheet_rack(seed: int, tightness: float):
    """Full sheets in four odd sizes; the sheets are scaled to the blanks."""
    rng = random.Random(f"sheets {seed}")
    blanks = [
        Blank(f"s{n}", 500 * rng.randint(180, 360), 500 * rng.randint(60, 110), rng.random() < 0.5)
        for n in range(8)
    ]
    need = sum(2 * n * blank.along * blank.across for n, blank in zip(PAIRS, blanks, strict=True))
    sizes = [(rng.randint(350, 700), rng.randint(220, 460)) for _ in range(8)]
    counts = [2] * 7 + [1]
    area = sum(n * x * y for n, (x, y) in zip(counts, sizes, strict=True))
    scale = (tightness * need / area) ** 0.5
    sheets = [
        (f"r{n}", int(x * scale), int(y * scale), count, n > 3)
        for n, ((x, y), count) in enumerate(zip(sizes, counts, strict=True))
    ]
    return _with_new(blanks, sheets)


def _with_new(blanks, sizes):
    kits = [Kit(f"k{blank.id}", {blank.id: 2}, n) for blank, n in zip(blanks, PAIRS, strict=True)]
    sheets = [
        Sheet(name, x, y, count, "L", is_remnant, trim_x=3000, trim_y=3000)
        for name, x, y, count, is_remnant in sizes
    ]
    new = Sheet(
        "new", 600_000, 300_000, 20, "N", purchasable=True, cost=1, trim_x=3000, trim_y=3000
    )
    return blanks, [*sheets, new], kits, SHEET_RULES


BARS = [bar_rack(seed, tight) for tight in (1.6, 1.15, 1.04, 0.9) for seed in range(6)]
TIGHT = [(seed, tight) for tight in (2.0, 1.5, 1.25, 1.06) for seed in range(4)]
SHEETS = [sheet_rack(*rack) for rack in TIGHT]
ODD_SHEETS = [odd_sheet_rack(*rack) for rack in TIGHT]


@pytest.mark.parametrize(
    ("racks", "plan_of"),
    [(BARS, plan_bars), (SHEETS, plan_sheets), (ODD_SHEETS, plan_sheets)],
    ids=["bars", "sheets", "odd sheets"],
)
def test_share_of_plans_that_are_proven(racks, plan_of: Callable[..., Plan]):
    plan_of(*racks[0])  # the solver loads once
    proven = {"knives": 0, "bought": 0, "opened": 0}
    seconds, opened, bound, opened_by_hand, made, made_by_hand = [], 0, 0, 0, 0, 0
    for *question, rules in racks:
        started = perf_counter()
        plan = plan_of(*question, rules)
        seconds.append(perf_counter() - started)
        hand = plan_of(*question, replace(rules, time_limit_s=0))
        assert check(plan, *question, rules) == []
        for stage in plan.stages:
            proven[stage.name] += stage.proven
        made += plan.stages[0].value
        made_by_hand += hand.stages[0].value
        if not any(hand.missing.values()):
            opened += plan.stages[2].value
            bound += plan.stages[2].bound
            opened_by_hand += hand.stages[2].value
    print(f"\n{len(racks)} racks, proven: {proven}")
    print(f"seconds: median {median(seconds):.2f}, longest {max(seconds):.2f}")
    print(f"knives from the rack: {made}, by hand {made_by_hand}")
    saved, most = 1 - opened / opened_by_hand, 1 - bound / opened_by_hand
    print(f"opened where the rack has enough: {saved:.0%} less than by hand, at most {most:.0%}")
    assert made >= made_by_hand
