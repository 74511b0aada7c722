"""Knives to start for enough good ones, against published binomial exercises."""

import pytest
from scipy import stats

from forecasting.rejects import chance_of_enough, start_quantity


def test_piston_exercise_gives_the_published_chances():
    # "10 Days of Statistics", day 4, ten pistons with 12 % rejects, worked at ataias.com.br (read).
    at_most_two_rejects = chance_of_enough(10, 8, 0.88)
    assert at_most_two_rejects == pytest.approx(0.891, abs=0.0006)
    at_least_two_rejects = 1 - chance_of_enough(10, 9, 0.88)
    assert at_least_two_rejects == pytest.approx(0.342, abs=0.0006)


def test_bulb_exercise_gives_the_published_tail():
    # Twenty bulbs, 80 % good, at least 18 good (read); the page adds rounded terms.
    assert chance_of_enough(20, 18, 0.8) == pytest.approx(0.20609, abs=6e-6)


def test_pump_exercise_five_of_five():
    # Five pumps, 95 % good (read).
    assert chance_of_enough(5, 5, 0.95) == pytest.approx(0.774, abs=0.0006)


@pytest.mark.parametrize(
    ("good", "share", "confidence", "start"),
    [
        # Pump exercise: order sizes computed, no printed answer.
        (5, 0.95, 0.95, 6),
        (5, 0.95, 0.99, 7),
        # Turbine case of a simulation program's help text: inputs read, answers computed.
        (50, 0.8, 0.50, 62),
        (50, 0.8, 0.90, 68),
        (50, 0.8, 0.95, 69),
        (50, 0.8, 0.99, 73),
    ],
)
def test_start_quantity_is_a_quantile_of_the_negative_binomial(good, share, confidence, start):
    answer = start_quantity(good, [share], confidence)
    assert answer.start == start
    # Independent library: scipy counts the rejects before the last good one.
    assert answer.start == good + stats.nbinom.ppf(confidence, good, share)
    assert answer.chance_enough == pytest.approx(stats.binom.sf(good - 1, start, share), abs=1e-12)
