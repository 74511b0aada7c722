"""Cutters: what is in each pocket and whether it will last, and one cutter's record."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.safestring import SafeString

from inventory.exchange.csv_export import csv_response
from inventory.models import Fitting, Item, WearReading
from inventory.pages import life
from inventory.pages.life_drawings import life_bar, wear_chart
from inventory.queries import cutter_lives as lives
from inventory.queries import regrinds
from inventory.queries.cutter_outlook import (
    CutterOutlook,
    StationOutlook,
    outlook,
    outlook_of,
    usual_uses,
)
from inventory.units import show_length

MOST_KNIVES = 200
MEASURE_STEP_UM = 25
MOST_NEXT = 1
"""Reground ones, and ones set aside, offered by one tap; the form offers the others."""


@dataclass(frozen=True)
class Pocket:
    """One line of the list: a pocket with what is in it, or an item that should be in one."""

    outlook: CutterOutlook
    station: StationOutlook
    fitting: Fitting | None

    @property
    def mark(self) -> life.Mark:
        return life.lasting(self.outlook, self.station, self.fitting)

    @property
    def goes_first(self) -> bool:
        return self.fitting is None or self.fitting == self.station.fitted[0]

    @property
    def bar(self) -> SafeString | str:
        if self.fitting is None or self.usual_life is None:
            return ""
        ahead = self.station.ahead if self.goes_first else ()
        used = float(self.fitting.life_used)
        return life_bar(used, self.usual_life, self.outlook.item.life_unit, ahead)

    @property
    def usual_life(self) -> float | None:
        """Of one reground so often and in that work, where one is fitted."""
        return self.outlook.usual_life_of(self.fitting)

    @property
    def used(self) -> str:
        usual = self.usual_life
        used = self.fitting.life_used if self.fitting else 0
        if usual is None:
            return life.life_text(used, self.outlook.item.life_unit)
        about = life.life_text(round(usual), self.outlook.item.life_unit)
        return f"{life.number(used)} of about {about}"

    @property
    def chances(self) -> list[str]:
        return [life.chance_words(step) for step in self.station.ahead[:3]]

    @property
    def spares(self) -> str:
        return life.spares_words(self.outlook)

    @property
    def is_implausible(self) -> bool:
        return self.fitting is not None and self.outlook.is_implausible(self.fitting)


def cutter_list(request: HttpRequest) -> HttpResponse:
    pockets = list(pockets_of(outlook(timezone.localdate())))
    if request.GET.get("format") == "csv":
        return csv_response("cutters", _list_rows(pockets))
    fitted = [pocket for pocket in pockets if pocket.fitting]
    fitted.sort(key=lambda pocket: (pocket.fitting.machine.name, _natural(pocket.fitting.pocket)))
    machines: dict[str, list[Pocket]] = {}
    for pocket in fitted:
        machines.setdefault(pocket.fitting.machine.name, []).append(pocket)
    shown = {
        "heading": "Cutters",
        "sub": "What is in each pocket, how worn it is, and the chance that it lasts the batches ahead.",
        "machines": machines,
        "missing": [pocket for pocket in pockets if not pocket.fitting],
        "kinds": Item.objects.exclude(life_unit=""),
        "set_aside": lives.set_aside(),
        "out_to_regrind": regrinds.out_to_regrind(),
        "reground": regrinds.back_from_regrind(),
    }
    return render(request, "cutters/list.html", shown)


def fitting_page(request: HttpRequest, label: str) -> HttpResponse:
    fitting = get_object_or_404(lives.fittings(), label=label)
    item = fitting.item
    today = timezone.localdate()
    view = outlook_of(item, today)
    readings = lives.readings_of(fitting)
    measured = [reading for reading in readings if reading.vb_um is not None]
    logs = lives.logs_of(fitting)
    shown = {
        "heading": item.name,
        "fitting": fitting,
        "item": item,
        "unit": item.life_unit,
        "used": life.number(fitting.life_used),
        "readings": readings,
        "logs": logs,
        "corrections": fitting.corrections.select_related("by"),
        "wear_life": lives.wear_life(readings, item.wear_limit_um),
        "chart": wear_chart(measured, item.wear_limit_um, item.life_unit) if measured else "",
        "last_log": next((log for log in logs if _stands(log)), None),
    }
    if fitting.is_fitted:
        shown["pocket"] = Pocket(view, view.station_of(fitting), fitting)
        shown["ahead"] = [
            (step, life.life_text(step.job, item.life_unit), life.percent(step.chance))
            for step in view.station_of(fitting).ahead
        ]
        shown |= _thumb(request, fitting, view, [reading.vb_um for reading in measured])
    else:
        shown |= _taken_out(fitting)
    return render(request, "cutters/fitting.html", shown)


def _thumb(
    request: HttpRequest, fitting: Fitting, view: CutterOutlook, measured: list[int]
) -> dict:
    """Amounts and readings that are logged by one tap; ?knives=3 makes them three knives."""
    asked = request.GET.get("knives", "")
    knives = min(max(int(asked), 1), MOST_KNIVES) if asked.isdecimal() and len(asked) < 6 else 1
    in_work = [step for step in view.station_of(fitting).ahead if step.batch.state == "in_work"]
    batch = in_work[0].batch if len(in_work) == 1 else None
    unit = fitting.item.life_unit
    uses = [
        (f"{knives} × {use.owner}", use.operation, knives * use.amount, batch)
        for use in usual_uses(fitting)
    ] or [(life.life_text(knives, unit), "", Decimal(knives), batch)]
    uses += [
        (f"all that is left of {step.batch}", "", step.job, step.batch)
        for step in in_work
        if step.job
    ]
    last = measured[-1] if measured else 0
    limit = fitting.item.wear_limit_um or 300
    first = last // MEASURE_STEP_UM * MEASURE_STEP_UM
    unit_of_length = request.user.length_unit
    return {
        "knives": knives,
        "fewer": max(knives - 1, 1),
        "more": min(knives + 1, MOST_KNIVES),
        "stepped": bool(asked),
        "to_log": [(step.batch, life.life_text(step.job, unit)) for step in in_work if step.job],
        "uses": [(*use, life.life_text(use[2], unit)) for use in uses],
        "vb_steps": range(first, max(limit, first) + 4 * MEASURE_STEP_UM, MEASURE_STEP_UM),
        "by_eye": WearReading.Level.choices if fitting.item.kind != Item.Kind.CUTTER else [],
        "next_ones": _next_ones(fitting.item, view, unit_of_length),
    }


def _next_ones(item: Item, view: CutterOutlook, unit: str) -> list[tuple[str, str, Any]]:
    """What may go in next by one tap, as (words, field, value): new, reground, set aside."""
    ready = regrinds.reground_by_item([item])[item.pk][:MOST_NEXT]
    aside = lives.set_aside().filter(item=item, revision=item.revision)[:MOST_NEXT]
    offered = [("a new one is in", "", "")] if view.in_stock else []
    for one in ready:
        size = f" ({show_length(one.diameter_um, unit)})" if one.diameter_um else ""
        offered.append((f"{one.fitting} reground is in{size}", "regrind", one.pk))
    for one in aside:
        used = life.life_text(one.life_used, item.life_unit)
        offered.append((f"{one} set aside is in ({used} used)", "continues", one.label))
    return offered


def _taken_out(fitting: Fitting) -> dict:
    """What may be done with one that is in no machine."""
    sent = getattr(fitting, "sent_out", None)
    is_here = sent is None and not hasattr(fitting, "continued_by")
    is_lost = fitting.end_reason == Fitting.EndReason.LOST
    fit_as = {}
    if is_here and fitting.end_reason == Fitting.EndReason.REMOVED_EARLY:
        fit_as = {"continues": fitting.label}
    elif sent is not None and regrinds.back_from_regrind().filter(pk=sent.pk).exists():
        fit_as = {"regrind": sent.pk}
    where = {
        "item": fitting.item.code,
        "machine": fitting.machine_id,
        "pocket": fitting.pocket,
        "work_material": fitting.work_material,
        "cutting_data": fitting.cutting_data,
    }
    return {
        "may_be_corrected": not hasattr(fitting, "continued_by"),
        "may_be_put_back": is_here,
        "may_be_reground": is_here and not is_lost and fitting.item.kind == Item.Kind.CUTTER,
        "fit_again": urlencode(where | fit_as) if fit_as else "",
        "is_implausible": lives.is_implausible(fitting),
    }


def pockets_of(views: Iterable[CutterOutlook]) -> Iterator[Pocket]:
    """A line for each pocket that holds one, and for each place that should and doesn't."""
    for view in views:
        for station in view.stations:
            for fitting in station.fitted:
                yield Pocket(view, station, fitting)
            if not station.fitted:
                yield Pocket(view, station, None)


def _stands(log: object) -> bool:
    return log.amount > 0 and not hasattr(log, "reversed_by")


def _natural(pocket: str) -> tuple[int, str]:
    """T2 before T10."""
    digits = "".join(sign for sign in pocket if sign.isdigit())
    return int(digits or 0), pocket


def _list_rows(pockets: Iterable[Pocket]) -> Iterator[tuple]:
    yield (
        "machine",
        "pocket",
        "label",
        "item",
        "life unit",
        "life used",
        "usual life",
        "state",
        "chances",
        "spares",
    )
    for pocket in pockets:
        fitting = pocket.fitting
        where = (fitting.machine.name, fitting.pocket, fitting.label) if fitting else ("", "", "")
        usual = pocket.usual_life
        yield (
            *where,
            pocket.outlook.item.code,
            pocket.outlook.item.life_unit,
            fitting.life_used if fitting else "",
            "" if usual is None else round(usual, 2),
            pocket.mark[0],
            ", ".join(pocket.chances) if pocket.goes_first else "",
            pocket.outlook.in_stock,
        )
