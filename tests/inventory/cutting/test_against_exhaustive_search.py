"""Small racks against a plain search through every way to cut them, written for this test only."""

import random
from dataclasses import replace
from functools import cache
from itertools import combinations, product

import pytest

from inventory.cutting import Bar, Blank, Kit, Part, Rules, Sheet, check, plan_bars, plan_sheets


def fits_on_bars(lengths, rooms, kerf):
    """Can all lengths be cut? Longest first, every bar tried, equal rooms once."""

    @cache
    def place(number, left):
        if number == len(order):
            return True
        need = order[number] + kerf
        return any(
            place(number + 1, tuple(sorted((*left[:n], room - need, *left[n + 1 :]))))
            for n, room in enumerate(left)
            if room >= need and (n == 0 or left[n - 1] != room)
        )

    order = sorted(lengths, reverse=True)
    return place(0, tuple(sorted(room + kerf for room in rooms)))


def most_knives(kits, parts, bars, kerf):
    """Most knives of all kits together, lot by lot where a knife needs one lot."""
    lots = sorted({bar.lot for bar in bars})
    slots = [(kit, lot) for kit in kits for lot in (lots if kit.one_lot else ["any"])]
    best = 0
    for numbers in product(*(range(kit.qty + 1) for kit, _ in slots)):
        if sum(numbers) <= best or _too_many(slots, numbers):
            continue
        if _can_make(slots, numbers, parts, bars, kerf):
            best = sum(numbers)
    return best


def _too_many(slots, numbers):
    made = {}
    for (kit, _), number in zip(slots, numbers, strict=True):
        made[kit.id] = made.get(kit.id, 0) + number
    return any(made[kit.id] > kit.qty for kit, _ in slots)


def _can_make(slots, numbers, parts, bars, kerf):
    lengths = {}
    for (kit, lot), number in zip(slots, numbers, strict=True):
        for part, need in kit.need.items():
            lengths.setdefault(lot, []).extend([parts[part]] * need * number)
    return all(
        fits_on_bars(wanted, [b.length - b.trim_first for b in bars if lot in ("any", b.lot)], kerf)
        for lot, wanted in lengths.items()
    )


def bar_rack(seed):
    rng = random.Random(seed)
    parts = [Part(f"p{n}", rng.randint(20, 90)) for n in range(rng.randint(1, 2))]
    lots = rng.choice([("",), ("a", "b")])
    bars = [
        Bar(f"b{n}", rng.randint(30, 220), lot=rng.choice(lots), trim_first=rng.choice([0, 3]))
        for n in range(rng.randint(1, 4))
    ]
    one_lot = rng.random() < 0.6
    need = {part.id: rng.randint(1, 2) for part in parts}
    return parts, bars, [Kit("k", need, 4, one_lot)], Rules(rng.choice([0, 2]), time_limit_s=20)


@pytest.mark.parametrize("seed", range(40))
def test_no_way_to_cut_the_bars_makes_more_knives(seed):
    parts, bars, kits, rules = bar_rack(seed)
    plan = plan_bars(parts, bars, kits, rules)
    assert check(plan, parts, bars, kits, rules) == []
    lengths = {part.id: part.length for part in parts}
    assert sum(plan.made_from_rack.values()) == most_knives(kits, lengths, bars, rules.kerf)


def lengths_of(kit, parts):
    return [part.length for part in parts for _ in range(kit.need[part.id] * kit.qty)]


@pytest.mark.parametrize("seed", range(30))
def test_no_way_to_cut_the_bars_buys_less(seed):
    parts, bars, kits, rules = bar_rack(seed)
    kits = [replace(kit, one_lot=False) for kit in kits]
    new = Bar("new", 200, 20, purchasable=True, cost=1)
    plan = plan_bars(parts, [*bars, new], kits, rules)
    lengths, rooms = lengths_of(kits[0], parts), [bar.length - bar.trim_first for bar in bars]
    needed = next(n for n in range(21) if fits_on_bars(lengths, rooms + [200] * n, rules.kerf))
    assert sum(plan.buy.values()) == needed
    assert check(plan, parts, [*bars, new], kits, rules) == []


