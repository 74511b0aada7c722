"""Where a lot came from and went to: from a knife's batch back to the heat, and from a heat on.

A part made in house is booked as what was taken for it (reason MADE, note "for" its code) and then
the lot that came of it; the item is locked meanwhile, so what was taken since the part's previous
lot went into this one.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Case, Max, OuterRef, Q, QuerySet, Subquery, Sum, When
from django.db.models.functions import Substr

from inventory.models import Batch, Lot, Movement, Posting

MADE = "made"
FOR = "for "


@dataclass(frozen=True)
class WentInto:
    """What of a lot went into one batch, or into one lot of a part made in house."""

    into: Batch | Lot
    qty: Decimal
    day: date


def went_into(lot: Lot) -> list[WentInto]:
    """Batches and made parts that used a lot, the newest first; what came back is deducted."""
    sums = list(_standing(lot).filter(total__lt=0))
    batches = Batch.objects.in_bulk({row["posting__batch"] for row in sums} - {None})
    made = Lot.objects.select_related("item").in_bulk({row["made"] for row in sums} - {None})
    return [
        WentInto(into, -row["total"], row["last"])
        for row in sums
        if (into := batches.get(row["posting__batch"]) or made.get(row["made"]))
    ]


def made_from(lot: Lot) -> list[tuple[Lot, Decimal]]:
    """Lots, and how much of each, that a lot of a made part was made from; none if it was bought."""
    own = Movement.objects.filter(kind=Posting.Kind.MAKE, qty__gt=0, item=lot.item_id)
    posting = own.filter(lot=lot).values_list("posting", flat=True).first()
    if posting is None:
        return []
    before = own.filter(posting__lt=posting).aggregate(last=Max("posting"))["last"] or 0
    taken = (
        Movement.objects.filter(
            posting__gt=before,
            posting__lt=posting,
            posting__reason=MADE,
            posting__note=f"{FOR}{lot.item.code}",
            posting__reversed_by__isnull=True,
        )
        .order_by("lot")
        .values_list("lot")
        .annotate(total=Sum("qty"))
    )
    lots = Lot.objects.select_related("item").in_bulk([pk for pk, _ in taken])
    return [(lots[pk], -total) for pk, total in taken]


def _standing(lot: Lot) -> QuerySet:
    """Sums of a lot's movements by batch and by the made lot they went into; entries that stand."""
    made = Movement.objects.filter(
        kind=Posting.Kind.MAKE,
        qty__gt=0,
        item__code=Substr(OuterRef("posting__note"), len(FOR) + 1),
        posting__gt=OuterRef("posting"),
    ).order_by("posting")
    rows = Movement.objects.filter(
        Q(posting__batch__isnull=False) | Q(posting__reason=MADE),
        ~Q(kind=Posting.Kind.REVERSE),
        lot=lot,
        posting__reversed_by__isnull=True,
    )
    return (
        rows.annotate(made=Case(When(posting__reason=MADE, then=Subquery(made.values("lot")[:1]))))
        .values("posting__batch", "made")
        .annotate(total=Sum("qty"), last=Max("day"))
        .order_by("-last")
    )
