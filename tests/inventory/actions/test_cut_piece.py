"""Bars and sheets cut by hand: parts, kerf and remnants."""

import pytest

from inventory import actions
from inventory.errors import NotEnough, NotUsable, Refused
from inventory.models import Piece
from inventory.queries.audit import audit
from tests.factories import (
    DAY,
    MM,
    bar,
    line,
    on_hand,
    rack,
    reserved,
    sheet,
    simple_knife,
)

pytestmark = pytest.mark.django_db


def cut(piece, parts=(), remnants=(), **values):
    return actions.cut_piece(piece=piece, parts=parts, remnants=remnants, day=DAY, **values)


def test_cut_leaves_the_remnant_and_the_kerf_is_gone():
    (piece,) = rack(bar(), 1000)
    posting = cut(piece, [(240 * MM, None, 3)], [(275_500, None)])
    remnant = piece.remnants.get()
    assert (remnant.label, remnant.is_remnant, remnant.squared) == ("P-0002", True, True)
    assert [move.qty for move in posting.movements.order_by("pk")] == [-1000, 275.5]
    assert on_hand(piece.lot) == 275.5


def test_remnant_keeps_its_heat_through_every_cut():
    (piece,) = rack(bar(), 1000, maker_number="H-4711")
    cut(piece, [(240 * MM, None, 1)], [(700 * MM, None)])
    first = piece.remnants.get()
    cut(first, [(240 * MM, None, 1)], [(400 * MM, None)])
    assert first.remnants.get().lot.maker_number == "H-4711"
    assert audit() == []


def test_part_as_long_as_the_bar_uses_it_up():
    (piece,) = rack(bar(), 240)
    cut(piece, [(240 * MM, None, 1)])
    assert on_hand(piece) == 0


def test_part_may_lie_across_the_sheet_but_a_remnant_keeps_its_grain():
    first, second = rack(sheet(), (300, 100), (300, 100))
    cut(first, [(90 * MM, 250 * MM, 1)])
    with pytest.raises(NotEnough, match="300 × 100 mm; a remnant of 90 × 250 mm doesn't fit"):
        cut(second, [], [(90 * MM, 250 * MM)])
    assert on_hand(second) == 30_000


@pytest.mark.parametrize(
    ("parts", "remnants", "words"),
    [
        ([(1001 * MM, None, 1)], [], "is 1.000 mm; a part of 1.001 mm doesn't fit"),
        ([(240 * MM, None, 1)], [(1001 * MM, None)], "a remnant of 1.001 mm doesn't fit"),
        ([(240 * MM, None, 5)], [], "smaller than its parts and remnants together"),
        ([(500 * MM, None, 1)], [(501 * MM, None)], "smaller than its parts"),
        ([(0, None, 1)], [], "needs a size above zero"),
        ([(-5, None, 1)], [], "needs a size above zero"),
        ([(240 * MM, 40 * MM, 1)], [], "needs a size above zero"),
        ([], [], "which parts and remnants"),
    ],
    ids=[
        "part too long",
        "remnant too long",
        "parts together too long",
        "part and remnant too long",
        "part of nothing",
        "negative part",
        "sheet part of a bar",
        "nothing said",
    ],
)
def test_cut_that_the_bar_does_not_hold_is_refused(parts, remnants, words):
    (piece,) = rack(bar(), 1000)
    with pytest.raises(Refused, match=words):
        cut(piece, parts, remnants)
    assert (Piece.objects.count(), on_hand(piece)) == (1, 1000)


def test_piece_is_cut_once():
    (piece,) = rack(bar(), 1000)
    cut(piece, [(240 * MM, None, 1)])
    with pytest.raises(NotEnough, match="isn't in stock any more"):
        cut(piece, [(240 * MM, None, 1)])


def test_piece_in_quarantine_is_not_cut():
    (piece,) = rack(bar(), 1000, status="quarantine")
    with pytest.raises(NotUsable, match="is quarantine"):
        cut(piece, [(240 * MM, None, 1)])


def test_piece_held_for_a_batch_is_cut_by_starting_it_only():
    steel = bar()
    (piece,) = rack(steel, 1000)
    batch = reserved(simple_knife("TRAIL", line(steel, 1, cut=(240 * MM, None))), 2)
    for for_batch in (None, batch):
        with pytest.raises(NotEnough, match="held for batch B-0001. Start or release"):
            cut(piece, [(240 * MM, None, 1)], batch=for_batch)
    actions.start_batch(batch=batch, day=DAY)
    assert piece.remnants.count() == 1
