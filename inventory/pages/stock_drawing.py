"""Drawings of an item: stock week by week with what came and went, and its price over time."""

from collections.abc import Sequence
from datetime import date, timedelta

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from inventory.pages.charts import Scale, drawing
from inventory.pages.life_drawings import round_up
from inventory.queries.prices import OfferedPrice, PaidPrice
from inventory.queries.stock_by_week import StockWeek

HALF, WEEK = timedelta(days=3), timedelta(days=7)


def stock_weeks_chart(
    weeks: Sequence[StockWeek], *, factor: float, limit: float | None, title: str, described: str
) -> SafeString:
    """Stock as a line, what came in as hollow bars, what was used as filled ones.

    Args:
        factor: from the stock unit to the unit drawn in.
        limit: the reorder point in that unit, a broken line.
    """
    amounts = [float(max(week.stock, week.came, week.used)) * factor for week in weeks]
    amounts += [float(weeks[0].before) * factor, limit or 0.0]
    scale = Scale(weeks[0].monday, weeks[-1].monday + WEEK, round_up(max(amounts)))
    marks = _bars(scale, "came", [(week.monday, float(week.came) * factor) for week in weeks])
    marks += _bars(
        scale, "past", [(week.monday + HALF, float(week.used) * factor) for week in weeks]
    )
    marks += _stock_line(scale, weeks, factor)
    marks += _rings(scale, weeks, factor)
    if limit is not None:
        marks += _across(scale, "limit", scale.first, scale.last, limit)
    return drawing(scale, marks, title, described)


def price_chart(
    offered: Sequence[OfferedPrice],
    paid: Sequence[PaidPrice],
    *,
    today: date,
    factor: float,
    title: str,
    described: str,
) -> SafeString:
    """Offers as lines as long as they held, what was paid as dots."""
    days = [*(price.since for price in offered), *(price.day for price in paid)]
    amounts = [float(price.price) * factor for price in (*offered, *paid)]
    scale = Scale(min(days), max(today, *days), round_up(max(amounts)))
    marks = _circles(scale, "dot", [(one.day, float(one.price) * factor) for one in paid])
    for one in offered:
        until = min(one.until or today, today)
        marks += _across(scale, "line", one.since, until, float(one.price) * factor)
    return drawing(scale, marks, title, described)


def _bars(scale: Scale, kind: str, bars: Sequence[tuple[date, float]]) -> SafeString:
    return format_html_join(
        "",
        '<rect class="{}" x="{}" y="{}" width="{}" height="{}"/>',
        (
            (
                kind,
                scale.x(on),
                scale.y(amount),
                round(scale.x(on + HALF) - scale.x(on), 1),
                round(scale.y(0) - scale.y(amount), 1),
            )
            for on, amount in bars
            if amount
        ),
    )


def _stock_line(scale: Scale, weeks: Sequence[StockWeek], factor: float) -> SafeString:
    path = f"M{scale.x(weeks[0].monday)} {scale.y(float(weeks[0].before) * factor)}"
    for week in weeks:
        path += f"L{scale.x(week.monday + WEEK)} {scale.y(float(week.stock) * factor)}"
    return format_html('<path class="line" d="{}"/>', path)


def _rings(scale: Scale, weeks: Sequence[StockWeek], factor: float) -> SafeString:
    corrected = [week for week in weeks if week.is_corrected]
    places = [(week.monday + WEEK, float(week.stock) * factor) for week in corrected]
    return _circles(scale, "ring", places)


def _circles(scale: Scale, kind: str, places: Sequence[tuple[date, float]]) -> SafeString:
    return format_html_join(
        "",
        '<circle class="{}" cx="{}" cy="{}" r="4"/>',
        ((kind, scale.x(on), scale.y(amount)) for on, amount in places),
    )


def _across(scale: Scale, kind: str, first: date, last: date, amount: float) -> SafeString:
    return format_html(
        '<line class="{}" x1="{}" x2="{}" y1="{}" y2="{}"/>',
        kind,
        *(scale.x(first), scale.x(last), scale.y(amount), scale.y(amount)),
    )
