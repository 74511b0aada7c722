"""manage.py wear list | fit | log | read | remove | swap"""

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from inventory.actions import fit, log_wear, read_wear, remove, swap
from inventory.errors import NotFound, Refused
from inventory.management.shop_command import ShopCommand
from inventory.management.terminal import table
from inventory.models import Fitting, Item, Machine
from inventory.queries.cutters import fitted_now
from inventory.units import parse_quantity, show_number


class Command(ShopCommand):
    help = "Cutters and other wearing items: what is fitted, used, measured, removed."

    def add_arguments(self, parser: ArgumentParser) -> None:
        verbs = parser.add_subparsers(dest="verb", required=True)
        listed = verbs.add_parser("list", help="everything fitted, with its life used")
        listed.add_argument("--json", action="store_true")
        fitted = verbs.add_parser("fit", help="take one from stock into a pocket")
        fitted.add_argument("item")
        fitted.add_argument("machine")
        fitted.add_argument("pocket")
        used = verbs.add_parser("log", help="add life used: minutes, pieces or metres")
        used.add_argument("label", help="of the fitted one, e.g. T-0012")
        used.add_argument("amount")
        measured = verbs.add_parser("read", help="note a wear land reading in µm")
        measured.add_argument("label")
        measured.add_argument("vb_um", type=int)
        for verb, text in (("remove", "take one out"), ("swap", "take one out, fit the next")):
            ended = verbs.add_parser(verb, help=text)
            ended.add_argument("label")
            ended.add_argument("reason", choices=Fitting.EndReason.values)
            ended.add_argument("--note", default="")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            self.stdout.write(getattr(self, f"_{options['verb']}")(options))
        except Refused as refusal:
            raise CommandError(str(refusal)) from refusal

    def _list(self, options: dict[str, Any]) -> str:
        rows = [
            [
                fitting.label,
                str(fitting.machine),
                fitting.pocket,
                fitting.item.code,
                show_number(fitting.life_used, 1),
                show_number(fitting.item.rated_life, 1),
                fitting.item.get_life_unit_display(),
            ]
            for fitting in fitted_now()
        ]
        head = ["label", "machine", "pocket", "item", "used", "usual life", "unit"]
        if options["json"]:
            return json.dumps([dict(zip(head, row, strict=True)) for row in rows], indent=2)
        return table(head, rows, [4, 5]) or "Nothing is fitted."

    def _fit(self, options: dict[str, Any]) -> str:
        new = fit(
            item=_found(Item, "code", options["item"]),
            machine=_found(Machine, "name", options["machine"]),
            pocket=options["pocket"],
            day=timezone.localdate(),
        )
        return f"{new.label} ({new.item.code}) fitted in {new.machine} {new.pocket}."

    def _log(self, options: dict[str, Any]) -> str:
        fitting = _found(Fitting, "label", options["label"])
        amount = parse_quantity(options["amount"], "each")
        log_wear(fitting=fitting, amount=amount, day=timezone.localdate())
        fitting.refresh_from_db()
        unit = fitting.item.get_life_unit_display()
        return f"{fitting.label}: {show_number(fitting.life_used, 1)} {unit} used so far."

    def _read(self, options: dict[str, Any]) -> str:
        fitting = _found(Fitting, "label", options["label"])
        read_wear(fitting=fitting, vb_um=options["vb_um"], day=timezone.localdate())
        limit = fitting.item.wear_limit_um
        over = " That is at or over its limit." if limit and options["vb_um"] >= limit else ""
        return f"{fitting.label}: wear land {options['vb_um']} µm noted.{over}"

    def _remove(self, options: dict[str, Any]) -> str:
        fitting = remove(**_ending(options))
        return f"{fitting.label} removed: {fitting.get_end_reason_display()}."

    def _swap(self, options: dict[str, Any]) -> str:
        new = swap(**_ending(options))
        return f"{options['label']} removed, {new.label} fitted in {new.machine} {new.pocket}."


def _ending(options: dict[str, Any]) -> dict[str, Any]:
    return {
        "fitting": _found(Fitting, "label", options["label"]),
        "reason": options["reason"],
        "day": timezone.localdate(),
        "note": options["note"],
    }


def _found(model: type, field: str, value: str) -> Any:
    record = model.objects.filter(**{f"{field}__iexact": value}).first()
    if record is None:
        known = ", ".join(model.objects.values_list(field, flat=True)[:12])
        raise NotFound(f"No {model._meta.verbose_name} is called {value}. There are: {known}.")
    return record
