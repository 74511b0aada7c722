"""Drawings of a cutter's life: the bar of life used, wear land against its limit, survival."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, log10

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from inventory.models import WearReading
from inventory.pages.life import life_text, number
from inventory.queries.cutter_lives import KindOfCutter
from inventory.queries.cutter_outlook import Ahead

WIDTH, HEIGHT = 720, 260
LEFT, RIGHT, TOP, BOTTOM = 78, 16, 12, 54
BAR_WIDTH, BAR_HEIGHT = 300, 18
ROOM = 1.25
"""The bar goes this far beyond the usual life."""

Point = tuple[float, float]


@dataclass(frozen=True)
class Plane:
    """Two amounts from 0 to places on the drawing."""

    right: float
    top: float

    def x(self, amount: float) -> float:
        return round(LEFT + (WIDTH - LEFT - RIGHT) * amount / self.right, 1)

    def y(self, amount: float) -> float:
        return round(HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * amount / self.top, 1)

    def places(self, points: Sequence[Point]) -> str:
        return " ".join(f"{self.x(x)},{self.y(y)}" for x, y in points)


def life_bar(used: float, usual: float, unit: str, ahead: Sequence[Ahead] = ()) -> SafeString:
    """Life used (solid), what the batches ahead add (steps), and a tick at the usual life."""
    jobs = [float(step.job) for step in ahead]
    end = max(usual * ROOM, used + sum(jobs))
    scale = BAR_WIDTH / end
    marks = [("used", 0.0, used)]
    at = used
    for place, job in enumerate(jobs):
        marks.append((("job", "job next")[place % 2], at, job))
        at += job
    drawn = format_html_join(
        "",
        '<rect class="{}" x="{}" y="4" width="{}" height="10"/>',
        ((kind, round(start * scale, 1), round(life * scale, 1)) for kind, start, life in marks),
    )
    return format_html(
        '<svg class="life" viewBox="0 0 {} {}" preserveAspectRatio="none" role="img"><title>{}</title>'
        '<rect class="track" x="0" y="4" width="{}" height="10"/>{}'
        '<path class="usual" d="M{} 0V{}"/></svg>',
        BAR_WIDTH,
        BAR_HEIGHT,
        f"{life_text(used, unit)} used of about {life_text(usual, unit)}"
        + (f"; batches ahead use {life_text(sum(jobs), unit)}" if jobs else ""),
        BAR_WIDTH,
        drawn,
        round(usual * scale, 1),
        BAR_HEIGHT,
    )


def wear_chart(readings: Sequence[WearReading], limit_um: int | None, unit: str) -> SafeString:
    """Wear land over life used, with its limit; at least one reading."""
    points = [(float(reading.life_at), float(reading.vb_um)) for reading in readings]
    plane = Plane(
        round_up(max(x for x, _ in points)),
        round_up(max([limit_um or 0, *(y for _, y in points)])),
    )
    limit = (
        format_html(
            '<line class="limit" x1="{}" x2="{}" y1="{}" y2="{}"/>',
            *(LEFT, WIDTH - RIGHT, plane.y(limit_um), plane.y(limit_um)),
        )
        if limit_um
        else ""
    )
    drawn = format_html(
        '<polyline class="line" points="{}"/>{}{}',
        plane.places(points),
        format_html_join(
            "",
            '<circle class="dot" cx="{}" cy="{}" r="4"/>',
            ((plane.x(x), plane.y(y)) for x, y in points),
        ),
        limit,
    )
    title = f"Wear land in µm over life used in {unit}"
    described = f"{len(points)} readings, the last {points[-1][1]:g} µm at {number(points[-1][0])}."
    if limit_um:
        described += f" The broken line is the limit, {limit_um} µm."
    return drawing(plane, drawn, title, described, unit)


def survival_chart(kind: KindOfCutter, unit: str) -> SafeString:
    """Share still good after each life: band and line of the fit, steps of the records alone."""
    plane = Plane(round_up(kind.curve[-1].life), 100)
    band = [(point.life, 100 * point.high) for point in kind.curve]
    band += [(point.life, 100 * point.low) for point in reversed(kind.curve)]
    drawn = format_html(
        '<polygon class="band" points="{}"/><polyline class="line" points="{}"/>{}{}',
        plane.places(band),
        plane.places([(point.life, 100 * point.fitted) for point in kind.curve]),
        _steps(kind, plane),
        _still_good(kind, plane),
    )
    return drawing(
        plane,
        drawn,
        f"Share still good, in %, over life in {unit}",
        "Line: the fit. Band: its range, nine times in ten. Steps: the records alone. "
        "Strokes above: cutters still good when last noted.",
        unit,
    )


def _steps(kind: KindOfCutter, plane: Plane) -> SafeString:
    if kind.steps is None:
        return SafeString("")
    path = f"M{plane.x(0)} {plane.y(100)}"
    for life, share in zip(kind.steps.life, kind.steps.survival, strict=True):
        path += f"H{plane.x(float(life))}V{plane.y(100 * float(share))}"
    last = max([float(kind.steps.life[-1]), *kind.still_good])
    return format_html('<path class="steps" d="{}"/>', f"{path}H{plane.x(last)}")


def _still_good(kind: KindOfCutter, plane: Plane) -> SafeString:
    return format_html_join(
        "",
        '<path class="good" d="M{} {}v-9"/>',
        (
            (plane.x(life), plane.y(100 * (kind.steps.survival_at(life) if kind.steps else 1)))
            for life in kind.still_good
        ),
    )


def drawing(plane: Plane, marks: SafeString, title: str, described: str, unit: str) -> SafeString:
    """Marks on a plane with its axes, the lower one of life used."""
    return format_html(
        '<svg viewBox="0 0 {} {}" role="img"><title>{}</title><desc>{}</desc>{}{}{}</svg>',
        *(WIDTH, HEIGHT, title, described, _rising_axis(plane), _life_axis(plane, unit), marks),
    )


def _rising_axis(plane: Plane) -> SafeString:
    return format_html_join(
        "",
        '<line class="grid" x1="{}" x2="{}" y1="{}" y2="{}"/>'
        '<text class="axis" x="{}" y="{}" text-anchor="end">{}</text>',
        (
            (LEFT, WIDTH - RIGHT, plane.y(at), plane.y(at), LEFT - 8, plane.y(at) + 4, number(at))
            for at in (plane.top * part / 4 for part in range(5))
        ),
    )


def _life_axis(plane: Plane, unit: str) -> SafeString:
    anchors = ["start", "middle", "middle", "middle", "end"]
    ticks = [plane.right * part / 4 for part in range(5)]
    return format_html(
        '{}<text class="axis" x="{}" y="{}" text-anchor="end">{}</text>',
        format_html_join(
            "",
            '<text class="axis" x="{}" y="{}" text-anchor="{}">{}</text>',
            (
                (plane.x(at), HEIGHT - BOTTOM + 18, anchor, number(at))
                for at, anchor in zip(ticks, anchors, strict=True)
            ),
        ),
        *(WIDTH - RIGHT, HEIGHT - 6, f"life used, {unit}"),
    )


def round_up(amount: float) -> float:
    """The next round number at or above an amount; 1 for nothing."""
    if amount <= 0:
        return 1.0
    power = 10.0 ** floor(log10(amount))
    return next(
        step * power
        for step in (1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10)
        if amount <= step * power * (1 + 1e-9)
    )
