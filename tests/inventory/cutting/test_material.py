"""Bounds from material alone, on paper."""

import pytest

from inventory.cutting import Bar, Kit, Part, Rules
from inventory.cutting.material import Sums, least_missing, least_opened
from inventory.cutting.problem import ordered_problem


@pytest.mark.parametrize(
    ("bound", "total"),
    [(0, 0), (0.5, 829), (829, 829), (829.5, 1658), (1700, 2212), (99_999, 99_999)],
)
def test_bound_is_rounded_up_to_what_whole_pieces_add_up_to(bound, total):
    assert Sums([(829, 2), (2212, 1)]).at_least(bound) == total


def test_knives_cannot_outnumber_what_each_bar_yields():
    bars = [Bar(f"b{n}", 180) for n in range(5)]
    problem = ordered_problem([Part("p", 100)], bars, [Kit("k", {"p": 1}, 9)], Rules(0))
    assert least_missing(problem) == 4


def test_full_bars_must_cover_what_the_remnants_do_not():
    bars = [Bar("remnant", 250, is_remnant=True), Bar("full", 1000, count=3)]
    problem = ordered_problem([Part("p", 100)], bars, [Kit("k", {"p": 1}, 9)], Rules(0))
    assert least_opened(problem) == 700
