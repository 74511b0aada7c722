"""manage.py demo"""

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from inventory.actions.update_forecast import update_forecast
from inventory.errors import Refused
from inventory.exchange.workshop import load_workshop
from inventory.management.reports import batch_check_report, cutter_report, reorder_report
from inventory.management.serving import add_address, serve
from inventory.models import Batch, Shop
from inventory.queries.batch_check import check_planned_batch
from inventory.queries.cutter_outlook import outlook
from inventory.queries.forecast_inputs import latest_run
from inventory.queries.reorder_list import reorder_list

FIXTURES = settings.BASE_DIR / "fixtures"


class Command(BaseCommand):
    help = "An invented workshop: loads it, prints the three answers, serves the pages."

    def add_arguments(self, parser: ArgumentParser) -> None:
        add_address(parser)
        parser.add_argument("--no-serve", action="store_true", help="end after printing")

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("Run it as `python3 manage.py demo`: it needs its own database.")
        call_command("migrate", verbosity=0, interactive=False)
        self._load()
        self._answers()
        if not options["no_serve"]:
            self.stdout.write("\nSign in as demo with the password bevelbook-demo.")
            serve(options["host"], options["port"], self.stdout.write)

    def _load(self) -> None:
        today = timezone.localdate()
        if not Shop.objects.exists():
            self.stdout.write("Loading an invented workshop and the last year of its records ...")
            try:
                load_workshop(FIXTURES, today=today)
            except Refused as refusal:
                raise CommandError(str(refusal)) from refusal
        run = latest_run()
        if run is None or run.as_of < today:
            update_forecast(as_of=today)

    def _answers(self) -> None:
        today = timezone.localdate()
        shop = Shop.objects.get()
        waiting = Batch.objects.filter(state=Batch.State.PLANNED).order_by("start_on", "pk")
        for batch in waiting[:2]:
            check = check_planned_batch(batch, today)
            self.stdout.write(batch_check_report(check))
        self.stdout.write(reorder_report(reorder_list(today), shop.currency))
        ahead = [each.next_batch for each in outlook(today) if each.next_batch]
        title = "Cutter outlook: what is fitted against the next batch that uses it"
        self.stdout.write(cutter_report(ahead, title))
