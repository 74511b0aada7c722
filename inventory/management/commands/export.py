"""manage.py export"""

import argparse
import io
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError

from inventory.errors import Refused
from inventory.exchange.tables import TABLES, table_named
from inventory.exchange.tables.files_out import exported
from inventory.exchange.whole_shop import write_whole_shop
from inventory.management.shop_command import ShopCommand

NAMES = ", ".join(table.name for table in TABLES)


class Command(ShopCommand):
    help = f"Write a list as CSV or XLSX, by the file's ending: {NAMES}; or --all as one ZIP."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("table", nargs="?", help=NAMES)
        parser.add_argument("file", type=Path)
        parser.add_argument("--all", action="store_true", help="the whole shop, files included")

    def handle(self, *args: Any, **options: Any) -> None:
        path: Path = options["file"]
        if options["all"] == bool(options["table"]):
            raise CommandError(f"Name one list ({NAMES}) and its file, or --all and a ZIP.")
        try:
            path.write_bytes(self._whole_shop() if options["all"] else self._table(options))
        except OSError as error:
            raise CommandError(f"{path} can't be written: {error.strerror}.") from error
        except Refused as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(f"Written: {path}")

    def _whole_shop(self) -> bytes:
        file = io.BytesIO()
        write_whole_shop(file)
        return file.getvalue()

    def _table(self, options: dict[str, Any]) -> bytes:
        form = options["file"].suffix.removeprefix(".").lower()
        return exported(table_named(options["table"]), form)
