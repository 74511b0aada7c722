"""manage.py backup"""

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from inventory.errors import Refused
from inventory.exchange.backup import make_backup
from inventory.management.backup_report import contents_report, mismatch_report


class Command(BaseCommand):
    help = "Copy the whole shop into one checked file, also while people work; thin out old ones."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--to", type=Path, metavar="FOLDER", help="of another disk or a stick")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            made = make_backup(options["to"])
        except Refused as refusal:
            raise CommandError(str(refusal)) from refusal
        manifest = made.manifest
        self.stdout.write(f"Backup made: {made.backup.path}")
        self.stdout.write(contents_report(manifest))
        self.stdout.write(mismatch_report(manifest.mismatches))
        if options["to"] is None:
            self.stdout.write("It lies on the same disk as the shop: copy it to another one.")
        if manifest.mismatches:
            sys.exit(1)
