"""Files as spreadsheets and other programs save them."""

import io
import zipfile
from datetime import date, datetime
from decimal import Decimal

import openpyxl
import pytest

from inventory.errors import Refused
from inventory.exchange.tables.sheet import read_sheet

KNOWN = {"code", "name", "kerf"}
TEXT = "code;name\nBÅR-4;“Größe” ½\n"
ROWS = [(2, ["BÅR-4", "“Größe” ½"])]


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"]
)
def test_encoding_of_a_file_is_found_out(encoding):
    sheet = read_sheet(TEXT.encode(encoding), KNOWN)
    assert (sheet.heading, sheet.rows) == (["code", "name"], ROWS)


@pytest.mark.parametrize(
    ("text", "separator"),
    [
        ("code,name\nA,b; c; d\n", ","),
        ("code;name\nA;b, c, d\n", ";"),
        ("code\tname\nA\tb, c, d\n", "\t"),
        ("sep=;\ncode;name\nA;b\n", ";"),
        ("\n# what a code is, in words; and more\ncode;name\nA;b\n", ";"),
        ('"code";"name"\n"A";"b, c"\n', ";"),
        ("name, old; code; kerf\nb;A;1\n", ";"),
    ],
    ids=[
        "comma",
        "semicolon",
        "tab",
        "said in the first line",
        "comment first",
        "quoted",
        "comma in a name",
    ],
)
def test_separator_of_a_file_is_found_out(text, separator):
    assert read_sheet(text.encode(), KNOWN).separator == separator


def test_empty_rows_and_comments_are_left_out_but_counted():
    text = 'code,name\n\n,,\n# note\nA,"two\nlines"\nB,b,,\n'
    assert read_sheet(text.encode(), KNOWN).rows == [
        (5, ["A", "two\nlines"]),
        (6, ["B", "b", "", ""]),
    ]


def test_thread_that_begins_with_a_hash_is_no_comment():
    assert read_sheet(b"name,code\n#8-32 screw,S8\n", KNOWN).rows == [(2, ["#8-32 screw", "S8"])]


def test_cells_of_a_workbook_keep_their_kind():
    book = openpyxl.Workbook()
    book.active.append(["code", "name", "kerf"])
    book.active.append([4711, datetime(2026, 3, 5, 14, 30), 0.1 + 0.2])
    book.active.append([None, None, None])
    book.active.append([True, date(2026, 3, 5), "  1,5 mm "])
    file = io.BytesIO()
    book.save(file)
    assert read_sheet(file.getvalue(), KNOWN).rows == [
        (2, [Decimal(4711), date(2026, 3, 5), Decimal("0.3")]),
        (4, ["yes", date(2026, 3, 5), "1,5 mm"]),
    ]


@pytest.mark.parametrize(
    ("content", "match"),
    [
        (b"", "There is nothing in this file"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "a workbook of an old kind"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\x01", "neither CSV text nor an XLSX"),
        (b"PK\x05\x06" + b"\x00" * 18, "This workbook can't be read"),
        (b"code,name\n" + b"a" * 200_000 + b",b\n", "can't be read as CSV"),
        (b'code,name\nA,x\nB,"3/8 bar\nC,y\n', "Row 3 can't be read as CSV"),
        (b"code\n" + b"a\n" * 50_001, "more than 50000 rows"),
    ],
    ids=[
        "empty",
        "old workbook",
        "picture",
        "empty archive",
        "endless cell",
        "open quote",
        "too many rows",
    ],
)
def test_what_is_no_list_is_refused(content, match):
    with pytest.raises(Refused, match=match):
        read_sheet(content, KNOWN)


def rewritten(content: bytes, old: bytes, new: bytes) -> bytes:
    """The workbook with something else in its first page."""
    file = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as there, zipfile.ZipFile(file, "w") as archive:
        for name in there.namelist():
            archive.writestr(name, there.read(name).replace(old, new))
    return file.getvalue()


def test_damaged_workbook_is_refused():
    file = io.BytesIO()
    openpyxl.Workbook().save(file)
    damaged = file.getvalue().replace(b"PK\x01\x02", b"PK\x01\x00")
    with pytest.raises(Refused, match="This workbook can't be read"):
        read_sheet(damaged, KNOWN)


def test_workbook_whose_last_row_is_endlessly_far_down_is_refused():
    book, file = openpyxl.Workbook(), io.BytesIO()
    book.active.append(["code"])
    book.active.append(["A"])
    book.save(file)
    with pytest.raises(Refused, match="Take the list in parts"):
        read_sheet(rewritten(file.getvalue(), b'r="2"', b'r="2000000"'), KNOWN)


def test_further_sheets_of_a_workbook_are_named():
    book = openpyxl.Workbook()
    book.active.title = "Items"
    for row in (["code", "name"], ["A", "b"]):
        book.active.append(row)
    book.create_sheet("Rack 2").append(["code", "name"])
    book.create_sheet("Empty")
    book.create_sheet("Columns").append(["column", "what it means", "example"])
    file = io.BytesIO()
    book.save(file)
    sheet = read_sheet(file.getvalue(), KNOWN)
    assert (sheet.name, sheet.others, len(sheet.rows)) == ("Items", ("Rack 2",), 1)
