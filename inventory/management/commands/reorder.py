"""manage.py reorder"""

import json
from argparse import ArgumentParser
from typing import Any

from django.utils import timezone

from inventory.exchange.answers import reorder_data
from inventory.management.reports import reorder_report
from inventory.management.shop_command import ShopCommand
from inventory.models import Shop
from inventory.queries.reorder_list import reorder_list


class Command(ShopCommand):
    help = "What to order now, from whom and why, by the last forecast and stock as it is."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true", help="plain data instead of tables")

    def handle(self, *args: Any, **options: Any) -> None:
        found = reorder_list(timezone.localdate())
        if options["json"]:
            self.stdout.write(json.dumps(reorder_data(found), indent=2))
        else:
            shop = Shop.objects.first()
            self.stdout.write(reorder_report(found, shop.currency if shop else ""))
