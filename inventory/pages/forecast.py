"""Forecast: the stored run, one product's builds, one item's stock ahead. Nothing is computed here."""

from datetime import date
from decimal import Decimal
from typing import Any

import django_filters as filters
import django_tables2 as tables
from django import forms
from django.db.models import Q, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString

from inventory.models import ForecastScore, Item, ItemForecast, Product, ProductForecast
from inventory.pages.charts import chart_unit
from inventory.pages.columns import NUMBER, QuantityColumn, TextColumn
from inventory.pages.forecast_accuracy import MARKS
from inventory.pages.forecast_drawings import stock_chart, weeks_chart
from inventory.pages.forecast_run import run_news
from inventory.pages.table_page import TablePage
from inventory.queries import forecasts as queries
from inventory.queries.exceptional_use import occasions_to_tell
from inventory.queries.expected_fill import expected_fill
from inventory.queries.forecast_accuracy import item_accuracy, scores_of
from inventory.queries.forecast_inputs import is_stale, latest_run
from inventory.queries.reorder_list import ReorderLine
from inventory.templatetags.shop import percent

CLASS_WORDS = {
    "smooth": "steady: nearly every week, in even amounts",
    "erratic": "erratic: nearly every week, in very uneven amounts",
    "intermittent": "now and then: in even amounts",
    "lumpy": "lumpy: now and then, in very uneven amounts",
    "too few to class": "too few to say",
}


def exact(amount: float) -> Decimal:
    """A stored figure as a quantity to show; a thousandth is enough for the eye."""
    return Decimal(str(round(amount, 3)))


