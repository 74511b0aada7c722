"""Lists taken as CSV."""

import csv
import io
from decimal import Decimal

import pytest

from inventory.exchange.csv_export import csv_lines, safe_cell


@pytest.mark.parametrize(
    "text",
    ["=1+1", "+49 30", "-x", "@here", "\t=1", "\r=1", " =1", "＝1"],
    ids=["equals", "plus", "minus", "at", "tab", "return", "after a space", "full width"],
)
def test_text_that_would_be_a_formula_gets_an_apostrophe(text):
    assert safe_cell(text) == f"'{text}"


@pytest.mark.parametrize(
    ("value", "cell"),
    [
        (Decimal("-2.500000"), "-2.5"),
        (Decimal("1E+3"), "1000"),
        (7, 7),
        (None, ""),
        ("BAR-4x40", "BAR-4x40"),
    ],
    ids=["negative", "no exponent", "count", "nothing", "code"],
)
def test_number_stays_a_number(value, cell):
    assert safe_cell(value) == cell


def test_file_begins_with_a_mark_and_reads_back_as_written():
    text = "".join(csv_lines([["Name"], ['Bar, 4 x 40 "annealed"'], ["1.8 µm"]]))
    assert text.startswith("\ufeff")
    rows = list(csv.reader(io.StringIO(text.removeprefix("\ufeff"))))
    assert rows == [["Name"], ['Bar, 4 x 40 "annealed"'], ["1.8 µm"]]
