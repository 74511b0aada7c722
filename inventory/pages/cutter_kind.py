"""One kind of cutter: how long it lasts, how its lives ended, when to change it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from inventory.exchange.csv_export import csv_response
from inventory.models import Fitting, Item, Shop
from inventory.pages import life
from inventory.pages.change_time import time_to_change
from inventory.pages.cutters import pockets_of
from inventory.pages.life_drawings import survival_chart
from inventory.pages.other_speed import at_another_speed
from inventory.queries import cutter_lives as lives
from inventory.queries.cutter_outlook import outlook_of
from inventory.queries.life_traits import SideBySide, Trait


def kind_page(request: HttpRequest, code: str) -> HttpResponse:
    item = get_object_or_404(Item.objects.exclude(life_unit=""), code=code)
    work = asked_work(request)
    kind = lives.kind_of_cutter(item, work)
    if request.GET.get("format") == "csv":
        return csv_response(f"lives-{item.code}", _life_rows(kind.lives))
    today = timezone.localdate()
    shown = {
        "heading": item.name,
        "item": item,
        "unit": item.life_unit,
        "kind": kind,
        "rows": [
            (one, life.life_text(one.life_used, item.life_unit), one in kind.left_out)
            for one in kind.lives
        ],
        "pockets": [
            pocket for pocket in pockets_of([outlook_of(item, today)]) if pocket.fitting is not None
        ],
    }
    if work is None:
        shown["side_by_side"] = [_comparison(each, item) for each in kind.side_by_side]
    else:
        shown["work"] = " ".join(work) if work[0] == "grinding" else work[1]
    if kind.model is not None:
        shown |= _fit_figures(kind)
        if item.life_unit == Item.LifeUnit.MINUTES:
            shown |= at_another_speed(kind, request.GET)
        shop = Shop.objects.first()
        if shop is not None:
            shown |= time_to_change(kind, request.GET, shop)
    return render(request, "cutters/kind.html", shown)


def asked_work(request: HttpRequest) -> tuple[Trait, str] | None:
    """One kind of work alone: ?by=work+material&of=annealed+bar."""
    by, of = request.GET.get("by", ""), request.GET.get("of", "")
    return (Trait(by), of) if by in list(Trait) and of else None


@dataclass(frozen=True)
class Comparison:
    """Lives told apart by one trait, in words; groups as (name, address, seen, mean, one in ten)."""

    trait: str
    groups: list[tuple[str, str, str, str, str]]
    verdict: str


def _comparison(told: SideBySide, item: Item) -> Comparison:
    unit = item.life_unit
    groups = []
    for group in told.split.groups:
        seen = f"{group.failures} failed, {group.censored} still good"
        mean = b10 = ""
        if group.has_enough:
            mean = life.life_text(group.fit.weibull.mean, unit)
            b10 = life.life_text(group.fit.weibull.b10, unit)
        alone = urlencode({"by": told.trait.value, "of": group.name})
        groups.append((group.name, alone, seen, mean, b10))
    return Comparison(told.trait.value, groups, _verdict(told))


def _verdict(told: SideBySide) -> str:
    split = told.split
    if told.trait == Trait.REVISION:
        return "Each revision has its own record. They are compared, never counted together."
    if told.trait == Trait.GRINDING:
        return (
            "New ones, and each number of regrinds, have their own record. They are compared, never "
            "counted together."
        )
    if split.chance is None:
        return "Too few failures to tell them apart: five in each of two are needed."
    if not split.differ:
        return "No more unlike than chance makes such lives; they are counted together."
    alike = life.percent(split.chance)
    if told.trait in (Trait.MATERIAL, Trait.DATA):
        return (
            f"Unlike: chance alone makes such a difference in {alike} of cases. What is fitted for "
            f"one {told.trait} is judged by the lives in it alone."
        )
    return (
        f"Unlike: chance alone makes such a difference in {alike} of cases. See each by itself, and "
        "keep them as items of their own if that goes on."
    )


def _fit_figures(kind: lives.KindOfCutter) -> dict:
    low, high = kind.model.shape_interval
    unit = kind.item.life_unit
    return {
        "chart": survival_chart(kind, unit),
        "curve": [
            (
                life.number(point.life),
                *(f"{share:.0%}" for share in (point.fitted, point.low, point.high)),
            )
            for point in kind.curve[::6]
        ],
        "figures": [
            ("One in ten is gone by", *_life_and_range(kind.b10, unit)),
            ("Half are gone by", *_life_and_range(kind.median, unit)),
            ("Mean life", life.life_text(kind.model.weibull.mean, unit), ""),
            ("Weibull shape", f"{kind.model.weibull.shape:.2g}", f"{low:.2g} to {high:.2g}"),
        ],
    }


def _life_and_range(known: tuple[float, float, float], unit: str) -> tuple[str, str]:
    middle, low, high = known
    return life.life_text(middle, unit), f"{life.number(low)} to {life.number(high)}"


def _life_rows(fittings: Iterable[Fitting]) -> Iterator[tuple]:
    yield (
        "label",
        "revision",
        "machine",
        "pocket",
        "work material",
        "speed, feed and depth",
        "regrinds",
        "diameter µm",
        "fitted",
        "removed",
        "life used",
        "life unit",
        "end",
    )
    for one in fittings:
        yield (
            one.label,
            one.revision,
            one.machine.name,
            one.pocket,
            one.work_material,
            one.cutting_data,
            one.regrinds,
            one.diameter_um or "",
            one.fitted_on,
            one.removed_on or "",
            one.life_used,
            one.item.life_unit,
            one.get_end_reason_display() or lives.IN_USE,
        )
