"""A whole workshop read from plain files: see the files in fixtures/ for their columns."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

from django.db import transaction

from inventory.errors import Refused
from inventory.exchange.workshop.batches import BatchFiles
from inventory.exchange.workshop.bills import load_bills
from inventory.exchange.workshop.catalogue import load_items, load_offers, load_shop
from inventory.exchange.workshop.cutters import CutterFiles
from inventory.exchange.workshop.days import Deed
from inventory.exchange.workshop.forecasts import ForecastFile
from inventory.exchange.workshop.history import load_past_builds
from inventory.exchange.workshop.orders import OrderFile
from inventory.exchange.workshop.stock import StockFiles
from inventory.models import Item, Shop

__all__ = ["DEMO_PASSWORD", "load_workshop"]

DEMO_PASSWORD = "bevelbook-demo"
STEPS = 20


def load_workshop(
    folder: Path, *, today: date, progress: Callable[[str], None] | None = None
) -> None:
    """Fill an empty shop from the files of a folder, through the actions a maker uses.

    Days in the files count from today. All of it or nothing is loaded; the same files on the same
    day give the same shop. progress: called with a few words now and then.
    Raises: Refused, naming file and line, and when the shop isn't empty.
    """
    if Shop.objects.exists():
        raise Refused("There is a shop in this database already. Load into an empty one.")
    tell = progress or (lambda words: None)
    with transaction.atomic():
        load_shop(folder, DEMO_PASSWORD)
        items = load_items(folder)
        load_offers(folder, items, today)
        tell(f"{len(items)} items with their offers")
        deeds = _deeds(folder, items, today)
        load_past_builds(folder, today)
        _do_in_order(deeds, tell)


def _deeds(folder: Path, items: dict[str, Item], today: date) -> list[Deed]:
    deeds = load_bills(folder, items, today)
    for files in (StockFiles, OrderFile, CutterFiles, BatchFiles, ForecastFile):
        deeds += files(folder, items, today).deeds()
    return sorted(deeds, key=lambda deed: deed.turn)


def _do_in_order(deeds: list[Deed], tell: Callable[[str], None]) -> None:
    for done, deed in enumerate(deeds, start=1):
        deed.do()
        if done % max(1, len(deeds) // STEPS) == 0:
            tell(f"{100 * done // len(deeds)} % of the history, {deed.day}")
