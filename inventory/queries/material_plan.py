"""Cutting plans for one item: what the batch needs against the pieces on the rack."""

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import lru_cache

from forecasting.explosion import Need
from inventory.cutting import (
    AimName,
    Bar,
    Blank,
    Kit,
    Part,
    Plan,
    Rules,
    Sheet,
    plan_bars,
    plan_sheets,
)
from inventory.models import Item, Offer, Piece
from inventory.queries.bills import BlankSize
from inventory.units import show_number

TO_BUY = "new"
"""Stands for a full piece as the supplier sells it, not yet here."""

ENOUGH_TO_BUY = 500


@dataclass(frozen=True)
class MaterialPlan:
    """Answer for one item kept in pieces.

    blanks: what to cut by part id. pieces: the rack by label. kits: knives (owner) -> how many are
    wanted. labels: what is to be written on the remnants of a piece, once its plan is held.
    """

    item: Item
    plan: Plan
    blanks: dict[str, BlankSize]
    pieces: dict[str, Piece]
    kits: dict[str, int]
    labels: Mapping[str, Sequence[str]] = field(default_factory=dict)

    @property
    def can_make(self) -> Mapping[str, int]:
        """How many of each kit the rack yields."""
        return self.plan.made_from_rack

    @property
    def to_buy(self) -> int:
        """Full pieces missing."""
        return sum(self.plan.buy.values())

    @property
    def missing(self) -> int:
        return sum(self.plan.missing.values())


def plan_material(
    item: Item,
    needs: Iterable[Need],
    rack: Sequence[Piece],
    offer: Offer | None = None,
    *,
    aim: AimName = "bought",
) -> MaterialPlan:
    """Plan the cuts of one item.

    Args:
        needs: needs of this item, each with a BlankSize as `cut`.
        rack: pieces that may be cut.
        offer: adds full pieces to buy, to say how many are missing.
        aim: how far the plan is worked out. "bought" answers what can be made and what is missing;
            "opened" also chooses the pieces so that the fewest full ones are opened; "remnant" also
            leaves the largest remnants. Each takes longer than the one before.
    """
    needs = list(needs)
    blanks, kits = blanks_of(needs), kits_of(item, needs)
    full = [] if offer is None or not offer.piece_length_um else [full_piece(item, offer)]
    rules = Rules(kerf=item.kerf_um, min_remnant=_smallest_kept(item), last_aim=aim)
    plans = [
        _solve(item, blanks, kits, [*(rack_piece(item, piece) for piece in pieces), *full], rules)
        for pieces in _racks(item, rack)
    ]
    plan = max(plans, key=lambda plan: sum(plan.made_from_rack.values()))
    return MaterialPlan(
        item=item,
        plan=plan,
        blanks=blanks,
        pieces={piece.label: piece for piece in rack},
        kits={kit.id: kit.qty for kit in kits},
    )


def kit_of(need: Need) -> tuple[str, int]:
    """Name of the kit a need belongs to, and how many kits it takes."""
    name = need.owner if need.per == "knife" else f"{need.owner} per {need.per}"
    return name, math.ceil(need.qty / math.ceil(need.each))


def blanks_of(needs: Iterable[Need]) -> dict[str, BlankSize]:
    """What the needs of one item cut, by part id."""
    sizes = sorted({need.cut for need in needs})
    return {name: size for size, name in _part_names(sizes).items()}


def kits_of(item: Item, needs: Sequence[Need]) -> list[Kit]:
    """The knives, batches and setups that the needs of one item belong to, with their parts."""
    names = {size: name for name, size in blanks_of(needs).items()}
    by_kit: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    times: dict[str, int] = defaultdict(int)
    for need in needs:
        kit, count = kit_of(need)
        by_kit[kit][names[need.cut]] += math.ceil(need.each)
        times[kit] = max(times[kit], count)
    one_lot = item.lot_match != Item.LotMatch.NONE
    return [Kit(kit, dict(by_kit[kit]), times[kit], one_lot) for kit in sorted(by_kit)]


def _part_names(sizes: Sequence[BlankSize]) -> dict[BlankSize, str]:
    """A name for each size; the same size that may be turned elsewhere has one of its own."""
    return {
        size: _part_name(size)
        + (" either way" if size.may_turn and replace(size, may_turn=False) in sizes else "")
        for size in sizes
    }


def _part_name(size: BlankSize) -> str:
    width = f" x {show_number(Decimal(size.width_um) / 1000)}" if size.width_um else ""
    return f"{show_number(Decimal(size.length_um) / 1000)}{width}"


def _racks(item: Item, rack: Sequence[Piece]) -> list[Sequence[Piece]]:
    """The whole rack, or each lot by itself where a batch may not mix lots."""
    if item.lot_match != Item.LotMatch.BATCH or not rack:
        return [rack]
    by_lot: dict[int, list[Piece]] = defaultdict(list)
    for piece in rack:
        by_lot[piece.lot_id].append(piece)
    return list(by_lot.values())


def _solve(
    item: Item,
    blanks: dict[str, BlankSize],
    kits: list[Kit],
    pieces: Sequence[Bar | Sheet],
    rules: Rules,
) -> Plan:
    wanted = tuple((kit.id, tuple(kit.need.items()), kit.qty, kit.one_lot) for kit in kits)
    parts = tuple(part_to_cut(item, name, size) for name, size in blanks.items())
    planner = plan_bars if item.stock_unit == Item.Unit.MM else plan_sheets
    return _planned(planner, parts, tuple(pieces), wanted, rules)


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


def full_piece(item: Item, offer: Offer) -> Bar | Sheet:
    """A piece as the supplier sells it, as many as wanted."""
    if item.stock_unit == Item.Unit.MM:
        return Bar(
            TO_BUY,
            offer.piece_length_um,
            count=ENOUGH_TO_BUY,
            lot=TO_BUY,
            purchasable=True,
            trim_first=item.trim_um,
        )
    return Sheet(
        TO_BUY,
        offer.piece_length_um,
        offer.piece_width_um,
        count=ENOUGH_TO_BUY,
        lot=TO_BUY,
        purchasable=True,
        trim_x=item.trim_um,
        trim_y=item.trim_um,
    )


def part_to_cut(item: Item, name: str, size: BlankSize) -> Part | Blank:
    """A blank as cutting plans want it; it may be turned where there is no grain to follow."""
    if item.stock_unit == Item.Unit.MM:
        return Part(name, size.length_um)
    turn = size.may_turn or not item.has_grain
    return Blank(name, size.length_um, size.width_um, turn)
