"""Counts that saw the stock on a later day than the one an entry is dated."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db.models import Q
from django.utils import timezone

from inventory.models import CountLine, Lot, Movement, Piece, Place, Posting, StockCount
from inventory.queries.what_became import LOT_UNKNOWN

FOUND = "found"
"""Reason of an entry of what turned up; nobody counted the rest then."""

Stock = tuple[Lot, Piece | None, Place]
Key = tuple[int, int | None, int | None]
"""Ids of a lot and its place, or of a lot and a piece wherever it lies."""


@dataclass(frozen=True)
class SeenLater:
    """The last count of a lot at a place, or of a piece; was_there: it found some."""

    lot: Lot
    piece: Piece | None
    counted_on: date
    was_there: bool


def counted_after(day: date, stock: Iterable[Stock]) -> list[SeenLater]:
    """What of this stock was counted after that day.

    A lot is counted at its place, a piece wherever it lies. Lines of lists count from the moment
    they are counted; counts that were undone or dropped, and what merely turned up, don't.
    """
    if day >= timezone.localdate():
        return []
    stock = list(stock)
    last = _last_counts(day, {lot.pk for lot, _, _ in stock})
    seen = []
    for lot, piece, place in stock:
        if counted := last.get(_key(lot.pk, piece and piece.pk, place.pk)):
            seen.append(SeenLater(lot, piece, *counted))
    return seen


def _key(lot: int, piece: int | None, place: int) -> Key:
    return (lot, piece, None) if piece else (lot, None, place)


def _last_counts(day: date, lots: set[int]) -> dict[Key, tuple[date, bool]]:
    stands = Q(posting__isnull=True) | Q(posting__reversed_by__isnull=True)
    lines = (
        CountLine.objects.filter(stands, lot__in=lots, counted_at__gte=_morning_after(day))
        .exclude(count__state=StockCount.State.DROPPED)
        .order_by("counted_at")
        .values_list("lot", "piece", "place", "counted_at", "counted")
    )
    seen = [(key, timezone.localdate(at), qty > 0) for *key, at, qty in lines]
    entries = Movement.objects.filter(
        lot__in=lots, kind=Posting.Kind.COUNT, day__gt=day, posting__reversed_by__isnull=True
    ).exclude(Q(posting__reason=LOT_UNKNOWN) | Q(posting__reason=FOUND, piece__isnull=True))
    rows = entries.order_by("pk").values_list("lot", "piece", "place", "day", "qty")
    seen += [(key, counted, qty > 0) for *key, counted, qty in rows]
    last: dict[Key, tuple[date, bool]] = {}
    for key, counted, was_there in seen:
        known = last.get(_key(*key))
        if known is None or counted >= known[0]:
            last[_key(*key)] = counted, was_there
    return last


def _morning_after(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day + timedelta(days=1), time.min))
