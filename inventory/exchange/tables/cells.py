"""Kinds of cells: how each is read from a file, and how it is written into one.

A cell comes as text, or, from a workbook, as a Decimal or a date. Reading gives the value the
records keep; writing gives a Decimal, whole number, date or text that reads back as the same value.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, DecimalException
from typing import Any, Protocol

from django.db import models

from inventory.errors import Refused
from inventory.exchange.tables.notation import Notation, plain_numbers, read_day
from inventory.units import parse_length

__all__ = ["Cell", "Choice", "Day", "Kind", "Length", "Number", "Quantity", "Text", "YesNo"]

Cell = str | Decimal | date
YES = {"yes", "y", "true", "1", "x", "ja", "oui", "si", "sí"}
NO = {"no", "n", "false", "0", "nein", "non"}
LARGEST = Decimal(10) ** 12


class Kind(Protocol):
    is_numeric: bool

    def read(self, cell: Cell, notation: Notation) -> Any: ...

    def write(self, value: Any) -> Any: ...


@dataclass(frozen=True)
class Text:
    """One line or more; line ends are kept as one sign."""

    longest: int | None = None
    is_numeric = False

    def read(self, cell: Cell, notation: Notation) -> str:
        text = tidy(as_text(cell))
        if self.longest and len(text) > self.longest:
            raise Refused(f"has {len(text)} letters; at most {self.longest} are kept.")
        return text

    def write(self, value: str | None) -> str:
        return tidy(value or "")


@dataclass(frozen=True)
class Number:
    """A number kept to so many places; 98 % is 0.98."""

    places: int = 6
    is_numeric = True

    def read(self, cell: Cell, notation: Notation) -> Decimal:
        text = plain_numbers(as_text(cell), notation) if isinstance(cell, str) else as_text(cell)
        number = text.removesuffix("%").strip()
        try:
            value = Decimal(number) / (100 if text.endswith("%") else 1)
        except DecimalException as error:
            raise Refused(f"“{text}” is no number. Write 12.5 or 12,5.") from error
        if not value.is_finite() or abs(value) > LARGEST:
            raise Refused(f"“{text}” is beyond what can be kept. Check the number.")
        return self._kept(value)

    def write(self, value: Decimal | int | None) -> Decimal | str:
        return "" if value is None else Decimal(value)

    def _kept(self, value: Decimal) -> Decimal:
        return round(value, self.places) + 0


@dataclass(frozen=True)
class Whole(Number):
    """A count."""

    places: int = 0

    def _kept(self, value: Decimal) -> int:
        if value != value.to_integral_value():
            raise Refused(f"“{value.normalize():f}” is no whole number.")
        return int(value)

    def write(self, value: int | None) -> int | str:
        return "" if value is None else value


class YesNo:
    is_numeric = False

    def read(self, cell: Cell, notation: Notation) -> bool:
        word = as_text(cell).casefold()
        if word not in YES | NO:
            raise Refused(f"“{as_text(cell)}” is neither yes nor no.")
        return word in YES

    def write(self, value: bool | None) -> str:
        return {True: "yes", False: "no", None: ""}[value]


@dataclass(frozen=True)
class Choice:
    """One of a list, by its word or by its short form."""

    choices: type[models.TextChoices]
    is_numeric = False

    def read(self, cell: Cell, notation: Notation) -> str:
        return find_word(as_text(cell), self._words)

    def write(self, value: str) -> str:
        return self.choices(value).label if value else ""

    @property
    def _words(self) -> dict[str, str]:
        return {word: value for value, label in self.choices.choices for word in (label, value)}


class Day:
    is_numeric = False

    def read(self, cell: Cell, notation: Notation) -> date:
        return cell if isinstance(cell, date) else read_day(as_text(cell), notation)

    def write(self, value: date | None) -> date | str:
        return value or ""


@dataclass(frozen=True)
class Length:
    """A length in any unit, a bare number in mm; kept in µm."""

    up: bool = False
    is_numeric = True

    def read(self, cell: Cell, notation: Notation) -> int:
        return parse_length(Quantity().read(cell, notation), up=self.up)

    def write(self, value: int | None) -> Decimal | str:
        return "" if value is None else Decimal(value).scaleb(-3)


class Quantity:
    """An amount or sizes as people write them; understood once the item is known."""

    is_numeric = True

    def read(self, cell: Cell, notation: Notation) -> str:
        text = as_text(cell)
        return plain_numbers(text, notation) if isinstance(cell, str) else text

    def write(self, value: Any) -> Any:
        return value


def as_text(cell: Cell) -> str:
    """What a spreadsheet would show of it."""
    if isinstance(cell, Decimal):
        return f"{cell.normalize():f}"
    return str(cell).strip()


def tidy(text: str) -> str:
    """Text without spaces around it and with one kind of line end: what every file can carry."""
    return re.sub(r"\r\n?", "\n", text).strip()


def find_word(text: str, words: Mapping[str, str]) -> str:
    """The value of a word, whatever its case. Raises: Refused, listing the words."""
    for word, value in words.items():
        if text.casefold() == word.casefold():
            return value
    raise Refused(f"“{text}” is not one of: {', '.join(dict.fromkeys(words))}.")
