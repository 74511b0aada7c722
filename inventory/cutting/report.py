"""The answer in the words of a plan."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from .by_hand import by_hand
from .hand_out import score
from .layout import lay_out
from .plan import Kit, Plan, StageResult
from .problem import Answer, Problem, size


def report(
    problem: Problem,
    kits: Sequence[Kit],
    on_rack: Answer,
    answer: Answer,
    stages: Sequence[StageResult],
    grid_um: int = 1,
    exact: bool = True,
) -> Plan:
    """Plan from the answer without purchases and the answer with them."""
    made = {kit.id: on_rack.made(kit.id) for kit in kits}
    proven = all(stage.proven for stage in stages)
    return Plan(
        made_from_rack=made,
        missing={kit.id: kit.qty - made[kit.id] for kit in kits},
        buy=dict(Counter(piece.stock.id for piece in answer.cut if piece.stock.purchasable)),
        planned={kit.id: answer.made(kit.id) for kit in kits},
        pieces=tuple(lay_out(piece, problem.rules) for piece in answer.cut),
        rack_pieces=tuple(lay_out(piece, problem.rules) for piece in on_rack.cut),
        stages=tuple(stages),
        grid_um=grid_um,
        status="optimal" if proven else "gap" if exact else "heuristic",
    )


def plan_by_hand(problem: Problem, kits: Sequence[Kit]) -> Plan:
    """The plan made by hand, with bounds that need no calculation."""
    rack = problem.rack_only()
    on_rack = by_hand(rack)
    missing = score(rack, on_rack).missing
    answer = by_hand(problem) if missing and rack != problem else on_rack
    reached = score(problem, answer)
    wanted = sum(kit.qty for kit in kits)
    largest = max(map(size, problem.stock), default=0)
    stages = [
        _stage("knives", wanted - missing, wanted),
        _stage("bought", reached.bought, 0),
        _stage("opened", reached.opened, 0),
        _stage("remnant", reached.remnant, largest),
    ]
    return report(problem, kits, on_rack, answer, stages, exact=False)


def _stage(name: str, value: int, bound: int) -> StageResult:
    return StageResult(name, value, bound, value == bound, 0.0)
