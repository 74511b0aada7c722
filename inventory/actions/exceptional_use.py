"""What was taken outside batches and won't come again: left out of forecasts, and counted in again."""

from datetime import date

from inventory.actions.request import action
from inventory.errors import Refused
from inventory.models import ExceptionalUse, Posting, User
from inventory.queries.exceptional_use import same_occasion


@action
def leave_out_use(*, posting: Posting, day: date, by: User | None = None) -> Posting:
    """Leave the occasion of an entry out of forecasts from that day on; the ledger stays.

    The occasion: see inventory.queries.exceptional_use.same_occasion. What is left out already
    stays so. Refuses an entry that is no use outside batches.
    """
    entries = same_occasion(posting)
    if not entries:
        raise Refused(
            f"Entry {posting.pk} is no use outside batches, or was undone. Forecasts leave out only "
            "what was taken by hand for something else."
        )
    for entry in entries.filter(exceptional__isnull=True):
        ExceptionalUse.objects.create(posting=entry, day=day, by=by)
    return posting


@action
def count_use_in(*, posting: Posting, by: User | None = None) -> Posting:
    """Expect use like that of an entry's occasion again; nothing happens when it is counted already."""
    ExceptionalUse.objects.filter(posting__in=[posting.pk, *same_occasion(posting)]).delete()
    return posting
