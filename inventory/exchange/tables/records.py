"""Lists of records that are known by their code: made when new, changed where a row differs."""

import copy
from collections.abc import Iterator, Sequence
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models

from inventory.actions.many_records import RecordEntry
from inventory.errors import Refused
from inventory.exchange.tables.codes import ByCode
from inventory.exchange.tables.table import Change, Found, Row, Table, Tell, refuse_twice
from inventory.queries.record_check import CODE, RecordCheck, record_check

__all__ = ["RecordTable"]

STEP = 250
"""Rows between two words about the progress."""


class RecordTable(Table):
    """Set model; the columns' attributes are the record's fields.

    An empty cell leaves what is there.
    """

    model: type[models.Model]

    def compare(self, rows: Sequence[Row], found: Found, tell: Tell) -> None:
        self.prepare(rows, found)
        known = ByCode(self.stored())
        check = record_check(self.model)
        seen: dict[str, int] = {}
        for done, row in enumerate(rows):
            if done % STEP == 0:
                tell(done, len(rows))
            if refuse_twice(found, seen, row["code"].casefold(), row, "code"):
                continue
            record = known.get(row["code"])
            change = self._change(self.spelled(row, record), record, found)
            if change is not None and self._is_valid(change, check, found):
                found.changes.append(change)

    def records(self) -> Iterator[dict[str, Any]]:
        for record in self.stored():
            yield {column.name: self.value_of(record, column.name) for column in self.columns}

    def stored(self) -> models.QuerySet:
        return self.model.objects.order_by("code")

    def prepare(self, rows: Sequence[Row], found: Found) -> None:
        """Look up what the rows refer to; a subclass may add remarks."""

    def value_of(self, record: models.Model, column: str) -> Any:
        """What the cell of a record holds."""
        return getattr(record, self.column(column).attribute)

    def fields_of(self, row: Row) -> dict[str, Any]:
        """Values of the record's own fields, without references."""
        return {self.column(name).attribute: value for name, value in row.values.items()}

    def entries(self, changes: Sequence[Change]) -> list[RecordEntry]:
        """The changes as an action takes them."""
        return [
            RecordEntry(self.fields_of(row), record)
            for record, row in (change.wanted for change in changes)
        ]

    def spelled(self, row: Row, record: models.Model | None) -> Row:
        """The row with its code in the capitals in which the record has it."""
        return row if record is None else Row(row.number, {**row.values, "code": record.code})

    def refuse_impossible(self, row: Row, record: models.Model | None) -> None:
        """Raise Refused for what the record's rules don't know of."""

    def _change(self, row: Row, record: models.Model | None, found: Found) -> Change | None:
        if record is None:
            return self._new(row, found)
        differences = []
        for name in row.values:
            before, after = self.value_of(record, name), row[name]
            kind = self.column(name).kind
            if kind.write(before) != kind.write(after):
                differences.append((name, self.written(name, before), self.written(name, after)))
        state = "changed" if differences else "unchanged"
        return Change(row.number, row["code"], state, tuple(differences), (record, row))

    def _new(self, row: Row, found: Found) -> Change | None:
        for column in self.columns:
            if column.needed_when_new and column.name not in row.values:
                found.refuse(row.number, column.name, f"New here: it needs a {column.name}.")
                return None
        differences = tuple(
            (name, "", self.written(name, value))
            for name, value in row.values.items()
            if name != "code"
        )
        return Change(row.number, row["code"], "new", differences, (None, row))

    def _is_valid(self, change: Change, check: RecordCheck, found: Found) -> bool:
        if change.state == "unchanged":
            return True
        record, row = change.wanted
        try:
            if record is None:
                CODE(row["code"])
            self.refuse_impossible(row, record)
        except ValidationError as error:
            found.refuse(row.number, "code", error.message)
            return False
        except Refused as refusal:
            found.refuse(row.number, "", refusal)
            return False
        return not self._faults(row, record, check, found)

    def _faults(
        self, row: Row, record: models.Model | None, check: RecordCheck, found: Found
    ) -> bool:
        candidate = self.model() if record is None else copy.copy(record)
        fields = self.fields_of(row)
        for name, value in fields.items():
            setattr(candidate, name, value)
        names = {column.attribute: column.name for column in self.columns}
        faults = list(check.faults(candidate, fields.keys()))
        for field, fault in faults:
            found.refuse(row.number, names.get(field, ""), fault)
        return bool(faults)