@pytest.mark.parametrize("by", ["size", "count"])
@pytest.mark.parametrize("seed", range(30))
def test_no_way_to_cut_the_bars_opens_less(seed, by):
    parts, bars, kits, rules = bar_rack(seed)
    rng = random.Random(seed)
    bars = [replace(bar, is_remnant=rng.random() < 0.4) for bar in bars]
    bars += [Bar(f"full{n}", rng.randint(100, 300)) for n in range(4)]
    kits = [replace(kit, one_lot=False, qty=3) for kit in kits]
    rules = replace(rules, open_by=by)
    plan = plan_bars(parts, bars, kits, rules)
    lengths = lengths_of(kits[0], parts)
    free = [bar for bar in bars if bar.is_remnant]
    full = [bar for bar in bars if not bar.is_remnant]
    costs = [
        sum(bar.length if by == "size" else 1 for bar in chosen)
        for number in range(len(full) + 1)
        for chosen in combinations(full, number)
        if fits_on_bars(lengths, [b.length - b.trim_first for b in (*free, *chosen)], rules.kerf)
    ]
    opened = {stage.name: stage.value for stage in plan.stages}["opened"]
    assert opened == min(costs, default=opened)
    assert check(plan, parts, bars, kits, rules) == []


@pytest.mark.parametrize("seed", range(40))
def test_no_way_to_cut_the_bars_leaves_a_larger_remnant(seed):
    parts, bars, kits, rules = bar_rack(seed)
    rng = random.Random(seed)
    bars = [replace(bar, is_remnant=rng.random() < 0.5) for bar in bars]
    bars += [Bar(f"full{n}", rng.randint(100, 300)) for n in range(3)]
    kits = [replace(kit, one_lot=False, qty=1) for kit in kits]
    parts, bars, rules = in_millimetres(parts, bars, rules)
    plan = plan_bars(parts, bars, kits, rules)
    stages = {stage.name: stage for stage in plan.stages}
    if not stages["knives"].value:
        pytest.skip("this rack makes no knife")
    largest = max(
        largest_left(parts, kits[0], [*free, *chosen], rules.kerf)
        for free, chosen in _choices(bars)
        if sum(bar.length for bar in chosen) == stages["opened"].value
    )
    assert stages["remnant"].value <= largest
    if stages["remnant"].proven:
        assert stages["remnant"].value == largest


def in_millimetres(parts, bars, rules):
    bigger = [replace(part, length=part.length * 1000) for part in parts]
    longer = [
        replace(bar, length=bar.length * 1000, trim_first=bar.trim_first * 1000) for bar in bars
    ]
    return bigger, longer, replace(rules, kerf=rules.kerf * 1000)


def _choices(bars):
    free = [bar for bar in bars if bar.is_remnant]
    full = [bar for bar in bars if not bar.is_remnant]
    return [(free, c) for n in range(len(full) + 1) for c in combinations(full, n)]


def largest_left(parts, kit, bars, kerf):
    """Largest remnant of any bar when the rest of the parts fits on the other bars."""
    wanted = [kit.need[part.id] * kit.qty for part in parts]
    left = [0]
    for n, bar in enumerate(bars):
        rooms = [b.length - b.trim_first for b in (*bars[:n], *bars[n + 1 :])]
        for counts in product(*(range(number + 1) for number in wanted)):
            used = sum(c * (part.length + kerf) for c, part in zip(counts, parts, strict=True))
            rest = [
                part.length
                for part, number, count in zip(parts, wanted, counts, strict=True)
                for _ in range(number - count)
            ]
            if used == 0 and not bar.is_remnant:
                continue
            remnant = bar.length - bar.trim_first - used if used else bar.length
            fits = used - kerf <= bar.length - bar.trim_first
            if fits and remnant > max(left) and fits_on_bars(rest, rooms, kerf):
                left.append(remnant)
    return max(left)


