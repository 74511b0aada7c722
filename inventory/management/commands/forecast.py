"""manage.py forecast"""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from inventory.actions.update_forecast import update_forecast
from inventory.errors import Refused
from inventory.management.shop_command import ShopCommand


class Command(ShopCommand):
    help = "Forecast builds and use from the records; the reorder list rests on the newest run."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--seed", type=int, default=1, help="of the simulated futures")

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            run = update_forecast(as_of=timezone.localdate(), seed=options["seed"])
        except Refused as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(
            f"Forecast of {run.as_of}: {run.products.count()} products, {run.items.count()} items, "
            f"{run.seconds:.1f} s."
        )
