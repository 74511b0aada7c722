"""manage.py restore"""

import sys
from argparse import ArgumentParser
from datetime import datetime
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from django.utils.formats import date_format

from inventory.errors import Refused
from inventory.exchange.backup import Restored, restore_backup
from inventory.management.backup_report import contents_report, mismatch_report


class Command(BaseCommand):
    help = "Put a backup back onto an empty place, or with --replace over the shop that is there."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--replace", action="store_true", help="over a shop, after backing that up"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            restored = restore_backup(options["file"], replace=options["replace"])
        except Refused as refusal:
            raise CommandError(str(refusal)) from refusal
        self._tell(restored)
        if restored.contents.mismatches:
            sys.exit(1)

    def _tell(self, restored: Restored) -> None:
        manifest = restored.manifest
        made = timezone.localtime(datetime.fromisoformat(manifest.made))
        name = manifest.shop or "The shop"
        self.stdout.write(f"{name} is back as of {date_format(made, 'j M Y H:i')}.")
        self.stdout.write(contents_report(manifest))
        self.stdout.write(mismatch_report(restored.contents.mismatches))
        if restored.replaced:
            self.stdout.write(f"What was here before: {restored.replaced.path}")
        self.stdout.write("Start the server anew if it was running.")