def fits_on_sheets(blanks, sheets, rules):
    """Can all blanks be cut? Each goes into any strip, any stack of its size, or starts one.

    A sheet is (length, height, rip, strips), a strip its stacks, a stack (u, v, number).
    """

    def place(number, state):
        if number == len(blanks):
            return not rules.exact_strips or all(_is_exact(sheet) for sheet in state)
        return any(place(number + 1, after) for after in set(_placements(blanks[number], state)))

    def _placements(blank, state):
        for n, (length, height, rip, strips) in enumerate(state):
            for along, across in {blank, blank[::-1]} if turnable[blank] else {blank}:
                size = (along, across) if rip == "x" else (across, along)
                for k in range(len(strips) + 1):
                    for strip in _additions(strips[k] if k < len(strips) else (), size):
                        changed = (*strips[:k], strip, *strips[k + 1 :])
                        if _fits(changed, length, height):
                            sheet = (length, height, rip, tuple(sorted(changed)))
                            yield (*state[:n], sheet, *state[n + 1 :])

    def _additions(strip, size):
        yield tuple(sorted((*strip, (*size, 1))))
        for n, (u, v, number) in enumerate(strip):
            if rules.stages == 3 and (u, v) == size:
                yield tuple(sorted((*strip[:n], (u, v, number + 1), *strip[n + 1 :])))

    def _across(stack):
        return stack[2] * (stack[1] + rules.kerf) - rules.kerf

    def _is_exact(sheet):
        return all(len({_across(stack) for stack in strip}) == 1 for strip in sheet[3])

    def _fits(strips, length, height):
        used = max(sum(stack[0] + rules.kerf for stack in strip) for strip in strips)
        high = sum(max(map(_across, strip)) + rules.kerf for strip in strips)
        return used <= length + rules.kerf and high <= height + rules.kerf

    turnable = {(b.along, b.across): b.rotate for b in blanks}
    blanks = sorted(((b.along, b.across) for b in blanks), reverse=True)
    sides = [[(sheet.x, sheet.y, "x", ()), (sheet.y, sheet.x, "y", ())] for sheet in sheets]
    return any(place(0, start) for start in product(*sides))


def sheet_rack(seed):
    rng = random.Random(seed)
    blanks = [
        Blank(f"s{n}", rng.randint(40, 70), rng.randint(18, 35), rng.random() < 0.5)
        for n in range(rng.randint(1, 2))
    ]
    sheets = [
        Sheet(f"sheet{n}", rng.randint(60, 140), rng.randint(40, 90))
        for n in range(rng.randint(1, 2))
    ]
    kits = [Kit("k", {blank.id: 1 for blank in blanks}, 3)]
    return blanks, sheets, kits, Rules(rng.choice([0, 2]), time_limit_s=20, last_aim="knives")


@pytest.mark.parametrize("seed", range(25))
@pytest.mark.parametrize(
    ("stages", "exact"),
    [(2, False), (2, True), (3, False), (3, True)],
    ids=["two cuts", "two cuts, exact", "three cuts", "three cuts, exact"],
)
def test_no_way_to_cut_the_sheets_makes_more_knives(seed, stages, exact):
    blanks, sheets, kits, rules = sheet_rack(seed)
    rules = replace(rules, stages=stages, exact_strips=exact)
    plan = plan_sheets(blanks, sheets, kits, rules)
    assert check(plan, blanks, sheets, kits, rules) == []
    made = plan.made_from_rack["k"]
    assert fits_on_sheets(blanks * made, sheets, rules)
    assert made == kits[0].qty or not fits_on_sheets(blanks * (made + 1), sheets, rules)
