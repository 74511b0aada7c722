"""Strips of a sheet and blanks of a strip, as two levels of columns joined by balance rows.

A sheet column says which strips a sheet is ripped into, a fill column which blanks a strip
yields; strips cut must cover strips filled. Strips are counted singly, so that a few blanks are
no harder than many.

Source: two-stage scheme of Gilmore and Gomory (1965), Multistage cutting stock problems of two
and more dimensions, Operations Research 13: from memory.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict, deque
from collections.abc import Iterator, Mapping
from itertools import islice

from .by_hand import rips
from .demand import TIDY, knives_made
from .groups import Group, PieceProgram
from .hand_out import Score
from .knapsack import Profile, all_patterns, best_values, grid_for
from .layout import frame_of, largest_remnant
from .plan import Sheet
from .problem import Answer, CutPiece, Problem, Strip
from .program import Priced, Relaxed
from .strips import Fill, Lane, StripFiller, options_for

MOST_WAYS = 1500
IMPROVES = -1e-7
Ripped = tuple[tuple[int, int], ...]  # (strip width, number of such strips), narrow first
Fills = Mapping[int, Profile]


class SheetColumns(PieceProgram):
    def __init__(self, problem: Problem) -> None:
        super().__init__(problem, lambda sheet: all(min(_sides(sheet, r)) > 0 for r in rips(sheet)))
        self.kerf = problem.rules.kerf
        self.by_number = {group.number: group for group in self.groups}
        self.fillers = {rip: self._filler(rip) for rip in ("x", "y")}
        self.grids = {rip: self._grid_across(rip) for rip in ("x", "y")}
        for lane in sorted({self._lane(g, rip) for g, rip in self._ways_to_rip()}, key=repr):
            for width in self.fillers[lane.rip].widths:
                self.program.add_row(("strips", lane, width), lower=0)
        self._has_all = self._add_all()

    @property
    def grid_um(self) -> int:
        return 1 if self._has_all else max([1, *(g.um for g in self._grids() if not g.lossless)])

    def is_complete(self, aim: str) -> bool:
        return self._has_all and aim != "remnant_lost"

    def prepare(self, aim: str, best: Answer, reached: Score) -> None:
        if aim not in ("remnant_lost", TIDY):
            return
        for piece in best.cut:
            self._add_known_donor(piece)
        for group in self.groups:
            if group.piece.is_remnant:
                self.program.add_column(("donor", group.number), self.uncut_entries(group))

    def price(self, relaxed: Relaxed, aim: str) -> Priced:
        added = False
        reduced = dict.fromkeys(self.counts, math.inf)
        for pool, rip in self._pools_and_rips():
            fills = self._fills(relaxed, pool, rip)
            for group in self._ripped(pool, rip):
                fixed = relaxed.reduced_cost(aim, self.opening_entries(group))
                sheet = self._sheet_profile(fills, group, rip)
                cells = self._cells_across(group, rip)
                cost = fixed - sheet.values[cells]
                reduced[group.number] = min(reduced[group.number], cost)
                if cost < IMPROVES:
                    ripped = self._ripped_of(sheet, cells, rip)
                    added |= self._add_filled(group, rip, ripped, fills)
                if aim == "remnant_lost":
                    cost = fixed - relaxed.prices["donor"]
                    added |= self._price_donor(group, rip, sheet, cost, fills)
        if not all(grid.lossless for grid in self._grids()):
            reduced = self._bound_on_reduced(relaxed, aim)
        return Priced(added, reduced, -math.inf if aim == "remnant_lost" else 0.0)

    def widen(self, relaxed: Relaxed) -> None:
        """Around every strip width, and around every blank that sets one."""
        for pool, rip in self._pools_and_rips():
            fills = self._fills(relaxed, pool, rip)
            filler = self.fillers[rip]
            for group in self._ripped(pool, rip):
                for width in filler.widths:
                    self._force_strip(group, rip, width, fills)
            for lane in sorted({self._lane(g, rip) for g in self._ripped(pool, rip)}, key=repr):
                for width in filler.widths:
                    for fill in filler.forced_fills(fills[width], width, lane.length):
                        self._add_fill(lane, width, fill)

    def include(self, answer: Answer) -> None:
        group_of = {sheet.id: group for group in self.groups for sheet in group.pieces}
        for piece in answer.cut:
            group = group_of[piece.stock.id]
            self._add_sheet(group, piece.rip, _ripped(piece))
            for strip in piece.strips:
                fill = self.fillers[piece.rip].fill_of(strip)
                self._add_fill(self._lane(group, piece.rip), strip.width, fill)

    def read(self, values: dict) -> Answer:
        """Sheets with their strips filled; strips that no blank needs stay uncut."""
        waiting: dict[tuple[Lane, int], deque[Fill]] = defaultdict(deque)
        for key in sorted((key for key in values if key[0] == "fill"), key=repr):
            waiting[key[1], key[2]].extend([key[3]] * values[key])
        sheets = {group.number: group.one_by_one() for group in self.groups}
        cut = []
        for key in sorted(k for k in values if k[0] in ("sheet", "donor") and len(k) > 2):
            group = self.by_number[key[1]]
            for sheet in islice(sheets[group.number], values[key]):
                strips = self._strips(self._lane(group, key[2]), key[3], waiting)
                if strips:
                    cut.append(CutPiece(sheet, key[2], strips))
        return Answer(tuple(cut), *knives_made(self.problem, values))

    # Geometry

    def _ways_to_rip(self) -> Iterator[tuple[Group, str]]:
        return ((group, rip) for group in self.groups for rip in rips(group.piece))

    def _pools_and_rips(self) -> list[tuple[str, str]]:
        return sorted({(group.pool, rip) for group, rip in self._ways_to_rip()})

    def _ripped(self, pool: str, rip: str) -> list[Group]:
        return [g for g, way in self._ways_to_rip() if (g.pool, way) == (pool, rip)]

    def _lane(self, group: Group, rip: str) -> Lane:
        return Lane(group.pool, rip, _sides(group.piece, rip)[0])

    def _filler(self, rip: str) -> StripFiller:
        sides = [_sides(group.piece, way) for group, way in self._ways_to_rip() if way == rip]
        longest = max((length for length, _ in sides), default=0)
        highest = max((height for _, height in sides), default=0)
        rules = self.problem.rules
        options = options_for(self.problem.parts, self.demand, rip, longest, highest, rules)
        return StripFiller(options, self.demand, longest, self.kerf, rules.exact_strips)

    def _grid_across(self, rip: str):
        heights = [_sides(g.piece, way)[1] for g, way in self._ways_to_rip() if way == rip]
        needs = [width + self.kerf for width in self.fillers[rip].widths]
        return grid_for(needs, max(heights, default=0) + self.kerf)

    def _grids(self) -> list:
        return [filler.grid for filler in self.fillers.values()] + list(self.grids.values())

    def _cells_across(self, group: Group, rip: str, safe: bool = True) -> int:
        return self.grids[rip].room(_sides(group.piece, rip)[1] + self.kerf, safe)

    # Best ways at given prices

    def _fills(self, relaxed: Relaxed, pool: str, rip: str, safe: bool = True) -> Fills:
        prices = {kind: relaxed.prices[("part", kind, pool)] for kind in self.kinds}
        return self.fillers[rip].profiles(prices, safe)

    def _sheet_profile(self, fills: Fills, group: Group, rip: str, safe: bool = True) -> Profile:
        filler, grid = self.fillers[rip], self.grids[rip]
        length, height = _sides(group.piece, rip)
        cells = filler.cells(length, safe)
        return best_values(
            [grid.part(width + self.kerf, safe) for width in filler.widths],
            [fills[width].values[cells] for width in filler.widths],
            [height // width for width in filler.widths],
            self._cells_across(group, rip, safe),
        )

    def _bound_on_reduced(self, relaxed: Relaxed, aim: str) -> dict[int, float]:
        """Least reduced costs with sizes rounded to the hopeful side."""
        reduced = dict.fromkeys(self.counts, math.inf)
        for pool, rip in self._pools_and_rips():
            fills = self._fills(relaxed, pool, rip, safe=False)
            for group in self._ripped(pool, rip):
                fixed = relaxed.reduced_cost(aim, self.opening_entries(group))
                best = self._sheet_profile(fills, group, rip, safe=False).values[-1]
                reduced[group.number] = min(reduced[group.number], fixed - best)
        return reduced

    def _ripped_of(self, sheet: Profile, cells: int, rip: str) -> Ripped:
        widths = self.fillers[rip].widths
        counts = sheet.pattern(cells, len(widths))
        return tuple((width, n) for width, n in zip(widths, counts, strict=True) if n)

    def _force_strip(self, group: Group, rip: str, width: int, fills: Fills) -> None:
        left = self._cells_across(group, rip) - self.grids[rip].part(width + self.kerf)
        if left >= 0:
            sheet = self._sheet_profile(fills, group, rip)
            counts = Counter(dict(self._ripped_of(sheet, left, rip)))
            counts[width] += 1
            self._add_sheet(group, rip, tuple(sorted(counts.items())))

    def _price_donor(
        self, group: Group, rip: str, sheet: Profile, cost: float, fills: Fills
    ) -> bool:
        """The way that is best with what it leaves beside the last strip."""
        import numpy as np

        length, height = _sides(group.piece, rip)
        cells = np.arange(self._cells_across(group, rip) + 1)
        left = np.maximum(0, height - cells * self.grids[rip].um)
        low, high = self.problem.rules.min_remnant
        kept = (np.minimum(left, length) >= low) & (np.maximum(left, length) >= high)
        costs = cost - sheet.values[: len(cells)]
        costs = costs - np.where(kept, left * length, 0) / self.scales["remnant_lost"]
        best = int(np.argmin(costs))
        ripped = self._ripped_of(sheet, best, rip)
        if costs[best] >= IMPROVES or not ripped:
            return False
        area = int(left[best]) * length if kept[best] else 0
        self._add_filled(group, rip, ripped, fills)
        return self._add_sheet(group, rip, ripped, donor=area)

    # Columns

    def _add_filled(self, group: Group, rip: str, ripped: Ripped, fills: Fills) -> bool:
        lane, added = self._lane(group, rip), self._add_sheet(group, rip, ripped)
        for width, _ in ripped:
            fill = self.fillers[rip].best_fill(fills[width], lane.length)
            added |= self._add_fill(lane, width, fill)
        return added

    def _add_sheet(self, group: Group, rip: str, ripped: Ripped, donor: int | None = None) -> bool:
        if not ripped:
            return False
        lane = self._lane(group, rip)
        length, height = _sides(group.piece, rip)
        left = length * max(0, height - sum(n * (width + self.kerf) for width, n in ripped))
        entries = self.opening_entries(group) | {TIDY: self.spent(group, left)}
        entries |= {("strips", lane, width): n for width, n in ripped}
        if donor is None:
            return self.program.add_column(("sheet", group.number, rip, ripped), entries)
        entries |= self.donor_entries(group, donor)
        return self.program.add_column(("donor", group.number, rip, ripped), entries)

    def _add_fill(self, lane: Lane, width: int, fill: Fill) -> bool:
        yields = self.fillers[lane.rip].yields(fill)
        if not yields:
            return False
        entries = {("strips", lane, width): -1}
        entries |= {("part", item, lane.pool): n for item, n in yields.items()}
        return self.program.add_column(("fill", lane, width, fill), entries)

    def _add_known_donor(self, piece: CutPiece) -> None:
        group = next(g for g in self.groups if piece.stock in g.pieces)
        left = largest_remnant(piece, self.problem.rules)
        self._add_sheet(group, piece.rip, _ripped(piece), donor=left)

    def _add_all(self) -> bool:
        """Every full strip and every full sheet, unless they are too many."""
        fills = list(islice(self._all_fills(), MOST_WAYS + 1))
        sheets = list(islice(self._all_sheets(), MOST_WAYS + 1))
        if max(len(fills), len(sheets)) > MOST_WAYS:
            return False
        for fill in fills:
            self._add_fill(*fill)
        for sheet in sheets:
            self._add_sheet(*sheet)
        return True

    def _all_fills(self) -> Iterator[tuple[Lane, int, Fill]]:
        for lane in sorted({self._lane(g, rip) for g, rip in self._ways_to_rip()}, key=repr):
            filler = self.fillers[lane.rip]
            for width in filler.widths:
                for fill in filler.all_fills(width, lane.length):
                    yield lane, width, fill

    def _all_sheets(self) -> Iterator[tuple[Group, str, Ripped]]:
        for group, rip in self._ways_to_rip():
            widths = self.fillers[rip].widths
            height = _sides(group.piece, rip)[1]
            sizes = [width + self.kerf for width in widths]
            most = [height // width for width in widths]
            for counts in all_patterns(sizes, most, height + self.kerf, full_only=True):
                ripped = ((w, n) for w, n in zip(widths, counts, strict=True) if n)
                yield group, rip, tuple(ripped)

    def _strips(
        self, lane: Lane, ripped: Ripped, waiting: Mapping[tuple[Lane, int], deque[Fill]]
    ) -> tuple[Strip, ...]:
        strips = []
        for width, number in ripped:
            queue = waiting[lane, width]
            for _ in range(min(number, len(queue))):
                strips.append(self.fillers[lane.rip].strip(queue.popleft()))
        return tuple(strips)


def _sides(sheet: Sheet, rip: str) -> tuple[int, int]:
    """Usable length along the strips and height across them."""
    frame = frame_of(CutPiece(sheet, rip, ()))
    return frame.u1 - frame.u0, frame.v1 - frame.v0


def _ripped(piece: CutPiece) -> Ripped:
    return tuple(sorted(Counter(strip.width for strip in piece.strips).items()))
