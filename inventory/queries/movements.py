"""The stock ledger, newest first."""

from django.db.models import QuerySet

from inventory.models import Movement


def movements() -> QuerySet[Movement]:
    """Every line of the ledger with what a list shows of it, in one query."""
    return Movement.objects.select_related(
        "item", "lot", "piece", "place", "posting__by", "posting__batch", "posting__reversed_by"
    ).order_by("-posting_id", "pk")
