"""A stored plan is the plan that was made, to the last cut."""

import json

import pytest

from inventory.cutting import (
    Bar,
    Blank,
    Kit,
    Part,
    Rules,
    Sheet,
    plan_bars,
    plan_from_json,
    plan_sheets,
    plan_to_json,
)

RULES = Rules(1500, (50_000, 100_000))
BARS = plan_bars(
    [Part("blade", 240_000)],
    [Bar("P-1", 1_000_000, lot="heat 1"), Bar("new", 914_000, 9, "new", purchasable=True)],
    [Kit("TRAIL", {"blade": 1}, 6)],
    RULES,
)
SHEETS = plan_sheets(
    [Blank("scale", 128_000, 39_000)],
    [Sheet("P-2", 610_000, 305_000, lot="colour 1", trim_x=3000, trim_y=3000)],
    [Kit("TRAIL", {"scale": 2}, 9)],
    RULES,
)


@pytest.mark.parametrize("plan", [BARS, SHEETS], ids=["bars, two to buy", "sheet with remnants"])
def test_plan_comes_back_equal_from_json(plan):
    assert plan.pieces
    assert plan_from_json(json.loads(json.dumps(plan_to_json(plan)))) == plan
