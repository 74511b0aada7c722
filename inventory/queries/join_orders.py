"""Orders joined: what may ride along with a supplier's order, and how often to order from it."""

from dataclasses import dataclass
from datetime import date

from forecasting.joint_orders import (
    RidesAlong,
    SharedItem,
    Waiting,
    common_rhythm,
    ride_along,
)
from inventory.queries.order_limits import SURE
from inventory.queries.reorder_list import ReorderLine, ReorderList
from inventory.queries.use_ahead import use_ahead

WEEKS_A_YEAR = 52


@dataclass(frozen=True)
class Joined:
    """Lines that aren't due but worth adding to today's order of their supplier.

    alone: chance that they would cost a fee of their own before the supplier's next order.
    weeks_early: how much earlier they come. saves: money, keeping them counted in.
    """

    lines: tuple[ReorderLine, ...]
    alone: float
    weeks_early: float
    saves: float


@dataclass(frozen=True)
class SupplierRhythm:
    """How often to order from a supplier. less_often: items that every so-manieth order takes."""

    weeks: float
    less_often: tuple[tuple[ReorderLine, int], ...]


def worth_joining(listed: ReorderList, holding_rate: float) -> dict[int, list[Joined]]:
    """By supplier id, for each supplier that something is ordered from anyway and that takes a fee.

    holding_rate: yearly cost of money on the shelf, a share.
    """
    asleep = {each.line.item.pk for each in listed.asleep}
    found = {}
    for group in listed.groups:
        ordered = {line.item.pk for line in group.lines if line.choice and line.choice.packs}
        if group.supplier and group.fee and ordered:
            lines = {line.item.code: line for line in _of_supplier(group.supplier.pk, listed)}
            waiting = [
                _waiting(line, listed.day, line.item.pk in ordered, line.item.pk in asleep)
                for line in lines.values()
            ]
            rides = ride_along(waiting, order_fee=float(group.fee), holding_rate=holding_rate)
            found[group.supplier.pk] = [
                Joined(tuple(lines[name] for name in ride.names), *_told(ride)) for ride in rides
            ]
    return found


def _told(ride: RidesAlong) -> tuple[float, float, float]:
    return ride.alone, ride.weeks_early, ride.saves


def supplier_rhythms(listed: ReorderList, holding_rate: float) -> dict[int, SupplierRhythm]:
    """By supplier id, where several items share a fee."""
    found = {}
    for group in listed.groups:
        if group.supplier and group.fee and holding_rate:
            lines = [
                line
                for line in _of_supplier(group.supplier.pk, listed)
                if line.forecast.use_per_week > 0 and _unit_price(line) > 0
            ]
            if len(lines) > 1:
                found[group.supplier.pk] = _rhythm(lines, float(group.fee), holding_rate)
    return found


def _rhythm(lines: list[ReorderLine], fee: float, rate: float) -> SupplierRhythm:
    items = [
        SharedItem(
            float(line.offer.lot_charge),
            line.forecast.use_per_week * WEEKS_A_YEAR,
            rate * _unit_price(line),
        )
        for line in lines
    ]
    rhythm = common_rhythm(fee, items)
    less_often = [
        (line, times) for line, times in zip(lines, rhythm.multiples, strict=True) if times > 1
    ]
    return SupplierRhythm(rhythm.interval * WEEKS_A_YEAR, tuple(less_often))


def _of_supplier(pk: int, listed: ReorderList) -> list[ReorderLine]:
    return [line for line in listed.every if line.offer and line.offer.supplier_id == pk]


def _waiting(line: ReorderLine, day: date, is_ordered: bool, is_asleep: bool) -> Waiting:
    """As it stands once what is due is ordered; only what isn't due may ride along."""
    ahead = use_ahead(line.forecast, day)
    choice = line.choice
    after = line.position + choice.qty if is_ordered else line.position
    gap = float(after) - line.forecast.reorder_point
    due = ahead.chances_reached(gap) if ahead else ()
    keeps = line.used_in_time is None or line.used_in_time >= SURE
    offered = choice and choice.packs and keeps and not (is_ordered or is_asleep or line.is_due)
    return Waiting(line.item.code, due, float(choice.cost) if offered else 0.0)


def _unit_price(line: ReorderLine) -> float:
    return float(line.offer.price_at(line.choice.packs or 1) / line.offer.pack_qty)
