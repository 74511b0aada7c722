"""A plan as made by hand at the saw: best fit, remnants before full pieces, knife by knife.

Always quick, and never worse than what a careful person tries first: the best of several orders.
The exact methods start from it and are measured against it.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from .hand_out import hand_out, score
from .layout import frame_of
from .plan import Bar, Blank, Kit, Part, Rules, Sheet
from .problem import Answer, CutPiece, Problem, Segment, Stock, Strip


@dataclass(frozen=True)
class OpenStrip:
    """A strip with room for `free` more µm, one kerf included."""

    width: int
    free: int
    segments: tuple[Segment, ...] = ()


@dataclass(frozen=True)
class OnSaw:
    """A piece while it is filled; `rip` is empty until a sheet is first cut.

    `full`: a bar that holds none of the parts any more.
    """

    stock: Stock
    rip: str
    strips: tuple[OpenStrip, ...]
    free: int
    opened: bool = False
    full: bool = False


@dataclass(frozen=True)
class Way:
    """A part into the strip with this number, or into a new one."""

    rip: str
    segment: Segment
    strip: int | None
    waste: tuple[int, ...]


@dataclass
class Bench:
    """All pieces while knives are cut one after another.

    ways: the best way to cut an item from the piece with that number, None when there is none; what
    is known of a piece is forgotten when it changes.
    """

    problem: Problem
    pieces: list[OnSaw]
    matched: Counter[tuple[str, str]] = field(default_factory=Counter)
    mixed: Counter[str] = field(default_factory=Counter)
    ways: dict[int, dict[str, Way | None]] = field(default_factory=lambda: defaultdict(dict))

    def answer(self) -> Answer:
        cut = tuple(
            CutPiece(p.stock, p.rip, tuple(Strip(s.width, s.segments) for s in p.strips))
            for p in self.pieces
            if p.opened
        )
        return hand_out(self.problem, Answer(cut, dict(self.matched), dict(self.mixed)))

    def place_all(self, items: list[str], lot: str | None) -> bool:
        """Place every item or none; `lot` None allows any."""
        before: list[tuple[int, OnSaw]] = []
        for item in items:
            move = min(self._moves(item, lot), key=lambda m: m[0], default=None)
            if move is None:
                for index, piece in reversed(before):
                    self._change(index, piece)
                return False
            _, index, way = move
            before.append((index, self.pieces[index]))
            self._change(index, _after(self.pieces[index], way, self.problem))
        return True

    def _change(self, index: int, piece: OnSaw) -> None:
        self.pieces[index] = piece
        self.ways.pop(index, None)

    def _moves(self, item: str, lot: str | None) -> Iterator[tuple[tuple, int, Way]]:
        seen = set()
        for index, piece in enumerate(self.pieces):
            fresh = not piece.opened
            if piece.full or (fresh and piece.stock.id in seen):
                continue
            if lot is not None and self.problem.pool(piece.stock) != lot:
                continue
            if fresh:
                seen.add(piece.stock.id)
            way = self._best_way(index, item)
            if way is not None:
                buying = fresh and piece.stock.purchasable
                opening = fresh and self.problem.opening(piece.stock) > 0
                yield (buying, opening, way.waste, index), index, way

    def _best_way(self, index: int, item: str) -> Way | None:
        known = self.ways[index]
        if item not in known:
            ways = _ways(self.pieces[index], self.problem.parts[item], self.problem.rules)
            known[item] = min(ways, key=lambda way: way.waste, default=None)
        return known[item]


def by_hand(problem: Problem) -> Answer:
    """The best plan found over several orders of the knives."""
    answers = [_in_order(problem, order) for order in _orders(problem)]
    if not problem.matching:
        everything = _all_parts_longest_first(problem)
        answers += [everything] if everything else []
    return min(answers, key=lambda answer: score(problem, answer))


def fill_one(problem: Problem, stock: Stock, parts: Mapping[str, int]) -> CutPiece | None:
    """All these parts from this one piece, None when they do not fit by hand."""
    bench = Bench(problem, [_fresh(stock, problem.rules.kerf)])
    if not bench.place_all(_longest_first(problem, parts), None):
        return None
    (piece,) = bench.pieces
    return CutPiece(stock, piece.rip, tuple(Strip(s.width, s.segments) for s in piece.strips))


def _orders(problem: Problem) -> list[list[Kit]]:
    def longest(kit: Kit) -> int:
        return max(_longest(problem.parts[part]) for part, number in kit.need.items() if number)

    falling = sorted(problem.kits, key=lambda kit: (-longest(kit), kit.id))
    orders = [falling, falling[::-1], list(problem.kits)]
    return [order for n, order in enumerate(orders) if order not in orders[:n]]


def _in_order(problem: Problem, order: list[Kit]) -> Answer:
    bench = _bench(problem)
    matching = {kit.id for kit in problem.matching}
    for kit in order:
        items = _longest_first(problem, kit.need)
        for _ in range(kit.qty):
            if kit.id not in matching:
                if not bench.place_all(items, None):
                    break
                bench.mixed[kit.id] += 1
                continue
            lot = next((lot for lot in problem.pools if bench.place_all(items, lot)), None)
            if lot is None:
                break
            bench.matched[kit.id, lot] += 1
    return bench.answer()


def _all_parts_longest_first(problem: Problem) -> Answer | None:
    bench = _bench(problem)
    if not bench.place_all(_longest_first(problem, problem.demand()), None):
        return None
    bench.mixed.update({kit.id: kit.qty for kit in problem.kits})
    return bench.answer()


def _longest_first(problem: Problem, need: Mapping[str, int]) -> list[str]:
    used = [part for part, number in need.items() if number]
    parts = sorted(used, key=lambda part: (-_longest(problem.parts[part]), part))
    return [part for part in parts for _ in range(need[part])]


def _longest(part: Part | Blank) -> int:
    return part.length if isinstance(part, Part) else part.across


def _bench(problem: Problem) -> Bench:
    most = sum(problem.demand().values())
    pieces = [
        _fresh(stock, problem.rules.kerf)
        for stock in problem.stock
        for _ in range(min(stock.count, most))
    ]
    return Bench(problem, pieces)


def _fresh(stock: Stock, kerf: int) -> OnSaw:
    if isinstance(stock, Bar):
        frame = frame_of(CutPiece(stock, "x", ()))
        return OnSaw(stock, "x", (OpenStrip(0, frame.u1 - frame.u0 + kerf),), -1)
    return OnSaw(stock, "", (), 0)


def _ways(piece: OnSaw, part: Part | Blank, rules: Rules) -> Iterator[Way]:
    """Each way to cut the part from the piece, with its waste to compare by."""
    if isinstance(part, Part):
        yield from _into_strips(piece, Segment(part.id, part.length, 0), rules)
        return
    for rip in (piece.rip,) if piece.rip else rips(piece.stock):
        for length, width in orientations(part, rip):
            segment = Segment(part.id, length, width)
            yield from _into_strips(piece, segment, rules)
            yield from _into_new_strip(piece, rip, segment, rules.kerf)


def rips(sheet: Sheet) -> tuple[str, ...]:
    """Directions in which the sheet may be ripped."""
    return ("x", "y") if sheet.rip == "both" else (sheet.rip,)


def orientations(blank: Blank, rip: str) -> list[tuple[int, int]]:
    """(length in strip direction, width across the strip) that grain allows."""
    upright = (blank.along, blank.across) if rip == "x" else (blank.across, blank.along)
    turned = upright[::-1]
    return [upright, turned] if blank.rotate and turned != upright else [upright]


def _into_strips(piece: OnSaw, segment: Segment, rules: Rules) -> Iterator[Way]:
    need = segment.length + rules.kerf
    for n, strip in enumerate(piece.strips):
        wider = strip.width - segment.width
        if strip.free >= need and (wider == 0 or (wider > 0 and not rules.exact_strips)):
            waste = (0, wider * segment.length, strip.free - need)
            yield Way(piece.rip, segment, n, waste)


def _into_new_strip(piece: OnSaw, rip: str, segment: Segment, kerf: int) -> Iterator[Way]:
    length, height = _room(piece, rip, kerf)
    along, across = length - segment.length - kerf, height - segment.width - kerf
    if along >= 0 and across >= 0:
        waste = (1, across, along) if piece.rip else (2, height * along, along)
        yield Way(rip, segment, None, waste)


def _after(piece: OnSaw, way: Way, problem: Problem) -> OnSaw:
    """The piece once the part has its place."""
    kerf = problem.rules.kerf
    need = way.segment.length + kerf
    if way.strip is None:
        length, height = _room(piece, way.rip, kerf)
        strip = OpenStrip(way.segment.width, length - need, (way.segment,))
        free = height - strip.width - kerf
        return OnSaw(piece.stock, way.rip, (*piece.strips, strip), free, opened=True)
    old = piece.strips[way.strip]
    filled = OpenStrip(old.width, old.free - need, (*old.segments, way.segment))
    strips = (*piece.strips[: way.strip], filled, *piece.strips[way.strip + 1 :])
    full = isinstance(piece.stock, Bar) and filled.free < problem.shortest + kerf
    return replace(piece, strips=strips, opened=True, full=full)


def _room(piece: OnSaw, rip: str, kerf: int) -> tuple[int, int]:
    """Length of a new strip and what is left across, one kerf included in each."""
    frame = frame_of(CutPiece(piece.stock, rip, ()))
    height = piece.free if piece.rip else frame.v1 - frame.v0 + kerf
    return frame.u1 - frame.u0 + kerf, height
