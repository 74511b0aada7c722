"""manage.py import"""

import argparse
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError

from inventory.errors import Refused
from inventory.exchange.tables import TABLES, table_named
from inventory.exchange.tables.check_file import check_file, save_found
from inventory.exchange.tables.notation import Notation
from inventory.exchange.whole_shop import read_whole_shop
from inventory.management.import_report import found_report
from inventory.management.shop_command import ShopCommand

NAMES = ", ".join(table.name for table in TABLES)
MARKS = {"point": ".", "comma": ","}
QUESTIONS = {
    "numbers": "Some numbers can be read two ways, like 1,234. Say --decimal point or comma.",
    "days": "Some days can be read two ways, like 05/03/2026. Say --first day or month.",
}


class Command(ShopCommand):
    help = f"Bring a list in from CSV or XLSX: {NAMES}; or --all, a whole shop into an empty one."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("table", nargs="?", help=NAMES)
        parser.add_argument("file", type=Path)
        parser.add_argument("--all", action="store_true", help="the ZIP that export --all wrote")
        parser.add_argument("--check", action="store_true", help="only say what would change")
        parser.add_argument("--decimal", choices=MARKS, help="the mark before decimals")
        parser.add_argument("--first", choices=["day", "month"], help="in days like 05/03/2026")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["all"] == bool(options["table"]):
            raise CommandError(f"Name one list ({NAMES}) and its file, or --all and a ZIP.")
        try:
            content = options["file"].read_bytes()
            if options["all"]:
                self._whole_shop(content, options["check"])
            else:
                self._table(content, options)
        except OSError as error:
            raise CommandError(f"{options['file']} can't be read: {error.strerror}.") from error
        except Refused as refusal:
            raise CommandError(str(refusal)) from refusal

    def _table(self, content: bytes, options: dict[str, Any]) -> None:
        table = table_named(options["table"])
        first = options["first"]
        notation = Notation(MARKS.get(options["decimal"]), first and first == "day")
        found = check_file(table, content, notation)
        self.stdout.write(found_report(table, found))
        if found.questions:
            raise CommandError(" ".join(QUESTIONS[each] for each in sorted(found.questions)))
        if found.refusals:
            raise CommandError("Nothing was written. Correct the rows above and import again.")
        if found.to_save and not options["check"]:
            self.stdout.write(f"Saved: {save_found(table, found)}.")

    def _whole_shop(self, content: bytes, only_check: bool) -> None:
        counts = read_whole_shop(content, only_check=only_check)
        self.stdout.write(f"{sum(counts.values())} records in {len(counts)} tables.")
        if not only_check:
            self.stdout.write(
                "Passwords aren't in the file. Give one to each person who signs in: "
                "python3 manage.py changepassword NAME"
            )
