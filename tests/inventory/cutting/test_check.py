"""A plan that cannot be cut is found out: each case spoils one thing in a right plan."""

from dataclasses import replace

import pytest

from inventory.cutting import (
    Bar,
    Blank,
    Cut,
    Kit,
    Part,
    PiecePlan,
    Placed,
    Plan,
    Rules,
    Sheet,
    StageResult,
    check,
)

PARTS = [Part("blade", 300)]
BARS = [Bar("bar", 1000, trim_first=5)]
KITS = [Kit("knife", {"blade": 1}, 2)]
RULES = Rules(kerf=2, min_remnant=(100, 0))


def blade(x, kit="knife", item="blade", w=300):
    return Placed(item, kit, x, 0, w, 0)


CUTS = tuple(Cut("cross", "x", at, 2, 0, 0) for at in (3, 305, 607))
BAR = PiecePlan("bar", "", False, "x", (blade(5), blade(307)), ((609, 0, 391, 0),), CUTS)


def plan_of(piece, **changes):
    plan = Plan({"knife": 2}, {"knife": 0}, {}, {"knife": 2}, (piece,), (piece,), (), 1, "optimal")
    return replace(plan, **changes)


def test_a_right_plan_has_no_faults():
    assert check(plan_of(BAR), PARTS, BARS, KITS, RULES) == []


@pytest.mark.parametrize(
    ("piece", "fault"),
    [
        (replace(BAR, placed=(blade(5), blade(306))), "only 1 between 305 and 306"),
        (replace(BAR, placed=(blade(4), blade(307))), "lies outside the usable area"),
        (replace(BAR, placed=(blade(5), blade(307, w=299))), "not its size along the grain"),
        (replace(BAR, placed=(blade(5), blade(307, item="tang"))), "not among the parts"),
        (replace(BAR, placed=(blade(5), blade(307, kit="fork"))), "does not need it"),
        (replace(BAR, placed=(blade(5),)), "1 whole knives, 2 promised"),
        (replace(BAR, remnants=()), "391 is left and worth keeping, but 0 is listed"),
        (replace(BAR, remnants=((609, 0, 400, 0),)), "remnant at .* outside the usable area"),
        (replace(BAR, piece="other"), "not among the pieces given"),
        (replace(BAR, lot="heat 9"), "lot or purchase differs"),
        (replace(BAR, purchased=True), "still to be bought"),
        (replace(BAR, cuts=CUTS[:2]), "is not freed by the cuts"),
        (replace(BAR, cuts=(*CUTS, CUTS[1])), "cut 4 does not go from edge to edge"),
    ],
    ids=lambda value: value[:20] if isinstance(value, str) else "",
)
def test_a_spoilt_piece_is_named(piece, fault):
    found = check(plan_of(piece), PARTS, BARS, KITS, RULES)
    assert any(matches(fault, text) for text in found), found


@pytest.mark.parametrize(
    ("changes", "fault"),
    [
        ({"pieces": (BAR, BAR)}, "'bar' is used 2 times, 1 are there"),
        ({"missing": {"knife": 1}}, "2 made and 1 missing are not 2"),
        ({"buy": {"bar": 1}}, "bought are {}, listed are"),
        ({"stages": (StageResult("knives", 1, 1, True, 0.0),)}, "1 reported, 2 drawn"),
        ({"stages": (StageResult("knives", 2, 1, False, 0.0),)}, "better than its bound"),
        ({"stages": (StageResult("opened", 1000, 0, True, 0.0),)}, "proven is True"),
    ],
    ids=["twice", "count", "buy", "value", "bound", "proof"],
)
def test_a_spoilt_promise_is_named(changes, fault):
    found = check(plan_of(BAR, **changes), PARTS, BARS, KITS, RULES)
    assert any(matches(fault, text) for text in found), found


SHEETS = [Sheet("sheet", 100, 100)]
PINWHEEL = [(0, 0, 60, 38), (62, 0, 38, 60), (40, 62, 60, 38), (0, 40, 38, 60)]


def sheet_faults(boxes, blanks, rip="x", **rules):
    """Faults of a sheet from which these boxes are cut for one knife, the cuts left open."""
    placed = tuple(Placed(f"{w}x{h}", "knife", x, y, w, h) for x, y, w, h in boxes)
    piece = PiecePlan("sheet", "", False, rip, placed, (), ())
    need: dict[str, int] = {}
    for part in placed:
        need[part.item] = need.get(part.item, 0) + 1
    plan = Plan({"knife": 1}, {"knife": 0}, {}, {"knife": 1}, (piece,), (piece,), (), 1, "gap")
    faults = check(plan, blanks, SHEETS, [Kit("knife", need, 1)], Rules(2, **rules))
    return [fault for fault in faults if "freed by the cuts" not in fault]


def test_a_pinwheel_cannot_be_cut_edge_to_edge():
    blanks = [Blank("60x38", 60, 38), Blank("38x60", 38, 60)]
    faults = sheet_faults(PINWHEEL, blanks)
    assert any("cannot be taken apart" in fault for fault in faults)


@pytest.mark.parametrize(("stages", "faulty"), [(2, True), (3, False)], ids=["two", "three"])
def test_a_stack_in_a_strip_needs_the_third_cut(stages, faulty):
    blanks = [Blank("50x60", 50, 60), Blank("40x29", 40, 29)]
    boxes = [(0, 0, 50, 60), (52, 0, 40, 29), (52, 31, 40, 29)]
    faults = sheet_faults(boxes, blanks, stages=stages)
    assert any("third cut" in fault for fault in faults) == faulty


def test_a_narrow_blank_in_a_wide_strip_is_a_fault_when_strips_are_exact():
    blanks = [Blank("50x60", 50, 60), Blank("40x58", 40, 58)]
    boxes = [(0, 0, 50, 60), (52, 0, 40, 58)]
    assert sheet_faults(boxes, blanks) == []
    assert any("share a strip" in fault for fault in sheet_faults(boxes, blanks, exact_strips=True))


def test_a_blank_turned_against_the_grain_is_a_fault():
    box = [(0, 0, 30, 60)]
    assert any("grain" in fault for fault in sheet_faults(box, [Blank("30x60", 60, 30)]))
    assert sheet_faults(box, [Blank("30x60", 60, 30, rotate=True)]) == []


def matches(fault, text):
    first, _, last = fault.partition(".*")
    return first in text and last in text
