"""How far a plan is taken: by hand only, to a given aim, and the same again every time."""

import os
import subprocess
import sys

import pytest

from inventory.cutting import Bar, Kit, Part, Rules, check, plan_bars

PARTS = [Part("blade", 247_700), Part("liner", 106_500), Part("pin", 61_300)]
BARS = [
    Bar(f"b{n}", 1000 * length, lot=lot, is_remnant=length < 900, trim_first=3000)
    for n, (length, lot) in enumerate(
        [(1800, "a"), (740, "b"), (520, "a"), (1800, "b"), (610, "a"), (955, "b"), (333, "b")]
    )
]
KITS = [Kit("hunter", {"blade": 1, "liner": 2}, 9), Kit("paring", {"blade": 1, "pin": 3}, 4)]


def plan_with(**rules):
    settings = Rules(1500, (150_000, 0), **rules)
    plan = plan_bars(PARTS, BARS, KITS, settings)
    assert check(plan, PARTS, BARS, KITS, settings) == []
    return plan


def test_no_time_gives_the_plan_made_by_hand_and_bounds_from_material():
    plan = plan_with(time_limit_s=0)
    assert plan.status == "heuristic"
    assert all(stage.value <= stage.bound for stage in plan.stages if stage.name == "knives")


@pytest.mark.parametrize(
    ("last_aim", "names"),
    [
        ("knives", ["knives"]),
        ("bought", ["knives", "bought"]),
        ("opened", ["knives", "bought", "opened"]),
        ("remnant", ["knives", "bought", "opened", "remnant"]),
    ],
)
def test_aims_are_looked_at_in_order_up_to_the_last_one_asked(last_aim, names):
    plan = plan_with(last_aim=last_aim, time_limit_s=20)
    assert [stage.name for stage in plan.stages] == names
    assert plan.stages[0].proven


def test_kit_that_is_not_wanted_takes_nothing():
    plan = plan_bars(PARTS, BARS, [Kit("hunter", {"blade": 1}, 0)], Rules(1500))
    assert (plan.made_from_rack, plan.pieces, plan.status) == ({"hunter": 0}, (), "optimal")


PRINT_PLAN = """
import sys; sys.path.insert(0, {folder!r})
from test_limits import plan_with
print(plan_with(time_limit_s=60).pieces)
"""


def test_same_question_gives_the_same_plan_in_every_process():
    program = PRINT_PLAN.format(folder=os.path.dirname(__file__))
    plans = {
        subprocess.run(
            [sys.executable, "-c", program],
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": os.getcwd()},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(plans) == 1
