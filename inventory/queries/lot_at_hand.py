"""One lot as it lies before you: how much may be taken, moved, or brought back."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Q, Sum

from inventory.models import Balance, Lot, Movement, Piece, Place, Posting
from inventory.queries.availability import free_balances
from inventory.queries.stock import balances_of_lot

NOTHING = Decimal(0)
TAKEN = [Posting.Kind.ISSUE, Posting.Kind.SCRAP, Posting.Kind.CUT, Posting.Kind.MAKE]


@dataclass(frozen=True)
class LotAtHand:
    """Quantities in the item's stock unit.

    place: where most of the lot lies, None when nothing is left. there: how much lies there.
    free: usable and not held for a batch, at all places. out: taken and not brought back.
    """

    lot: Lot
    place: Place | None
    there: Decimal
    free: Decimal
    out: Decimal


def lot_at_hand(lot: Lot, day: date) -> LotAtHand:
    return lot_among(lot, balances_of_lot(lot), free_balances(lot.item, day))


def lot_among(
    lot: Lot, balances: Iterable[Balance], free_ones: Iterable[tuple[Balance, Decimal]]
) -> LotAtHand:
    """The same out of balances, and of what is free of them, that were read before."""
    own = [balance for balance in balances if balance.lot_id == lot.pk]
    most = max(own, key=lambda balance: balance.qty, default=None)
    free = [qty for balance, qty in free_ones if balance.lot_id == lot.pk]
    return LotAtHand(
        lot=lot,
        place=most.place if most else None,
        there=most.qty if most else NOTHING,
        free=sum(free, NOTHING),
        out=out_of_lot(lot),
    )


def out_of_lot(lot: Lot) -> Decimal:
    """What was taken of a lot and not brought back; entries that were undone don't count."""
    standing = Movement.objects.filter(lot=lot, posting__reversed_by__isnull=True)
    taken_or_back = Q(kind__in=TAKEN, qty__lt=0) | Q(kind=Posting.Kind.RETURN)
    total = standing.filter(taken_or_back).aggregate(total=Sum("qty"))["total"]
    return max(-(total or NOTHING), NOTHING)


def last_taken(lot: Lot, piece: Piece | None = None) -> Movement | None:
    """The newest standing entry that took something of a lot, or took this piece."""
    taken = Movement.objects.filter(
        lot=lot, kind__in=TAKEN, qty__lt=0, posting__reversed_by__isnull=True
    )
    if piece is not None:
        taken = taken.filter(piece=piece)
    return taken.select_related("posting__batch", "place").order_by("-pk").first()
