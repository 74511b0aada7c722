"""Cutting plans of a held batch: decided when its pieces were held, the same at the saw."""

from collections.abc import Iterable
from dataclasses import astuple
from datetime import date
from typing import Any

from forecasting.explosion import Need
from inventory.cutting import plan_from_json, plan_to_json
from inventory.models import Balance, Batch, Item, Piece
from inventory.queries.batch_needs import needs_by_item
from inventory.queries.bills import BlankSize
from inventory.queries.material_plan import MaterialPlan, kits_of, plan_material
from inventory.queries.shelf import rack_of


def as_stored(material: MaterialPlan) -> dict[str, Any]:
    """What a CutPlan keeps of a plan."""
    return {
        "plan": plan_to_json(material.plan),
        "blanks": {name: astuple(size) for name, size in material.blanks.items()},
        "kits": material.kits,
    }


def cuts_to_make(batch: Batch, needs: Iterable[Need], day: date) -> list[MaterialPlan]:
    """Plans for the needs that are cut from pieces, by item code.

    Each stands as it was stored, unless a piece of it isn't held or usable any more or something
    else is needed now: then it is planned anew from the pieces that still are.
    """
    by_item = needs_by_item(needs)
    items = Item.objects.filter(
        code__in=by_item, stock_unit__in=[Item.Unit.MM, Item.Unit.MM2]
    ).in_bulk(field_name="code")
    racks = _held_racks(batch, day)
    stored = {row.item_id: row.plan for row in batch.cut_plans.all()}
    return [
        _as_it_stands(stored.get(items[code].pk), items[code], by_item[code], racks)
        for code in sorted(items)
    ]


def _as_it_stands(
    stored: dict[str, Any] | None, item: Item, needs: list[Need], racks: dict[int, list[Piece]]
) -> MaterialPlan:
    rack = racks.get(item.pk, [])
    if stored is not None:
        plan = plan_from_json(stored["plan"])
        there = {piece.label: piece for piece in rack}
        wanted = {kit.id: kit.qty for kit in kits_of(item, needs)}
        if stored["kits"] == wanted and all(cut.piece in there for cut in plan.rack_pieces):
            blanks = {name: BlankSize(*size) for name, size in stored["blanks"].items()}
            return MaterialPlan(item, plan, blanks, there, wanted)
    return plan_material(item, needs, rack, aim="remnant")


def _held_racks(batch: Batch, day: date) -> dict[int, list[Piece]]:
    """Pieces held for a batch that may be cut on that day, by item."""
    held = batch.reservations.filter(is_open=True, piece__isnull=False)
    balances = Balance.objects.filter(piece__in=held.values("piece")).select_related(
        "lot__item", "piece", "place"
    )
    racks: dict[int, list[Piece]] = {}
    for balance in balances.order_by("piece__label"):
        if not balance.lot.why_unusable(day):
            racks.setdefault(balance.item_id, []).extend(rack_of([(balance, balance.qty)]))
    return racks
