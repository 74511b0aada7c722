"""What a count finds that isn't on its list: labelled stock from elsewhere, or without a label."""

from collections.abc import Sequence
from decimal import Decimal

from django.utils import timezone

from inventory.actions.numbering import LOT, PIECE, next_number, next_numbers
from inventory.actions.receive import PieceSize
from inventory.actions.request import action
from inventory.actions.stock_count import open_count, stamp
from inventory.errors import Refused, WrongUnit
from inventory.models import CountLine, Item, Lot, Piece, Place, StockCount, User
from inventory.queries.unit_costs import unit_costs

MOST_FOUND = 100


@action
def add_to_count(
    *,
    count: StockCount,
    place: Place,
    lot: Lot,
    piece: Piece | None = None,
    by: User | None = None,
) -> CountLine:
    """Put a labelled lot or piece on the list at the place where it lies, to be counted there.

    A lot comes with every other place the ledger has it at: counted here alone, what was only moved
    would be taken for more. A piece is in one place; posted, it is moved here.
    """
    count = open_count(count)
    if lot.item.in_pieces and piece is None:
        raise WrongUnit(f"{lot.item.code} is kept in pieces. Enter the label of the piece.")
    line = _line(count, lot, piece, place)
    if piece is None:
        for balance in lot.balances.select_related("place"):
            _line(count, lot, None, balance.place)
    return line


@action
def count_unlabelled(
    *,
    count: StockCount,
    item: Item,
    place: Place,
    why: str,
    qty: Decimal | None = None,
    pieces: Sequence[PieceSize] | None = None,
    usable: bool = False,
    by: User | None = None,
) -> CountLine:
    """Write down stock without a label as a new lot, counted; posting the list books it in.

    It costs what the item costs. Unless it is known what it is, it is for practice only.

    Args:
        qty: how much, of an item that isn't kept in pieces.
        pieces: (length µm, width µm or None, count), of one that is.
        usable: it is known what it is.
    Returns: the line, the first of them when there are several pieces.
    """
    count = open_count(count)
    _refuse_impossible_find(item, qty, pieces, why)
    today = timezone.localdate()
    cost = unit_costs([item], today).get(item.code)
    lot = Lot.objects.create(
        item=item,
        number=next_number(LOT, Lot, "number"),
        status=Lot.Status.RELEASED if usable else Lot.Status.UNKNOWN,
        received_on=today,
        unit_cost=cost.amount if cost else Decimal(0),
        note=f"found by count {count.number}: {why}",
    )
    if pieces is None:
        return stamp(CountLine(count=count, lot=lot, place=place), qty)
    return [_counted_piece(count, piece, place) for piece in _pieces(lot, pieces)][0]


def _line(count: StockCount, lot: Lot, piece: Piece | None, place: Place) -> CountLine:
    """The line of a lot at a place, or of a piece, put there if it stood at another place."""
    same = {"piece": piece} if piece else {"lot": lot, "piece": None, "place": place}
    line = count.lines.filter(**same).first()
    if line is None:
        return CountLine.objects.create(count=count, lot=lot, piece=piece, place=place)
    if line.place_id != place.pk:
        count.lines.filter(pk=line.pk).delete()
        return CountLine.objects.create(count=count, lot=lot, piece=piece, place=place)
    return line


def _counted_piece(count: StockCount, piece: Piece, place: Place) -> CountLine:
    line = CountLine(count=count, lot=piece.lot, piece=piece, place=place)
    line.counted_length_um, line.counted_width_um = piece.length_um, piece.width_um
    return stamp(line, piece.quantity)


def _pieces(lot: Lot, sizes: Sequence[PieceSize]) -> list[Piece]:
    flat = [(length, width) for length, width, count in sizes for _ in range(count)]
    labels = next_numbers(PIECE, len(flat), Piece, "label")
    return [
        Piece.objects.create(lot=lot, label=label, length_um=length, width_um=width)
        for label, (length, width) in zip(labels, flat, strict=True)
    ]


def _refuse_impossible_find(
    item: Item, qty: Decimal | None, pieces: Sequence[PieceSize] | None, why: str
) -> None:
    if not why:
        raise Refused(f"{item.code}: say where it was found, or what it is likely to be.")
    if item.is_service:
        raise Refused(f"{item.code} is an outside service; it isn't kept in stock.")
    if item.in_pieces:
        _refuse_impossible_pieces(item, pieces)
    elif pieces:
        raise WrongUnit(f"{item.code} isn't kept in pieces. Enter how much was found.")
    elif qty is None or qty <= 0:
        raise Refused(f"{item.code}: say how much was found, above zero.")
    elif item.stock_unit == Item.Unit.EACH and qty != qty.to_integral_value():
        raise WrongUnit(f"{item.code} is counted in whole pieces, but got {qty.normalize()}.")


def _refuse_impossible_pieces(item: Item, pieces: Sequence[PieceSize] | None) -> None:
    if not pieces:
        raise WrongUnit(f"{item.code} is kept in pieces. Enter the sizes that were found.")
    if sum(count for _, _, count in pieces) > MOST_FOUND:
        raise Refused(f"{item.code}: more than {MOST_FOUND} pieces found? Receive them instead.")
    is_sheet = item.stock_unit == Item.Unit.MM2
    for length, width, _ in pieces:
        if length <= 0 or bool(width) != is_sheet:
            wanted = "a length and a width" if is_sheet else "a length only"
            raise WrongUnit(f"{item.code}: a {item.get_kind_display()} has {wanted}.")
