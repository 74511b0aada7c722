"""A batch goes into work: its pieces are cut, its made parts taken."""

from collections import defaultdict
from datetime import date
from decimal import Decimal

from forecasting.explosion import explode
from inventory.actions.batch_state import STATE, refuse_unless, refuse_unmade, use_for_batch
from inventory.actions.cut_material import cut_by_plan
from inventory.actions.posting import lock_items, refuse_impossible_day
from inventory.actions.request import action
from inventory.models import Batch, Item, User
from inventory.queries.batch_needs import batch_builds, items_of
from inventory.queries.bills import made_bills
from inventory.queries.cut_plans import cuts_to_make


@action
def start_batch(*, batch: Batch, day: date, by: User | None = None) -> Batch:
    """Cut the pieces held for the batch as planned, and take its parts made in house.

    The rest stays held and is used up when the batch is finished, by what really got that far.
    Refuses a part that has to be made ahead and isn't there.
    """
    refuse_unless(batch, "started", STATE.RESERVED)
    refuse_impossible_day(day)
    lines, bills = batch_builds(batch), made_bills()
    lock_items(items_of(lines, bills))
    made_held = _made_parts_held(batch)
    in_stock = {item.code: qty for item, qty in made_held}
    exploded = explode([line.build for line in lines], bills, in_stock)
    refuse_unmade(batch, exploded.made)
    materials = cuts_to_make(batch, exploded.needs, day)
    batch.reservations.filter(is_open=True, piece__isnull=False).update(is_open=False)
    for material in materials:
        cut_by_plan(material, day=day, batch=batch, by=by)
    use_for_batch(batch, made_held, day, by)
    batch.state, batch.started_on = STATE.IN_WORK, day
    batch.save(update_fields=["state", "started_on"])
    return batch


def _made_parts_held(batch: Batch) -> list[tuple[Item, Decimal]]:
    held: dict[Item, Decimal] = defaultdict(Decimal)
    rows = batch.reservations.filter(is_open=True, item__kind=Item.Kind.MADE)
    for reservation in rows.select_related("item"):
        held[reservation.item] += reservation.qty
    return list(held.items())
