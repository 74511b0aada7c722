"""Cutting plans for the eye: each piece with its parts, its cuts in order, and what is left."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from inventory.models import Item, Piece
from inventory.queries.material_plan import MaterialPlan
from inventory.units import show_length, show_size

CUT_WORDS = {
    "square": "square the edge",
    "rip": "rip a strip",
    "cross": "cut off",
    "split": "split the stack",
    "trim": "trim to width",
}


@dataclass(frozen=True)
class CutStep:
    """One cut: what it does, from which edge, and where the saw stands."""

    what: str
    at: str
    gives: str


@dataclass(frozen=True)
class PieceSheet:
    """One piece of the rack: parts as (count, size), remnants as sizes."""

    piece: Piece
    parts: list[tuple[int, str]]
    remnants: list[str]
    steps: list[CutStep]


@dataclass(frozen=True)
class CutSheet:
    """All pieces of one item; missing: knives that the rack doesn't yield."""

    item: Item
    pieces: list[PieceSheet]
    missing: list[tuple[str, int]]


def cut_sheets(plans: Iterable[MaterialPlan], user: Any) -> list[CutSheet]:
    """One sheet an item, in the order of the plans."""
    return [
        CutSheet(
            item=material.item,
            pieces=[_piece_sheet(material, planned, user) for planned in material.plan.rack_pieces],
            missing=[(kit, count) for kit, count in material.plan.missing.items() if count],
        )
        for material in plans
    ]


def _piece_sheet(material: MaterialPlan, planned: Any, user: Any) -> PieceSheet:
    piece = material.pieces[planned.piece]
    is_flat = piece.width_um is None
    unit = user.length_unit
    sizes = Counter(show_size(part.w, None if is_flat else part.h, unit) for part in planned.placed)
    return PieceSheet(
        piece=piece,
        parts=[(count, size) for size, count in sizes.items()],
        remnants=[show_size(w, None if is_flat else h, unit) for _, _, w, h in planned.remnants],
        steps=[
            CutStep(
                what=CUT_WORDS[cut.kind],
                at=show_length(cut.at, unit) + ("" if is_flat else f" along {cut.axis}"),
                gives=_part(cut.releases, material, unit),
            )
            for cut in planned.cuts
        ],
    )


def _part(releases: str, material: MaterialPlan, unit: str) -> str:
    blank = material.blanks.get(releases)
    if blank is None:
        return releases
    return show_size(blank.length_um, blank.width_um or None, unit)
