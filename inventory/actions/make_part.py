"""Parts made in house ahead of a batch: a laminated block that has to cure."""

from datetime import date, timedelta
from decimal import Decimal

from forecasting.explosion import Build, Need, explode
from inventory.actions.cut_material import cut_by_plan
from inventory.actions.issue import take_first_expired
from inventory.actions.numbering import LOT, next_number
from inventory.actions.posting import Entry, lock_items, place_of, post
from inventory.actions.request import action
from inventory.errors import Refused
from inventory.models import BillOfMaterials, Item, Lot, User
from inventory.models.lot import expiry
from inventory.queries.availability import free_balances
from inventory.queries.batch_needs import needs_by_item
from inventory.queries.bills import bill_of, bills_with_lines, made_bills
from inventory.queries.material_plan import plan_material
from inventory.queries.shelf import rack_of


@action
def make_part(
    *,
    item: Item,
    qty: int,
    day: date,
    start: int | None = None,
    note: str = "",
    by: User | None = None,
) -> Lot:
    """Book `qty` good ones of a made part as a lot, and what `start` of them took.

    The lot is usable after the waits of its bill: laminate is left to cure overnight before
    anything is cut from it (common practice, no source). It costs what its materials cost.
    """
    start = start or qty
    if qty < 1 or start < qty:
        raise Refused(f"{item.code}: {qty} good of {start} started can't be. Check both numbers.")
    active = bills_with_lines().filter(made_item=item, status=BillOfMaterials.Status.ACTIVE).first()
    if active is None:
        raise Refused(f"{item.code} has no active bill. Write one before making it.")
    bill = bill_of(active)
    inner = {code: made for code, made in made_bills().items() if code != item.code}
    taken = explode([Build(bill, start, qty)], inner, {})
    cost = use_materials(taken.needs, day=day, reason="made", note=f"for {item.code}", by=by)
    lot = Lot.objects.create(
        item=item,
        number=next_number(LOT, Lot, "number"),
        received_on=day,
        made_on=day,
        expires_on=expiry(item.shelf_life_days, None, day, None),
        usable_from=day + timedelta(days=bill.wait_days) if bill.wait_days else None,
        unit_cost=cost / qty,
        note=note,
    )
    entry = Entry(lot, place_of(item, None), Decimal(qty))
    post("make", [entry], day=day, by=by, note=note)
    return lot


def use_materials(
    needs: tuple[Need, ...], *, day: date, reason: str, note: str, by: User | None
) -> Decimal:
    """Take everything an explosion needs from free stock, pieces by plan; return its cost."""
    by_item = needs_by_item(needs)
    cost = Decimal(0)
    items = Item.objects.in_bulk(by_item, field_name="code")
    lock_items(item.pk for item in items.values())
    for code in sorted(by_item):
        item = items[code]
        if item.in_pieces:
            rack = rack_of(free_balances(item, day))
            material = plan_material(item, by_item[code], rack)
            cost += cut_by_plan(material, day=day, reason=reason, note=note, by=by)
            continue
        qty = item.in_whole_units(sum((need.qty for need in by_item[code]), Decimal(0)))
        entries = take_first_expired(item, qty, day)
        post("issue", entries, day=day, by=by, reason=reason, note=note)
        cost -= sum(entry.qty * entry.lot.unit_cost for entry in entries)
    return cost
