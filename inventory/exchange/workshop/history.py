"""What the workshop built before its records begin."""

from datetime import date
from pathlib import Path

from inventory import actions
from inventory.actions import PastRow
from inventory.exchange.workshop.files import Row, blaming, find, read_rows
from inventory.models import Product

__all__ = ["load_past_builds"]


def load_past_builds(folder: Path, today: date) -> None:
    """Keep the builds of past_builds.csv as history; they move no stock."""
    products = {product.code: product for product in Product.objects.all()}
    rows = read_rows(folder / "past_builds.csv")
    actions.record_past_builds(rows=[_past_row(row, products, today) for row in rows])


def _past_row(row: Row, products: dict[str, Product], today: date) -> PastRow:
    with blaming(row):
        return PastRow(
            product=find(products, row["product"], "product"),
            day=row.day("day", today),
            started=row.whole("started"),
            good=row.whole("good"),
            note=row["note"],
        )
