"""Grids of labels on paper."""

import pytest

from inventory.exchange.label_sheets import SHEETS

EACH_SHEET = pytest.mark.parametrize("sheet", SHEETS.values(), ids=SHEETS)


@EACH_SHEET
def test_labels_of_a_sheet_lie_on_its_paper(sheet):
    width, height = sheet.paper
    assert sheet.left + sheet.across * sheet.wide + (sheet.across - 1) * sheet.gap <= width
    assert sheet.top + sheet.down * sheet.high <= height


@EACH_SHEET
def test_margins_left_and_right_are_alike(sheet):
    used = sheet.across * sheet.wide + (sheet.across - 1) * sheet.gap
    assert sheet.left == pytest.approx((sheet.paper[0] - used) / 2, abs=0.3)


@EACH_SHEET
def test_code_has_room_for_modules_a_phone_can_read(sheet):
    # 37 modules with their white edge; 0.4 mm each: common practice, no source.
    side = min(sheet.high - 2 * min(3, sheet.high * 0.08), sheet.wide * 0.46)
    assert side / 37 > 0.4


def test_number_of_labels_is_that_of_the_grid():
    assert {code: sheet.count for code, sheet in SHEETS.items()} == {
        "a4-24": 24,
        "a4-40": 40,
        "a4-65": 65,
        "letter-10": 10,
        "letter-30": 30,
        "roll-62": 1,
    }


def test_sheet_used_in_part_goes_on_with_its_first_free_label():
    first, second = SHEETS["a4-24"].pages(list("abc"), first=23)
    assert first == [None] * 22 + ["a", "b"]
    assert second == ["c"]


def test_roll_gives_one_label_a_page():
    assert SHEETS["roll-62"].pages(["a", "b"]) == [["a"], ["b"]]
