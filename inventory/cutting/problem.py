"""One material's question, put in order, and the shape in which every method answers it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from .plan import Bar, Blank, Kit, Part, Rules, Sheet

Stock = Bar | Sheet


@dataclass(frozen=True)
class Segment:
    """Equal parts side by side across a strip; usually one. `kits` names the knife of each."""

    item: str
    length: int
    width: int
    kits: tuple[str, ...] = ("",)

    def across(self, kerf: int) -> int:
        """Width the parts take in their strip."""
        return len(self.kits) * (self.width + kerf) - kerf


@dataclass(frozen=True)
class Strip:
    """Segments one after another over the length of a piece; a bar is one strip, width 0."""

    width: int
    segments: tuple[Segment, ...]


@dataclass(frozen=True)
class CutPiece:
    """One physical piece and the strips cut from it."""

    stock: Stock
    rip: str
    strips: tuple[Strip, ...]

    def segments(self) -> Iterator[Segment]:
        return (segment for strip in self.strips for segment in strip.segments)

    def parts(self) -> Counter[str]:
        counts: Counter[str] = Counter()
        for segment in self.segments():
            counts[segment.item] += len(segment.kits)
        return counts


@dataclass(frozen=True)
class Answer:
    """Pieces cut, knives made whole from each lot, and knives whose lots may mix."""

    cut: tuple[CutPiece, ...]
    matched: Mapping[tuple[str, str], int]
    mixed: Mapping[str, int]

    def made(self, kit: str) -> int:
        whole = sum(number for (name, _), number in self.matched.items() if name == kit)
        return whole + self.mixed.get(kit, 0)


@dataclass(frozen=True)
class Problem:
    """Parts, pieces and kits in a fixed order; lots count only where a kit needs them to match."""

    parts: Mapping[str, Part | Blank]
    stock: tuple[Stock, ...]
    kits: tuple[Kit, ...]
    rules: Rules

    @cached_property
    def matching(self) -> tuple[Kit, ...]:
        """Kits whose pieces must come from one lot; a single piece always does."""
        if len({piece.lot for piece in self.stock}) < 2:
            return ()
        return tuple(kit for kit in self.kits if kit.one_lot and sum(kit.need.values()) > 1)

    @cached_property
    def mixing(self) -> tuple[Kit, ...]:
        matching = {kit.id for kit in self.matching}
        return tuple(kit for kit in self.kits if kit.id not in matching)

    def pool(self, piece: Stock) -> str:
        """Lot as far as it matters: one pool when no kit needs matching lots."""
        return piece.lot if self.matching else ""

    @cached_property
    def pools(self) -> tuple[str, ...]:
        """Lots in the order of use: those on the rack, then those only to be bought."""
        on_rack = {self.pool(piece) for piece in self.stock if not piece.purchasable}
        to_buy = {self.pool(piece) for piece in self.stock} - on_rack
        return (*sorted(on_rack), *sorted(to_buy))

    @cached_property
    def shortest(self) -> int:
        """Length of the shortest part."""
        return min(part.length for part in self.parts.values())

    def demand(self) -> Counter[str]:
        """Pieces of each part that all knives together take."""
        total: Counter[str] = Counter()
        for kit in self.kits:
            for part, number in kit.need.items():
                total[part] += number * kit.qty
        return +total

    def rack_only(self) -> Problem:
        return replace(self, stock=tuple(p for p in self.stock if not p.purchasable))

    def price(self, piece: Stock) -> int:
        """What buying it counts: its cost, or its size where no cost is known."""
        if not piece.purchasable:
            return 0
        return piece.cost if self._costs_known else size(piece)

    @cached_property
    def _costs_known(self) -> bool:
        return any(piece.cost for piece in self.stock if piece.purchasable)

    def opening(self, piece: Stock) -> int:
        """What opening it counts; remnants and bought pieces are free."""
        if piece.is_remnant or piece.purchasable:
            return 0
        return 1 if self.rules.open_by == "count" else size(piece)


def size(piece: Stock) -> int:
    """Length in µm, or area in µm²."""
    return piece.length if isinstance(piece, Bar) else piece.x * piece.y


def ordered_problem(
    parts: Sequence[Part] | Sequence[Blank],
    stock: Sequence[Bar] | Sequence[Sheet],
    kits: Sequence[Kit],
    rules: Rules,
) -> Problem:
    """Sort everything, so that the order of the records never changes a plan."""
    needed = {part for kit in kits if kit.qty for part, number in kit.need.items() if number}
    pieces = [p for p in stock if p.count and (rules.buy or not p.purchasable)]
    return Problem(
        parts={part.id: part for part in sorted(parts, key=lambda p: p.id) if part.id in needed},
        stock=tuple(sorted(pieces, key=_order_of_use)),
        kits=tuple(sorted((kit for kit in kits if kit.qty), key=lambda kit: kit.id)),
        rules=rules,
    )


def _order_of_use(piece: Stock) -> tuple[bool, bool, int, str]:
    """Remnants, then full pieces, then what would be bought; small ones first."""
    return piece.purchasable, not piece.is_remnant, size(piece), piece.id
