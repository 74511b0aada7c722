"""Cutters, belts, wheels and blades: fitted, changed, measured."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path

from inventory import actions
from inventory.errors import NotFound
from inventory.exchange.workshop.days import DatedFiles, Deed
from inventory.exchange.workshop.files import Row, find
from inventory.models import Fitting, Item, Machine

__all__ = ["CutterFiles"]

FIRST = "fitted"


class CutterFiles(DatedFiles):
    """A change takes out what its pocket holds, for the reason given, and fits the next one."""

    def __init__(self, folder: Path, items: Mapping[str, Item], today: date) -> None:
        super().__init__(folder, items, today)
        self.machines = {machine.name: machine for machine in Machine.objects.all()}
        self.fitted: dict[tuple[str, str], int] = {}

    def deeds(self) -> list[Deed]:
        return [
            *self.each_row("cutter_changes.csv", "cutter", self._change),
            *self.each_row("readings.csv", "reading", self._read),
        ]

    def _change(self, row: Row, day: date) -> None:
        if row["reason"] == FIRST:
            fitting = actions.fit(
                item=self.item(row),
                machine=find(self.machines, row["machine"], "machine"),
                pocket=row["pocket"],
                day=day,
            )
        else:
            fitting = actions.swap(
                fitting=self._in_pocket(row),
                reason=row["reason"].replace(" ", "_"),
                day=day,
                note=row["note"],
            )
        self.fitted[row["machine"], row["pocket"]] = fitting.pk

    def _in_pocket(self, row: Row) -> Fitting:
        pocket = row["machine"], row["pocket"]
        if pocket not in self.fitted:
            raise NotFound(f"Nothing is fitted in {' '.join(pocket)}.")
        return Fitting.objects.get(pk=self.fitted[pocket])

    def _read(self, row: Row, day: date) -> None:
        actions.read_wear(fitting=self._in_pocket(row), vb_um=row.whole("vb_um"), day=day)
