"""Cutting plans of a held batch: decided when its pieces were held, the same at the saw."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import astuple, dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from forecasting.explosion import Made, Need, explode
from inventory.cutting import Kit, Plan, plan_from_json, plan_to_json
from inventory.models import Balance, Batch, Item, Piece, Place
from inventory.queries.batch_needs import Started, needs_by_item
from inventory.queries.bills import BlankSize, made_bills
from inventory.queries.material_plan import MaterialPlan, blanks_of, kits_of, plan_material
from inventory.queries.shelf import rack_of


@dataclass(frozen=True)
class StartPlan:
    """What the start of a held batch takes.

    made_held: parts made in house that are held. made: all that are needed, netted against these.
    cuts: one plan for each item kept in pieces.
    """

    made_held: list[tuple[Item, Decimal]]
    made: tuple[Made, ...]
    cuts: list[MaterialPlan]


def start_plan(batch: Batch, lines: Sequence[Started], day: date) -> StartPlan:
    """The start of a held batch with these lines."""
    made_held = _made_parts_held(batch)
    in_stock = {item.code: qty for item, qty in made_held}
    exploded = explode([line.build for line in lines], made_bills(), in_stock)
    return StartPlan(made_held, exploded.made, cuts_to_make(batch, exploded.needs, day))


def as_stored(material: MaterialPlan, labels: Mapping[str, Sequence[str]]) -> dict[str, Any]:
    """What a CutPlan keeps of a plan; labels: of the remnants to come, by piece."""
    return {
        "plan": plan_to_json(material.plan),
        "blanks": {name: astuple(size) for name, size in material.blanks.items()},
        "kits": material.kits,
        "labels": labels,
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


def out_of_reach(batch: Batch, day: date) -> list[tuple[str, str]]:
    """Pieces of the stored plans that can't be cut on that day: label, and why not."""
    planned = [
        cut["piece"] for row in batch.cut_plans.all() for cut in row.plan["plan"]["rack_pieces"]
    ]
    pieces = Piece.objects.filter(label__in=planned).select_related("lot").order_by("label")
    where = {
        balance.piece_id: balance.place
        for balance in Balance.objects.filter(piece__in=pieces).select_related("place")
    }
    found = []
    for piece in pieces:
        if why := _why_not_cut(piece, where.get(piece.pk), day):
            found.append((piece.label, why))
    return found


def _why_not_cut(piece: Piece, place: Place | None, day: date) -> str:
    if place is None:
        return "isn't in stock any more"
    if place.supplier_id:
        return f"is at {place.name}"
    why = piece.lot.why_unusable(day)
    return f"is of lot {piece.lot.number}, {why}" if why else ""


def _as_it_stands(
    stored: dict[str, Any] | None, item: Item, needs: list[Need], racks: dict[int, list[Piece]]
) -> MaterialPlan:
    rack = racks.get(item.pk, [])
    if stored is not None:
        plan = plan_from_json(stored["plan"])
        there = {piece.label: piece for piece in rack}
        blanks = {name: BlankSize(*size) for name, size in stored["blanks"].items()}
        kits = kits_of(item, needs)
        wanted = {kit.id: kit.qty for kit in kits}
        as_wanted = stored["kits"] == wanted and blanks == blanks_of(needs)
        all_there = all(cut.piece in there for cut in plan.rack_pieces)
        if as_wanted and all_there and _parts_cut(plan) == _parts_of(kits):
            return MaterialPlan(item, plan, blanks, there, wanted, stored["labels"])
    return plan_material(item, needs, rack, aim="remnant")


def _parts_cut(plan: Plan) -> Counter[str]:
    return Counter(part.item for cut in plan.rack_pieces for part in cut.placed)


def _parts_of(kits: Iterable[Kit]) -> Counter[str]:
    parts: Counter[str] = Counter()
    for kit in kits:
        parts.update({part: count * kit.qty for part, count in kit.need.items()})
    return parts


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


def _made_parts_held(batch: Batch) -> list[tuple[Item, Decimal]]:
    held: dict[Item, Decimal] = defaultdict(Decimal)
    rows = batch.reservations.filter(is_open=True, item__kind=Item.Kind.MADE)
    for reservation in rows.select_related("item"):
        held[reservation.item] += reservation.qty
    return list(held.items())
