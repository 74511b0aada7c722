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

    What is neither part nor remnant is kerf and waste. Refuses more than the piece holds, a remnant
    larger than the piece, and pieces held for another batch.
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
    _refuse_held_elsewhere(piece, batch)
    _refuse_too_much(piece, parts, remnants)
    kept = _new_remnants(piece, remnants)
    entries = [Entry(piece.lot, balance.place, -balance.qty, piece)]
    entries += [Entry(piece.lot, balance.place, left.quantity, left) for left in kept]
    posting = post("cut", entries, day=day, by=by, reason=reason, note=note, batch=batch)
    return Cut(posting, kept)


def _refuse_held_elsewhere(piece: Piece, batch: Batch | None) -> None:
    held = piece.reservations.filter(is_open=True).select_related("batch").first()
    if held and held.batch != batch:
        raise NotEnough(
            f"Piece {piece.label} is held for batch {held.batch.number}. "
            "Release that batch first, or cut another piece."
        )


def _refuse_too_much(
    piece: Piece, parts: Sequence[tuple[int, int | None, int]], remnants: Sequence[Size]
) -> None:
    sizes = [(length, width) for length, width, count in parts for _ in range(count)]
    sizes += list(remnants)
    if not sizes:
        raise Refused(f"Piece {piece.label}: say which parts and remnants come of it.")
    for length, width in sizes:
        if length <= 0 or (width is None) != (piece.width_um is None) or (width or 1) <= 0:
            raise Refused(f"Piece {piece.label}: every part needs a size above zero.")
        turned = (width or 0, length) if width else (length, 0)
        fits = (length <= piece.length_um and (width or 0) <= (piece.width_um or 0)) or (
            width is not None and turned[0] <= piece.length_um and turned[1] <= piece.width_um
        )
        if not fits:
            raise NotEnough(
                f"Piece {piece.label} is {piece.length_um / 1000:g}"
                f"{f' x {piece.width_um / 1000:g}' if piece.width_um else ''} mm; a part of "
                f"{length / 1000:g}{f' x {width / 1000:g}' if width else ''} mm doesn't fit."
            )
    if sum(size_in_stock_unit(*size) for size in sizes) > piece.quantity:
        raise NotEnough(
            f"Piece {piece.label} is smaller than its parts and remnants together. "
            "Check the sizes, and leave room for the kerf."
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
