"""From knives to what they take: bills of materials exploded level by level.

A bill is a list of steps; a step consumes lines per knife, per batch or per setup and wears
cutters. Knives scrapped at a step take nothing from later steps. Parts made in house have a bill of
their own; what of them is in stock is used first, the rest is exploded further. Each owner is
handled after everything that uses it (low-level coding), so a part used at two levels is netted once.

Quantities are Decimal and exact; counts of knives and parts are whole.
Source: level-by-level netting, J. Orlicky, Material Requirements Planning (1975): from memory.
Checked in: tests/published/test_explosion.py
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import Literal

from forecasting.errors import BadInput
from forecasting.rejects import start_quantity

__all__ = [
    "Bill",
    "Build",
    "Explosion",
    "Line",
    "Made",
    "Need",
    "Step",
    "Usage",
    "WearNeed",
    "Worn",
    "explode",
    "usage_per_knife",
]

NOTHING = Decimal(0)


@dataclass(frozen=True)
class Worn:
    """Stands in place of a cut where a Usage is life of a wearing item, not stock.

    place: where the one that wears is fitted, opaque to the explosion; None where it isn't said.
    """

    place: object = None


PerKnifeAndBatch = tuple[float, float]
Totals = dict[tuple[str, object], PerKnifeAndBatch]


@dataclass(frozen=True)
class Line:
    """What a step consumes.

    per: knife, batch or setup. qty: stock units, or the number of cut parts where `cut` is given.
    loss: share of what is taken that never gets into a knife, 0 <= loss < 1.
    cut: what to cut, opaque to the explosion (a blank size); needs with different cuts stay apart.
    """

    item: str
    per: Literal["knife", "batch", "setup"]
    qty: Decimal
    loss: Decimal = NOTHING
    cut: object = None


@dataclass(frozen=True)
class Step:
    """One operation: its yield, what it consumes, what it wears and how long it makes one wait.

    wear: (item, life a knife), or (item, life a knife, place) where the place is said.
    """

    number: int
    name: str
    good_share: Decimal = Decimal(1)
    setup_size: int | None = None
    lines: tuple[Line, ...] = ()
    wear: tuple[tuple[str, Decimal] | tuple[str, Decimal, object], ...] = ()
    service: str | None = None
    wait_days: int = 0


@dataclass(frozen=True)
class Bill:
    owner: str
    steps: tuple[Step, ...]

    @property
    def wait_days(self) -> int:
        """Days of waiting in all; a part with any must be made ahead."""
        return sum(step.wait_days for step in self.steps)

    @property
    def yields(self) -> list[float]:
        return [float(step.good_share) for step in self.steps]


@dataclass(frozen=True)
class Build:
    """Knives (or made parts) to build: how many to start and how many good ones are wanted.

    entering: knives that really entered each step, once they were counted; None before that.
    """

    bill: Bill
    start: int
    wanted: int
    entering: tuple[int, ...] | None = None


@dataclass(frozen=True)
class Need:
    """qty of an item taken by one step of one owner (cut parts where `cut` is given).

    each: how much one knife, batch or setup takes, loss not counted.
    """

    item: str
    qty: Decimal
    each: Decimal
    per: str
    cut: object
    owner: str
    step: int
    step_name: str


@dataclass(frozen=True)
class WearNeed:
    """Life of a wearing item used by one step, in its life unit; per_knife for one knife.

    place: as in Step.wear, where that is said.
    """

    item: str
    life: Decimal
    per_knife: Decimal
    owner: str
    step: int
    step_name: str
    place: object = None


@dataclass(frozen=True)
class Made:
    """A part made in house: how many are needed, in stock, to make and to start."""

    item: str
    needed: Decimal
    from_stock: Decimal
    to_make: int
    start: int
    wait_days: int


@dataclass(frozen=True)
class Explosion:
    needs: tuple[Need, ...]
    wear: tuple[WearNeed, ...]
    services: tuple[Need, ...]
    made: tuple[Made, ...]


@dataclass(frozen=True)
class Usage:
    """Use of one item by one product, per knife started and per batch.

    In stock units; in cut parts where `cut` is a blank; in the life unit where `cut` is Worn.
    """

    item: str
    cut: object
    per_knife: float
    per_batch: float


def explode(
    builds: Iterable[Build], made_bills: Mapping[str, Bill], made_in_stock: Mapping[str, Decimal]
) -> Explosion:
    """Return everything the builds take, parts made in house netted against their stock.

    Args:
        builds: products to build.
        made_bills: bill by item of the parts made in house.
        made_in_stock: usable stock of them.
    Raises: BadInput when a part contains itself.
    """
    order = _low_level_order(made_bills)
    needs: list[Need] = []
    wear: list[WearNeed] = []
    services: list[Need] = []
    wanted: dict[str, Decimal] = defaultdict(Decimal)

    def take(build: Build) -> None:
        entering = _entering(build)
        for step, knives in zip(build.bill.steps, entering, strict=True):
            _take_step(step, knives, build, made_bills, needs, wanted, wear, services)

    for build in builds:
        take(build)
    made = []
    for item in order:
        if item not in wanted:
            continue
        part = _net_made(item, wanted[item], made_in_stock.get(item, NOTHING), made_bills[item])
        made.append(part)
        if part.start:
            take(Build(made_bills[item], part.start, part.to_make))
    return Explosion(tuple(needs), tuple(wear), tuple(services), tuple(made))


def usage_per_knife(bill: Bill, made_bills: Mapping[str, Bill]) -> list[Usage]:
    """Average use of every item per knife started and per batch, through all made parts.

    Scrap is charged where it happens: a step at which 95 of 100 knives arrive uses 0.95 of its
    line. Setups are taken as full. Raises: BadInput when a part contains itself.
    """
    _low_level_order(made_bills)
    totals: Totals = {}
    _add_usage(bill, made_bills, (1.0, 0.0), totals)
    return [Usage(item, cut, *amounts) for (item, cut), amounts in totals.items()]


def _take_step(
    step: Step,
    knives: int,
    build: Build,
    made_bills: Mapping[str, Bill],
    needs: list[Need],
    wanted: dict[str, Decimal],
    wear: list[WearNeed],
    services: list[Need],
) -> None:
    owner = build.bill.owner
    for line in step.lines:
        qty = _gross(line, knives, step.setup_size)
        if line.item in made_bills:
            wanted[line.item] += qty.to_integral_value(ROUND_CEILING)
        else:
            needs.append(
                Need(line.item, qty, line.qty, line.per, line.cut, owner, step.number, step.name)
            )
    for item, life, *place in step.wear:
        wear.append(WearNeed(item, life * knives, life, owner, step.number, step.name, *place))
    if step.service:
        qty, one = Decimal(knives), Decimal(1)
        services.append(Need(step.service, qty, one, "knife", None, owner, step.number, step.name))


def _gross(line: Line, knives: int, setup_size: int | None) -> Decimal:
    times = {
        "knife": knives,
        "batch": 1 if knives else 0,
        "setup": math.ceil(knives / setup_size) if setup_size else (1 if knives else 0),
    }[line.per]
    gross = line.qty * times / (1 - line.loss)
    whole_parts = line.cut is not None
    return gross.to_integral_value(ROUND_CEILING) if whole_parts else gross


def _entering(build: Build) -> tuple[int, ...]:
    """Knives laid out for each step: what is left of the start, never fewer than wanted."""
    if build.entering is not None:
        return build.entering
    knives = float(build.start)
    entering = []
    for step in build.bill.steps:
        entering.append(max(min(build.wanted, build.start), math.ceil(knives - 1e-9)))
        knives *= float(step.good_share)
    return tuple(entering)


def _net_made(item: str, needed: Decimal, in_stock: Decimal, bill: Bill) -> Made:
    from_stock = min(needed, in_stock.to_integral_value(ROUND_FLOOR))
    to_make = int(needed - from_stock)
    start = start_quantity(to_make, bill.yields, 0.5).start if to_make else 0
    return Made(item, needed, from_stock, to_make, start, bill.wait_days)


def _low_level_order(made_bills: Mapping[str, Bill]) -> list[str]:
    """Made parts, each after every part that uses it."""
    depth: dict[str, int] = {}

    def visit(item: str, path: tuple[str, ...]) -> None:
        if item in path:
            loop = " in ".join((*path[path.index(item) :], item))
            raise BadInput(f"{item} contains itself ({loop}). Take it out of one of these bills.")
        depth[item] = max(depth.get(item, 0), len(path))
        for step in made_bills[item].steps:
            for line in step.lines:
                if line.item in made_bills:
                    visit(line.item, (*path, item))

    for item in sorted(made_bills):
        visit(item, ())
    return sorted(depth, key=lambda item: (depth[item], item))


def _add_usage(
    bill: Bill, made_bills: Mapping[str, Bill], entering: PerKnifeAndBatch, totals: Totals
) -> None:
    for step in bill.steps:
        for line in step.lines:
            amount = _average(line, step.setup_size, entering)
            if line.item in made_bills:
                part = made_bills[line.item]
                _add_usage(part, made_bills, _times(amount, 1 / math.prod(part.yields)), totals)
            else:
                _add(totals, line.item, line.cut, amount)
        if step.service:
            _add(totals, step.service, None, entering)
        for item, life, *place in step.wear:
            _add(totals, item, Worn(*place), _times(entering, float(life)))
        entering = _times(entering, float(step.good_share))


def _average(line: Line, setup_size: int | None, entering: PerKnifeAndBatch) -> PerKnifeAndBatch:
    gross = float(line.qty) / (1 - float(line.loss))
    if line.per == "knife":
        return _times(entering, gross)
    if line.per == "setup" and setup_size:
        return _times(entering, gross / setup_size)
    return 0.0, gross


def _times(amount: PerKnifeAndBatch, factor: float) -> PerKnifeAndBatch:
    return amount[0] * factor, amount[1] * factor


def _add(totals: Totals, item: str, cut: object, amount: PerKnifeAndBatch) -> None:
    knife, batch = totals.get((item, cut), (0.0, 0.0))
    totals[item, cut] = (knife + amount[0], batch + amount[1])
