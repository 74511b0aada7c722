"""A bar, sheet or roll cut into parts, kerf and remnants."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from inventory.actions.issue import refuse_gone, refuse_unusable
from inventory.actions.numbering import PIECE, next_numbers
from inventory.actions.posting import Entry, lock_items, post
from inventory.actions.request import action
from inventory.errors import NotEnough, Refused
from inventory.models import Balance, Batch, Piece, Posting, Reservation, User
from inventory.models.piece import size_in_stock_unit
from inventory.units import show_size

Size = tuple[int, int | None]


@dataclass(frozen=True)
class PieceCut:
    """What becomes of one piece: parts (length µm, width µm or None, count) and remnants kept.

    labels: of the remnants, in their order; those beyond get new ones.
    """

    piece: Piece
    parts: Sequence[tuple[int, int | None, int]]
    remnants: Sequence[Size]
    labels: Sequence[str] = ()


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
    cut = PieceCut(piece, parts, remnants)
    return cut_pieces([cut], day=day, batch=batch, reason=reason, note=note, by=by)


def cut_pieces(
    cuts: Sequence[PieceCut],
    *,
    day: date,
    batch: Batch | None = None,
    reason: str = "batch",
    note: str = "",
    by: User | None = None,
) -> Posting:
    """The same for several pieces of one item in one posting, inside another action."""
    lock_items({cut.piece.lot.item_id for cut in cuts})
    there = {
        balance.piece_id: balance
        for balance in Balance.objects.select_related("place").filter(
            piece__in=[cut.piece.pk for cut in cuts]
        )
    }
    _refuse_held([cut.piece for cut in cuts])
    for cut in cuts:
        if cut.piece.pk not in there:
            refuse_gone(cut.piece)
        refuse_unusable(cut.piece.lot, day, reason)
        _refuse_too_much(cut.piece, cut.parts, cut.remnants)
    entries = []
    for piece in (cut.piece for cut in cuts):
        entries.append(Entry(piece.lot, there[piece.pk].place, -there[piece.pk].qty, piece))
    for left in _new_remnants(cuts):
        entries.append(Entry(left.lot, there[left.parent_id].place, left.quantity, left))
    return post("cut", entries, day=day, by=by, reason=reason, note=note, batch=batch)


def _refuse_held(pieces: Sequence[Piece]) -> None:
    held = Reservation.objects.filter(piece__in=pieces, is_open=True)
    if first := held.select_related("piece", "batch").first():
        raise NotEnough(
            f"Piece {first.piece.label} is held for batch {first.batch.number}. "
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


def _new_remnants(cuts: Sequence[PieceCut]) -> list[Piece]:
    given = {
        (cut.piece.pk, number): label
        for cut in cuts
        for number, label in zip(range(len(cut.remnants)), cut.labels, strict=False)
    }
    count = sum(len(cut.remnants) for cut in cuts) - len(given)
    new = iter(next_numbers(PIECE, count, Piece, "label") if count else ())
    return Piece.objects.bulk_create(
        Piece(
            lot=cut.piece.lot,
            label=given.get((cut.piece.pk, number)) or next(new),
            length_um=length,
            width_um=width,
            thickness_um=cut.piece.thickness_um,
            parent=cut.piece,
            squared=True,
        )
        for cut in cuts
        for number, (length, width) in enumerate(cut.remnants)
    )
