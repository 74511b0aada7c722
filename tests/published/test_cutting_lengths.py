"""Cutting stock instances from the literature: the sources stand in cutting_instances.json."""

import json
from pathlib import Path

import pytest

from inventory.cutting import Bar, Kit, Part, Rules, check, plan_bars

INSTANCES = json.loads(Path(__file__).with_name("cutting_instances.json").read_text())
RULES = Rules(kerf=0, time_limit_s=30, last_aim="bought")


@pytest.mark.parametrize("instance", INSTANCES["lengths"], ids=lambda i: i["name"])
def test_pieces_needed_are_the_published_number(instance):
    parts = [Part(f"{length}", length) for length, _ in instance["parts"]]
    kits = [Kit(f"{length}", {f"{length}": 1}, number) for length, number in instance["parts"]]
    bars = [Bar("stock", instance["stock"], count=999, purchasable=True, cost=1)]
    plan = plan_bars(parts, bars, kits, RULES)
    assert plan.buy == {"stock": instance["pieces"]}
    assert plan.status == "optimal"
    assert check(plan, parts, bars, kits, RULES) == []


@pytest.mark.slow
@pytest.mark.parametrize(
    "rack", [r for r in INSTANCES["racks"] if "bars" in r], ids=lambda r: r["name"]
)
def test_knives_and_bars_to_buy_are_those_of_the_separate_program(rack):
    parts = [Part(*part) for part in rack["parts"]]
    bars = [Bar(*bar, trim_first=rack["trim_first"]) for bar in rack["bars"]]
    kits = [Kit(*kit) for kit in rack["kits"]]
    rules = Rules(rack["kerf"], (rack["min_remnant"], 0), time_limit_s=30, last_aim="bought")
    plan = plan_bars(parts, bars, kits, rules)
    assert sum(plan.made_from_rack.values()) == rack["knives"]
    assert sum(plan.buy.values()) == rack["buy"]
    assert plan.status == "optimal"
    assert check(plan, parts, bars, kits, rules) == []