class FigureColumn(QuantityColumn):
    """A figure of the forecast in the item's stock unit."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(unit="item__stock_unit", **kwargs)

    def render(self, value: float, record: ItemForecast, table: tables.Table) -> SafeString:
        return super().render(exact(value), record, table)

    def value(self, value: float) -> float:
        return value


class ItemForecastTable(tables.Table):
    item = TextColumn(
        accessor="item__code",
        linkify=lambda record: reverse("forecast-item", args=[record.item.code]),
    )
    name = TextColumn(accessor="item__name")
    use_per_week = FigureColumn(verbose_name="Use a week")
    lead_mean_days = tables.Column(verbose_name="Lead time, days", attrs=NUMBER)
    safety_stock = FigureColumn()
    reorder_point = FigureColumn()
    order_up_to = FigureColumn(verbose_name="Order up to")
    demand_class = TextColumn(verbose_name="Asked for")
    note = TextColumn()

    class Meta:
        empty_text = "No item matches."
        order_by = "item"

    def render_lead_mean_days(self, value: float) -> str:
        return f"{value:.0f}"

    def render_demand_class(self, value: str) -> str:
        return CLASS_WORDS.get(value, value).partition(":")[0]


class ItemForecastFilter(filters.FilterSet):
    q = filters.CharFilter(
        label="Find item", method="find", widget=forms.TextInput(attrs={"type": "search"})
    )
    kind = filters.ChoiceFilter(
        field_name="item__kind", choices=Item.Kind.choices, empty_label="any kind"
    )

    def find(self, rows: QuerySet, name: str, text: str) -> QuerySet:
        return rows.filter(Q(item__code__icontains=text) | Q(item__name__icontains=text))


class ForecastPage(TablePage):
    template_name = "forecast/list.html"
    table_class = ItemForecastTable
    filterset_class = ItemForecastFilter
    heading = "Forecast"
    export_name = "forecast"

    def get_rows(self) -> QuerySet[ItemForecast]:
        self.run = latest_run()
        return queries.items_of(self.run) if self.run else ItemForecast.objects.none()

    def get_context_data(self, **kwargs: Any) -> dict:
        shown = super().get_context_data(**kwargs) | run_news(self.run)
        if self.run is not None:
            shown["run"] = self.run
            shown["is_stale"] = is_stale(self.run)
            shown["products"] = [
                (forecast, CLASS_WORDS.get(forecast.demand_class, forecast.demand_class))
                for forecast in queries.products_of(self.run)
            ]
        return shown


def product_page(request: HttpRequest, code: str) -> HttpResponse:
    product = get_object_or_404(Product, code=code)
    forecast = _newest(product.forecasts, f"No forecast of {code} is stored yet.")
    today = timezone.localdate()
    past = queries.builds_by_week(product, today)
    ahead = queries.product_ahead(forecast)
    shown = {
        "heading": f"Forecast of {product.code}",
        "sub": product.name,
        "product": product,
        "forecast": forecast,
        "is_stale": is_stale(forecast.run),
        "class_words": CLASS_WORDS.get(forecast.demand_class, forecast.demand_class),
        "chart": weeks_chart(past, ahead, f"{product.code}: knives begun a week"),
        "built": sum(week.amount for week in past),
        "expected": sum(week.mean for week in ahead),
        "past": [week for week in past if week.amount],
        "ahead": ahead,
        "plan": queries.plan_of(product),
        "scores": _scores(forecast),
    }
    return render(request, "forecast/product.html", shown)


def _scores(forecast: ProductForecast) -> list[tuple[str, float, bool]]:
    """Every method compared with its loss, the best first, and whether it is the one used."""
    ranked = sorted(forecast.scores.items(), key=lambda pair: pair[1])
    return [(name, loss, name == forecast.model) for name, loss in ranked]


def item_page(request: HttpRequest, code: str) -> HttpResponse:
    item = get_object_or_404(Item, code=code)
    forecast = _newest(item.forecasts, f"No forecast of {code} is stored yet.")
    today = timezone.localdate()
    line = queries.live_line(forecast, today)
    shown = {
        "heading": f"Forecast of {item.code}",
        "sub": item.name,
        "item": item,
        "forecast": forecast,
        "is_stale": is_stale(forecast.run),
        "class_words": CLASS_WORDS.get(forecast.demand_class, forecast.demand_class),
        "users": [
            (user, exact(user.per_knife), user.per_week and exact(user.per_week))
            for user in queries.used_by(forecast)
        ],
        "real_use": _real_use(forecast),
        "occasions": [(one, exact(one.qty)) for one in occasions_to_tell(item, today)],
        "steps": _steps(forecast),
        "line": line,
    }
    shown |= _accuracy(item, today)
    shown |= _use_drawing(request, item, forecast, today)
    if line is not None:
        shown["fill"] = expected_fill(line, today)
        shown |= _stock_drawing(request, item, line, today)
    return render(request, "forecast/item.html", shown)


def _accuracy(item: Item, today: date) -> dict[str, Any]:
    """How its earlier forecasts did; without scores an empty list."""
    scores = scores_of(item)
    if not scores:
        return {"scores": []}
    found = next(iter(item_accuracy(today, [item.pk])), None)
    return {
        "scores": [_score_row(score) for score in scores],
        "accuracy": found,
        "accuracy_mark": MARKS.get(found.verdict, "") if found else "",
        "accuracy_over": ForecastScore.Ahead(found.ahead).label if found else "",
    }


def _score_row(score: ForecastScore) -> tuple[ForecastScore, dict[str, Decimal], str, str]:
    """The score, its amounts, and how its range did, as (word, mark)."""
    shown = {"low": score.q05, "mean": score.mean, "high": score.q95, "used": score.used}
    amounts = {name: exact(amount) for name, amount in shown.items()}
    if score.ran_out:
        return score, amounts, "ran out, left out", ""
    if not score.is_judged:
        return score, amounts, "used, none was expected", "watch"
    if score.held:
        return score, amounts, "held", "good"
    return score, amounts, "above" if score.used > score.q95 else "below", "watch"


def _real_use(forecast: ItemForecast) -> str:
    """How the last batches stood to their bills, in words."""
    batches = f"{forecast.use_batches} finished batch{'es' if forecast.use_batches > 1 else ''}"
    error = f" ± {2 * forecast.use_error:.2f}" if forecast.use_error else ""
    single = ""
    if forecast.use_scatter:
        width = percent(round(2 * forecast.use_scatter, 2))
        single = f" A single batch lies within {width} of that, scrap included, 19 times in 20."
    return (
        f"{batches} really took {forecast.use_factor:.2f}{error} times what the bills say, cutting "
        f"waste counted as for one full piece; the forecast reckons with it.{single}"
    )


def _steps(forecast: ItemForecast) -> dict[str, Decimal]:
    names = (
        "use_per_week",
        "lead_demand_mean",
        "lead_demand_q95",
        "safety_stock",
        "reorder_point",
        "order_up_to",
    )
    return {name: exact(getattr(forecast, name)) for name in names}


def _use_drawing(request: HttpRequest, item: Item, forecast: ItemForecast, today: date) -> dict:
    past = queries.use_by_week(item, today)
    largest = exact(max([forecast.use_per_week, *(week.amount for week in past)]))
    unit, factor = chart_unit(item, request.user, largest)
    drawn = [queries.Week(week.monday, week.amount * float(factor)) for week in past]
    title = f"{item.code}: use a week{f', in {unit}' if unit else ''}"
    return {
        "use_chart": weeks_chart(drawn, [], title),
        "use_unit": unit,
        "past": [(week.monday, exact(week.amount)) for week in past if week.amount],
    }


def _stock_drawing(request: HttpRequest, item: Item, line: ReorderLine, today: date) -> dict:
    weeks = queries.stock_ahead(line, today)
    limit = line.forecast.reorder_point
    largest = exact(max(limit, *(week.high for week in weeks)))
    unit, factor = chart_unit(item, request.user, largest)
    title = f"{item.code}: stock ahead without a new order{f', in {unit}' if unit else ''}"
    return {
        "chart": stock_chart(weeks, limit, float(factor), title),
        "stock_unit": unit,
        "weeks": [
            (week.day, exact(week.low), exact(week.mean), exact(week.high)) for week in weeks
        ],
        "in_work": max(line.stock.usable + line.stock.on_order + line.drafted - line.position, 0),
    }


def _newest(forecasts: Any, missing: str) -> Any:
    """The record of the newest run; a 404 with a sentence when there is none."""
    run = latest_run()
    found = forecasts.select_related("run").filter(run=run).first()
    if found is None:
        raise Http404(missing)
    return found
