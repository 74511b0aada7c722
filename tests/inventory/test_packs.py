"""Packs and full pieces as people name them."""

import pytest

from inventory.errors import WrongUnit
from inventory.packs import Pack, pieces_of, quantity_of, read_named
from tests.factories import MM, D

BAG = Pack("bag of 100", D(100))
LOOSE = Pack("100 pcs", D(100))
BAR = Pack("bar 914 mm", D(914), "bar", (914 * MM, None))
FOUR_SHEETS = Pack("pack of 4 sheets", D(744_200), "sheet", (305 * MM, 610 * MM), 4)


@pytest.mark.parametrize(
    ("typed", "pack", "qty"),
    [
        ("2 bags", BAG, 200),
        ("1 bag", BAG, 100),
        ("2 Packs", BAG, 200),
        ("1/2 bag", BAG, 50),
        ("3 boxes", LOOSE, 300),
    ],
    ids=["bags", "one bag", "packs", "half a bag", "container the offer doesn't name"],
)
def test_packs_are_what_the_offer_says_is_in_one(typed, pack, qty):
    assert quantity_of(read_named(typed), pack, "SCREW") == qty


@pytest.mark.parametrize(
    ("typed", "pack", "pieces"),
    [
        ("3 bars", BAR, (914 * MM, None, 3)),
        ("2 lengths", BAR, (914 * MM, None, 2)),
        ("1 sheet", FOUR_SHEETS, (305 * MM, 610 * MM, 1)),
        ("2 packs", FOUR_SHEETS, (305 * MM, 610 * MM, 8)),
    ],
    ids=["bars", "lengths", "a sheet out of a pack", "packs of four"],
)
def test_full_pieces_are_as_offered(typed, pack, pieces):
    assert pieces_of(read_named(typed), pack, "BAR") == pieces


@pytest.mark.parametrize(
    ("read", "typed", "pack", "words"),
    [
        (quantity_of, "2 bags", None, "No current offer for X says what a bag is"),
        (quantity_of, "2 boxes", BAG, "X is sold as “bag of 100”"),
        (pieces_of, "3 bars", None, "No current offer for X says what a bar is"),
        (pieces_of, "3 sheets", BAR, "Write packs or bars"),
        (pieces_of, "1/2 bar", BAR, "a part of a bar is a piece of its own"),
        (pieces_of, "99999 bars", BAR, "more than 1000 pieces in one line"),
    ],
    ids=["no offer", "other container", "no offered bar", "other kind", "half a bar", "endless"],
)
def test_pack_that_is_not_known_is_refused_in_words(read, typed, pack, words):
    with pytest.raises(WrongUnit, match=words):
        read(read_named(typed), pack, "X")


@pytest.mark.parametrize("typed", ["48 in²", "12 x 24 in", "bags", "", "2 bags of 50"])
def test_what_names_no_pack_is_left_to_the_units(typed):
    assert read_named(typed) is None
