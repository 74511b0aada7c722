"""How much of one part a single piece yields."""

from __future__ import annotations

from .by_hand import orientations, rips
from .layout import frame_of
from .plan import Bar, Blank, Part, Rules, Sheet
from .problem import CutPiece


def usable_for(part: Part | Blank, piece: Bar | Sheet, rules: Rules) -> int:
    """Most pieces of one part that one bar or sheet yields under the rules.

    n parts with a kerf k between them fit a length L when n·l + (n - 1)·k <= L, that is
    n <= (L + k) / (l + k); in sheets the same holds for strips and for blanks in a strip.
    """
    if isinstance(piece, Bar):
        return _times(part.length, piece.length - piece.trim_first - piece.trim_last, rules.kerf)
    return max(_from_strips(part, piece, rip, rules) for rip in rips(piece))


def _from_strips(blank: Blank, sheet: Sheet, rip: str, rules: Rules) -> int:
    frame = frame_of(CutPiece(sheet, rip, ()))
    height = frame.v1 - frame.v0
    ways = orientations(blank, rip)
    kinds = [(width, _in_strip(ways, width, frame.u1 - frame.u0, rules)) for _, width in ways]
    (first, yield_first), (second, yield_second) = kinds[0], kinds[-1]
    most = _times(first, height, rules.kerf)
    return max(
        n * yield_first
        + yield_second * _times(second, height - n * (first + rules.kerf), rules.kerf)
        for n in range(most + 1)
    )


def _in_strip(ways: list[tuple[int, int]], strip: int, length: int, rules: Rules) -> int:
    """Most blanks in one strip of this width; a third cut may stack them."""
    segments = []
    for long, wide in ways:
        stack = _times(wide, strip, rules.kerf) if rules.stages == 3 else int(wide <= strip)
        if stack and (not rules.exact_strips or stack * (wide + rules.kerf) == strip + rules.kerf):
            segments.append((long, stack))
    if not segments:
        return 0
    (first, stack_first), (second, stack_second) = segments[0], segments[-1]
    return max(
        n * stack_first
        + stack_second * _times(second, length - n * (first + rules.kerf), rules.kerf)
        for n in range(_times(first, length, rules.kerf) + 1)
    )


def _times(part: int, length: int, kerf: int) -> int:
    """How many parts fit a length; the trick of one spare kerf keeps it in whole numbers."""
    return max(0, (length + kerf) // (part + kerf))
