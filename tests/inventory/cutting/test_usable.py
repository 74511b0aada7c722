"""How much of one part a piece yields, on paper."""

import pytest

from inventory.cutting import Bar, Blank, Part, Rules, Sheet, usable_for


@pytest.mark.parametrize(
    ("bar", "kerf", "number"),
    [
        (Bar("b", 1_000_000), 1500, 5),
        (Bar("b", 1_000_000), 1600, 4),
        (Bar("b", 1_000_000, trim_first=3000), 1500, 4),
        (Bar("b", 1_000_000, trim_last=1), 1500, 4),
        (Bar("b", 198_800), 1500, 1),
        (Bar("b", 198_799), 1500, 0),
        (Bar("b", 2000, trim_first=3000), 1500, 0),
    ],
    ids=["exact", "kerf too wide", "squared", "end lost", "one", "too short", "all trim"],
)
def test_bar_yields_whole_parts_with_kerf_between_them(bar, kerf, number):
    assert usable_for(Part("blade", 198_800), bar, Rules(kerf)) == number


# 0.1 mm data where floating-point division goes wrong: (1396.0 + 0.8) / (154.4 + 0.8) = 9.
def test_exact_fit_in_tenths_of_a_millimetre_is_not_lost_to_rounding():
    assert usable_for(Part("p", 154_400), Bar("b", 1_396_000), Rules(800)) == 9


@pytest.mark.parametrize(
    ("rotate", "stages", "exact", "number"),
    [(False, 2, False, 3), (True, 2, False, 4), (True, 2, True, 4), (True, 3, True, 4)],
    ids=["grain", "free", "free, exact strips", "free, three cuts"],
)
def test_sheet_yields_more_when_blanks_may_be_turned(rotate, stages, exact, number):
    blank, sheet = Blank("s", 120, 40, rotate), Sheet("A", 200, 130)
    rules = Rules(2, stages=stages, exact_strips=exact)
    assert usable_for(blank, sheet, rules) == number


@pytest.mark.parametrize(("rip", "number"), [("x", 2), ("y", 2), ("both", 2)])
def test_direction_of_ripping_makes_no_difference_for_blanks_of_one_size(rip, number):
    assert usable_for(Blank("s", 90, 40), Sheet("A", 182, 40, rip=rip), Rules(2)) == number
