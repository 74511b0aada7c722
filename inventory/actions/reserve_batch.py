"""Everything a batch takes, held for it and given back."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal

from forecasting.explosion import Build
from inventory.actions.batch_state import STATE, refuse_unless, refuse_unmade
from inventory.actions.numbering import PIECE, next_numbers
from inventory.actions.posting import lock_items
from inventory.actions.request import action
from inventory.cutting import AimName
from inventory.errors import NotEnough
from inventory.models import Batch, CutPlan, Item, Piece, Reservation, User
from inventory.queries.batch_needs import batch_builds, items_of
from inventory.queries.bills import made_bills
from inventory.queries.cut_plans import as_stored
from inventory.queries.material_check import MaterialCheck, check_materials
from inventory.queries.material_plan import MaterialPlan
from inventory.queries.shelf import Shelf, look_at_shelf
from inventory.units import show_quantity


@action
def reserve_batch(
    *, batch: Batch, day: date, aim: AimName = "remnant", by: User | None = None
) -> Batch:
    """Hold everything the batch takes: pieces as the cutting plan names them, the rest by lot.

    The plan is kept: the bench sheet prints it and the start cuts by it. aim: how far it is worked
    out, as in inventory.queries.material_plan.
    Refuses when anything is short, naming it all; nothing is held then.
    """
    refuse_unless(batch, "reserved", STATE.PLANNED)
    lines, bills = batch_builds(batch), made_bills()
    items = items_of(lines, bills)
    lock_items(items)
    shelf = look_at_shelf(day, batch, items)
    exploded = shelf.explode(line.build for line in lines)
    materials = check_materials(shelf, exploded, aim)
    if short := [check for check in materials if check.is_short]:
        raise NotEnough(_shortages(batch, short))
    refuse_unmade(batch, exploded.made)
    rows: list[Reservation] = []
    plans: list[CutPlan] = []
    for check in materials:
        if check.material is not None:
            rows += _hold_pieces(batch, check.item, check.material)
            plans.append(_kept_plan(batch, check.material))
        elif check.by_lot:
            rows += _hold_lots(batch, check.item, check.by_lot)
        else:
            rows += _hold(batch, check.item, check.need, shelf)
    builds = [line.build for line in lines]
    for part in exploded.made:
        if part.from_stock:
            rows += _hold_made(batch, shelf.items[part.item], part.from_stock, builds, shelf)
    Reservation.objects.bulk_create(rows)
    CutPlan.objects.bulk_create(plans)
    batch.state = STATE.RESERVED
    batch.save(update_fields=["state"])
    return batch


@action
def release_batch(*, batch: Batch, by: User | None = None) -> Batch:
    """Give back everything held; the batch is planned again, and nothing of it is remembered."""
    refuse_unless(batch, "released", STATE.RESERVED)
    batch.reservations.all().delete()
    batch.cut_plans.all().delete()
    batch.state = STATE.PLANNED
    batch.save(update_fields=["state"])
    return batch


def _kept_plan(batch: Batch, material: MaterialPlan) -> CutPlan:
    """The plan, with a label for each remnant so that it can be written on it at the saw."""
    cuts = material.plan.rack_pieces
    count = sum(len(cut.remnants) for cut in cuts)
    given = iter(next_numbers(PIECE, count, Piece, "label") if count else ())
    labels = {cut.piece: [next(given) for _ in cut.remnants] for cut in cuts}
    return CutPlan(batch=batch, item=material.item, plan=as_stored(material, labels))


def _hold_pieces(batch: Batch, item: Item, material: MaterialPlan) -> list[Reservation]:
    return [
        Reservation(
            batch=batch,
            item=item,
            lot=material.pieces[planned.piece].lot,
            piece=material.pieces[planned.piece],
            qty=material.pieces[planned.piece].quantity,
        )
        for planned in material.plan.rack_pieces
    ]


def _hold(batch: Batch, item: Item, qty: Decimal, shelf: Shelf) -> list[Reservation]:
    by_lot: dict[int, Decimal] = defaultdict(Decimal)
    left = qty
    for balance, free in shelf.free[item.pk]:
        taken = min(free, left)
        if taken > 0:
            by_lot[balance.lot_id] += taken
            left -= taken
    if left:
        raise NotEnough(
            f"{item.code}: {show_quantity(left, item.stock_unit)} more is needed for batch "
            f"{batch.number} than is free. Receive more or release another batch."
        )
    return _hold_lots(batch, item, by_lot)


def _hold_made(
    batch: Batch, item: Item, qty: Decimal, builds: list[Build], shelf: Shelf
) -> list[Reservation]:
    matched = shelf.matched_made(item, qty, builds)
    return (
        _hold(batch, item, qty, shelf)
        if matched is None
        else _hold_lots(batch, item, matched.by_lot)
    )


def _hold_lots(batch: Batch, item: Item, by_lot: Mapping[int, Decimal]) -> list[Reservation]:
    return [
        Reservation(batch=batch, item=item, lot_id=lot, qty=taken) for lot, taken in by_lot.items()
    ]


def _shortages(batch: Batch, short: Iterable[MaterialCheck]) -> str:
    return (
        f"Batch {batch.number} can't be reserved; short of {', '.join(map(_shortage, short))}. "
        "Order or receive these, or plan fewer knives."
    )


def _shortage(check: MaterialCheck) -> str:
    if check.pieces_short:
        return f"{check.item.code} {check.pieces_short} full piece(s)"
    missing = f"{check.item.code} {show_quantity(check.short, check.item.stock_unit)}"
    return f"{missing} (enough in total, not in one lot)" if check.split else missing
