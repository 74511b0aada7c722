"""What manage.py wear does: one function a verb; each takes the options and returns what to print."""

import json
from typing import Any

from django.db import models
from django.utils import timezone

from inventory import actions
from inventory.days import show_day
from inventory.errors import NotFound, Refused
from inventory.management.terminal import paragraph, table
from inventory.models import Batch, Fitting, Item, Machine, Regrind, Shop, WearReading
from inventory.queries.change_costs import change_costs, change_time
from inventory.queries.cutter_lives import kind_of_cutter
from inventory.queries.cutters import fitted_now
from inventory.queries.life_book import LifeBook
from inventory.units import parse_length, parse_quantity, show_number

Options = dict[str, Any]
MOST_NAMED = 12
LIFE = 1000


def list_fitted(options: Options) -> str:
    """Everything fitted, as a table or as JSON."""
    fitted = list(fitted_now())
    book = LifeBook({fitting.item for fitting in fitted})
    rows = [
        [
            fitting.label,
            str(fitting.machine),
            fitting.pocket,
            fitting.item.code,
            show_number(fitting.life_used, 1),
            show_number(fitting.item.rated_life, 1),
            _learned(book, fitting),
            fitting.item.get_life_unit_display(),
        ]
        for fitting in fitted
    ]
    head = ["label", "machine", "pocket", "item", "used", "usual life", "learned life", "unit"]
    if options["json"]:
        return json.dumps([dict(zip(head, row, strict=True)) for row in rows], indent=2)
    return table(head, rows, [4, 5, 6]) or "Nothing is fitted."


def _learned(book: LifeBook, fitting: Fitting) -> str:
    """Mean life of its kind in its work; empty until one has failed."""
    model = book.model_of(fitting.item, fitting)
    return f"{model.weibull.mean:.4g}" if model is not None and model.failures else ""


def fit(options: Options) -> str:
    new = actions.fit(
        item=_found(Item, "code", options["item"]),
        machine=_found(Machine, "name", options["machine"]),
        pocket=options["pocket"],
        day=options["day"],
        sure=options["sure"],
        **_not_new(options),
        work_material=options["material"],
        cutting_data=options["data"],
    )
    return f"{new.label} ({new.item.code}) fitted in {new.machine} {new.pocket}."


def log(options: Options) -> str:
    fitting = _fitting(options["label"])
    batch = _found(Batch, "number", options["batch"]) if options["batch"] else None
    actions.log_wear(
        fitting=fitting,
        amount=parse_quantity(options["amount"], "each"),
        day=options["day"],
        batch=batch,
        operation=options["operation"],
    )
    fitting.refresh_from_db()
    unit = fitting.item.get_life_unit_display()
    return f"{fitting.label}: {show_number(fitting.life_used, 1)} {unit} used so far."


def undo(options: Options) -> str:
    """Take the last entry back that still stands."""
    fitting = _fitting(options["label"])
    last = fitting.logs.filter(amount__gt=0, reversed_by__isnull=True).order_by("-pk").first()
    if last is None:
        raise NotFound(f"{fitting.label} has no entry to take back.")
    actions.reverse_wear(log=last, day=options["day"])
    fitting.refresh_from_db()
    unit = fitting.item.get_life_unit_display()
    return (
        f"{fitting.label}: {show_number(last.amount, 3)} of {show_day(last.day)} taken back, "
        f"{show_number(fitting.life_used, 1)} {unit} used so far."
    )


def read(options: Options) -> str:
    fitting, wear = _fitting(options["label"]), options["wear"]
    if wear in WearReading.Level.values:
        seen = actions.read_wear(fitting=fitting, level=wear, day=options["day"])
        return f"{fitting.label}: noted as {seen.get_level_display()}."
    vb_um = _whole_um(wear)
    actions.read_wear(fitting=fitting, vb_um=vb_um, day=options["day"])
    limit = fitting.item.wear_limit_um
    over = " That is at or over its limit." if limit and vb_um >= limit else ""
    return f"{fitting.label}: wear land {vb_um} µm noted.{over}"


def remove(options: Options) -> str:
    fitting = actions.remove(**_ending(options))
    return f"{fitting.label} removed: {fitting.get_end_reason_display()}."


def swap(options: Options) -> str:
    new = actions.swap(sure=options["sure"], **_ending(options), **_not_new(options))
    return f"{options['label']} removed, {new.label} fitted in {new.machine} {new.pocket}."


def regrind(options: Options) -> str:
    out = actions.send_to_regrind(fitting=_fitting(options["label"]), day=options["day"])
    return f"{out.fitting.label} is out to be reground."


def reground(options: Options) -> str:
    diameter = options["diameter"]
    back = actions.bring_back_reground(
        regrind=_regrind(options["label"]),
        day=options["day"],
        diameter_um=parse_length(diameter) if diameter else None,
        is_usable=not options["unusable"],
    )
    word = "ready to fit" if back.is_usable else "not used any more"
    return f"{back.fitting.label} is back, {word}."


def life(options: Options) -> str:
    """How long a kind lasts, from what, and when to change it at its costs."""
    item = _found(Item, "code", options["item"])
    kind = kind_of_cutter(item)
    if kind.model is None:
        return f"{item.code}: neither a usual life nor a failure is known. Enter the usual life."
    rows = [
        [name, *(f"{number:.4g}" for number in known)]
        for name, known in (("one in ten gone by", kind.b10), ("half gone by", kind.median))
    ]
    head = [f"{item.code}, {item.get_life_unit_display()}", "likeliest", "low", "high"]
    said = [paragraph(kind.model.words), table(head, rows, [1, 2, 3])]
    shop = Shop.objects.first()
    costs = change_costs(item, timezone.localdate(), shop) if shop else None
    if costs is not None:
        policy = change_time(kind.model, float(costs.planned), float(costs.failure)).policy
        saved = f" That is {policy.saved_over(LIFE):.2f} {shop.currency} in {LIFE}."
        said.append(paragraph(policy.words + saved * (policy.age is not None)))
    return "\n\n".join(said)


def _whole_um(wear: str) -> int:
    vb_um = parse_quantity(wear, "each")
    if vb_um != int(vb_um):
        raise Refused(f"The wear land is noted in whole µm, so {wear} isn't one: 0.3 mm are 300.")
    return int(vb_um)


def _not_new(options: Options) -> Options:
    """One set aside or reground, where that goes in."""
    return {
        "continues": _fitting(options["set_aside"]) if options["set_aside"] else None,
        "regrind": _regrind(options["reground"]) if options["reground"] else None,
    }


def _ending(options: Options) -> Options:
    return {
        "fitting": _fitting(options["label"]),
        "reason": options["reason"],
        "day": options["day"],
        "note": options["note"],
    }


def _fitting(label: str) -> Fitting:
    return _found(Fitting, "label", label)


def _regrind(label: str) -> Regrind:
    fitting = _fitting(label)
    if not hasattr(fitting, "sent_out"):
        raise NotFound(f"{fitting.label} wasn't sent out to be reground.")
    return fitting.sent_out


def _found(model: type[models.Model], field: str, value: str) -> Any:
    record = model.objects.filter(**{f"{field}__iexact": value}).first()
    if record is None:
        known = ", ".join(model.objects.values_list(field, flat=True)[:MOST_NAMED])
        raise NotFound(f"No {model._meta.verbose_name} is called {value}. There are: {known}.")
    return record


VERBS = {
    "list": list_fitted,
    "life": life,
    "fit": fit,
    "log": log,
    "undo": undo,
    "read": read,
    "remove": remove,
    "swap": swap,
    "regrind": regrind,
    "reground": reground,
}
