"""manage.py batch_check PRODUCT QTY [PRODUCT QTY ...]"""

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from inventory.errors import Refused
from inventory.exchange.answers import batch_check_data
from inventory.management.reports import batch_check_report
from inventory.management.shop_command import ShopCommand
from inventory.queries.batch_check import check_batch
from inventory.queries.batch_needs import Wanted, choose_options, find_product


class Command(ShopCommand):
    help = (
        "Can this batch be made: what it takes, what is short, how many now, when it could start."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "wanted", nargs="+", metavar="PRODUCT QTY", help="product code and good knives wanted"
        )
        parser.add_argument(
            "--choose",
            action="append",
            default=[],
            metavar="CHOICE",
            help="an option of the products, e.g. --choose orange",
        )
        parser.add_argument("--json", action="store_true", help="plain data instead of tables")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            wanted = _wanted(options["wanted"], options["choose"])
            check = check_batch(wanted, timezone.localdate())
        except Refused as refusal:
            raise CommandError(str(refusal)) from refusal
        if options["json"]:
            self.stdout.write(json.dumps(batch_check_data(check), indent=2))
        else:
            self.stdout.write(batch_check_report(check))


def _wanted(words: list[str], choices: list[str]) -> list[Wanted]:
    if len(words) % 2:
        raise CommandError("Give a quantity after each product, e.g. batch_check FIELD 12")
    lines = []
    for code, qty in zip(words[::2], words[1::2], strict=True):
        if not (qty.isdecimal() and len(qty) < 10):
            raise CommandError(f"“{qty}” is not a number of knives.")
        product = find_product(code)
        theirs = {option.choice.lower() for option in product.options.all()}
        own = [text for text in choices if len(words) == 2 or _choice(text) in theirs]
        lines.append(Wanted(product, int(qty), choose_options(product, own)))
    return lines


def _choice(text: str) -> str:
    return text.rpartition("=")[2].strip().lower()
