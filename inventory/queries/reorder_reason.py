"""Why an item stands on the reorder list, in words that a maker can check."""

from datetime import date
from decimal import Decimal

from forecasting.reorder_point import RunOut
from inventory.days import show_day
from inventory.models import ItemForecast
from inventory.queries.availability import Stock
from inventory.units import show_quantity


def reason(
    forecast: ItemForecast,
    here: Decimal,
    stock: Stock,
    runs_out: RunOut,
    latest: date | None,
    *,
    comes_late: bool = False,
) -> str:
    """What is there, what will be used, when it runs out, how long a delivery takes.

    here: usable and not held by batches in work. latest: day to order by, None when not in sight.
    comes_late: what is on order may come after it has run out, and a new order would too.
    """
    unit = forecast.item.stock_unit

    def shown(amount: float | Decimal) -> str:
        return show_quantity(Decimal(str(round(float(amount), 1))), unit)

    parts = [f"{shown(here)} here and usable" if here else "None here that is usable"]
    if stock.on_order:
        parts[0] += f", {shown(stock.on_order)} on order"
    if len(forecast.per_knife) == 1:
        ((product, each),) = forecast.per_knife.items()
        if each:
            parts.append(f"{show_quantity(Decimal(f'{each:.3g}'), unit)} a knife of {product}")
    elif forecast.per_knife:
        parts.append(f"used by {len(forecast.per_knife)} products")
    if "outside batches" in forecast.model:
        parts.append("use outside batches, one-offs too, is counted in")
    mean, most = forecast.lead_demand_mean, forecast.lead_demand_q95
    parts.append(
        f"about {shown(mean)} used before a delivery could arrive "
        f"(at most {shown(max(mean, most))}, 19 times in 20)"
    )
    if runs_out.expected or runs_out.early:
        expected = f"about {show_day(runs_out.expected)}" if runs_out.expected else "not in sight"
        early = ""
        if runs_out.early and runs_out.early != runs_out.expected:
            early = f", perhaps {show_day(runs_out.early)}"
        parts.append(f"{'runs out' if here or stock.on_order else 'needed'} {expected}{early}")
    seen = f"{forecast.lead_seen} deliveries seen" if forecast.lead_seen else "as quoted"
    parts.append(
        f"lead time {forecast.lead_mean_days:.0f} days "
        f"({forecast.lead_low_days:.0f} to {forecast.lead_high_days:.0f}; {seen})"
    )
    if comes_late:
        parts.append("what is on order may come after that: ask the supplier for it earlier")
    elif latest:
        parts.append(f"order by {show_day(latest)}")
    return "; ".join(parts) + "."
