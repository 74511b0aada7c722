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


@pytest.mark.parametrize(
    "amounts",
    [
        [(1_829_000, 3), (1_219_500, 2), (914_333, 4)],
        [(100, 40), (250, 40), (400, 40), (700, 40)],
    ],
    ids=["few combinations", "many of round sizes"],
)
def test_next_total_of_whole_pieces_is_the_one_found_by_counting_all(amounts):
    totals = {0}
    for amount, count in amounts:
        totals = {total + n * amount for total in totals for n in range(count + 1)}
    sums = Sums(amounts)
    for bound in range(0, sum(n * a for a, n in amounts), 137_777 if 914_333 in totals else 77):
        assert sums.at_least(bound) == min(total for total in totals if total >= bound)
