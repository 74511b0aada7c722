"""From an uploaded file to what it would do, and from there into the shop."""

from collections.abc import Sequence

from django.db import transaction
from openpyxl.cell.cell import ERROR_CODES

from inventory.errors import Refused
from inventory.exchange.tables.cells import Cell
from inventory.exchange.tables.notation import Ambiguous, Notation, decimal_mark_of
from inventory.exchange.tables.sheet import Sheet, heading_key, read_sheet
from inventory.exchange.tables.table import Column, Found, Row, Table, Tell
from inventory.models import User

__all__ = ["check_file", "save_found"]

TOO_LONG = (
    "This row has more cells than the first row has names. Text or a number with "
    "the sign that separates cells stands in quotes."
)
TAKEN = "The shop has changed since this was shown. Nothing was written; upload the file again."


def nobody(done: int, total: int) -> None:
    """Nobody is told."""


def check_file(
    table: Table, content: bytes, notation: Notation | None = None, tell: Tell = nobody
) -> Found:
    """Read a file of a table and compare it with the shop.

    Raises: Refused when the file is no such list at all; what is wrong with single rows is in
    the result.
    """
    sheet = read_sheet(content, _spellings(table).keys())
    found = Found()
    if sheet.others:
        found.remarks.append(
            f"Only the first sheet, {sheet.name}, is read; not {', '.join(sheet.others)}. "
            "Save each sheet as a file of its own."
        )
    placed = _placed_columns(table, sheet.heading, found)
    notation = _seen_in(sheet, placed, notation or Notation())
    example = _example_of(table)
    for number, cells in sheet.rows:
        if sheet.separator and any(cells[len(sheet.heading) :]):
            found.refuse(number, "", TOO_LONG)
            continue
        row = _read_row(number, cells, placed, notation, found)
        if row is not None and row.values == example:
            found.remarks.append(f"Row {number} is the example of the blank form; it is left out.")
        elif row is not None:
            found.rows.append(row)
    found.rows = [row for row in found.rows if not _lacks_needed(table, row, found)]
    if not found.questions:
        table.compare(found.rows, found, tell)
    found.refusals.sort(key=lambda refusal: refusal.row)
    return found


def save_found(table: Table, found: Found, by: User | None = None, tell: Tell = nobody) -> int:
    """Write what was found, all of it or nothing; return how many records were new or changed.

    Raises: Refused, also when the shop isn't as it was when the file was checked.
    """
    if not found.can_be_saved:
        raise Refused("There are rows to correct, or nothing to change. Nothing was written.")
    with transaction.atomic():
        again = Found()
        table.compare(found.rows, again, nobody)
        if again.refusals or again.digest != found.digest:
            raise Refused(TAKEN)
        table.enter(again.to_save, by, tell)
    return len(again.to_save)


def _spellings(table: Table) -> dict[str, Column]:
    return {
        heading_key(name): column
        for column in table.columns
        for name in (column.name, *column.also)
    }


def _placed_columns(table: Table, heading: list[str], found: Found) -> dict[int, Column]:
    """Which column stands where; unknown ones are said, missing ones are refused in one line."""
    spellings = _spellings(table)
    placed: dict[int, Column] = {}
    unknown = []
    for place, name in enumerate(heading):
        column = spellings.get(heading_key(name))
        if column in placed.values():
            raise Refused(f"The column {column.name} stands there twice. Keep one of them.")
        if column is not None:
            placed[place] = column
        elif name:
            unknown.append(name)
    missing = [
        column.name for column in table.columns if column.needed and column not in placed.values()
    ]
    if missing:
        raise Refused(
            f"{table.title} need the column {' and '.join(missing)}, but the first row reads: "
            f"{', '.join(name for name in heading if name)[:200]}."
        )
    if unknown:
        found.remarks.append(f"Not read, because there is no such column: {', '.join(unknown)}.")
    return placed


def _seen_in(sheet: Sheet, placed: dict[int, Column], notation: Notation) -> Notation:
    """Add the decimal mark that the file itself shows, unless it was told."""
    if notation.decimal_mark is not None:
        return notation
    numeric = [place for place, column in placed.items() if column.kind.is_numeric]
    texts = [
        cells[place]
        for _, cells in sheet.rows
        for place in numeric
        if place < len(cells) and isinstance(cells[place], str)
    ]
    seen = decimal_mark_of(texts)
    if seen is None and sheet.separator == ",":
        seen = "."  # who separates cells by commas writes decimals with a point
    return Notation(seen, notation.day_first)


def _read_row(
    number: int,
    cells: Sequence[Cell],
    placed: dict[int, Column],
    notation: Notation,
    found: Found,
) -> Row | None:
    values = {}
    is_whole = True
    for place, column in placed.items():
        cell = cells[place] if place < len(cells) else ""
        if cell == "":
            continue
        try:
            _refuse_failed_formula(cell)
            values[column.name] = column.kind.read(cell, notation)
        except Ambiguous as ambiguous:
            found.questions.add(ambiguous.about)
        except Refused as refusal:
            found.refuse(number, column.name, refusal)
            is_whole = False
    return Row(number, values) if values and is_whole else None


def _refuse_failed_formula(cell: Cell) -> None:
    if cell in ERROR_CODES:
        raise Refused(f"A formula failed in the spreadsheet: {cell}. Correct it there.")


def _example_of(table: Table) -> dict[str, object]:
    """The row that the blank form shows as an example."""
    usual = Notation(".", True)
    return {
        column.name: column.kind.read(column.example, usual)
        for column in table.columns
        if column.example
    }


def _lacks_needed(table: Table, row: Row, found: Found) -> bool:
    for column in table.columns:
        if column.needed and row.get(column.name, "") == "":
            found.refuse(
                row.number, column.name, f"Every row needs {column.name}; it is empty here."
            )
            return True
    return False
