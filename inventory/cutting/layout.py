"""Where each part lies on its piece, what is left worth keeping, and the cuts in order.

Coordinates start at the raw corner of the piece. u runs along the strips, v across them; they
are x and y when the piece is ripped along x, else y and x.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from .plan import Bar, Cut, PiecePlan, Placed, Rules
from .problem import CutPiece, Segment, Strip

Box = tuple[int, int, int, int]


@dataclass(frozen=True)
class Frame:
    """Usable area of a piece in (u, v), and its raw far end along u."""

    u0: int
    u1: int
    raw_u1: int
    v0: int
    v1: int
    rip: str
    flat: bool

    def box(self, u: int, v: int, du: int, dv: int) -> Box:
        return (u, v, du, dv) if self.rip == "x" else (v, u, dv, du)


def frame_of(piece: CutPiece) -> Frame:
    stock = piece.stock
    if isinstance(stock, Bar):
        end = stock.length - stock.trim_last
        return Frame(stock.trim_first, end, stock.length, 0, 0, "x", flat=False)
    if piece.rip == "x":
        return Frame(stock.trim_x, stock.x, stock.x, stock.trim_y, stock.y, "x", flat=True)
    return Frame(stock.trim_y, stock.y, stock.y, stock.trim_x, stock.x, "y", flat=True)


def lay_out(piece: CutPiece, rules: Rules) -> PiecePlan:
    """Coordinates, remnants and cuts; widest strip first, longest part first."""
    frame = frame_of(piece)
    strips = sorted((_sorted_strip(s) for s in piece.strips), key=lambda s: (-s.width, _names(s)))
    placed: list[Placed] = []
    v = frame.v0
    for strip in strips:
        u = frame.u0
        for segment in strip.segments:
            placed += _stack(segment, u, v, frame, rules.kerf)
            u += segment.length + rules.kerf
        v += strip.width + rules.kerf
    head, remnants = _remnants(strips, frame, rules)
    return PiecePlan(
        piece=piece.stock.id,
        lot=piece.stock.lot,
        purchased=piece.stock.purchasable,
        rip=piece.rip,
        placed=tuple(placed),
        remnants=remnants,
        cuts=tuple(_cuts(strips, frame, rules.kerf, head)),
    )


def largest_remnant(piece: CutPiece, rules: Rules) -> int:
    """Length or area of the largest offcut of this piece worth keeping, 0 if none."""
    _, boxes = _remnants(piece.strips, frame_of(piece), rules)
    return max((_measure(box) for box in boxes), default=0)


def _sorted_strip(strip: Strip) -> Strip:
    order = sorted(strip.segments, key=lambda s: (-s.length, -s.width, s.item, s.kits))
    return Strip(strip.width, tuple(order))


def _names(strip: Strip) -> list[tuple[str, tuple[str, ...]]]:
    return [(segment.item, segment.kits) for segment in strip.segments]


def _stack(segment: Segment, u: int, v: int, frame: Frame, kerf: int) -> list[Placed]:
    step = segment.width + kerf
    return [
        Placed(segment.item, kit, *frame.box(u, v + n * step, segment.length, segment.width))
        for n, kit in enumerate(segment.kits)
    ]


def _strip_end(strip: Strip, frame: Frame, kerf: int) -> int:
    """First free u after the last cross-cut."""
    return frame.u0 + sum(segment.length + kerf for segment in strip.segments)


def _remnants(
    strips: list[Strip] | tuple[Strip, ...], frame: Frame, rules: Rules
) -> tuple[int | None, tuple[Box, ...]]:
    """Whether the piece is cut to length before ripping, and the boxes worth keeping.

    Both orders give the same blanks; the one with the larger remnant wins, ripping at a tie.
    """
    if not frame.flat:
        u = max(_strip_end(strip, frame, rules.kerf) for strip in strips)
        return None, _worth_keeping([frame.box(u, 0, frame.raw_u1 - u, 0)], rules, bar=True)
    choices = []
    longest = max(_strip_end(strip, frame, rules.kerf) for strip in strips)
    for head in (None, longest):
        boxes = _boxes_left(strips, frame, rules.kerf, head)
        kept = _worth_keeping(boxes, rules)
        choices.append((head, kept))
    ripped, cut_first = choices
    best = [max(map(_measure, kept), default=0) for _, kept in (ripped, cut_first)]
    return cut_first if best[1] > best[0] else ripped


def _boxes_left(
    strips: list[Strip] | tuple[Strip, ...], frame: Frame, kerf: int, head: int | None
) -> Iterator[Box]:
    end = frame.u1 if head is None else min(frame.u1, head - kerf)
    if head is not None:
        yield frame.box(head, frame.v0, frame.u1 - head, frame.v1 - frame.v0)
    v = frame.v0
    for strip in strips:
        u = _strip_end(strip, frame, kerf)
        yield frame.box(u, v, end - u, strip.width)
        v += strip.width + kerf
    yield frame.box(frame.u0, v, end - frame.u0, frame.v1 - v)


def _worth_keeping(
    boxes: Iterator[Box] | list[Box], rules: Rules, bar: bool = False
) -> tuple[Box, ...]:
    kept = [box for box in boxes if _is_worth_keeping(box, rules, bar)]
    return tuple(sorted(kept, key=lambda box: (-_measure(box), box)))


def _is_worth_keeping(box: Box, rules: Rules, bar: bool) -> bool:
    _, _, w, h = box
    if w <= 0:
        return False
    if bar:
        return w >= rules.min_remnant[0]
    return h > 0 and min(w, h) >= rules.min_remnant[0] and max(w, h) >= rules.min_remnant[1]


def _measure(box: Box) -> int:
    return box[2] * box[3] if box[3] else box[2]


def _cuts(strips: list[Strip], frame: Frame, kerf: int, head: int | None) -> Iterator[Cut]:
    along, across = ("x", "y") if frame.rip == "x" else ("y", "x")
    if frame.u0:
        width = min(kerf, frame.u0)
        yield Cut("square", along, frame.u0 - width, width, 0, frame.v1)
    if frame.v0:
        width = min(kerf, frame.v0)
        yield Cut("square", across, frame.v0 - width, width, frame.u0, frame.u1)
    end = frame.raw_u1
    if head is not None and head - kerf < end:
        yield _cut("cross", along, head - kerf, frame.u1, kerf, (frame.v0, frame.v1))
        end = head - kerf
    v = frame.v0
    for strip in strips if frame.flat else ():
        v += strip.width
        if v < frame.v1:
            yield _cut("rip", across, v, frame.v1, kerf, (frame.u0, end), "strip")
        v += kerf
    v = frame.v0
    for strip in strips:
        yield from _cuts_in_strip(strip, frame, kerf, v, end)
        v += strip.width + kerf


def _cuts_in_strip(strip: Strip, frame: Frame, kerf: int, v: int, end: int) -> Iterator[Cut]:
    along, across = ("x", "y") if frame.rip == "x" else ("y", "x")
    u = frame.u0
    for segment in strip.segments:
        far = u + segment.length
        if far < end:
            yield _cut("cross", along, far, end, kerf, (v, v + strip.width), segment.item)
        for number in range(1, len(segment.kits) + 1):
            side = v + number * (segment.width + kerf) - kerf
            kind = "split" if number < len(segment.kits) else "trim"
            if side < v + strip.width:
                yield _cut(kind, across, side, v + strip.width, kerf, (u, far), segment.item)
        u = far + kerf


def _cut(
    kind: str, axis: str, at: int, limit: int, kerf: int, span: tuple[int, int], releases: str = ""
) -> Cut:
    return Cut(kind, axis, at, min(kerf, limit - at), *span, releases)
