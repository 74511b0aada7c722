"""Nouns of a cutting plan. All sizes are whole micrometres (µm); 1 mm = 1000, 1 in = 25400.

A fraction of an inch that is no whole number of micrometres is rounded up for parts and kerf
and down for stock, so that a plan never promises more than the piece holds.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

Axis = Literal["x", "y"]
AimName = Literal["knives", "bought", "opened", "remnant"]


@dataclass(frozen=True)
class Part:
    """A length cut from bar or roll, machining allowance included."""

    id: str
    length: int


@dataclass(frozen=True)
class Blank:
    """A rectangle cut from sheet, machining allowance included.

    `along` lies along the grain or weave; `rotate` allows it across the grain as well.
    """

    id: str
    along: int
    across: int
    rotate: bool = False


@dataclass(frozen=True)
class Bar:
    """`count` equal bars or rolls on the rack, or that many that could be bought.

    `trim_first` is lost squaring the first end, the kerf of that cut included; `trim_last` is
    never part of a finished length but stays on the remnant. `cost` is for one bar to buy, in
    any whole unit; when no cost is known, the length to buy counts.
    """

    id: str
    length: int
    count: int = 1
    lot: str = ""
    is_remnant: bool = False
    purchasable: bool = False
    cost: int = 0
    trim_first: int = 0
    trim_last: int = 0


@dataclass(frozen=True)
class Sheet:
    """`count` equal sheets; x runs along the grain. Trims square the edges at x = 0 and y = 0.

    `rip` is the direction in which full-length strips may be cut.
    """

    id: str
    x: int
    y: int
    count: int = 1
    lot: str = ""
    is_remnant: bool = False
    purchasable: bool = False
    cost: int = 0
    trim_x: int = 0
    trim_y: int = 0
    rip: Literal["x", "y", "both"] = "both"


@dataclass(frozen=True)
class Kit:
    """`qty` knives that each take `need` pieces; with `one_lot` all pieces of a knife match."""

    id: str
    need: Mapping[str, int]
    qty: int
    one_lot: bool = True


@dataclass(frozen=True)
class Rules:
    """How the shop cuts, and how long to look for a plan.

    kerf          width the saw takes
    min_remnant   smallest offcut worth keeping; bars: first number; sheets: short and long side
    stages        2 = strips, then blanks; 3 = up to 12 equal blanks split from a length of strip
    exact_strips  only blanks of one width share a strip, so that no blank has to be trimmed
    time_limit_s  a guard, about; 0 = the plan made by hand, without the solver
    node_limit    stops the solver sooner in a way that does not depend on the clock
    buy           purchasable pieces may be used
    open_by       what counts as opening full pieces: their length (area) or their number
    last_aim      where to stop: a page that only asks how many knives stops at "knives" or
                  "bought" and is answered sooner
    """

    kerf: int
    min_remnant: tuple[int, int] = (0, 0)
    stages: Literal[2, 3] = 2
    exact_strips: bool = False
    time_limit_s: float = 3.0
    node_limit: int | None = None
    buy: bool = True
    open_by: Literal["size", "count"] = "size"
    last_aim: AimName = "remnant"


@dataclass(frozen=True)
class StageResult:
    """One aim: the value reached, the value no plan can beat, and whether they meet.

    What is opened counts as proven within a thousandth of its value.

    name        value and bound
    "knives"    knives from what is here (bound above)
    "bought"    cost of what is bought (bound below)
    "opened"    full pieces opened: µm, µm² or count, see Rules.open_by (bound below)
    "remnant"   largest remnant left, old or new: µm or µm² (bound above)
    """

    name: str
    value: int
    bound: int
    proven: bool
    seconds: float = field(compare=False)


@dataclass(frozen=True)
class Placed:
    """A part where it is cut, from the raw corner of its piece. Bars: y = 0, h = 0."""

    item: str
    kit: str
    x: int
    y: int
    w: int
    h: int


@dataclass(frozen=True)
class Cut:
    """One cut: the saw takes `width` from `at` on, across `axis`, between `start` and `end`.

    kind: "square" an edge, "rip" a strip off, "cross" a part off, "split" a stack of blanks,
    "trim" a blank to width. `releases` is what comes free, as a part id, "strip" or "".
    """

    kind: Literal["square", "rip", "cross", "split", "trim"]
    axis: Axis
    at: int
    width: int
    start: int
    end: int
    releases: str = ""


@dataclass(frozen=True)
class PiecePlan:
    """What one physical piece becomes. `remnants`: (x, y, w, h) worth keeping, largest first."""

    piece: str
    lot: str
    purchased: bool
    rip: str
    placed: tuple[Placed, ...]
    remnants: tuple[tuple[int, int, int, int], ...]
    cuts: tuple[Cut, ...]


@dataclass(frozen=True)
class Plan:
    """Answer for one material.

    `made_from_rack` + `missing` = qty of each kit, before anything is bought; `rack_pieces` cuts
    exactly these. `planned` is what `pieces` cuts, purchases in `buy` included; with nothing to
    buy both are the same plan. `grid_um` > 1: sizes were rounded to this grid to the safe side,
    an exact fit may have been refused. `status`: "optimal" = every aim looked at is proven,
    "gap" = see the bounds in `stages`, "heuristic" = made by hand, the solver was not asked.
    """

    made_from_rack: Mapping[str, int]
    missing: Mapping[str, int]
    buy: Mapping[str, int]
    planned: Mapping[str, int]
    pieces: tuple[PiecePlan, ...]
    rack_pieces: tuple[PiecePlan, ...]
    stages: tuple[StageResult, ...]
    grid_um: int
    status: Literal["optimal", "gap", "heuristic"]


class BadCuttingInput(ValueError):
    """Sizes or kits that no plan can be made from; the message names the record."""


def refuse_bad_input(
    parts: Sequence[Part] | Sequence[Blank],
    stock: Sequence[Bar] | Sequence[Sheet],
    kits: Sequence[Kit],
    rules: Rules,
) -> None:
    """Raise BadCuttingInput for the first size, count or reference that cannot be right."""
    for kind, records in (("part", parts), ("piece", stock), ("kit", kits)):
        for repeated, number in Counter(record.id for record in records).items():
            if number > 1:
                raise BadCuttingInput(f"{kind} id {repeated!r} is given twice; make it unique.")
    for part in parts:
        _refuse_size("part", part.id, _sizes(part), least=1)
    for piece in stock:
        _refuse_size("piece", piece.id, _sizes(piece), least=0)
        _refuse_size("piece", piece.id, (piece.count, piece.cost, *_trims(piece)), least=0)
    known = {part.id for part in parts}
    for kit in kits:
        _refuse_size("kit", kit.id, (kit.qty, *kit.need.values()), least=0)
        if not any(kit.need.values()):
            raise BadCuttingInput(f"kit {kit.id!r} needs nothing; give at least one part.")
        for unknown in sorted(set(kit.need) - known):
            raise BadCuttingInput(
                f"kit {kit.id!r} needs {unknown!r}, which is not among the parts; add the part."
            )
    _refuse_size("rules", "kerf and smallest remnant", (rules.kerf, *rules.min_remnant), least=0)


def _sizes(record: Part | Blank | Bar | Sheet) -> tuple[int, ...]:
    names = ("length", "along", "across", "x", "y")
    return tuple(getattr(record, name) for name in names if hasattr(record, name))


def _trims(piece: Bar | Sheet) -> tuple[int, ...]:
    if isinstance(piece, Bar):
        return piece.trim_first, piece.trim_last
    return piece.trim_x, piece.trim_y


def _refuse_size(kind: str, name: str, values: Sequence[int], least: int) -> None:
    for value in values:
        if not isinstance(value, int) or value < least:
            raise BadCuttingInput(
                f"{kind} {name!r}: sizes and counts are whole numbers from {least} "
                f"(µm or pieces), but got {value!r}."
            )
