"""An uploaded file as rows of cells: CSV of any common encoding and separator, or a workbook."""

import codecs
import csv
import io
import warnings
import zipfile
import zlib
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from openpyxl import load_workbook

from inventory.errors import Refused
from inventory.exchange.csv_export import text_of_cell
from inventory.exchange.tables.cells import Cell, as_text

__all__ = ["Sheet", "heading_key", "read_sheet"]

MOST_ROWS = 50_000
LAST_ROW = 1_048_576  # of a workbook, by its format
MOST_UNPACKED = 300 * 1024 * 1024
SEPARATORS = ",;\t"
COMMENT = "# "
"""Begins a row of words; #8-32 is a thread, and its row is read."""
UNREADABLE = (
    *(zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError),
    *(KeyError, ValueError, TypeError, IndexError, SyntaxError),
)
MOST_LOOKED_AT = 50
MEANINGS = "Columns"
"""Title of the sheet of a blank form that says what its columns mean."""
OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"
BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


@dataclass(frozen=True)
class Sheet:
    """The heading, and numbered rows below it; empty rows and comments are left out.

    Of a workbook the first sheet is read; others: names of the rest, but for the meanings that our
    own blank form brings along.
    """

    heading: list[str]
    rows: list[tuple[int, list[Cell]]]
    separator: str = ""
    name: str = ""
    others: tuple[str, ...] = ()


def heading_key(name: str) -> str:
    """What two spellings of a heading have in common: Stock unit, stock_unit, STOCK-UNIT."""
    return "".join(sign for sign in name.casefold() if sign.isalnum())


def read_sheet(content: bytes, known: Collection[str]) -> Sheet:
    """Read a file whose first row names its columns.

    Args:
        known: keys of the headings that are expected; they tell the separator.
    Raises: Refused when it is no table, or too large.
    """
    if content.startswith(OLD_WORKBOOK):
        raise Refused(
            "This is a workbook of an old kind, or locked by a password. Save it as XLSX or CSV anew."
        )
    if zipfile.is_zipfile(io.BytesIO(content)):
        return _workbook_sheet(content)
    text = _decoded(content)
    separator = _separator_of(text, known)
    return _sheet(_csv_rows(text, separator), separator)


def _sheet(records: Iterator[Sequence[Cell]], separator: str = "") -> Sheet:
    heading: list[str] | None = None
    rows: list[tuple[int, list[Cell]]] = []
    for number, record in enumerate(records, start=1):
        cells = list(record)
        if not any(cell != "" for cell in cells) or str(cells[0]).startswith(COMMENT):
            continue
        if heading is None:
            heading = [as_text(cell) for cell in cells]
        else:
            rows.append((number, cells))
        if len(rows) > MOST_ROWS or number > LAST_ROW:
            raise Refused(f"There are more than {MOST_ROWS} rows. Take the list in parts.")
    if heading is None:
        raise Refused("There is nothing in this file. The first row names the columns.")
    return Sheet(heading, rows, separator)


def _decoded(content: bytes) -> str:
    for encoding in _likely_encodings(content):
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    raise Refused("This file is neither CSV text nor an XLSX workbook. Save it as one of them.")


def _likely_encodings(content: bytes) -> list[str]:
    for mark, encoding in BYTE_ORDER_MARKS:
        if content.startswith(mark):
            return [encoding]
    first, second = content[0:1000:2], content[1:1000:2]
    if first.count(0) > len(first) / 2:
        return ["utf-16-be"]
    if second.count(0) > len(second) / 2:
        return ["utf-16-le"]
    return ["utf-8", "cp1252"]


def _separator_of(text: str, known: Collection[str]) -> str:
    """The separator by which the first row holds most known headings."""
    first = text.lstrip("\r\n").split("\n", 1)[0].strip()
    if first.casefold().startswith("sep=") and len(first) == 5:
        return first[-1]

    def finds(separator: str) -> tuple[int, int]:
        rows = _csv_rows(text, separator)
        try:
            heading = next((row for row in rows if row and not row[0].startswith(COMMENT)), [])
        except Refused:
            return 0, 0
        return sum(heading_key(name) in known for name in heading), len(heading)

    return max(SEPARATORS, key=finds)


def _csv_rows(text: str, separator: str) -> Iterator[list[str]]:
    lines = io.StringIO(text, newline="")
    number = 0
    try:
        for number, record in enumerate(csv.reader(lines, delimiter=separator, strict=True), 1):
            is_hint = number == 1 and separator.join(record).casefold().startswith("sep=")
            yield [] if is_hint else [text_of_cell(cell).strip() for cell in record]
    except csv.Error as error:
        raise Refused(
            f"Row {number + 1} can't be read as CSV: {error}. Check its quotes."
        ) from error


def _workbook_sheet(content: bytes) -> Sheet:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            unpacked = sum(part.file_size for part in archive.infolist())
        if unpacked > MOST_UNPACKED:
            raise Refused("This workbook is too large. Take the list in parts.")
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of drop-downs and styles, which aren't read
            book = load_workbook(io.BytesIO(content), read_only=True, data_only=True)
            page, *others = book.worksheets
            page.reset_dimensions()
            records = ([_cell(value) for value in row] for row in page.iter_rows(values_only=True))
            names = tuple(other.title for other in others if _says_something(other))
            return replace(_sheet(records), name=page.title, others=names)
    except UNREADABLE as error:
        raise Refused("This workbook can't be read. Save it as XLSX or CSV anew.") from error


def _says_something(page: Any) -> bool:
    """Whether a further sheet holds anything but the meanings of our own blank form."""
    rows = page.iter_rows(max_row=MOST_LOOKED_AT, values_only=True)
    return page.title != MEANINGS and any(cell is not None for row in rows for cell in row)


def _cell(value: Any) -> Cell:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return Decimal(f"{value:.15g}")  # what a spreadsheet keeps of a number
    if isinstance(value, datetime):
        return value.date()
    return value if isinstance(value, date) else text_of_cell(str(value)).strip()
