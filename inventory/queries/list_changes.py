"""What changed on the reorder list since an earlier forecast, in words."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from decimal import Decimal

from inventory.days import show_day
from inventory.models import ForecastRun, Item, ItemForecast, Shop
from inventory.queries.reorder_list import ReorderLine, ReorderList
from inventory.units import show_number, show_quantity

FACTOR = 0.02
NOTICED = 0.05
LEAD_DAYS = 1
MOST_NAMED = 3


@dataclass(frozen=True)
class LineChange:
    """is_new: it wasn't due then. words: what changed; empty when nothing did."""

    is_new: bool
    words: str


@dataclass(frozen=True)
class GoneLine:
    """An item that was due then and isn't on the list now, and why."""

    item: Item
    words: str


@dataclass(frozen=True)
class ListChanges:
    """since: the run whose list is compared with. lines: by item id."""

    since: ForecastRun
    lines: dict[int, LineChange] = field(default_factory=dict)
    gone: list[GoneLine] = field(default_factory=list)


def runs_to_compare(run: ForecastRun) -> list[ForecastRun]:
    """The run of the last look at the list, as often as the shop looks, and the one just before.

    The first is the one to compare with unless another is asked for. Empty for the first run.
    """
    earlier = ForecastRun.objects.filter(state=ForecastRun.State.DONE, pk__lt=run.pk)
    before = earlier.first()
    if before is None:
        return []
    look = run.as_of - timedelta(days=Shop.objects.get().review_days)
    last_look = earlier.filter(as_of__lte=look).order_by("-as_of", "-pk").first()
    last_look = last_look or earlier.order_by("as_of", "-pk").first()
    return [last_look] if last_look == before else [last_look, before]


def list_changes(listed: ReorderList, since: ForecastRun) -> ListChanges:
    """The list as it is now against how it stood when an earlier run became whole."""
    then = {
        forecast.item_id: forecast
        for forecast in since.items.select_related("item").defer("weeks", "fill_by_order")
    }
    shown = [*listed.lines, *listed.soon]
    compared = _Compared(since, listed.run)
    lines = {line.item.pk: compared.change_of(line, then.get(line.item.pk)) for line in shown}
    now = {line.item.pk: line for line in listed.every}
    asleep = {each.line.item.pk: each.snooze for each in listed.asleep}
    due = {line.item.pk for line in listed.lines}
    gone = []
    for pk, forecast in then.items():
        if not forecast.was_due or pk in due:
            continue
        if pk in asleep:
            words = f"put aside until {show_day(asleep[pk].until)}"
        else:
            words = compared.why_gone(now.get(pk), forecast)
        gone.append(GoneLine(forecast.item, words))
    return ListChanges(since, lines, sorted(gone, key=lambda each: each.item.code))


