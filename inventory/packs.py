"""Packs and full pieces as people name them: "2 bags", "3 bars", by what the offer says is in one."""

import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from inventory.errors import WrongUnit
from inventory.units import NUMBER, in_millionths, parse_number

PACK = frozenset({"pack", "packet", "package"})
CONTAINERS = PACK | frozenset(
    ["bag", "bottle", "box", "bucket", "bundle", "can", "carton", "case", "drum", "jar", "kit"]
    + ["pail", "pair", "reel", "roll", "set", "spool", "tin", "tub", "tube"]
)
ALWAYS_A_PIECE = frozenset({"piece", "length"})
PIECES = ALWAYS_A_PIECE | frozenset({"bar", "sheet", "roll"})
MOST_PIECES = 1000
NAMED = re.compile(rf"^\s*(?P<number>{NUMBER})\s*(?P<word>[a-z]+)\s*$", re.I)


@dataclass(frozen=True)
class Pack:
    """One pack as a supplier sells it.

    qty: stock units in it. piece: word for one full piece of an item kept in pieces, else empty;
    size: its length and width in µm, when the offer says it; pieces: how many are in the pack.
    """

    name: str
    qty: Decimal
    piece: str = ""
    size: tuple[int, int | None] | None = None
    pieces: int = 1

    def is_called(self, word: str) -> bool:
        """Whether "2 bags" means this pack; a name without a container takes any of them."""
        own = singular(self.name.split()[0]) if self.name.split() else ""
        return word in PACK or word == own or (own not in CONTAINERS and word in CONTAINERS)


@dataclass(frozen=True)
class Named:
    """So many of a word: "2 bags" is 2 and bag."""

    count: Fraction
    word: str


def read_named(text: str) -> Named | None:
    """Read a number and a word that could name a pack or a piece; None for anything else.

    Raises: WrongUnit, when the number can't be read.
    """
    match = NAMED.match(text)
    if not match:
        return None
    return Named(parse_number(match["number"]), singular(match["word"]))


def singular(word: str) -> str:
    """bags, boxes -> bag, box."""
    word = word.lower()
    for ending in ("xes", "ches"):
        if word.endswith(ending):
            return word[:-2]
    return word[:-1] if word.endswith("s") and len(word) > 2 else word


def could_be_a_pack(named: Named) -> bool:
    return named.word in CONTAINERS | PIECES


def quantity_of(named: Named, pack: Pack | None, code: str) -> Decimal:
    """Stock units of so many packs.

    Raises: WrongUnit, when no offer says what is in a pack, or it is sold as something else.
    """
    pack = _known(named, pack, code)
    if not pack.is_called(named.word):
        raise WrongUnit(_sold_otherwise(named, pack, code))
    return in_millionths(named.count * Fraction(pack.qty))


def pieces_of(named: Named, pack: Pack | None, code: str) -> tuple[int, int | None, int]:
    """Size of a full piece and how many of them: "3 bars", or the pieces of "1 pack".

    Raises: WrongUnit, as above, or for a part of a piece.
    """
    pack = _known(named, pack, code)
    if pack.size is None:
        raise WrongUnit(_unknown(named, code))
    if named.word in {pack.piece, *ALWAYS_A_PIECE}:
        count = named.count
    elif pack.is_called(named.word) and named.word not in PIECES:
        count = named.count * pack.pieces
    else:
        raise WrongUnit(_sold_otherwise(named, pack, code))
    if count > MOST_PIECES:
        raise WrongUnit(f"{code}: more than {MOST_PIECES} pieces in one line. Check the count.")
    if count.denominator != 1 or count < 1:
        raise WrongUnit(
            f"{code}: a part of a {pack.piece} is a piece of its own. Write its size, as in 300 mm."
        )
    return *pack.size, int(count)


def _known(named: Named, pack: Pack | None, code: str) -> Pack:
    if pack is None:
        raise WrongUnit(_unknown(named, code))
    return pack


def _unknown(named: Named, code: str) -> str:
    return (
        f"No current offer for {code} says what a {named.word} is. "
        "Write the amount or the size itself, or enter the offer first."
    )


def _sold_otherwise(named: Named, pack: Pack, code: str) -> str:
    ways = f"packs or {pack.piece}s" if pack.piece else "packs"
    return (
        f"{code} is sold as “{pack.name}”, so it isn't known what a {named.word} of it is. "
        f"Write {ways}, or the amount itself."
    )
