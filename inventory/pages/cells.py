"""Cells of a list, for the page and for CSV, at the pace of a long list.

The table library asks for the signature of a column's method anew for every cell, which is half of
the time a list takes. Here each column is asked once.
"""

from collections.abc import Callable, Iterable, Iterator
from inspect import Parameter, signature
from typing import Any

import django_tables2 as tables
from django.db.models import Model, QuerySet
from django_tables2.columns.base import BoundColumn
from django_tables2.rows import BoundRow
from django_tables2.utils import A

HANDFUL = 2000


def shown_cells(table: tables.Table, rows: Iterable[BoundRow]) -> Iterator[list[Any]]:
    """The visible cells of each row, as HTML or text to be escaped."""
    columns = [_Cells(column, column.render, column.default) for column in table.columns]
    for row in rows:
        yield [column.linked(row) for column in columns]


def plain_rows(table: tables.Table) -> Iterator[list[Any]]:
    """Headings, then the values of every row; columns that are only hidden on the page, too."""
    columns = [
        _Cells(column, _plain_method(column), None)
        for column in table.columns.iterall()
        if not column.column.exclude_from_export
    ]
    yield [column.bound.header for column in columns]
    for record in _records(table):
        row = BoundRow(record, table)
        yield [column.content(row) for column in columns]


def _records(table: tables.Table) -> Iterable[Any]:
    """In order; rows of the database come in handfuls, so that a long list never is in memory."""
    records = table.data.data
    return records.iterator(HANDFUL) if isinstance(records, QuerySet) else records


class _Cells:
    """The cells of one column: where the value is, what makes a cell of it, and what it asks for."""

    def __init__(self, bound: BoundColumn, method: Callable, empty: Any) -> None:
        self.bound, self.method, self.empty = bound, method, empty
        self.accessor = A(bound.accessor)
        self.empty_values = bound.column.empty_values
        self.asked = _asked_by(method)
        self.words: dict[type, dict[Any, str]] = {}

    def content(self, row: BoundRow) -> Any:
        value = self._value(row.record)
        return self.empty if value in self.empty_values else self._made_of(value, row)

    def linked(self, row: BoundRow) -> Any:
        value = self._value(row.record)
        if value in self.empty_values:
            return self.empty
        content, link = self._made_of(value, row), self.bound.link
        return link(content, **self._known(value, row)) if link else content

    def _made_of(self, value: Any, row: BoundRow) -> Any:
        known = self._known(value, row)
        if self.asked is None:
            return self.method(**known)
        return self.method(**{name: known[name] for name in self.asked})

    def _known(self, value: Any, row: BoundRow) -> dict[str, Any]:
        return {
            "value": value,
            "record": row.record,
            "column": self.bound.column,
            "bound_column": self.bound,
            "bound_row": row,
            "table": row.table,
        }

    def _value(self, record: Any) -> Any:
        """What the accessor finds; of a field with choices the word people read."""
        if isinstance(record, Model):
            value = _attribute(record, self.accessor.bits)
        else:
            value = self.accessor.resolve(record, quiet=True)
        words = self._words(record)
        return words.get(value, value) if words else value

    def _words(self, record: Any) -> dict[Any, str]:
        kind = type(record)
        if kind not in self.words:
            field = self.accessor.get_field(record) if isinstance(record, Model) else None
            own = field is not None and field.name == self.accessor.bits[-1]
            self.words[kind] = dict(getattr(field, "flatchoices", None) or ()) if own else {}
        return self.words[kind]


def _attribute(record: Model, names: Iterable[str]) -> Any:
    """What an accessor finds in a record; the library's own tries it as a dictionary first."""
    found: Any = record
    for name in names:
        found = getattr(found, name, None)
        if callable(found):
            found = found()
        if found is None:
            break
    return found


def _plain_method(column: BoundColumn) -> Callable:
    """What a column exports: by its own `value`, else what it shows."""
    of_library = getattr(column.value, "__func__", None) is tables.Column.value
    return column.render if of_library else column.value


def _asked_by(method: Callable) -> tuple[str, ...] | None:
    """Names a method asks for; None when it takes everything."""
    asked = signature(method).parameters.values()
    if any(each.kind is Parameter.VAR_KEYWORD for each in asked):
        return None
    return tuple(each.name for each in asked)
