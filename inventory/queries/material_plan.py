"""Cutting plans for one item: what the batch needs against the pieces on the rack."""

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from forecasting.explosion import Need
from inventory.cutting import Bar, Blank, Kit, Part, Plan, Rules, Sheet, plan_bars, plan_sheets
from inventory.models import Item, Offer, Piece
from inventory.queries.bills import BlankSize

TO_BUY = "new"
"""Stands for a full piece as the supplier sells it, not yet here."""

ENOUGH_TO_BUY = 500


@dataclass(frozen=True)
class MaterialPlan:
    """Answer for one item kept in pieces.

    blanks: what to cut by part id. pieces: the rack by label. kits: knives (owner) -> how many are
    wanted; can_make: how many of them the rack yields. to_buy: full pieces missing.
    """

    item: Item
    plan: Plan
    blanks: dict[str, BlankSize]
    pieces: dict[str, Piece]
    kits: dict[str, int]
    can_make: dict[str, int]
    to_buy: int

    @property
    def missing(self) -> int:
        return sum(self.plan.missing.values())


def plan_material(
    item: Item, needs: Iterable[Need], rack: Sequence[Piece], offer: Offer | None = None
) -> MaterialPlan:
    """Plan the cuts of one item.

    Args:
        needs: needs of this item, each with a BlankSize as `cut`.
        rack: pieces that may be cut.
        offer: adds full pieces to buy, to say how many are missing.
    """
    blanks, kits = _kits(item, list(needs))
    if item.lot_match == Item.LotMatch.BATCH:
        plan = _best_single_lot(item, blanks, kits, rack, offer)
    else:
        plan = _plan(item, blanks, kits, rack, offer)
    return MaterialPlan(
        item=item,
        plan=plan,
        blanks=blanks,
        pieces={piece.label: piece for piece in rack},
        kits={kit.id: kit.qty for kit in kits},
        can_make=dict(plan.made_from_rack),
        to_buy=sum(plan.buy.values()),
    )


def kit_of(need: Need) -> tuple[str, int]:
    """Name of the kit a need belongs to, and how many kits it takes."""
    name = need.owner if need.per == "knife" else f"{need.owner} per {need.per}"
    return name, math.ceil(need.qty / math.ceil(need.each))


def _kits(item: Item, needs: list[Need]) -> tuple[dict[str, BlankSize], list[Kit]]:
    sizes = sorted({need.cut for need in needs})
    names = {size: _part_name(size) for size in sizes}
    by_kit: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    times: dict[str, int] = defaultdict(int)
    for need in needs:
        kit, count = kit_of(need)
        by_kit[kit][names[need.cut]] += math.ceil(need.each)
        times[kit] = max(times[kit], count)
    one_lot = item.lot_match != Item.LotMatch.NONE
    kits = [Kit(kit, dict(by_kit[kit]), times[kit], one_lot) for kit in sorted(by_kit)]
    return {names[size]: size for size in sizes}, kits


def _part_name(size: BlankSize) -> str:
    width = f" x {size.width_um / 1000:g}" if size.width_um else ""
    return f"{size.length_um / 1000:g}{width}"


def _plan(
    item: Item,
    blanks: dict[str, BlankSize],
    kits: list[Kit],
    rack: Sequence[Piece],
    offer: Offer | None,
) -> Plan:
    pieces = [rack_piece(item, piece) for piece in rack]
    if offer is not None and offer.piece_length_um:
        pieces.append(_piece_like(item, offer, purchasable=True))
    return _solve(item, blanks, kits, pieces)


def _best_single_lot(
    item: Item,
    blanks: dict[str, BlankSize],
    kits: list[Kit],
    rack: Sequence[Piece],
    offer: Offer | None,
) -> Plan:
    """The lot that alone yields most; a mixed batch is no answer when colours must match."""
    by_lot: dict[int, list[Piece]] = defaultdict(list)
    for piece in rack:
        by_lot[piece.lot_id].append(piece)
    plans = [_plan(item, blanks, kits, pieces, offer) for pieces in by_lot.values()]
    if not plans:
        return _plan(item, blanks, kits, [], offer)
    return max(plans, key=lambda plan: sum(plan.made_from_rack.values()))


def _solve(
    item: Item, blanks: dict[str, BlankSize], kits: list[Kit], pieces: Sequence[Bar | Sheet]
) -> Plan:
    rules = Rules(kerf=item.kerf_um, min_remnant=_smallest_kept(item))
    wanted = tuple((kit.id, tuple(kit.need.items()), kit.qty, kit.one_lot) for kit in kits)
    if item.stock_unit == Item.Unit.MM:
        parts = tuple(Part(name, size.length_um) for name, size in blanks.items())
        return _planned(plan_bars, parts, tuple(pieces), wanted, rules)
    cut = tuple(
        Blank(name, size.length_um, size.width_um, size.may_turn or not item.has_grain)
        for name, size in blanks.items()
    )
    return _planned(plan_sheets, cut, tuple(pieces), wanted, rules)


@lru_cache(maxsize=512)
def _planned(
    planner: Callable[..., Plan],
    parts: tuple[Part | Blank, ...],
    pieces: tuple[Bar | Sheet, ...],
    wanted: tuple[tuple[str, tuple[tuple[str, int], ...], int, bool], ...],
    rules: Rules,
) -> Plan:
    """A plan depends on nothing but these, so the same question is answered from memory."""
    kits = [Kit(name, dict(need), qty, one_lot) for name, need, qty, one_lot in wanted]
    return planner(parts, pieces, kits, rules)


def _smallest_kept(item: Item) -> tuple[int, int]:
    if item.stock_unit == Item.Unit.MM:
        return item.keep_length_um, 0
    short, long = sorted((item.keep_width_um, item.keep_length_um))
    return short, long


def rack_piece(item: Item, piece: Piece) -> Bar | Sheet:
    """A piece of the rack as cutting plans want it; squaring trim unless it was squared before."""
    trim = 0 if piece.squared else item.trim_um
    lot = str(piece.lot_id)
    if item.stock_unit == Item.Unit.MM:
        return Bar(
            piece.label, piece.length_um, lot=lot, is_remnant=piece.is_remnant, trim_first=trim
        )
    return Sheet(
        piece.label,
        piece.length_um,
        piece.width_um,
        lot=lot,
        is_remnant=piece.is_remnant,
        trim_x=trim,
        trim_y=trim,
    )


def _piece_like(item: Item, offer: Offer, *, purchasable: bool = False) -> Bar | Sheet:
    count = ENOUGH_TO_BUY if purchasable else 1
    if item.stock_unit == Item.Unit.MM:
        return Bar(
            TO_BUY,
            offer.piece_length_um,
            count=count,
            lot=TO_BUY,
            purchasable=purchasable,
            trim_first=item.trim_um,
        )
    return Sheet(
        TO_BUY,
        offer.piece_length_um,
        offer.piece_width_um,
        count=count,
        lot=TO_BUY,
        purchasable=purchasable,
        trim_x=item.trim_um,
        trim_y=item.trim_um,
    )
