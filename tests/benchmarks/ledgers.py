"""Ledgers of any length for benchmarks: the same shelf, with a short or a long history behind it.

Written past the actions, a million movements through them would take an hour; still every balance
is the sum of its movements.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.db import connection, connections

from inventory.models import Balance, Batch, Item, Lot, Offer, Place, PriceBreak, Shop, Supplier

ITEMS = 2_000
DAYS = 5 * 365
LEFT = 12
"""Of each item's newest lot; what older lots had was taken by their last movement."""

KINDS = list(Item.Kind.values)[3:7]  # counted or weighed, not kept in pieces
PLACES, BATCHES = 5, 40


@contextmanager
def ledger(file: Path, lots: int, movements: int, blocker: Any) -> Iterator[None]:
    """A SQLite file as the site's database, filled: so many lots an item, and movements a lot."""
    default = connections["default"]
    before = default.settings_dict["NAME"]
    default.close()
    default.settings_dict["NAME"] = file
    with blocker.unblock():
        try:
            if not file.exists():
                call_command("migrate", verbosity=0, interactive=False)
                _write(lots, movements, date.today())
            yield
        finally:
            default.close()
            default.settings_dict["NAME"] = before


def _write(lots: int, movements: int, today: date) -> None:
    begin = today - timedelta(days=DAYS)
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA synchronous=OFF")
        cursor.execute("PRAGMA foreign_keys=OFF")
        _write_shelf(lots, begin)
        numbers = {
            "items": ITEMS,
            "movements": movements,
            "all": ITEMS * lots * movements,
            "left": LEFT * 10**6,
            "begin": begin.isoformat(),
            "days": DAYS,
            "batches": BATCHES,
            "newest": lots - 1,
        }
        cursor.execute(POSTINGS, numbers)
        cursor.execute(MOVEMENTS, numbers)


def _write_shelf(lots: int, begin: date) -> None:
    Shop.objects.create(pk=1, name="Thornwick Knives")
    supplier = Supplier.objects.create(code="BRACKEN", name="Bracken Supply")
    Place.objects.bulk_create(Place(pk=n + 1, name=f"Shelf {n + 1}") for n in range(PLACES))
    Batch.objects.bulk_create(
        Batch(pk=n + 1, number=f"B-{n + 1:04}", start_on=begin) for n in range(BATCHES)
    )
    Item.objects.bulk_create(_item(n) for n in range(ITEMS))
    Offer.objects.bulk_create(
        Offer(
            pk=n + 1, item_id=n + 1, supplier=supplier, pack_qty=1, lead_days=14, valid_from=begin
        )
        for n in range(ITEMS)
    )
    PriceBreak.objects.bulk_create(PriceBreak(offer_id=n + 1, price=2) for n in range(ITEMS))
    Lot.objects.bulk_create(
        Lot(
            pk=n + 1,
            item_id=n % ITEMS + 1,
            number=f"L-{n + 1:05}",
            supplier=supplier,
            received_on=begin + timedelta(days=DAYS * n // (ITEMS * lots)),
            unit_cost=Decimal("2.5"),
        )
        for n in range(ITEMS * lots)
    )
    Balance.objects.bulk_create(
        Balance(item_id=n + 1, lot_id=ITEMS * (lots - 1) + n + 1, place_id=n % PLACES + 1, qty=LEFT)
        for n in range(ITEMS)
    )


def _item(n: int) -> Item:
    return Item(
        pk=n + 1,
        code=f"ITEM-{n + 1:04}",
        name=f"thing number {n + 1}",
        kind=KINDS[n % len(KINDS)],
        place_id=n % PLACES + 1,
    )


# Movement n goes to item n % items; one lot of every item after the other: first what came in, then
# what was taken one by one, and with the last movement of an older lot all that is left of it.
EACH_MOVEMENT = """
    WITH RECURSIVE counted(n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM counted WHERE n + 1 < %(all)s),
    placed AS (
        SELECT n, n %% %(items)s AS item, n / (%(items)s * %(movements)s) AS lot,
            n / %(items)s %% %(movements)s AS step,
            date(%(begin)s, '+' || (n * %(days)s / %(all)s) || ' days') AS day
        FROM counted
    ),
    said AS (
        SELECT *, CASE
            WHEN step = 0 THEN 'receive'
            WHEN step %% 10 = 9 THEN 'count'
            WHEN step %% 50 = 8 THEN 'scrap'
            ELSE 'issue' END AS kind
        FROM placed
    )
"""
POSTINGS = (
    "INSERT INTO inventory_posting (id, kind, day, at, reason, note, batch_id)"
    + EACH_MOVEMENT
    + """
    SELECT n + 1, kind, day, day || ' 12:00:00', '', '',
        CASE kind WHEN 'issue' THEN n / 50 %% %(batches)s + 1 END
    FROM said
"""
)
MOVEMENTS = (
    "INSERT INTO inventory_movement"
    " (id, posting_id, item_id, lot_id, place_id, qty, unit_cost, kind, day)"
    + EACH_MOVEMENT
    + f"""
    SELECT n + 1, n + 1, item + 1, lot * %(items)s + item + 1, item %% {PLACES} + 1,
        CASE
            WHEN step = 0 THEN %(left)s + (%(movements)s - 1) * 1000000
            WHEN step = %(movements)s - 1 AND lot < %(newest)s THEN -1000000 - %(left)s
            ELSE -1000000 END,
        25000000000, kind, day
    FROM said
"""
)
