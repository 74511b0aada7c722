"""Coordinates, remnants and cuts of single pieces, checked on paper."""

from inventory.cutting import Bar, Blank, Cut, Kit, Part, Rules, Sheet, plan_bars, plan_sheets

RULES = Rules(kerf=2, min_remnant=(50, 80))


def test_bar_is_squared_cut_and_its_raw_end_stays_on_the_remnant():
    parts, kits = [Part("blade", 300)], [Kit("knife", {"blade": 1}, 2)]
    bars = [Bar("bar", 1000, trim_first=5, trim_last=10)]
    (piece,) = plan_bars(parts, bars, kits, RULES).pieces
    assert [placed.x for placed in piece.placed] == [5, 307]
    assert piece.remnants == ((609, 0, 391, 0),)
    assert piece.cuts == (
        Cut("square", "x", 3, 2, 0, 0),
        Cut("cross", "x", 305, 2, 0, 0, "blade"),
        Cut("cross", "x", 607, 2, 0, 0, "blade"),
    )


def test_exact_fit_needs_no_last_cut():
    parts, kits = [Part("blade", 499)], [Kit("knife", {"blade": 1}, 2)]
    (piece,) = plan_bars(parts, [Bar("bar", 1000)], kits, RULES).pieces
    assert [cut.at for cut in piece.cuts] == [499]
    assert piece.remnants == ()


def test_saw_that_runs_out_over_the_end_takes_only_what_is_there():
    parts, kits = [Part("blade", 499)], [Kit("knife", {"blade": 1}, 2)]
    (piece,) = plan_bars(parts, [Bar("bar", 1001)], kits, RULES).pieces
    assert [(cut.at, cut.width) for cut in piece.cuts] == [(499, 2), (1000, 1)]


def test_strips_are_ripped_before_blanks_are_cut_off():
    blanks, kits = [Blank("scale", 90, 40)], [Kit("knife", {"scale": 2}, 2)]
    sheets = [Sheet("sheet", 200, 82, rip="x")]
    (piece,) = plan_sheets(blanks, sheets, kits, RULES).pieces
    assert [cut.kind for cut in piece.cuts] == ["rip"] + ["cross"] * 4
    assert [(p.x, p.y) for p in piece.placed] == [(0, 0), (92, 0), (0, 42), (92, 42)]
    assert piece.remnants == ()


def test_sheet_is_cut_to_length_first_when_that_keeps_the_larger_remnant():
    blanks, kits = [Blank("scale", 90, 40)], [Kit("knife", {"scale": 2}, 1)]
    sheets = [Sheet("sheet", 500, 82, rip="x")]
    (piece,) = plan_sheets(blanks, sheets, kits, RULES).pieces
    assert piece.cuts[0] == Cut("cross", "x", 90, 2, 0, 82)
    assert piece.remnants == ((92, 0, 408, 82),)


def test_remnant_too_small_on_one_side_is_not_kept():
    blanks, kits = [Blank("scale", 90, 40)], [Kit("knife", {"scale": 2}, 1)]
    sheets = [Sheet("sheet", 140, 88, rip="x")]
    (piece,) = plan_sheets(blanks, sheets, kits, RULES).pieces
    assert piece.remnants == ()


def test_narrow_blank_in_a_wide_strip_is_trimmed_to_width():
    blanks = [Blank("scale", 90, 40), Blank("spacer", 90, 30)]
    kits = [Kit("knife", {"scale": 1, "spacer": 1}, 1)]
    (piece,) = plan_sheets(blanks, [Sheet("sheet", 182, 40, rip="x")], kits, RULES).pieces
    assert piece.cuts == (
        Cut("cross", "x", 90, 2, 0, 40, "scale"),
        Cut("trim", "y", 30, 2, 92, 182, "spacer"),
    )
