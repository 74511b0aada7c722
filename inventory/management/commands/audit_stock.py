"""manage.py audit_stock"""

import sys
from typing import Any

from inventory.management.shop_command import ShopCommand
from inventory.models import Balance, Movement
from inventory.queries.audit import audit


class Command(ShopCommand):
    help = "Prove balances, reservations, receipts and wear from the ledger; exit 1 on a mismatch."

    def handle(self, *args: Any, **options: Any) -> None:
        mismatches = audit()
        for line in mismatches:
            self.stdout.write(line)
        if mismatches:
            sys.exit(1)
        self.stdout.write(
            f"{Balance.objects.count()} balances agree with {Movement.objects.count()} movements."
        )
