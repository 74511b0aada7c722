"""One material from question to plan: aim after aim, then the answer in the words of a plan."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from time import perf_counter

from .by_hand import by_hand
from .by_lot import is_by_lot, knives_by_lot
from .columns import Columns
from .layout import lay_out
from .material import buying_sums, largest_left, least_missing, least_opened, opening_sums
from .plan import Kit, Plan, StageResult
from .problem import Problem
from .search import Aim, Search

TIDY_SECONDS = 0.5
KNIVES_SHARE = 0.6
PROVEN_WITHIN = 0.001


def best_plan(
    problem: Problem, kits: Sequence[Kit], columns_of: Callable[[Problem], Columns]
) -> Plan:
    """Most knives from the rack, least bought, least opened, largest remnant."""
    deadline = perf_counter() + problem.rules.time_limit_s
    rack = problem.rack_only()
    search = on_rack = Search(rack, columns_of, by_hand(rack), deadline)
    stages = [_knives(search)]
    if problem.rules.last_aim == "knives":
        return _in_words(problem, kits, on_rack, search, stages)
    if search.reached.missing and rack.stock != problem.stock:
        search = Search(problem, columns_of, by_hand(problem), deadline)
        stages.append(_bought(search))
    else:
        stages.append(StageResult("bought", 0, 0, True, 0.0))
    if problem.rules.last_aim in ("opened", "remnant"):
        stages.append(_opened(search))
    if problem.rules.last_aim == "remnant":
        stages.append(_remnant(search))
        search.tidy(TIDY_SECONDS)
    return _in_words(problem, kits, on_rack, search, stages)


def _knives(search: Search) -> StageResult:
    stage = _fewest_missing(search)
    wanted = sum(kit.qty for kit in search.problem.kits)
    value, bound = wanted - stage.value, wanted - stage.bound
    return StageResult("knives", value, bound, stage.proven, stage.seconds)


def _fewest_missing(search: Search) -> StageResult:
    started = perf_counter()
    least = least_missing(search.problem)
    if search.reached.missing > least and is_by_lot(search.problem):
        answer, bound = knives_by_lot(
            search.problem, search.columns_of, search.deadline, KNIVES_SHARE
        )
        search.offer(answer)
        least = max(least, bound)
    stage = search.reach(Aim("missing", least, 1, KNIVES_SHARE))
    return replace(stage, seconds=perf_counter() - started)


def _bought(search: Search) -> StageResult:
    """Least cost; without a proof of the knives it makes, nothing is proven about the cost."""
    missing = _fewest_missing(search)
    sums = buying_sums(search.problem)
    stage = search.reach(Aim("bought", 0, sums.step, 0.6, sums.at_least))
    bound = stage.bound if missing.proven else 0
    return replace(stage, bound=bound, proven=stage.value == bound)


def _opened(search: Search) -> StageResult:
    sums = opening_sums(search.problem)
    least = 0 if search.reached.missing else least_opened(search.problem)
    share = 0.9 if search.problem.rules.last_aim == "opened" else 0.7
    aim = Aim("opened", sums.at_least(least), sums.step, share, sums.at_least, PROVEN_WITHIN)
    return search.reach(aim)


def _remnant(search: Search) -> StageResult:
    search.push_together()
    largest, step = largest_left(search.problem, search.reached)
    stage = search.reach(Aim("remnant_lost", -largest, step, share=0.6))
    return StageResult("remnant", -stage.value, -stage.bound, stage.proven, stage.seconds)


def _as_drawn(stage: StageResult, drawn: int) -> StageResult:
    """What a later aim gained for an earlier one, or tidying for the last, counts as well."""
    upper = stage.name in ("knives", "remnant")
    bound = max(stage.bound, drawn) if upper else min(stage.bound, drawn)
    proven = drawn == bound or (stage.proven and drawn == stage.value)
    return replace(stage, value=drawn, bound=bound, proven=proven)


def _in_words(
    problem: Problem,
    kits: Sequence[Kit],
    on_rack: Search,
    search: Search,
    stages: Sequence[StageResult],
) -> Plan:
    cut = search.best.cut
    buys = Counter(piece.stock.id for piece in cut if piece.stock.purchasable)
    rack = on_rack.best if buys else search.best
    made = {kit.id: rack.made(kit.id) for kit in kits}
    drawn = {
        "knives": sum(made.values()),
        "bought": search.reached.bought,
        "opened": search.reached.opened,
        "remnant": search.reached.remnant,
    }
    stages = [_as_drawn(stage, drawn[stage.name]) for stage in stages]
    if all(stage.proven for stage in stages):
        status = "optimal"
    else:
        status = "gap" if on_rack.is_solving or search.is_solving else "heuristic"
    return Plan(
        made_from_rack=made,
        missing={kit.id: kit.qty - made[kit.id] for kit in kits},
        buy=dict(buys),
        planned={kit.id: search.best.made(kit.id) for kit in kits},
        pieces=tuple(lay_out(piece, problem.rules) for piece in cut),
        rack_pieces=tuple(lay_out(piece, problem.rules) for piece in rack.cut),
        stages=tuple(stages),
        grid_um=max(on_rack.grid_um, search.grid_um),
        status=status,
    )
