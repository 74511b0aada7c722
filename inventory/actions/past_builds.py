"""Builds from before the records began, so that a forecast starts with the notebook's history."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.core.exceptions import ValidationError

from inventory.actions.posting import refuse_impossible_day
from inventory.actions.request import action
from inventory.days import show_day
from inventory.errors import Refused
from inventory.models import PastBuild, Product, User

MOST_STARTED = 10_000
"""On one day; a number that slipped would order for millions of knives."""


@dataclass(frozen=True)
class PastRow:
    """So many of a product started on one day, and how many of them were good."""

    product: Product
    day: date
    started: int
    good: int
    note: str = ""


@action
def record_past_builds(*, rows: Sequence[PastRow], by: User | None = None) -> int:
    """Keep builds as history and return how many; no stock moves.

    Refuses days to come or before any record, more good knives than were started, and a day of a
    product that is recorded already.
    """
    new = [_past_build(row) for row in rows]
    _refuse_recorded_twice(rows)
    PastBuild.objects.bulk_create(new, batch_size=1000)
    return len(new)


def refuse_impossible_build(row: PastRow) -> None:
    """Raise Refused for what can't have been; whether it is recorded isn't looked up."""
    _past_build(row)


def _past_build(row: PastRow) -> PastBuild:
    try:
        refuse_impossible_day(row.day)
    except Refused as refusal:
        raise Refused(f"{row.product.code}: {refusal}") from refusal
    if not 0 <= row.good <= row.started or not row.started:
        raise Refused(
            f"{_name(row)}: {row.good} good of {row.started} started doesn't add up. "
            "Check both numbers."
        )
    if row.started > MOST_STARTED:
        raise Refused(
            f"{_name(row)}: {row.started} started on one day is more than {MOST_STARTED}. "
            "Check the number."
        )
    build = PastBuild(
        product=row.product, day=row.day, started=row.started, good=row.good, note=row.note
    )
    try:
        build.clean_fields(exclude=["product"])
    except ValidationError as error:
        raise Refused(f"{_name(row)}: {' '.join(error.messages)}") from error
    return build


def _refuse_recorded_twice(rows: Sequence[PastRow]) -> None:
    products = {row.product.pk for row in rows}
    known = set(PastBuild.objects.filter(product__in=products).values_list("product_id", "day"))
    for row in rows:
        if (row.product.pk, row.day) in known:
            raise Refused(
                f"{_name(row)} is recorded already. Leave it out, or write what was built that "
                "day in one row."
            )
        known.add((row.product.pk, row.day))


def _name(row: PastRow) -> str:
    return f"{row.product.code} on {show_day(row.day)}"
