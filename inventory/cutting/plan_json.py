"""A plan as JSON, so that what was decided once is printed and cut as it stands."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from .plan import Cut, PiecePlan, Placed, Plan, StageResult


def plan_to_json(plan: Plan) -> dict[str, Any]:
    """Plain dicts, lists, texts and whole numbers; field names as in Plan."""
    return asdict(plan)


def plan_from_json(stored: dict[str, Any]) -> Plan:
    """The plan that plan_to_json wrote, equal to the first one."""
    return Plan(
        **{
            **stored,
            "pieces": tuple(map(_piece, stored["pieces"])),
            "rack_pieces": tuple(map(_piece, stored["rack_pieces"])),
            "stages": tuple(StageResult(**stage) for stage in stored["stages"]),
        }
    )


def _piece(stored: dict[str, Any]) -> PiecePlan:
    return PiecePlan(
        **{
            **stored,
            "placed": tuple(Placed(**placed) for placed in stored["placed"]),
            "remnants": tuple(map(tuple, stored["remnants"])),
            "cuts": tuple(Cut(**cut) for cut in stored["cuts"]),
        }
    )
