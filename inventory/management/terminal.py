"""Readable tables on a terminal, whatever its width."""

import shutil
import textwrap
from collections.abc import Sequence

GAP = "  "


def heading(text: str) -> str:
    return f"\n{text}\n{'─' * len(text)}"


def paragraph(text: str, indent: str = "") -> str:
    return textwrap.fill(text, width(), initial_indent=indent, subsequent_indent=indent)


def table(head: Sequence[str], rows: Sequence[Sequence[str]], right: Sequence[int] = ()) -> str:
    """Columns side by side; those numbered in `right` are right-aligned, the last one wraps."""
    if not rows:
        return ""
    widths = [max(len(row[place]) for row in (head, *rows)) for place in range(len(head))]
    room = width() - sum(widths[:-1]) - len(GAP) * (len(head) - 1)
    widths[-1] = min(widths[-1], max(room, 24))
    lines = _row(head, widths, right) + [GAP.join("─" * each for each in widths)]
    for row in rows:
        lines += _row(row, widths, right)
    return "\n".join(lines)


def width() -> int:
    return min(shutil.get_terminal_size((100, 24)).columns, 130)


def _row(cells: Sequence[str], widths: Sequence[int], right: Sequence[int]) -> list[str]:
    last = textwrap.wrap(cells[-1], widths[-1]) or [""]
    fixed = [
        cell.rjust(room) if place in right else cell.ljust(room)
        for place, (cell, room) in enumerate(zip(cells[:-1], widths, strict=False))
    ]
    if len(cells) - 1 in right:
        last = [part.rjust(widths[-1]) for part in last]
    blank = [" " * len(cell) for cell in fixed]
    lines = [GAP.join([*fixed, last[0]])]
    lines += [GAP.join([*blank, more]) for more in last[1:]]
    return [line.rstrip() for line in lines]
