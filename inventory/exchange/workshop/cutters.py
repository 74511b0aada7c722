"""Cutters, belts, wheels and blades: fitted, changed, measured, reground."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path

from inventory import actions
from inventory.errors import NotFound
from inventory.exchange.workshop.days import DatedFiles, Deed
from inventory.exchange.workshop.files import Row, find
from inventory.models import Fitting, Item, Machine, Regrind, Supplier
from inventory.queries.regrinds import back_from_regrind
from inventory.units import parse_length

__all__ = ["CutterFiles"]

FIRST = "fitted"
REGROUND = "reground"


class CutterFiles(DatedFiles):
    """A change takes out what its pocket holds, for the reason given, and fits the next one."""

    def __init__(self, folder: Path, items: Mapping[str, Item], today: date) -> None:
        super().__init__(folder, items, today)
        self.machines = {machine.name: machine for machine in Machine.objects.all()}
        self.vendors = {supplier.code: supplier for supplier in Supplier.objects.all()}
        self.fitted: dict[tuple[str, str], int] = {}

    def deeds(self) -> list[Deed]:
        return [
            *self.each_row("cutter_changes.csv", "cutter", self._change),
            *self.each_row("readings.csv", "reading", self._read),
            *self.each_row("regrinds.csv", "regrind", self._send, "sent"),
            *self.each_row("regrinds.csv", "regrind", self._bring_back, "back"),
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
                regrind=self._reground(row),
            )
        self.fitted[row["machine"], row["pocket"]] = fitting.pk

    def _in_pocket(self, row: Row) -> Fitting:
        pocket = row["machine"], row["pocket"]
        if pocket not in self.fitted:
            raise NotFound(f"Nothing is fitted in {' '.join(pocket)}.")
        return Fitting.objects.get(pk=self.fitted[pocket])

    def _reground(self, row: Row) -> Regrind | None:
        """The one that came back first, where the row says that a reground one goes in."""
        if row["next"] != REGROUND:
            return None
        ready = back_from_regrind().filter(fitting__item=self.item(row)).first()
        if ready is None:
            raise NotFound(f"No {row['item']} is back from regrinding.")
        return ready

    def _send(self, row: Row, day: date) -> None:
        actions.send_to_regrind(
            fitting=self._taken_out(row),
            day=day,
            vendor=find(self.vendors, row["vendor"], "supplier"),
            note=row["note"],
        )

    def _bring_back(self, row: Row, day: date) -> None:
        actions.bring_back_reground(
            regrind=Regrind.objects.get(fitting=self._taken_out(row)),
            day=day,
            diameter_um=parse_length(row["diameter"]) if row["diameter"] else None,
            is_usable=row.yes("usable"),
        )

    def _taken_out(self, row: Row) -> Fitting:
        """The one taken out of a pocket on a day that had cut something."""
        removed = row.day("taken_out", self.today)
        found = Fitting.objects.filter(
            machine=find(self.machines, row["machine"], "machine"),
            pocket=row["pocket"],
            removed_on=removed,
            life_used__gt=0,
        ).first()
        if found is None:
            raise NotFound(f"Nothing used was taken out of {row['machine']} {row['pocket']} then.")
        return found

    def _read(self, row: Row, day: date) -> None:
        actions.read_wear(fitting=self._in_pocket(row), vb_um=row.whole("vb_um"), day=day)
