"""Parts made in house ahead of a batch: a laminated block that has to cure."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal

from forecasting.explosion import Bill, Build, Explosion, Need, explode
from inventory.actions.cut_material import cut_by_plan
from inventory.actions.issue import take_first_expired, take_matching
from inventory.actions.numbering import LOT, next_number
from inventory.actions.posting import Entry, lock_items, place_of, post
from inventory.actions.request import action
from inventory.actions.wear import log_together
from inventory.cutting import AimName
from inventory.errors import NotEnough, Refused
from inventory.models import BillOfMaterials, Item, Lot, User
from inventory.models.lot import expiry
from inventory.queries.availability import free_balances, stock_by_item
from inventory.queries.batch_needs import items_in, needs_by_item
from inventory.queries.batch_use import WearDone, fitted_by_then, proposed_wear
from inventory.queries.bills import bill_of, bills_with_lines, made_bills
from inventory.queries.lot_match import must_match, sets_of
from inventory.queries.material_plan import plan_material
from inventory.queries.shelf import rack_of
from inventory.queries.trace import FOR, MADE

NOTHING = Decimal(0)


@action
def make_part(
    *,
    item: Item,
    qty: int,
    day: date,
    start: int | None = None,
    aim: AimName = "remnant",
    note: str = "",
    by: User | None = None,
) -> Lot:
    """Book `qty` good ones of a made part as a lot, what `start` of them took and what they wore.

    Parts of it that are made in house too come from stock first. The lot is usable after the waits
    of its bill: laminate is left to cure overnight before anything is cut from it (common
    practice, no source). It costs what its materials cost. aim: how far the cuts are worked out, as
    in inventory.queries.material_plan.
    """
    start = start or qty
    if qty < 1 or start < qty:
        raise Refused(f"{item.code}: {qty} good of {start} started can't be. Check both numbers.")
    active = bills_with_lines().filter(made_item=item, status=BillOfMaterials.Status.ACTIVE).first()
    if active is None:
        raise Refused(f"{item.code} has no active bill. Write one before making it.")
    build = Build(bill_of(active), start, qty)
    inner = {code: made for code, made in made_bills().items() if code != item.code}
    lock_items([item.pk, *items_in(explode([build], inner, {}))])
    number = next_number(LOT, Lot, "number")
    in_stock = _in_stock(inner, day)
    cost = _use_materials(explode([build], inner, in_stock), item, day, aim, by)
    log_together(
        amounts=fitted_by_then(proposed_wear([build], in_stock, inner, WearDone()), day),
        day=day,
        operation=f"made {item.code}"[:60],
    )
    lot = Lot.objects.create(
        item=item,
        number=number,
        received_on=day,
        made_on=day,
        expires_on=expiry(item.shelf_life_days, None, day, None),
        usable_from=day + timedelta(days=build.bill.wait_days) if build.bill.wait_days else None,
        unit_cost=cost / qty,
        note=note,
    )
    entry = Entry(lot, place_of(item, None), Decimal(qty))
    post("make", [entry], day=day, by=by, note=note)
    return lot


def _in_stock(bills: Mapping[str, Bill], day: date) -> dict[str, Decimal]:
    """What is available of the parts made in house, by item code."""
    items = Item.objects.in_bulk(bills, field_name="code")
    stock = stock_by_item(day, [part.pk for part in items.values()])
    return {code: stock[part.pk].available for code, part in items.items()}


def _use_materials(
    taken: Explosion, item: Item, day: date, aim: AimName, by: User | None
) -> Decimal:
    """Take everything from free stock, pieces by plan; return its cost."""
    whole: dict[str, Decimal] = {part.item: part.from_stock for part in taken.made}
    cost = Decimal(0)
    needs = needs_by_item(taken.needs)
    items = Item.objects.in_bulk([*whole, *needs], field_name="code")
    _refuse_uncured(item, taken)
    for code in sorted(needs):
        if items[code].in_pieces:
            rack = rack_of(free_balances(items[code], day))
            material = plan_material(items[code], needs[code], rack, aim=aim)
            cost += cut_by_plan(material, day=day, reason=MADE, note=f"{FOR}{item.code}", by=by)
        else:
            whole[code] = items[code].in_whole_units(
                sum((need.qty for need in needs[code]), NOTHING)
            )
    for code, qty in sorted(whole.items()):
        if qty:
            cost += _issue(items[code], qty, needs.get(code, []), day, item, by)
    return cost


def _issue(
    material: Item, qty: Decimal, needs: Sequence[Need], day: date, made: Item, by: User | None
) -> Decimal:
    if must_match(material) and needs:
        free = free_balances(material, day)
        entries = take_matching(material, sets_of(material, needs), day, free)
    else:
        entries = take_first_expired(material, qty, day)
    post("issue", entries, day=day, by=by, reason=MADE, note=f"{FOR}{made.code}")
    return -sum(entry.qty * entry.lot.unit_cost for entry in entries)


def _refuse_uncured(item: Item, taken: Explosion) -> None:
    for part in taken.made:
        if part.to_make and part.wait_days:
            raise NotEnough(
                f"{item.code}: make {part.to_make} {part.item} first; they are ready "
                f"{part.wait_days} day(s) later."
            )
