"""Used and reground cutters in line before the new ones: exact counts against simulation."""

import numpy as np
import pytest

from forecasting.cutter_line import InLine, changes_at_once, changes_in_line
from forecasting.errors import OutOfRange
from forecasting.renewal import LONG_RUN_LIVES, Aged, line_changes, weibull_changes
from forecasting.tool_life import LifeRecord, Prior, changes, life_model
from forecasting.weibull import Weibull

NEW = Weibull(2.5, 120)
REGROUND = Weibull(2.0, 70)
PATHS = 40_000
LIVES = (60.0, 80, 90, 110, 130, 140)


def simulated_counts(line, new, job, seed=3):
    """Changes of many futures, each cutter drawn on from the age it has."""
    rng = np.random.default_rng(seed)
    at, counts = np.zeros(PATHS), np.zeros(PATHS, int)
    drawn = [(one, used) for one, used in line] + [(new, 0.0)] * (20 + int(job / new.mean * 2))
    for weibull, used in drawn:
        spent = (used / weibull.scale) ** weibull.shape
        at += weibull.scale * (spent + rng.exponential(size=PATHS)) ** (1 / weibull.shape) - used
        counts += at < job
    return counts


@pytest.mark.parametrize("job", [50.0, 200.0, 800.0, 60 * NEW.scale])
def test_each_in_line_fails_at_its_own_age_and_by_its_own_life(job):
    line = [(NEW, 90.0), (NEW, 30.0), (REGROUND, 0.0)]
    exact = line_changes(
        [Aged(one.shape, one.scale, used) for one, used in line], Aged(NEW.shape, NEW.scale), job
    )
    drawn = simulated_counts(line, NEW, job)
    error = 4 * drawn.std() / PATHS**0.5
    assert exact.expected == pytest.approx(drawn.mean(), abs=error + 0.002)
    assert exact.chance_of_none == pytest.approx(np.mean(drawn == 0), abs=0.01)
    assert abs(exact.at_most(0.95) - np.quantile(drawn, 0.95)) <= (job / NEW.mean > LONG_RUN_LIVES)


def test_line_of_the_fitted_one_alone_is_the_plain_count():
    alone = line_changes([Aged(2.5, 120, 40)], Aged(2.5, 120), 300.0)
    assert alone.chance == pytest.approx(weibull_changes(2.5, 120, 40, 300.0).chance)


def test_second_one_half_worn_leads_to_more_changes_than_a_fresh_one():
    model = life_model(LifeRecord(life, True) for life in LIVES)
    fresh, half = (
        changes_in_line([InLine(model, 60), InLine(model, used)], model, 150) for used in (0, 60)
    )
    assert half.expected > fresh.expected
    assert fresh.chance_of_none == half.chance_of_none
    assert fresh.expected == pytest.approx(changes(model, 60, 150).expected)


def test_reground_one_in_line_counts_by_its_own_shorter_life():
    model = life_model(LifeRecord(life, True) for life in LIVES)
    shorter = life_model([], Prior(45, 2.5))
    new, reground = (
        changes_in_line([InLine(model, 60), InLine(one)], model, 150) for one in (model, shorter)
    )
    assert reground.expected > new.expected


def test_two_machines_side_by_side_add_up():
    model = life_model(LifeRecord(life, True) for life in LIVES)
    first, second = changes(model, 80, 60), changes(model, 0, 100)
    both = changes_at_once([first, second])
    assert both.expected == pytest.approx(first.expected + second.expected, abs=1e-6)
    assert both.chance_of_none == pytest.approx(first.chance_of_none * second.chance_of_none)
    assert both.spares(0.95) <= first.spares(0.95) + second.spares(0.95)
    assert changes_at_once([first]) is first


def test_line_without_a_fitted_one_is_refused():
    model = life_model([], Prior(100, 2))
    with pytest.raises(OutOfRange, match="line must hold the fitted one"):
        changes_in_line([], model, 10)
