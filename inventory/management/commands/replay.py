"""manage.py replay"""

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from inventory.actions.replay_past import play_queued, replay_past
from inventory.errors import Refused
from inventory.management.replay_report import shop_replay_report, table_replay_report
from inventory.management.shop_command import ShopCommand
from inventory.models import ReplayRun
from inventory.queries.demand_file import replay_file


class Command(ShopCommand):
    help = (
        "Play the past again under these reorder points and under rivals: what share would have been "
        "served, with how much on the shelf. Without --demand the shop's own past, which is stored."
    )
    requires_migrations_checks = False  # a table of one's own needs no shop
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--demand",
            type=Path,
            metavar="FILE.csv",
            help="a table with the columns series_id, period (or month), qty and, if wanted, unit_cost",
        )
        parser.add_argument("--lead-time", type=int, help="periods from an order to its delivery")
        parser.add_argument("--review", type=int, default=1, help="periods between two looks")
        parser.add_argument("--known", type=int, help="periods to learn from first; two thirds")
        parser.add_argument("--json", action="store_true", help="one JSON object, nothing else")
        parser.add_argument("--run", type=int, help="play the replay that a page has queued")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            if options["demand"] is not None:
                self._play_table(options)
            else:
                self._play_shop(options)
        except Refused as refusal:
            raise CommandError(str(refusal)) from refusal

    def _play_table(self, options: dict[str, Any]) -> None:
        if options["lead_time"] is None:
            raise CommandError("Say the lead time in periods of the table, e.g. --lead-time 2.")
        terms = {name: options[name] for name in ("lead_time", "review", "known")}
        data = replay_file(options["demand"], **terms)
        if options["json"]:
            self.stdout.write(json.dumps(data, indent=2))
        else:
            self.stdout.write(table_replay_report(data, options["demand"].name))

    def _play_shop(self, options: dict[str, Any]) -> None:
        if options["lead_time"] is not None or options["known"] is not None:
            raise CommandError("--lead-time and --known go with --demand; the shop has its own.")
        self.check_migrations()
        run = self._stored(options["run"])
        if options["json"]:
            data = {"as_of": str(run.as_of), "seconds": round(run.seconds, 2), **run.result}
            self.stdout.write(json.dumps(data, indent=2))
        else:
            self.stdout.write(shop_replay_report(run))

    def _stored(self, queued: int | None) -> ReplayRun:
        if queued is None:
            return replay_past(as_of=timezone.localdate())
        run = ReplayRun.objects.filter(pk=queued).first()
        if run is None:
            raise CommandError(f"There is no replay {queued}. Leave --run out to start a new one.")
        return play_queued(run=run)
