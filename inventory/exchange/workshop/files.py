"""Files of a workshop as rows that know where they stand, so that a mistake can be found."""

import csv
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

import yaml
from django.core.exceptions import ObjectDoesNotExist
from django.db import IntegrityError

from inventory.errors import NotFound, Refused
from inventory.units import parse_quantity, parse_size

__all__ = ["Row", "as_decimal", "blaming", "find", "parse_contents", "read_rows", "read_yaml"]

WHAT_TO_DO = " Correct it there and load again."
YES_OR_NO = {"yes": True, "no": False, "": False}


@dataclass(frozen=True, eq=False)
class Row:
    """One line of a CSV file: its cells by column name, without surrounding spaces."""

    file: str
    line: int
    cells: dict[str, str]

    def __getitem__(self, column: str) -> str:
        return self.cells[column]

    def __str__(self) -> str:
        return f"{self.file}, line {self.line}"

    def whole(self, column: str) -> int | None:
        """A whole number, or None where the cell is empty."""
        text = self[column]
        if not text:
            return None
        try:
            return int(text)
        except ValueError as error:
            raise Refused(f"{column} is “{text}”; write a whole number.") from error

    def number(self, column: str) -> Decimal | None:
        """A number, or None where the cell is empty."""
        text = self[column]
        if not text:
            return None
        try:
            return Decimal(text)
        except InvalidOperation as error:
            raise Refused(f"{column} is “{text}”; write a number with a point.") from error

    def yes(self, column: str) -> bool:
        if self[column] not in YES_OR_NO:
            raise Refused(f"{column} is “{self[column]}”; write yes, no or leave it empty.")
        return YES_OR_NO[self[column]]

    def day(self, column: str, today: date) -> date | None:
        """The day so many days from today (-30: thirty days ago), or None where it is empty."""
        offset = self.whole(column)
        return None if offset is None else today + timedelta(days=offset)


@contextmanager
def blaming(where: object) -> Iterator[None]:
    """Say in which file and line a refusal arose, and what to do."""
    try:
        yield
    except (Refused, IntegrityError, ObjectDoesNotExist) as error:
        raise Refused(f"{where}: {str(error).removesuffix(WHAT_TO_DO)}{WHAT_TO_DO}") from error
    except KeyError as error:
        raise Refused(f"{where}: {error.args[0]} is missing.{WHAT_TO_DO}") from error


def find(records: Mapping[Any, Any], code: Any, what: str) -> Any:
    """The record of a code. Raises: NotFound, naming the code."""
    if code not in records:
        name = code[-1] if isinstance(code, tuple) else code
        raise NotFound(f"There is no {what} “{name}”.")
    return records[code]


def as_decimal(value: int | float | str) -> Decimal:
    """A number of a YAML file, exactly as it is written there."""
    return Decimal(str(value))


def read_rows(path: Path) -> list[Row]:
    """Rows of a CSV file whose first line names the columns; rows starting with # are comments.

    Raises: Refused, naming file and line, when the file is absent or a row has too many or too few
    cells.
    """
    if not path.exists():
        raise Refused(f"{path.name} is missing in {path.parent}. Put it there and load again.")
    with path.open(newline="", encoding="utf-8-sig") as file:
        reader = csv.reader(file)
        columns = [name.strip() for name in next(reader, [])]
        return [
            _row(path.name, reader.line_num, columns, cells)
            for cells in reader
            if any(cells) and not cells[0].lstrip().startswith("#")
        ]


def read_yaml(path: Path) -> dict[str, Any]:
    """One YAML file. Raises: Refused, naming file and line, when it can't be read."""
    try:
        with path.open(encoding="utf-8") as file:
            return yaml.safe_load(file)
    except FileNotFoundError as error:
        raise Refused(f"{path.name} is missing in {path.parent}. Put it there.") from error
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line = f", line {mark.line + 1}" if mark else ""
        raise Refused(
            f"{path.name}{line}: not readable as YAML. Check the indents and the colons."
        ) from error


def parse_contents(
    text: str, unit: str
) -> tuple[Decimal | None, list[tuple[int, int | None, int]] | None]:
    """Read what came, or what a pack holds: "250 g" as a quantity, "4 of 610 x 305 mm" as pieces.

    Returns: (quantity, None), or (None, [(length µm, width µm or None, count)]).
    """
    if unit not in ("mm", "mm2"):
        return parse_quantity(text, unit), None
    pieces = []
    for part in text.split(" + "):
        count, of, size = part.rpartition(" of ")
        if of and not count.strip().isdecimal():
            raise Refused(f"“{part}” is not read; write 4 of 610 x 305 mm.")
        pieces.append((*parse_size(size), int(count) if of else 1))
    return None, pieces


def _row(file: str, line: int, columns: list[str], cells: list[str]) -> Row:
    if len(cells) != len(columns):
        raise Refused(
            f"{file}, line {line}: {len(cells)} cells under {len(columns)} column names. "
            "Check the commas; text with a comma stands in quotes."
        )
    return Row(file, line, {c: cell.strip() for c, cell in zip(columns, cells, strict=True)})
