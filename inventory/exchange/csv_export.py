"""Lists as CSV that a spreadsheet opens as text and numbers, never as formulas."""

import csv
import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django.http import StreamingHttpResponse

# What spreadsheet programs read as the start of a formula, also full-width and after spaces:
# OWASP, "CSV Injection" (read from memory).
FORMULA = re.compile(r"^'*\s*[=+\-@\t\r\n＝＋－＠]")


def csv_response(name: str, rows: Iterable[Sequence[Any]]) -> StreamingHttpResponse:
    """Answer a request with the rows, the heading first, as `<name>-<today>.csv` in UTF-8."""
    response = StreamingHttpResponse(csv_lines(rows), content_type="text/csv; charset=utf-8")
    filename = f"{name}-{date.today():%Y-%m-%d}.csv"
    response["Content-Disposition"] = f'attachment; filename="{filename}"'
    return response


def csv_lines(rows: Iterable[Sequence[Any]]) -> Iterator[str]:
    """Yield one CSV line a row, a byte order mark before the first so that spreadsheets read UTF-8."""
    writer = csv.writer(_Echo())
    yield "\ufeff"
    for row in rows:
        yield writer.writerow([safe_cell(value) for value in row])


def safe_cell(value: Any) -> Any:
    """Numbers as they are; text that would be a formula gets an apostrophe in front."""
    if value is None:
        return ""
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    if isinstance(value, int | float):
        return value
    text = str(value)
    return f"'{text}" if FORMULA.match(text) else text


def text_of_cell(cell: str) -> str:
    """The text behind a safe cell: without the apostrophe that keeps it from being a formula."""
    return cell[1:] if cell.startswith("'") and FORMULA.match(cell) else cell


class _Echo:
    """A file that hands every line straight back."""

    def write(self, line: str) -> str:
        return line
