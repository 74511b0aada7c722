"""Cutting plans of the project's size: value, bound and time beside the plan made by hand.

Run: python -m pytest tests/benchmarks/test_cutting_racks.py -m benchmark -s
The racks are generated (tests/published/cutting_instances.json and below), not from a shop.
"""

import json
import random
from dataclasses import replace
from pathlib import Path
from statistics import median
from time import perf_counter, process_time

import pytest

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
)

pytestmark = pytest.mark.benchmark
FILE = Path(__file__).parents[1] / "published" / "cutting_instances.json"
RACKS = json.loads(FILE.read_text())["racks"]


def question(rack):
    kits = [Kit(*kit) for kit in rack["kits"]]
    if "bars" in rack:
        parts = [Part(*part) for part in rack["parts"]]
        bars = [Bar(*bar, trim_first=rack["trim_first"]) for bar in rack["bars"]]
        return plan_bars, parts, bars, kits, Rules(rack["kerf"], (rack["min_remnant"], 0))
    blanks = [Blank(*blank) for blank in rack["blanks"]]
    sheets = [Sheet(*s[:-2], trim_x=s[-2], trim_y=s[-1]) for s in rack["sheets"]]
    return plan_sheets, blanks, sheets, kits, Rules(rack["kerf"], tuple(rack["min_remnant"]))


@pytest.mark.parametrize("rack", RACKS, ids=lambda rack: rack["name"])
def test_plan_is_at_least_as_good_as_the_one_made_by_hand(rack):
    plan_of, parts, stock, kits, rules = question(rack)
    started = perf_counter()
    plan = plan_of(parts, stock, kits, rules)
    seconds = perf_counter() - started
    started = perf_counter()
    hand = plan_of(parts, stock, kits, replace(rules, time_limit_s=0))
    by_hand_seconds = perf_counter() - started
    print(f"\n{rack['name']}: {seconds:.2f} s, by hand {by_hand_seconds:.2f} s")
    for ours, theirs in zip(plan.stages, hand.stages, strict=True):
        mark = "proven" if ours.proven else "gap"
        print(
            f"  {ours.name:8} {ours.value:>14} bound {ours.bound:>14} {mark:6} hand {theirs.value:>14}"
        )
    assert check(plan, parts, stock, kits, rules) == []
    assert check(hand, parts, stock, kits, rules) == []
    assert plan.stages[0].value >= hand.stages[0].value


def small_question(seed):
    rng = random.Random(seed)
    parts = [Part(f"p{n}", 100 * rng.randint(800, 3000)) for n in range(rng.randint(1, 3))]
    bars = [
        Bar(
            f"b{n}",
            rng.choice([1000 * rng.randint(200, 1800), 1_829_000]),
            lot=rng.choice(["heat 1", "heat 2"]),
            is_remnant=rng.random() < 0.5,
            trim_first=3000,
        )
        for n in range(12)
    ]
    kits = [Kit("k", {part.id: rng.randint(1, 2) for part in parts}, 30)]
    return parts, bars, kits, Rules(1500, (150_000, 0), last_aim="bought")


def test_small_rack_is_answered_while_a_page_loads():
    plan_bars(*small_question(0))
    times, proven = [], 0
    for seed in range(40):
        started = process_time()
        plan = plan_bars(*small_question(seed))
        times.append(1000 * (process_time() - started))
        proven += plan.status == "optimal"
    print(f"\n12 bars, 30 knives: median {median(times):.0f} ms, longest {max(times):.0f} ms")
    print(f"proven {proven} of 40")
    assert median(times) < 100
