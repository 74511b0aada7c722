"""What is in stock of a piece under other labels: remnants of it, and the same piece in doubt."""

from django.db.models import Q

from inventory.models import Piece

LOT_UNKNOWN = "lot unknown"
"""Reason of an entry that takes a piece out of its lot and puts it into an unknown one."""


def left_of(piece: Piece) -> Piece | None:
    """A piece in stock that was cut from this one, however often, or that is this one in doubt."""
    seen, newest = {piece.pk}, [piece]
    while newest:
        doubted = Q(
            movements__qty__gt=0,
            movements__posting__reason=LOT_UNKNOWN,
            movements__posting__movements__piece__in=newest,
        )
        heirs = Piece.objects.filter(Q(parent__in=newest) | doubted).exclude(pk__in=seen)
        here = heirs.filter(balances__isnull=False).first()
        if here:
            return here
        newest = list(heirs.distinct())
        seen |= {heir.pk for heir in newest}
    return None
