"""Drawings of a forecast: weeks behind as bars with the weeks ahead, and stock running down."""

from collections.abc import Sequence
from datetime import date, timedelta

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from inventory.pages.charts import Scale, drawing
from inventory.pages.life_drawings import round_up
from inventory.queries.forecasts import AheadWeek, StockWeek, Week

BAR_DAYS = timedelta(days=5)


def weeks_chart(past: Sequence[Week], ahead: Sequence[AheadWeek], title: str) -> SafeString:
    """Past weeks as bars, planned ones as hollow bars, then the expected amount in its range."""
    days = [week.monday for week in (*past, *ahead)]
    amounts = [*(week.amount for week in past), *(week.high for week in ahead)]
    scale = _scale(days, amounts)
    planned = [Week(week.monday, week.mean) for week in ahead if week.low == week.high]
    open_weeks = [week for week in ahead if week.low < week.high]
    drawn = _bars(scale, past, "past") + _bars(scale, planned, "planned")
    if open_weeks:
        drawn += _fan(scale, [(week.monday, week.low, week.mean, week.high) for week in open_weeks])
    total, expected = sum(week.amount for week in past), sum(week.mean for week in ahead)
    described = (
        f"Bars: {len(past)} weeks behind, {total:.4g} in all. Hollow bars: planned. "
        f"Line and band: {len(ahead)} weeks ahead, {expected:.4g} expected in all; each week's range holds it nine times in ten."
    )
    return drawing(scale, drawn, title, described)


def stock_chart(weeks: Sequence[StockWeek], limit: float, factor: float, title: str) -> SafeString:
    """Stock running down, with its range and the reorder point as a broken line."""
    rows = [(week.day, week.low * factor, week.mean * factor, week.high * factor) for week in weeks]
    scale = _scale([row[0] for row in rows], [limit * factor, *(row[3] for row in rows)])
    line = format_html(
        '<line class="limit" x1="{}" x2="{}" y1="{}" y2="{}"/>',
        *(scale.x(scale.first), scale.x(scale.last)),
        *(scale.y(limit * factor), scale.y(limit * factor)),
    )
    described = (
        f"From {rows[0][2]:.4g} today to {rows[-1][2]:.4g} expected, {rows[-1][1]:.4g} to "
        f"{rows[-1][3]:.4g} nine times in ten. The broken line is the reorder point."
    )
    return drawing(scale, _fan(scale, rows) + line, title, described)


def _bars(scale: Scale, weeks: Sequence[Week], kind: str) -> SafeString:
    return format_html_join(
        "",
        '<rect class="{}" x="{}" y="{}" width="{}" height="{}"/>',
        (
            (
                kind,
                scale.x(week.monday),
                scale.y(week.amount),
                round(scale.x(week.monday + BAR_DAYS) - scale.x(week.monday), 1),
                round(scale.y(0) - scale.y(week.amount), 1),
            )
            for week in weeks
            if week.amount
        ),
    )


def _fan(scale: Scale, rows: Sequence[tuple[date, float, float, float]]) -> SafeString:
    upper = [(scale.x(on), scale.y(high)) for on, _, _, high in rows]
    lower = [(scale.x(on), scale.y(low)) for on, low, _, _ in reversed(rows)]
    return format_html(
        '<polygon class="band" points="{}"/><polyline class="line" points="{}"/>',
        _places(upper + lower),
        _places([(scale.x(on), scale.y(mean)) for on, _, mean, _ in rows]),
    )


def _scale(days: Sequence[date], amounts: Sequence[float]) -> Scale:
    return Scale(min(days), max(days), round_up(max([*amounts, 0.0])))


def _places(points: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{x},{y}" for x, y in points)
