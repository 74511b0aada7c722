"""Tables written as CSV and as workbooks: their records, and blank forms to fill in."""

import io
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE, WriteOnlyCell
from openpyxl.styles import Font
from openpyxl.worksheet._write_only import WriteOnlyWorksheet

from inventory.errors import NotFound
from inventory.exchange.csv_export import csv_lines, safe_cell
from inventory.exchange.tables.sheet import COMMENT, MEANINGS
from inventory.exchange.tables.table import Column, Table

__all__ = ["FORMATS", "blank_form", "exported"]

FORMATS = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
LONGEST_CELL = 32_767  # of a workbook, by its format


def exported(table: Table, form: str) -> bytes:
    """Every record of the shop, as a file that can be read in again."""
    names = [column.name for column in table.columns]
    rows = (
        [column.kind.write(record.get(column.name)) for column in table.columns]
        for record in table.records()
    )
    return _file(table, form, [names, *rows])


def blank_form(table: Table, form: str) -> bytes:
    """Headings, what they mean, and one example row; the reader leaves the last two out."""
    names = [column.name for column in table.columns]
    example = [column.example for column in table.columns]
    if form == "csv":
        meanings = [meaning_of(column) for column in table.columns]
        meanings[0] = f"{COMMENT}{meanings[0]}"
        return _csv([names, meanings, example])
    meanings = [(column.name, meaning_of(column), column.example) for column in table.columns]
    return _workbook(table, [names, example], [("column", "what it means", "example"), *meanings])


def meaning_of(column: Column) -> str:
    if column.needed:
        return f"needed: {column.meaning}"
    return f"needed for a new one: {column.meaning}" if column.needed_when_new else column.meaning


def _file(table: Table, form: str, rows: Sequence[Sequence[Any]]) -> bytes:
    if form not in FORMATS:
        raise NotFound(f"Files are written as {' or '.join(FORMATS)}, not as “{form}”.")
    return _csv(rows) if form == "csv" else _workbook(table, rows)


def _csv(rows: Iterable[Sequence[Any]]) -> bytes:
    return "".join(csv_lines(rows)).encode()


def _workbook(
    table: Table, rows: Iterable[Sequence[Any]], meanings: Sequence[Sequence[str]] = ()
) -> bytes:
    workbook = Workbook(write_only=True)
    _fill(workbook.create_sheet(table.title), rows)
    if meanings:
        _fill(workbook.create_sheet(MEANINGS), meanings)
    file = io.BytesIO()
    workbook.save(file)
    return file.getvalue()


def _fill(page: WriteOnlyWorksheet, rows: Iterable[Sequence[Any]]) -> None:
    page.freeze_panes = "A2"
    for number, row in enumerate(rows):
        page.append(list(_cells(page, row, is_heading=number == 0)))


def _cells(page: WriteOnlyWorksheet, row: Sequence[Any], is_heading: bool) -> Iterator[Any]:
    for value in row:
        if isinstance(value, int | Decimal | date):
            yield value
            continue
        text = ILLEGAL_CHARACTERS_RE.sub("", str(safe_cell(value)))[:LONGEST_CELL]
        cell = WriteOnlyCell(page, text)
        cell.data_type = "s"  # text, whatever it looks like
        if is_heading:
            cell.font = Font(bold=True)
        yield cell