class _Compared:
    """Two runs, and what separates their inputs."""

    def __init__(self, then: ForecastRun, now: ForecastRun) -> None:
        self._new_batches = {
            number: products for number, products in now.plan.items() if number not in then.plan
        }
        self._other_bills = {
            owner
            for owner, revision in now.bills.items()
            if then.bills.get(owner, revision) != revision
        }

    def change_of(self, line: ReorderLine, then: ItemForecast | None) -> LineChange:
        if then is None:
            return LineChange(line.is_due, "it wasn't forecast then" if line.is_due else "")
        is_new = line.is_due and not then.was_due
        words = list(self._point_words(line.forecast, then))
        fell = then.position_then is not None and float(line.position) < then.position_then
        if is_new and fell:
            words.insert(0, _from_to("stock and orders fell", then.position_then, line))
        elif not is_new and line.is_due and _other_packs(line, then):
            words.insert(
                0, f"{line.choice.packs} × {line.offer.pack_name} instead of {then.packs_then}"
            )
        return LineChange(is_new, "; ".join(words))

    def why_gone(self, line: ReorderLine | None, then: ItemForecast) -> str:
        if line is None:
            return "no use of it is expected any more"
        unit = line.item.stock_unit
        if line.drafted:
            return f"{show_quantity(line.drafted, unit)} in a draft order"
        if line.stock.on_order:
            return f"{show_quantity(line.stock.on_order, unit)} on order"
        if then.position_then is not None and float(line.position) > then.position_then:
            return _from_to("stock grew", then.position_then, line)
        words = "; ".join(self._point_words(line.forecast, then))
        return words or "it is above its reorder point again"

    def _point_words(self, now: ItemForecast, then: ItemForecast) -> Iterator[str]:
        """How the reorder point moved, and why as far as the two runs tell."""
        if not _differs(now.reorder_point, then.reorder_point, NOTICED):
            return
        way = "up" if now.reorder_point > then.reorder_point else "down"
        moved = (
            f"reorder point {way} from {_shown(then.reorder_point, then)} "
            f"to {_shown(now.reorder_point, then)}"
        )
        why = "; ".join(self._reasons(now, then))
        yield f"{moved}: {why}" if why else moved

    def _reasons(self, now: ItemForecast, then: ItemForecast) -> Iterator[str]:
        batches = [
            number
            for number, products in self._new_batches.items()
            if products.keys() & now.per_knife
        ]
        if batches:
            yield f"{_named('batch', 'batches', batches)} planned"
        if bills := self._bills_behind(now, then):
            yield f"{_named('bill of', 'bills of', bills)} changed"
        if abs(now.use_factor - then.use_factor) > FACTOR:
            yield f"batches really took {now.use_factor:.2f} times the bill, not {then.use_factor:.2f}"
        lead = now.lead_mean_days - then.lead_mean_days
        if abs(lead) >= LEAD_DAYS:
            way = "grew" if lead > 0 else "shrank"
            yield f"lead time {way} from {then.lead_mean_days:.0f} to {now.lead_mean_days:.0f} days"
        if now.service_level != then.service_level:
            yield f"service level {now.service_level:.1%}, not {then.service_level:.1%}"
        if _differs(now.use_per_week, then.use_per_week, NOTICED):
            way = "rose" if now.use_per_week > then.use_per_week else "fell"
            yield (
                f"use {way} from {_shown(then.use_per_week, then)} "
                f"to {_shown(now.use_per_week, then)} a week"
            )

    def _bills_behind(self, now: ItemForecast, then: ItemForecast) -> list[str]:
        """Bills with another revision: of products that use it, and of parts when a share moved."""
        users = now.per_knife.keys() | then.per_knife
        share_moved = any(
            _differs(
                now.per_knife.get(product, 0.0) / now.use_factor,
                then.per_knife.get(product, 0.0) / then.use_factor,
                FACTOR,
            )
            for product in users
        )
        return sorted(self._other_bills) if share_moved else []


def _other_packs(line: ReorderLine, then: ItemForecast) -> bool:
    known = line.choice is not None and line.offer is not None and then.packs_then is not None
    return known and line.choice.packs != then.packs_then


def _differs(now: float, then: float, share: float) -> bool:
    return abs(now - then) > share * max(abs(now), abs(then))


def _from_to(what: str, then: float, line: ReorderLine) -> str:
    return f"{what} from {_shown(then, line.forecast)} to {_shown(line.position, line.forecast)}"


def _shown(amount: float | Decimal, forecast: ItemForecast) -> str:
    """To three figures; the reader's own units are for the numbers beside it."""
    rough = Decimal(f"{float(amount):.3g}")
    return show_quantity(Decimal(f"{rough:f}"), forecast.item.stock_unit)


def _named(one: str, many: str, names: list[str]) -> str:
    """batch B-12 was, batches B-12, B-13 and 2 more were."""
    shown = ", ".join(names[:MOST_NAMED])
    rest = len(names) - MOST_NAMED
    more = f" and {show_number(Decimal(rest))} more" if rest > 0 else ""
    return f"{one} {shown} was" if len(names) == 1 else f"{many} {shown}{more} were"
