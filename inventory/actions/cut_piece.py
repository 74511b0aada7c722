"""A bar, sheet or roll cut into parts, kerf and remnants."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from inventory.actions.issue import balance_of, refuse_unusable
from inventory.actions.numbering import PIECE, next_numbers
from inventory.actions.posting import Entry, lock_items, post
from inventory.actions.request import action
from inventory.errors import NotEnough, Refused
from inventory.models import Batch, Piece, Posting, User
from inventory.models.piece import size_in_stock_unit
from inventory.units import show_size

Size = tuple[int, int | None]


@dataclass(frozen=True)
class Cut:
    """What a cut left: the posting and the labelled remnants."""

    posting: Posting
    remnants: list[Piece]


@action
def cut_piece(
    *,
    piece: Piece,
    parts: Sequence[tuple[int, int | None, int]],
    remnants: Sequence[Size],
    day: date,
    batch: Batch | None = None,
    reason: str = "batch",
    note: str = "",
    by: User | None = None,
) -> Posting:
    """Cut parts (length µm, width µm or None, count) from a piece and keep the remnants.

    What is neither part nor remnant is kerf and waste. Remnants keep the direction of the grain.
    Refuses more than the piece holds, a remnant larger than the piece, and a piece that is held:
    starting its batch cuts it.
    """
    return cut(
        piece, parts, remnants, day=day, batch=batch, reason=reason, note=note, by=by
    ).posting


def cut(
    piece: Piece,
    parts: Sequence[tuple[int, int | None, int]],
    remnants: Sequence[Size],
    *,
    day: date,
    batch: Batch | None = None,
    reason: str = "batch",
    note: str = "",
    by: User | None = None,
) -> Cut:
    """The same inside another action, with the remnants returned."""
    lock_items([piece.lot.item_id])
    balance = balance_of(piece)
    refuse_unusable(piece.lot, day)
    _refuse_held(piece)
    _refuse_too_much(piece, parts, remnants)
    kept = _new_remnants(piece, remnants)
    entries = [Entry(piece.lot, balance.place, -balance.qty, piece)]
    entries += [Entry(piece.lot, balance.place, left.quantity, left) for left in kept]
    posting = post("cut", entries, day=day, by=by, reason=reason, note=note, batch=batch)
    return Cut(posting, kept)


def _refuse_held(piece: Piece) -> None:
    held = piece.reservations.filter(is_open=True).select_related("batch").first()
    if held:
        raise NotEnough(
            f"Piece {piece.label} is held for batch {held.batch.number}. "
            "Start or release that batch, or cut another piece."
        )


def _refuse_too_much(
    piece: Piece, parts: Sequence[tuple[int, int | None, int]], remnants: Sequence[Size]
) -> None:
    cut_off = [(length, width) for length, width, count in parts for _ in range(count)]
    sizes = [*cut_off, *remnants]
    if not sizes:
        raise Refused(f"Piece {piece.label}: say which parts and remnants come of it.")
    for length, width in sizes:
        if length <= 0 or (width is None) != (piece.width_um is None) or (width or 1) <= 0:
            raise Refused(f"Piece {piece.label}: every part needs a size above zero.")
    for size in cut_off:
        if not _fits(size, piece) and not _fits(size[::-1], piece):
            raise NotEnough(_too_large(piece, "part", size))
    for size in remnants:
        if not _fits(size, piece):
            raise NotEnough(_too_large(piece, "remnant", size))
    if sum(size_in_stock_unit(*size) for size in sizes) > piece.quantity:
        raise NotEnough(
            f"Piece {piece.label} is smaller than its parts and remnants together. "
            "Check the sizes, and leave room for the kerf."
        )


def _fits(size: tuple[int | None, int | None], piece: Piece) -> bool:
    along, across = size
    if along is None:
        return False
    return along <= piece.length_um and (across or 0) <= (piece.width_um or 0)


def _too_large(piece: Piece, what: str, size: Size) -> str:
    return (
        f"Piece {piece.label} is {show_size(piece.length_um, piece.width_um)}; a {what} of "
        f"{show_size(*size)} doesn't fit."
    )


def _new_remnants(piece: Piece, sizes: Sequence[Size]) -> list[Piece]:
    if not sizes:
        return []
    labels = next_numbers(PIECE, len(sizes), Piece, "label")
    return Piece.objects.bulk_create(
        Piece(
            lot=piece.lot,
            label=label,
            length_um=length,
            width_um=width,
            parent=piece,
            squared=True,
        )
        for label, (length, width) in zip(labels, sizes, strict=True)
    )
