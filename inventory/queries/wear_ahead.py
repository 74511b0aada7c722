"""Life of cutters that the batches ahead still use, in the order in which they come."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from forecasting.explosion import Build, explode
from inventory.models import Batch, BatchLine, Item
from inventory.queries.availability import stock_by_item
from inventory.queries.batch_use import WearDone, wear_logged
from inventory.queries.bills import known_bill, made_bills
from inventory.queries.wear_places import ANYWHERE, WearPlace

STATE = Batch.State
Jobs = dict[str, dict[WearPlace, Decimal]]
"""Life by item code and place."""


def batches_ahead() -> list[Batch]:
    """Batches in work, then those planned or reserved, in the order of their start."""
    open_ones = Batch.objects.filter(state__in=[STATE.PLANNED, STATE.RESERVED, STATE.IN_WORK])
    return sorted(
        open_ones.order_by("start_on", "pk"), key=lambda batch: batch.state != STATE.IN_WORK
    )


def jobs_before(batch: Batch | None, day: date) -> Jobs:
    """Life used before a batch begins: by all ahead of it; by those begun by a day for None."""
    ahead = batches_ahead()
    if batch in ahead:
        ahead = ahead[: ahead.index(batch)]
    elif batch is None:
        ahead = [one for one in ahead if one.state == STATE.IN_WORK or one.start_on <= day]
    total = _no_jobs()
    for jobs in jobs_ahead(ahead, day):
        for code, lives in jobs.items():
            for place, life in lives.items():
                total[code][place] += life
    return total


def jobs_ahead(batches: Sequence[Batch], day: date) -> list[Jobs]:
    """Life each batch still uses at each place, by item code.

    Parts made in house that are there are used by the first batches that take them.
    """
    builds = _builds(batches)
    bills = made_bills()
    made = {item.code: item.pk for item in Item.objects.filter(kind=Item.Kind.MADE)}
    stock = stock_by_item(day, made.values())
    usable = {code: stock[pk].usable for code, pk in made.items()}
    logged = wear_logged(batches)
    jobs: list[Jobs] = []
    before, so_far = _no_jobs(), []
    for batch in batches:
        so_far += builds[batch.pk]
        total = _no_jobs()
        for need in explode(so_far, bills, usable).wear:
            total[need.item][need.place or ANYWHERE] += need.life
        jobs.append(_still_to_do(total, before, logged[batch.pk]))
        before = total
    return jobs


def _no_jobs() -> Jobs:
    return defaultdict(lambda: defaultdict(Decimal))


def _still_to_do(total: Jobs, before: Jobs, done: WearDone) -> Jobs:
    jobs = _no_jobs()
    for code, lives in total.items():
        asked = {place: life - before[code][place] for place, life in lives.items()}
        jobs[code] = done.left_of(code, asked)
    return jobs


def _builds(batches: Sequence[Batch]) -> dict[int, list[Build]]:
    lines = BatchLine.objects.filter(batch__in=batches).select_related("bill")
    builds: dict[int, list[Build]] = defaultdict(list)
    for line in lines.prefetch_related("options"):
        bill = known_bill(line.bill, line.options.all())
        builds[line.batch_id].append(Build(bill, line.start_qty, line.wanted))
    return builds
