"""Cutting plans for the eye: each piece drawn, its cuts in order, and what is left of it."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from string import ascii_uppercase
from typing import Any

from django.utils.safestring import SafeString, mark_safe

from inventory.cutting import PiecePlan
from inventory.cutting.drawing import CutRow, cut_table, draw_piece
from inventory.models import Item, Piece
from inventory.queries.material_plan import MaterialPlan, rack_piece
from inventory.units import show_size


@dataclass(frozen=True)
class PieceSheet:
    """One piece of the rack: parts as (letter, count, size), remnants as sizes, cuts in order.

    labels: what to write on the remnants; empty while nothing is held.
    """

    piece: Piece
    drawing: SafeString
    parts: list[tuple[str, int, str]]
    remnants: list[str]
    labels: Sequence[str]
    cuts: list[CutRow]

    @property
    def to_keep(self) -> list[str]:
        """Remnants in words: 517 mm as P-0124."""
        named = [f" as {label}" for label in self.labels]
        named += [""] * (len(self.remnants) - len(named))
        return [size + name for size, name in zip(self.remnants, named, strict=True)]


@dataclass(frozen=True)
class CutSheet:
    """All pieces of one item; missing: (whose, how many) that the rack doesn't yield."""

    item: Item
    pieces: list[PieceSheet]
    missing: list[tuple[str, int]]


def cut_sheets(plans: Iterable[MaterialPlan], user: Any) -> list[CutSheet]:
    """One sheet an item, in the order of the plans."""
    return [cut_sheet(material, user) for material in plans]


def cut_sheet(material: MaterialPlan, user: Any) -> CutSheet:
    """Pieces of one item, all drawn to the same scale."""
    letters = dict(zip(material.blanks, ascii_uppercase, strict=False))
    cut = [material.pieces[planned.piece] for planned in material.plan.rack_pieces]
    longest = max((piece.length_um for piece in cut), default=None)
    return CutSheet(
        item=material.item,
        pieces=[
            _piece_sheet(material, piece, planned, letters, longest, user.length_unit)
            for piece, planned in zip(cut, material.plan.rack_pieces, strict=True)
        ],
        missing=[(kit, count) for kit, count in material.plan.missing.items() if count],
    )


def _piece_sheet(
    material: MaterialPlan,
    piece: Piece,
    planned: PiecePlan,
    letters: Mapping[str, str],
    longest: int | None,
    unit: str,
) -> PieceSheet:
    stock = rack_piece(material.item, piece)
    # The drawing is XML made by a writer that escapes every text.
    labels = material.labels.get(piece.label, ())
    drawing = mark_safe(draw_piece(planned, stock, letters, unit, longest, labels))
    counts = Counter(placed.item for placed in planned.placed)
    parts = []
    for part, count in counts.items():
        size = material.blanks[part]
        shown = show_size(size.length_um, size.width_um or None, unit)
        parts.append((letters.get(part, part), count, shown))
    is_bar = piece.width_um is None
    return PieceSheet(
        piece=piece,
        drawing=drawing,
        parts=parts,
        remnants=[show_size(w, None if is_bar else h, unit) for _, _, w, h in planned.remnants],
        labels=labels,
        cuts=cut_table(planned, letters, unit),
    )
