"""manage.py wear list | fit | log | undo | read | remove | swap | regrind | reground | life"""

from argparse import ArgumentParser
from datetime import date
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from inventory.errors import NotSure, Refused
from inventory.management.shop_command import ShopCommand
from inventory.management.wear_verbs import VERBS
from inventory.models import Fitting

ONE_FITTED = "of the fitted one, e.g. T-0012"


class Command(ShopCommand):
    help = (
        "Cutters and other wearing items: fitted, used, measured, changed, reground, how they last."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        verbs = parser.add_subparsers(dest="verb", required=True)
        listed = verbs.add_parser("list", help="everything fitted, with its life used")
        listed.add_argument("--json", action="store_true")
        life = verbs.add_parser("life", help="how long one kind lasts, and when to change it")
        life.add_argument("item")
        for verb, text, add in (
            ("fit", "take one from stock into a pocket", _add_fit),
            ("log", "add life used: minutes, pieces or metres", _add_log),
            ("undo", "take its last entry of life used back", _add_label),
            ("read", "note a wear land reading in µm, or new, half or worn", _add_read),
            ("remove", "take one out", _add_end),
            ("swap", "take one out, fit the next", _add_swap),
            ("regrind", "send one that was taken out to be reground", _add_label),
            ("reground", "take it back", _add_reground),
        ):
            deed = verbs.add_parser(verb, help=text)
            add(deed)
            deed.add_argument(
                "--day", type=date.fromisoformat, help="2026-03-05; today if left out"
            )

    def handle(self, *args: Any, **options: Any) -> None:
        options["day"] = options.get("day") or timezone.localdate()
        try:
            self.stdout.write(VERBS[options["verb"]](options))
        except NotSure as question:
            raise CommandError(f"{question} If so, add --sure.") from question
        except Refused as refusal:
            raise CommandError(str(refusal)) from refusal


def _add_fit(parser: ArgumentParser) -> None:
    parser.add_argument("item")
    parser.add_argument("machine")
    parser.add_argument("pocket")
    _add_not_new(parser)
    parser.add_argument("--material", default="", help="what it cuts mostly")
    parser.add_argument("--data", default="", help="speed, feed and depth")


def _add_not_new(parser: ArgumentParser) -> None:
    again = parser.add_mutually_exclusive_group()
    again.add_argument("--set-aside", metavar="LABEL", help="one taken out while still good")
    again.add_argument("--reground", metavar="LABEL", help="one back from regrinding")
    parser.add_argument(
        "--sure", action="store_true", help="it is true, although a later count saw the stock"
    )


def _add_swap(parser: ArgumentParser) -> None:
    _add_end(parser)
    _add_not_new(parser)


def _add_label(parser: ArgumentParser) -> None:
    parser.add_argument("label", help=ONE_FITTED)


def _add_log(parser: ArgumentParser) -> None:
    _add_label(parser)
    parser.add_argument("amount")
    parser.add_argument("--batch", help="number of the batch it was used for")
    parser.add_argument("--operation", default="")


def _add_read(parser: ArgumentParser) -> None:
    _add_label(parser)
    parser.add_argument("wear", help="µm, or new, half or worn")


def _add_end(parser: ArgumentParser) -> None:
    _add_label(parser)
    parser.add_argument("reason", choices=Fitting.EndReason.values)
    parser.add_argument("--note", default="")


def _add_reground(parser: ArgumentParser) -> None:
    _add_label(parser)
    parser.add_argument("--diameter", help="as measured, e.g. 5.92 or 15/64 in")
    parser.add_argument("--unusable", action="store_true", help="it isn't fitted again")
