"""Line charts as SVG made on the server: no script, colours from the stylesheet by class."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from math import floor, log10

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from inventory.models import Item, User
from inventory.pages.display import day, quantity_text
from inventory.units import convert, show_number

WIDTH, HEIGHT = 720, 240
LEFT, RIGHT, TOP, BOTTOM = 64, 12, 12, 28


@dataclass(frozen=True)
class Scale:
    """Days and amounts to places on the drawing."""

    first: date
    last: date
    top: float

    def x(self, on: date) -> float:
        span = max((self.last - self.first).days, 1)
        return round(LEFT + (WIDTH - LEFT - RIGHT) * (on - self.first).days / span, 1)

    def y(self, amount: float) -> float:
        share = amount / self.top if self.top else 0
        return round(HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * share, 1)


def step_chart(
    points: Sequence[tuple[date, float]],
    *,
    title: str,
    description: str,
    limit: float | None = None,
) -> SafeString:
    """An amount that changes at once and then stays, e.g. stock.

    Args:
        points: (day, amount from that day on), in order of days, at least one.
        limit: drawn as a broken line, e.g. the reorder point.
    """
    amounts = [float(amount) for _, amount in points]
    scale = _scale([on for on, _ in points], [*amounts, float(limit or 0)])
    path = f"M{scale.x(points[0][0])} {scale.y(amounts[0])}"
    for (on, _), amount in zip(points[1:], amounts[1:], strict=True):
        path += f"H{scale.x(on)}V{scale.y(amount)}"
    closed = f"{path}V{scale.y(0)}H{scale.x(points[0][0])}Z"
    drawn = format_html('<path class="area" d="{}"/><path class="line" d="{}"/>', closed, path)
    return drawing(scale, drawn + _limit(scale, limit), title, description)


def fan_chart(
    weeks: Sequence[tuple[date, float, float, float]],
    *,
    title: str,
    description: str,
    seen: Sequence[tuple[date, float]] = (),
    limit: float | None = None,
) -> SafeString:
    """A forecast as its middle line and the band around it.

    Args:
        weeks: (day, low, middle, high), in order of days, at least one.
        seen: (day, amount) that really happened, drawn as dots.
    """
    days = [row[0] for row in weeks] + [on for on, _ in seen]
    scale = _scale(days, [row[3] for row in weeks] + [amount for _, amount in seen] + [limit or 0])
    upper = [(scale.x(on), scale.y(high)) for on, _, _, high in weeks]
    lower = [(scale.x(on), scale.y(low)) for on, low, _, _ in reversed(weeks)]
    middle = [(scale.x(on), scale.y(mid)) for on, _, mid, _ in weeks]
    drawn = format_html(
        '<polygon class="band" points="{}"/><polyline class="line" points="{}"/>',
        _places(upper + lower),
        _places(middle),
    )
    dots = format_html_join(
        "",
        '<circle class="dot" cx="{}" cy="{}" r="3"/>',
        ((scale.x(on), scale.y(amount)) for on, amount in seen),
    )
    return drawing(scale, drawn + dots + _limit(scale, limit), title, description)


def drawing(scale: Scale, marks: SafeString, title: str, description: str) -> SafeString:
    """Axes and marks as one accessible SVG; say the numbers in a table beside it, too."""
    return format_html(
        '<svg viewBox="0 0 {} {}" role="img"><title>{}</title><desc>{}</desc>{}{}{}</svg>',
        WIDTH,
        HEIGHT,
        title,
        description,
        _amount_axis(scale),
        _day_axis(scale),
        marks,
    )


def _scale(days: Sequence[date], amounts: Sequence[float]) -> Scale:
    return Scale(min(days), max(days), _round_up(max([*amounts, 0])))


def _round_up(amount: float) -> float:
    """The next round number above it."""
    if amount <= 0:
        return 1.0
    power = 10.0 ** floor(log10(amount))
    return next(
        step * power
        for step in (1, 1.2, 1.6, 2, 2.4, 3.2, 4, 5, 6, 8, 10)
        if amount <= step * power * 1.0000001
    )


def _amount_axis(scale: Scale) -> SafeString:
    ticks, places = [scale.top * part / 4 for part in range(5)], 2 if scale.top >= 1 else 4
    return format_html_join(
        "",
        '<line class="grid" x1="{}" x2="{}" y1="{}" y2="{}"/>'
        '<text class="axis" x="{}" y="{}" text-anchor="end">{}</text>',
        (
            (
                LEFT,
                WIDTH - RIGHT,
                scale.y(t),
                scale.y(t),
                LEFT - 8,
                scale.y(t) + 4,
                show_number(t, places),
            )
            for t in ticks
        ),
    )


def _day_axis(scale: Scale) -> SafeString:
    span = (scale.last - scale.first).days
    days = [scale.first + timedelta(days=span * part // 4) for part in range(5)]
    anchors = ["start", "middle", "middle", "middle", "end"]
    classes = ["axis", "axis minor", "axis", "axis minor", "axis"]
    return format_html_join(
        "",
        '<text class="{}" x="{}" y="{}" text-anchor="{}">{}</text>',
        (
            (kind, scale.x(on), HEIGHT - 8, anchor, day(on))
            for on, anchor, kind in zip(days, anchors, classes, strict=True)
        ),
    )


def _limit(scale: Scale, limit: float | None) -> SafeString:
    if limit is None:
        return SafeString("")
    return format_html(
        '<line class="limit" x1="{}" x2="{}" y1="{}" y2="{}"/>',
        LEFT,
        WIDTH - RIGHT,
        scale.y(limit),
        scale.y(limit),
    )


def _places(places: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{x},{y}" for x, y in places)


def chart_unit(item: Item, user: User, largest: Decimal) -> tuple[str, Decimal]:
    """Unit for a chart's axis and the factor to it: the one the largest amount is shown in."""
    shown = quantity_text(largest or Decimal(1), item.stock_unit, user).partition(" ")[2]
    return (shown, convert(Decimal(1), item.stock_unit, shown)) if shown else ("", Decimal(1))
