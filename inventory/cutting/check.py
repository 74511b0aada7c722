"""Is a plan possible? Written without any code of the planners, so that it can judge them."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence

from .plan import Bar, Blank, Cut, Kit, Part, PiecePlan, Plan, Rules, Sheet

Box = tuple[int, int, int, int]
CLOSE_ENOUGH = 0.001  # what is opened is proven within this share


def check(
    plan: Plan,
    pieces: Sequence[Part] | Sequence[Blank],
    items: Sequence[Bar] | Sequence[Sheet],
    kits: Sequence[Kit],
    rules: Rules,
) -> list[str]:
    """Faults of a plan in words, empty when it can be cut as drawn.

    Args:
        pieces: the parts or blanks to be cut.
        items: the bars or sheets they come from.
        kits, rules: as given to the planner.
    Looks at: sizes and grain, trims, kerf gaps, edge-to-edge cuts and their number of turns,
    remnants, pieces used and bought, whole knives, matching lots, and the reported aims.
    """
    parts = {part.id: part for part in pieces}
    stock = {item.id: item for item in items}
    faults: list[str] = []
    for name, cut in (("pieces", plan.pieces), ("rack_pieces", plan.rack_pieces)):
        for piece in cut:
            if piece.piece not in stock:
                faults.append(f"{name}: {piece.piece!r} is not among the pieces given")
                continue
            where = f"{name}, {piece.piece!r}"
            faults += [f"{where}: {f}" for f in _piece(piece, stock[piece.piece], parts, rules)]
        faults += [f"{name}: {fault}" for fault in _used(cut, stock, rules)]
    faults += [f"pieces: {f}" for f in _knives(plan.pieces, kits, plan.planned)]
    faults += [f"rack_pieces: {f}" for f in _knives(plan.rack_pieces, kits, plan.made_from_rack)]
    if any(piece.purchased for piece in plan.rack_pieces):
        faults.append("rack_pieces: uses a piece that is still to be bought")
    faults += _totals(plan, kits)
    faults += _stages(plan, stock, rules)
    return faults


def _piece(
    piece: PiecePlan, item: Bar | Sheet, parts: Mapping[str, Part | Blank], rules: Rules
) -> Iterator[str]:
    if (piece.lot, piece.purchased) != (item.lot, item.purchasable):
        yield "lot or purchase differs from the piece given"
    if not piece.placed:
        yield "nothing is cut from it"
    for placed in piece.placed:
        if placed.item not in parts:
            yield f"{placed.item!r} is not among the parts given"
        elif (placed.w, placed.h) not in _allowed(parts[placed.item]):
            yield f"{placed.item!r} is cut {placed.w} x {placed.h}, not its size along the grain"
    left, low, right, high = _usable(item)
    far = item.length if isinstance(item, Bar) else right
    for box in _boxes(piece):
        if not (left <= box[0] and low <= box[1] and box[2] <= right and box[3] <= high):
            yield f"part at {box} lies outside the usable area"
    for x, y, w, h in piece.remnants:
        if not (left <= x and low <= y and x + w <= far and y + h <= high):
            yield f"remnant at {(x, y, w, h)} lies outside the usable area"
        sides = (w,) if isinstance(item, Bar) else (min(w, h), max(w, h))
        if any(side < least for side, least in zip(sides, rules.min_remnant, strict=False)):
            yield f"remnant {w} x {h} is smaller than the smallest worth keeping"
    if isinstance(item, Bar):
        yield from _along_bar(piece, item, rules)
    else:
        yield from _across_sheet(piece, item, rules)
    yield from _cut_in_order(piece, item, rules)


def _allowed(part: Part | Blank) -> set[tuple[int, int]]:
    if isinstance(part, Part):
        return {(part.length, 0)}
    turned = {(part.across, part.along)} if part.rotate else set()
    return {(part.along, part.across)} | turned


def _usable(item: Bar | Sheet) -> Box:
    if isinstance(item, Bar):
        return item.trim_first, 0, item.length - item.trim_last, 0
    return item.trim_x, item.trim_y, item.x, item.y


def _boxes(piece: PiecePlan) -> list[Box]:
    return [(p.x, p.y, p.x + p.w, p.y + p.h) for p in piece.placed]


def _along_bar(piece: PiecePlan, item: Bar, rules: Rules) -> Iterator[str]:
    spans = sorted((box[0], box[2]) for box in _boxes(piece))
    spans += sorted((x, x + w) for x, _, w, _ in piece.remnants)
    for (_, end), (start, _) in zip(spans, spans[1:], strict=False):
        if start - end < rules.kerf:
            yield f"only {start - end} between {end} and {start}, less than the kerf"
    end = max((box[2] for box in _boxes(piece)), default=0) + rules.kerf
    left = item.length - end
    kept = sum(w for _, _, w, _ in piece.remnants)
    if left > 0 and left >= rules.min_remnant[0] and kept != left:
        yield f"{left} is left and worth keeping, but {kept} is listed as remnant"


def _across_sheet(piece: PiecePlan, item: Sheet, rules: Rules) -> Iterator[str]:
    if item.rip not in ("both", piece.rip):
        yield f"is ripped along {piece.rip}, allowed is {item.rip}"
    blanks = _boxes(piece)
    remnants = [(x, y, x + w, y + h) for x, y, w, h in piece.remnants]
    if not _separable(blanks + remnants, rules.kerf):
        yield "cannot be taken apart by edge-to-edge cuts with this kerf"
    axis = 1 if piece.rip == "x" else 0
    for strip in _split(blanks, axis, rules.kerf):
        yield from _strip(strip, axis, rules)


def _strip(strip: list[Box], axis: int, rules: Rules) -> Iterator[str]:
    widths = set()
    for segment in _split(strip, 1 - axis, rules.kerf):
        stack = _split(segment, axis, rules.kerf)
        if any(len(blanks) > 1 for blanks in stack):
            yield f"blanks {segment} need more turns of the sheet than strips, blanks, stacks"
        if len(stack) > 1 and rules.stages == 2:
            yield f"blanks {segment} need a third cut, two are allowed"
        widths.add(max(b[axis + 2] for b in segment) - min(b[axis] for b in segment))
    if rules.exact_strips and len(widths) > 1:
        yield f"widths {sorted(widths)} share a strip, equal widths are asked for"


def _split(boxes: list[Box], axis: int, kerf: int) -> list[list[Box]]:
    """Groups that straight cuts of one kerf, all in one direction, take apart."""
    groups: list[list[Box]] = []
    reach = 0
    for box in sorted(boxes, key=lambda b: (b[axis], b)):
        if not groups or box[axis] - reach < kerf:
            groups = groups or [[]]
            groups[-1].append(box)
        else:
            groups.append([box])
        reach = max(reach, box[axis + 2]) if len(groups[-1]) > 1 else box[axis + 2]
    return groups


def _separable(boxes: list[Box], kerf: int) -> bool:
    if len(boxes) < 2:
        return True
    for axis in (0, 1):
        groups = _split(boxes, axis, kerf)
        if len(groups) > 1:
            return all(_separable(group, kerf) for group in groups)
    return False


def _cut_in_order(piece: PiecePlan, item: Bar | Sheet, rules: Rules) -> Iterator[str]:
    """Make the cuts one after another; every part and remnant must come off by itself."""
    far = (item.length, 0) if isinstance(item, Bar) else (item.x, item.y)
    loose: list[Box] = [(0, 0, *far)]
    for number, cut in enumerate(piece.cuts, start=1):
        found = next((box for box in loose if _crosses(cut, box)), None)
        if found is None or cut.width > rules.kerf:
            yield f"cut {number} does not go from edge to edge of one loose piece"
            continue
        loose.remove(found)
        loose += _halves(cut, found)
    remnants = [(x, y, x + w, y + h) for x, y, w, h in piece.remnants]
    for box in [*_boxes(piece), *remnants]:
        if box not in loose:
            yield f"part or remnant at {box} is not freed by the cuts"


def _crosses(cut: Cut, box: Box) -> bool:
    axis = 0 if cut.axis == "x" else 1
    inside = box[axis] <= cut.at and cut.at + cut.width <= box[axis + 2]
    return inside and (cut.start, cut.end) == (box[1 - axis], box[3 - axis])


def _halves(cut: Cut, box: Box) -> list[Box]:
    axis = 0 if cut.axis == "x" else 1
    first, second = list(box), list(box)
    first[axis + 2], second[axis] = cut.at, cut.at + cut.width
    return [tuple(half) for half in (first, second) if half[axis] < half[axis + 2]]


def _used(
    cut: Sequence[PiecePlan], stock: Mapping[str, Bar | Sheet], rules: Rules
) -> Iterator[str]:
    for name, number in sorted(Counter(piece.piece for piece in cut).items()):
        if name in stock and number > stock[name].count:
            yield f"{name!r} is used {number} times, {stock[name].count} are there"
    if not rules.buy and any(piece.purchased for piece in cut):
        yield "buys although nothing may be bought"


def _knives(
    cut: Sequence[PiecePlan], kits: Sequence[Kit], promised: Mapping[str, int]
) -> Iterator[str]:
    by_lot: dict[str, Counter[tuple[str, str]]] = defaultdict(Counter)
    for piece in cut:
        by_lot[piece.lot].update((placed.kit, placed.item) for placed in piece.placed)
    anywhere = sum(by_lot.values(), Counter())
    needs = {kit.id: {p: n for p, n in kit.need.items() if n} for kit in kits}
    for kit, item in sorted(anywhere):
        if item not in needs.get(kit, {}):
            yield f"{item!r} is cut for kit {kit!r}, which does not need it"
    for kit in kits:
        lots = by_lot.values() if kit.one_lot else [anywhere]
        made = sum(_whole(needs[kit.id], kit.id, lot) for lot in lots)
        if made != promised.get(kit.id, 0):
            yield f"kit {kit.id!r}: {made} whole knives, {promised.get(kit.id, 0)} promised"
        for part, number in needs[kit.id].items():
            if anywhere[kit.id, part] != number * made:
                yield f"kit {kit.id!r}: {anywhere[kit.id, part]} of {part!r} for {made} knives"


def _whole(need: Mapping[str, int], kit: str, cut: Counter[tuple[str, str]]) -> int:
    return min(cut[kit, part] // number for part, number in need.items())


def _totals(plan: Plan, kits: Sequence[Kit]) -> Iterator[str]:
    for kit in kits:
        made, missing = plan.made_from_rack.get(kit.id, 0), plan.missing.get(kit.id, 0)
        if made + missing != kit.qty or min(made, missing) < 0:
            yield f"kit {kit.id!r}: {made} made and {missing} missing are not {kit.qty}"
        if not made <= plan.planned.get(kit.id, 0) <= kit.qty and not plan.buy:
            yield f"kit {kit.id!r}: planned lies outside made from the rack and wanted"
    bought = Counter(piece.piece for piece in plan.pieces if piece.purchased)
    if bought != Counter(dict(plan.buy)):
        yield f"bought are {dict(bought)}, listed are {dict(plan.buy)}"


def _stages(plan: Plan, stock: Mapping[str, Bar | Sheet], rules: Rules) -> Iterator[str]:
    for stage in plan.stages:
        upper = stage.name in ("knives", "remnant")
        beaten = stage.value > stage.bound if upper else stage.value < stage.bound
        if beaten:
            yield f"aim {stage.name}: value {stage.value} is better than its bound {stage.bound}"
        near = CLOSE_ENOUGH * stage.value if stage.name == "opened" else 0
        if stage.proven != (abs(stage.value - stage.bound) <= near):
            yield f"aim {stage.name}: proven is {stage.proven}, but {stage.value}, {stage.bound}"
    values = {stage.name: stage.value for stage in plan.stages}
    expected = {
        "knives": sum(plan.made_from_rack.values()),
        "opened": _opened(plan.pieces, stock, rules),
        "remnant": _largest(plan.pieces, stock),
    }
    for name, value in expected.items():
        if name in values and values[name] != value:
            yield f"aim {name}: {values[name]} reported, {value} drawn"


def _opened(cut: Sequence[PiecePlan], stock: Mapping[str, Bar | Sheet], rules: Rules) -> int:
    full = [stock[p.piece] for p in cut if p.piece in stock and not p.purchased]
    full = [item for item in full if not item.is_remnant]
    return len(full) if rules.open_by == "count" else sum(map(_extent, full))


def _largest(cut: Sequence[PiecePlan], stock: Mapping[str, Bar | Sheet]) -> int:
    used = Counter(piece.piece for piece in cut)
    fresh = [w * h if h else w for piece in cut for _, _, w, h in piece.remnants]
    old = [
        _extent(item)
        for item in stock.values()
        if item.is_remnant and not item.purchasable and used[item.id] < item.count
    ]
    return max(fresh + old, default=0)


def _extent(item: Bar | Sheet) -> int:
    return item.length if isinstance(item, Bar) else item.x * item.y
