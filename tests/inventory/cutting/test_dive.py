"""Whole plans by fixing one way of cutting after another."""

import random
from time import perf_counter

import pytest

from inventory.cutting import Blank, Kit, Rules, Sheet
from inventory.cutting.demand import SPARING
from inventory.cutting.dive import Dive
from inventory.cutting.hand_out import hand_out, score
from inventory.cutting.problem import ordered_problem
from inventory.cutting.sheet_columns import SheetColumns


def rack(seed):
    """Three equal sheets, and blanks for two: four wide strips and a narrow one from each."""
    rng = random.Random(seed)
    along, across = 500 * rng.randint(200, 300), 500 * rng.randint(60, 100)
    blanks = [Blank("wide", along, across), Blank("half", along, across // 2)]
    sheet = Sheet("s", 2 * along + 1000, 5 * across + 4000, 3, is_remnant=True)
    kits = [Kit("wide", {"wide": 1}, 16), Kit("half", {"half": 1}, 4)]
    return ordered_problem(blanks, [sheet], kits, Rules(1000))


@pytest.mark.parametrize("seed", range(5))
def test_dive_finds_whole_strips_and_misses_no_knife(seed):
    problem = rack(seed)
    columns = SheetColumns(problem)
    with columns.program.fixing():
        assert Dive(columns, 0, 0, perf_counter() + 10).reach()
        solved = columns.program.solve(SPARING, 10, 100)
    answer = hand_out(problem, columns.read(solved.values))
    assert score(problem, answer).missing == 0
    assert len(answer.cut) == 2


def test_dive_for_more_than_the_sheets_can_hold_leads_nowhere():
    problem = ordered_problem(
        [Blank("b", 100_000, 50_000)],
        [Sheet("s", 100_000, 50_000, 2)],
        [Kit("k", {"b": 1}, 3)],
        Rules(1000),
    )
    columns = SheetColumns(problem)
    with columns.program.fixing():
        assert not Dive(columns, 0, 0, perf_counter() + 10).reach()
        assert Dive(columns, 1, 0, perf_counter() + 10).reach()


def test_what_a_dive_fixed_is_free_afterwards():
    columns = SheetColumns(rack(0))
    while columns.price(columns.program.relax(SPARING), SPARING).added:
        pass
    before = columns.program.relax(SPARING).value
    with columns.program.fixing():
        way = next(key for key in columns.program.relax(SPARING).columns if key[0] == "sheet")
        columns.program.use(way, least=3, most=3)
        assert columns.program.relax(SPARING).value > before
    assert columns.program.relax(SPARING).value == pytest.approx(before)
