"""The stock ledger, newest day first: all of it, and what a search narrows it to.

A shop's ledger grows for years. Every question here is answered along one of the indexes of
Movement, whose order is also the order of the list: so the first page costs the same in a ledger
of a million lines.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce
from operator import or_
from typing import Any

from django.db.models import BigIntegerField, CharField, F, Q, QuerySet, Value
from django.db.models.functions import Coalesce

from inventory.models import Item, Lot, Movement, Piece

FEW = 20
"""Items, lots or pieces whose lines may all be looked at."""


class Ledger(QuerySet[Movement]):
    """Lines of which a part is picked by their numbers first and only then read with all they name.

    Otherwise a search that finds many would read everything about each before it sorts them.
    """

    def __getitem__(self, asked: int | slice) -> Any:
        if not isinstance(asked, slice):
            return super().__getitem__(asked)
        numbers = self.select_related(None).values_list("pk", flat=True)
        picked = list(QuerySet.__getitem__(numbers, asked))
        return movements().filter(pk__in=picked).order_by(*self.query.order_by)


def movements() -> Ledger:
    """Every line of the ledger with what a list shows of it."""
    return (
        Ledger(Movement)
        .select_related(
            "item", "lot", "piece", "place", "posting__by", "posting__batch", "posting__reversed_by"
        )
        .order_by("-day", "-pk")
    )


@dataclass(frozen=True)
class Found:
    """Ids of what a text names."""

    items: Sequence[int] = ()
    lots: Sequence[int] = ()
    pieces: Sequence[int] = ()

    @property
    def are_few(self) -> bool:
        return len(self.items) + len(self.lots) + len(self.pieces) <= FEW


def search(text: str) -> Found:
    """The item, lot or piece of exactly that name; else all in which it occurs.

    What occurs is looked for in the codes of items and in heat, colour and batch numbers.
    """
    exact = Found(
        items=_ids(Item.objects.filter(code__iexact=text)),
        lots=_ids(Lot.objects.filter(number__iexact=text)),
        pieces=_ids(Piece.objects.filter(label__iexact=text)),
    )
    if exact != Found():
        return exact
    return Found(
        items=_ids(Item.objects.filter(code__icontains=text)),
        lots=_ids(Lot.objects.filter(maker_number__icontains=text)),
    )


def movements_of(rows: QuerySet[Movement], found: Found) -> QuerySet[Movement]:
    """Lines of any of what was found."""
    ids = {"item": found.items, "lot": found.lots, "piece": found.pieces}
    some = [Q(**{f"{field}__in": pks}) for field, pks in ids.items() if pks]
    return rows.filter(reduce(or_, some)) if some else rows.none()


def picked_from_few(rows: QuerySet[Movement], field: str, value: str | int) -> QuerySet[Movement]:
    """Those of a few rows that have a common value.

    The database is kept from the value's own index: walking that one would find few rows late.
    """
    kind = CharField() if isinstance(value, str) else BigIntegerField()
    return rows.alias(own=Coalesce(F(field), Value(value), output_field=kind)).filter(own=value)


def _ids(found: QuerySet) -> tuple[int, ...]:
    return tuple(found.order_by().values_list("pk", flat=True))
