"""Builds from before the records began."""

from collections.abc import Iterator, Sequence
from typing import Any

from inventory.actions.past_builds import PastRow, record_past_builds, refuse_impossible_build
from inventory.exchange.tables.cells import Day, Text, Whole
from inventory.exchange.tables.codes import ByCode
from inventory.exchange.tables.table import (
    Change,
    Column,
    Found,
    Row,
    Table,
    Tell,
    refuse_twice,
    refusing,
)
from inventory.models import PastBuild, Product, User

__all__ = ["PastBuildTable"]

CHUNK = 1000


class PastBuildTable(Table):
    name = "builds"
    title = "Builds of the past"
    about = (
        "What was built before the records began, from a notebook or a spreadsheet. The forecast "
        "learns from it; stock doesn't move. A day that is recorded stays as it is."
    )
    columns = (
        Column("product", Text(30), "code of the product", "HEATH", needed=True),
        Column("day", Day(), "the day they were started", "2024-03-05", needed=True),
        Column("started", Whole(), "how many", "12", needed=True),
        Column("good", Whole(), "how many became good knives; empty: all of them", "11"),
        Column("note", Text(200), "anything else", "one warped in the furnace"),
    )

    def records(self) -> Iterator[dict[str, Any]]:
        for build in PastBuild.objects.select_related("product"):
            yield {
                "product": build.product.code,
                "day": build.day,
                "started": build.started,
                "good": build.good,
                "note": build.note,
            }

    def compare(self, rows: Sequence[Row], found: Found, tell: Tell) -> None:
        products = ByCode(Product.objects.all())
        known = {(build.product_id, build.day): build for build in PastBuild.objects.all()}
        seen: dict[Any, int] = {}
        for row in rows:
            product = products.get(row["product"])
            if product is None:
                found.refuse(row.number, "product", f"There is no product {row['product']}.")
                continue
            key = product.pk, row["day"]
            if not refuse_twice(found, seen, key, row, "day"):
                self._compare(row, product, known.get(key), found)

    def enter(self, changes: Sequence[Change], by: User | None, tell: Tell) -> None:
        for start in range(0, len(changes), CHUNK):
            tell(start, len(changes))
            record_past_builds(rows=[each.wanted for each in changes[start : start + CHUNK]], by=by)

    def _compare(self, row: Row, product: Product, known: PastBuild | None, found: Found) -> None:
        good = row.get("good", row["started"])
        wanted = PastRow(product, row["day"], row["started"], good, row.get("note", ""))
        what = f"{product.code}, {self.written('day', row['day'])}"
        if known is None:
            with refusing(found, row):
                refuse_impossible_build(wanted)
                shown = f"{wanted.good} good of {wanted.started}"
                found.changes.append(Change(row.number, what, "new", (("", "", shown),), wanted))
        elif (known.started, known.good) == (wanted.started, good):
            found.changes.append(Change(row.number, what, "unchanged"))
        else:
            found.refuse(
                row.number,
                "day",
                f"{what} is recorded already, {known.good} good of {known.started}. Leave it out.",
            )
