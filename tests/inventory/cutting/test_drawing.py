"""Drawings that can be read, printed and listened to."""

from xml.etree import ElementTree as ET

import pytest

from inventory.cutting import (
    Bar,
    Blank,
    Kit,
    Part,
    Rules,
    Sheet,
    cut_table,
    draw_piece,
    plan_bars,
    plan_sheets,
)

SVG = "{http://www.w3.org/2000/svg}"
SHEET = Sheet("S 1", 600_000, 300_000, lot="green <2>", trim_x=3000)
BAR = Bar("bar 7", 1_000_000, trim_first=3000)


@pytest.fixture(scope="module")
def sheet_piece():
    blanks, kits = [Blank("scale", 130_000, 40_000)], [Kit("knife", {"scale": 2}, 3)]
    (piece,) = plan_sheets(blanks, [SHEET], kits, Rules(1500, (60_000, 100_000))).pieces
    return piece


@pytest.fixture(scope="module")
def bar_piece():
    parts, kits = [Part("blade", 198_800)], [Kit("knife", {"blade": 1}, 3)]
    (piece,) = plan_bars(parts, [BAR], kits, Rules(1500, (150_000, 0))).pieces
    return piece


def boxes(svg, css):
    found = [e for e in svg.iter(f"{SVG}rect") if e.get("class") == css]
    return [tuple(float(e.get(k)) for k in ("x", "y", "width", "height")) for e in found]


def test_sheet_is_drawn_to_one_scale(sheet_piece):
    svg = ET.fromstring(draw_piece(sheet_piece, SHEET))
    ((_, _, width, height),) = boxes(svg, "cut-piece")
    assert width / height == pytest.approx(2, abs=0.001)
    for _, _, w, h in boxes(svg, "cut-outline"):
        sides = sorted((w / width * 600, h / width * 600))
        assert sides == pytest.approx([40, 130], abs=0.02)


def test_pieces_drawn_together_share_the_scale(sheet_piece):
    svg = ET.fromstring(draw_piece(sheet_piece, SHEET, longest_um=1_200_000))
    ((_, _, width, _),) = boxes(svg, "cut-piece")
    assert width == pytest.approx(360)


def test_every_part_remnant_and_cut_is_shown(sheet_piece):
    svg = ET.fromstring(draw_piece(sheet_piece, SHEET))
    numbers = [e.text for e in svg.iter(f"{SVG}text") if e.get("class") == "cut-order"]
    assert len(boxes(svg, "cut-outline")) == len(sheet_piece.placed)
    assert len(boxes(svg, "cut-remnant")) == len(sheet_piece.remnants) > 0
    assert len(boxes(svg, "cut-kerf")) == len(sheet_piece.cuts)
    assert numbers == [str(n) for n in range(1, len(sheet_piece.cuts) + 1)]


def test_title_and_description_say_what_the_drawing_shows(sheet_piece):
    svg = ET.fromstring(draw_piece(sheet_piece, SHEET, {"scale": "Scale & liner"}))
    assert svg.find(f"{SVG}title").text == "S 1, lot green <2>: 600 mm x 300 mm"
    described = svg.find(f"{SVG}desc").text
    assert described.startswith("Cut: 6 x Scale & liner (")
    assert "Remnant to keep: " in described


def test_drawing_needs_no_style_of_its_own(sheet_piece):
    text = draw_piece(sheet_piece, SHEET)
    assert "style" not in text
    assert "currentColor" in text


def test_sizes_are_shown_in_inches_when_asked(bar_piece):
    svg = ET.fromstring(draw_piece(bar_piece, BAR, unit="in"))
    labels = [e.text for e in svg.iter(f"{SVG}text") if e.get("class") == "cut-label"]
    assert "7.827 in" in labels  # 198.8 / 25.4


def test_table_of_cuts_is_plain_data(bar_piece):
    rows = cut_table(bar_piece, {"blade": "Blade no. 4"})
    assert [row.number for row in rows] == [1, 2, 3, 4]
    assert [row.stop for row in rows] == ["1.5 mm", "201.8 mm", "402.1 mm", "602.4 mm"]
    assert rows[0].action == "square the edge"
    assert {row.releases for row in rows[1:]} == {"Blade no. 4"}
