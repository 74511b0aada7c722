"""Batches: planned, reserved, started, counted, finished or cancelled."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path

from inventory import actions
from inventory.actions import StageTally
from inventory.errors import Refused
from inventory.exchange.workshop.days import QUICK_PLAN, DatedFiles, Deed, together
from inventory.exchange.workshop.files import Row, find, read_rows
from inventory.models import Batch, BatchLine, Item, Product, ProductOption
from inventory.queries.batch_needs import Wanted

__all__ = ["BatchFiles"]

Tallies = dict[tuple[int, int], StageTally]


class BatchFiles(DatedFiles):
    """Rows with one batch name are built together; the first of them carries its days."""

    def __init__(self, folder: Path, items: Mapping[str, Item], today: date) -> None:
        super().__init__(folder, items, today)
        self.products = {product.code: product for product in Product.objects.all()}
        self.choices = {
            (option.product_id, option.choice): option for option in ProductOption.objects.all()
        }
        self.batches: dict[str, Batch] = {}

    def deeds(self) -> list[Deed]:
        found: list[Deed] = []
        for rows in together(read_rows(self.folder / "batches.csv"), "batch"):
            found += self.deed(rows, "plan", "planned", self._plan)
            found += self.deed(rows, "reserve", "reserved", self._reserve)
            found += self.deed(rows, "start", "started", self._start)
            found += self.deed(rows, "finish", "finished", self._finish)
            found += self.deed(rows, "cancel", "cancelled", self._cancel)
        found += self.each_row("stages.csv", "stages", self._count_stages)
        return found

    def _plan(self, rows: list[Row], day: date) -> None:
        first = rows[0]
        self.batches[first["batch"]] = actions.plan_batch(
            lines=[self._wanted(row) for row in rows],
            start_on=first.day("start_on", self.today),
            note=first["note"],
        )

    def _wanted(self, row: Row) -> Wanted:
        product = find(self.products, row["product"], "product")
        choices = [choice.strip() for choice in row["choice"].split("+") if choice.strip()]
        return Wanted(
            product=product,
            qty=row.whole("wanted"),
            options=tuple(
                find(self.choices, (product.pk, choice), f"choice of {product.code}")
                for choice in choices
            ),
            start=row.whole("start"),
        )

    def _batch(self, row: Row) -> Batch:
        if row["batch"] not in self.batches:
            raise Refused(f"Batch “{row['batch']}” isn't planned yet on that day.")
        return self.batches[row["batch"]]

    def _reserve(self, rows: list[Row], day: date) -> None:
        actions.reserve_batch(batch=self._batch(rows[0]), day=day, aim=QUICK_PLAN)

    def _start(self, rows: list[Row], day: date) -> None:
        actions.start_batch(batch=self._batch(rows[0]), day=day)

    def _finish(self, rows: list[Row], day: date) -> None:
        batch = self._batch(rows[0])
        counts: Tallies = {}
        for row, line in zip(rows, batch.lines.order_by("pk"), strict=True):
            counts |= _tallies(row["scrap"], line)
        actions.finish_batch(batch=batch, day=day, counts=counts)

    def _cancel(self, rows: list[Row], day: date) -> None:
        actions.cancel_batch(batch=self._batch(rows[0]), day=day, note=rows[0]["note"])

    def _count_stages(self, row: Row, day: date) -> None:
        """Count the stages of one line of a batch, as far as an operation."""
        lines = self._batch(row).lines.order_by("pk")
        line = lines[(row.whole("line") or 1) - 1]
        tallies = _tallies(row["scrap"], line)
        counted = set(line.stages.values_list("operation", flat=True))
        for operation in line.bill.operations.filter(number__lte=row.whole("through")):
            if operation.pk not in counted:
                tally = tallies.get((line.pk, operation.pk), StageTally(0))
                actions.count_stage(
                    line=line,
                    operation=operation,
                    scrapped=tally.scrapped,
                    cause=tally.cause,
                    day=day,
                )


def _tallies(text: str, line: BatchLine) -> Tallies:
    """Read "20: 1 clamp slipped; 60: 2 over-ground": scrapped at an operation, and why."""
    operations = {str(operation.number): operation for operation in line.bill.operations.all()}
    tallies = {}
    for part in filter(None, (part.strip() for part in text.split(";"))):
        number, _, rest = part.partition(":")
        scrapped, _, cause = rest.strip().partition(" ")
        operation = find(operations, number.strip(), f"operation of {line.bill}")
        if not scrapped.isdecimal():
            raise Refused(f"scrap is “{part}”; write 20: 1 clamp slipped.")
        tallies[line.pk, operation.pk] = StageTally(scrapped=int(scrapped), cause=cause)
    return tallies
