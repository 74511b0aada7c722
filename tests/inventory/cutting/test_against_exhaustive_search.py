"""Small racks against a plain search through every way to cut them, written for this test only."""

import random
from functools import cache
from itertools import product

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


def fits_on_sheets(blanks, sheets, kerf):
    """Can all blanks be cut in two stages? Each goes into any strip or starts one."""

    def place(number, state):
        if number == len(blanks):
            return True
        return any(place(number + 1, after) for after in set(_placements(blanks[number], state)))

    def _placements(blank, state):
        for n, (length, height, rip, strips) in enumerate(state):
            for along, across in {blank, blank[::-1]} if turnable[blank] else {blank}:
                u, v = (along, across) if rip == "x" else (across, along)
                for k in range(len(strips) + 1):
                    width, used = strips[k] if k < len(strips) else (0, 0)
                    changed = (*strips[:k], (max(width, v), used + u + kerf), *strips[k + 1 :])
                    if max(s[1] for s in changed) > length + kerf:
                        continue
                    if sum(s[0] + kerf for s in changed) <= height + kerf:
                        sheet = (length, height, rip, tuple(sorted(changed)))
                        yield (*state[:n], sheet, *state[n + 1 :])

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
    return blanks, sheets, kits, Rules(rng.choice([0, 2]), time_limit_s=20)


@pytest.mark.parametrize("seed", range(40))
def test_no_two_stage_way_to_cut_the_sheets_makes_more_knives(seed):
    blanks, sheets, kits, rules = sheet_rack(seed)
    plan = plan_sheets(blanks, sheets, kits, rules)
    assert check(plan, blanks, sheets, kits, rules) == []
    made = plan.made_from_rack["k"]
    assert fits_on_sheets(blanks * made, sheets, rules.kerf)
    assert made == kits[0].qty or not fits_on_sheets(blanks * (made + 1), sheets, rules.kerf)
