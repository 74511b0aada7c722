"""The exchange curve as a drawing: share served over money on the shelf, ours and its rivals."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import floor
from typing import Any

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from inventory.pages.life_drawings import round_up
from inventory.units import show_number

WIDTH, HEIGHT = 720, 380
LEFT, RIGHT, TOP, BOTTOM = 72, 16, 16, 62
STROKES = ("line", "rival", "rival dashed", "rival dotted")
"""Ours first; rivals differ by their stroke, not by colour alone."""
SAMPLE, LINE_HEIGHT, LEGEND_WIDTH = 34, 26, 275
Point = tuple[float, float]


@dataclass(frozen=True)
class Plane:
    """Money from nothing and shares from a floor to 1, to places on the drawing."""

    most: float
    floor: float

    def x(self, money: float) -> float:
        return round(LEFT + (WIDTH - LEFT - RIGHT) * money / self.most, 1)

    def y(self, share: float) -> float:
        part = (share - self.floor) / (1 - self.floor)
        return round(HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * part, 1)

    def places(self, points: Iterable[Point]) -> str:
        return " ".join(f"{self.x(money)},{self.y(share)}" for money, share in points)


def exchange_chart(result: dict[str, Any], names: Sequence[str]) -> SafeString:
    """A replay's rules (keys as in shop_replay_data), with a ring where the shop stands now.

    names: short ones, in the order of the rules.
    """
    curves = [_points(rule["points"]) for rule in result["rules"]]
    most = 1.3 * max(money for money, _ in curves[0])
    seen = [[point for point in curve if point[0] <= most] for curve in curves]
    lowest = min(share for curve in seen for _, share in curve)
    plane = Plane(round_up(most), min(floor(lowest * 10) / 10, 0.9))
    stands = result["as_set"]
    described = (
        f"Line with dots: {names[0]}, from {_hundredths(curves[0][0][1])} % served with "
        f"{curves[0][0][0]:.0f} {result['currency']} to {_hundredths(curves[0][-1][1])} % with "
        f"{curves[0][-1][0]:.0f}. Ring: as it stands now, {_hundredths(stands['fill'])} % with "
        f"{stands['stock']:.0f}. A line further up and to the left is better. The table says all."
    )
    return format_html(
        '<svg viewBox="0 0 {} {}" role="img"><title>{}</title><desc>{}</desc>{}{}{}{}{}</svg>',
        *(WIDTH, HEIGHT, "Share served at once over money on the shelf", described),
        _share_axis(plane),
        _money_axis(plane, result["currency"]),
        _lines(plane, seen),
        _marks(plane, seen[0], (stands["stock"], stands["fill"])),
        _legend(names),
    )


def _points(points: Sequence[dict[str, Any]]) -> list[Point]:
    return [(point["stock"], point["fill"]) for point in points]


def _lines(plane: Plane, curves: Sequence[Sequence[Point]]) -> SafeString:
    """Ours last, so that it lies on top."""
    drawn = [
        (stroke, plane.places(curve))
        for stroke, curve in zip(STROKES, curves, strict=False)
        if len(curve) > 1
    ]
    return format_html_join("", '<polyline class="{}" points="{}"/>', [*drawn[1:], *drawn[:1]])


def _marks(plane: Plane, ours: Sequence[Point], stands: Point) -> SafeString:
    dots = format_html_join(
        "",
        '<circle class="dot" cx="{}" cy="{}" r="3.5"/>',
        ((plane.x(money), plane.y(share)) for money, share in ours),
    )
    ring = format_html(
        '<circle class="ring" cx="{}" cy="{}" r="6"/>', plane.x(stands[0]), plane.y(stands[1])
    )
    return dots + ring


def _legend(names: Sequence[str]) -> SafeString:
    """In the lower right corner, which the curves leave free."""
    rows = [*zip(STROKES, names, strict=False)]
    left = WIDTH - RIGHT - LEGEND_WIDTH
    top = HEIGHT - BOTTOM - LINE_HEIGHT * (len(rows) + 1)
    lines = format_html_join(
        "",
        '<line class="{}" x1="{}" x2="{}" y1="{}" y2="{}"/><text x="{}" y="{}">{}</text>',
        (
            (
                *(stroke, left, left + SAMPLE, top + LINE_HEIGHT * row, top + LINE_HEIGHT * row),
                *(left + SAMPLE + 8, top + LINE_HEIGHT * row + 5, name),
            )
            for row, (stroke, name) in enumerate(rows)
        ),
    )
    last = top + LINE_HEIGHT * len(rows)
    return lines + format_html(
        '<circle class="ring" cx="{}" cy="{}" r="6"/><text x="{}" y="{}">as it stands now</text>',
        *(left + SAMPLE / 2, last, left + SAMPLE + 8, last + 5),
    )


def _share_axis(plane: Plane) -> SafeString:
    steps = round((1 - plane.floor) * 20)
    ticks = [1 - step * 0.05 for step in range(0, steps + 1, 1 if steps <= 4 else 2)]
    return format_html_join(
        "",
        '<line class="grid" x1="{}" x2="{}" y1="{}" y2="{}"/>'
        '<text class="axis" x="{}" y="{}" text-anchor="end">{} %</text>',
        (
            (
                *(LEFT, WIDTH - RIGHT, plane.y(share), plane.y(share)),
                *(LEFT - 8, plane.y(share) + 4, f"{100 * share:.0f}"),
            )
            for share in ticks
        ),
    )


def _money_axis(plane: Plane, currency: str) -> SafeString:
    anchors = ["start", "middle", "middle", "middle", "end"]
    ticks = [plane.most * part / 4 for part in range(5)]
    marks = format_html_join(
        "",
        '<text class="axis" x="{}" y="{}" text-anchor="{}">{}</text>',
        (
            (plane.x(money), HEIGHT - BOTTOM + 20, anchor, show_number(round(money, 2), 2))
            for money, anchor in zip(ticks, anchors, strict=True)
        ),
    )
    return marks + format_html(
        '<text class="axis" x="{}" y="{}" text-anchor="end">on the shelf on average, {}</text>',
        *(WIDTH - RIGHT, HEIGHT - 10, currency),
    )


def _hundredths(share: float) -> str:
    return f"{100 * share:.1f}"
