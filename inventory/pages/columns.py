"""Columns that every list shares: quantities, lengths, money, days and status words."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from inspect import signature
from typing import Any

import django_tables2 as tables
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django_tables2.utils import A

from inventory import units
from inventory.pages import display

LEAD = {"td": {"class": "lead"}}
"""On a phone this cell needs no label and has a line of its own, as the first cell has."""
NUMBER = {"td": {"class": "number"}, "th": {"class": "number"}, "tf": {"class": "number"}}


class QuantityColumn(tables.Column):
    """A Decimal in the record's stock unit, shown in the reader's units, exported as it is.

    Args:
        unit: accessor of the stock unit from the row, e.g. "item__stock_unit".
    """

    def __init__(self, *args: Any, unit: str = "stock_unit", **kwargs: Any) -> None:
        self.unit = A(unit)
        super().__init__(*args, **{"attrs": NUMBER, "default": "", **kwargs})

    def render(self, value: Decimal, record: Any, table: tables.Table) -> SafeString:
        return display.quantity(value, self.unit.resolve(record), table.request.user)

    def value(self, value: Decimal) -> Decimal:
        return value


class ChangeColumn(QuantityColumn):
    """A movement with its sign: +40, −12 mm."""

    def render(self, value: Decimal, record: Any, table: tables.Table) -> SafeString:
        return display.signed(value, self.unit.resolve(record), table.request.user)


class CountColumn(tables.Column):
    """A whole number, right-aligned."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"attrs": NUMBER, "default": "", **kwargs})


class SizeColumn(tables.Column):
    """Length of a bar, or length × width of a sheet; the record has length_um and width_um."""

    def render(self, record: Any, table: tables.Table) -> str:
        unit = table.request.user.length_unit
        return units.show_size(record.length_um, record.width_um, unit)

    def value(self, record: Any) -> str:
        return units.show_size(record.length_um, record.width_um)


class MoneyColumn(tables.Column):
    """An amount in the shop's currency, which the heading names."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"attrs": NUMBER, "default": "", **kwargs})

    def render(self, value: Decimal) -> str:
        return display.money(value, "")

    def value(self, value: Decimal) -> Decimal:
        return value


class DayColumn(tables.Column):
    """A day for the eye (3 Nov 2025), exported as 2025-11-03."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"default": "", **kwargs})

    def render(self, value: date) -> SafeString:
        return format_html('<time datetime="{}">{}</time>', value.isoformat(), display.day(value))

    def value(self, value: date) -> str:
        return value.isoformat()


class StatusColumn(tables.Column):
    """A status as word and mark.

    Args:
        mark_of: gives (word, mark) for a record, or for a record and its table; marks are good,
            work, watch, stop or "". An empty word shows nothing.
    """

    def __init__(self, *args: Any, mark_of: Callable[..., tuple[str, str]], **kwargs: Any) -> None:
        self.mark_of = mark_of
        self.asks_table = len(signature(mark_of).parameters) == 2
        super().__init__(*args, **{"empty_values": (), **kwargs})

    def render(self, record: Any, table: tables.Table) -> SafeString:
        word, mark = self._read(record, table)
        return display.status(word, mark) if word else SafeString("")

    def value(self, record: Any, table: tables.Table) -> str:
        return self._read(record, table)[0]

    def _read(self, record: Any, table: tables.Table) -> tuple[str, str]:
        return self.mark_of(record, table) if self.asks_table else self.mark_of(record)


class TextColumn(tables.Column):
    """Text that stays empty instead of showing a dash."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"default": "", **kwargs})
