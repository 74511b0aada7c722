"""Rows of the integer program that every material shares: knives, parts per lot, aims.

    row               says
    ("kit", k)        knives made + knives missing = knives wanted
    ("part", p, lot)  parts cut from the lot cover the knives made whole from it
    ("spare", p)      parts left over in the lots cover the knives whose lots may mix
    "missing" ...     the aims, each the sum of what its columns cost
    "used", "spent"   size of the pieces cut, and how much of their worth as long pieces is lost
    "sparing"         for a first whole plan: knives before purchases before pieces opened before
                      material, by weights; the aims themselves are reached one after another
    "donor"           at most one piece is singled out for the largest remnant

Kits as columns carry the whole lot rule: a knife counts only in the lot that yields all of it.
"""

from __future__ import annotations

from .plan import Kit
from .problem import Problem
from .program import Program

AIMS = ("missing", "bought", "opened", "remnant_lost")
TIDY = "spent"
USED = "used"
SPARING = "sparing"
MISSING_WEIGHT, BOUGHT_WEIGHT, OPENED_WEIGHT = 10_000.0, 100.0, 10.0
"""Of a knife, of the dearest and of the largest piece, where the largest piece used counts 1."""


def demand_program(problem: Problem) -> Program:
    """Program with the knives in it and no piece yet."""
    program = Program()
    for aim in (*AIMS, TIDY, USED, SPARING):
        program.add_row(aim)
    program.add_row("donor", upper=1)
    for part in problem.parts:
        for pool in problem.pools or ("",):
            program.add_row(("part", part, pool), lower=0)
        if problem.matching:
            _add_spare(program, problem, part)
    for kit in problem.kits:
        program.add_row(("kit", kit.id), kit.qty, kit.qty)
        program.add_column(
            ("missing", kit.id), {("kit", kit.id): 1, "missing": 1, SPARING: MISSING_WEIGHT}
        )
    for kit in problem.matching:
        for pool in problem.pools:
            needs = {("part", part, pool): -number for part, number in kit.need.items() if number}
            _add_knives(program, ("whole", kit.id, pool), kit, needs)
    for kit in problem.mixing:
        needs = {
            _row_of_mixed(problem, part): -number for part, number in kit.need.items() if number
        }
        _add_knives(program, ("mixed", kit.id), kit, needs)
    return program


def knives_made(
    problem: Problem, values: dict
) -> tuple[dict[tuple[str, str], int], dict[str, int]]:
    """Knives from one lot by (kit, lot), knives from any lot by kit."""
    matched = {
        (kit.id, pool): values[("whole", kit.id, pool)]
        for kit in problem.matching
        for pool in problem.pools
        if ("whole", kit.id, pool) in values
    }
    mixed = {
        kit.id: values[("mixed", kit.id)] for kit in problem.mixing if ("mixed", kit.id) in values
    }
    return matched, mixed


def _add_knives(program: Program, key: tuple, kit: Kit, needs: dict) -> None:
    program.add_column(key, {("kit", kit.id): 1, **needs})


def _add_spare(program: Program, problem: Problem, part: str) -> None:
    program.add_row(("spare", part), lower=0)
    for pool in problem.pools:
        entries = {("part", part, pool): -1, ("spare", part): 1}
        program.add_column(("spare", part, pool), entries)


def _row_of_mixed(problem: Problem, part: str) -> tuple:
    return ("spare", part) if problem.matching else ("part", part, "")
