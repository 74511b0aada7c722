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
from collections.abc import Mapping
from itertools import islice

from .by_hand import rips
from .demand import TIDY, knives_made
from .groups import Group, PieceProgram
from .hand_out import Score
from .knapsack import Profile
from .lanes import Fills, Lane, Lanes, Ripped, sides
from .layout import largest_remnant
from .plan import Sheet
from .problem import Answer, CutPiece, Problem, Strip
from .program import IMPROVES, Priced, Relaxed
from .strips import Fill

MOST_WAYS = 500


class SheetColumns(PieceProgram):
    fixed_first = "sheet"

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem, _has_room)
        self.lanes = Lanes(problem, self.groups)
        for lane in self.lanes.all_lanes():
            for width in self.lanes.fillers[lane.rip].widths:
                self.program.add_row(("strips", lane, width), lower=0)
        self._has_all = self._add_all()

    @property
    def grid_um(self) -> int:
        return 1 if self._has_all else self.lanes.grid_um

    def is_complete(self, aim: str) -> bool:
        return self._has_all and aim != "remnant_lost"

    def prepare(self, aim: str, best: Answer, reached: Score) -> None:
        if aim not in ("remnant_lost", TIDY):
            return
        self.include(best)
        for piece in best.cut:
            group = self.group_of(piece.stock)
            left = largest_remnant(piece, self.problem.rules)
            self._add_sheet(group, piece.rip, _ripped(piece), donor=left)
        for group in self.groups:
            if group.piece.is_remnant:
                self.program.add_column(("donor", group.number), self.uncut_entries(group))

    def price(self, relaxed: Relaxed, aim: str) -> Priced:
        """Best sheets of best strips; with remnants as the aim no bound comes from it."""
        added = False
        reduced = dict.fromkeys(self.counts, math.inf)
        for pool, rip in self.lanes.pools_and_rips:
            fills = self._fills(relaxed, pool, rip)
            for group in self.lanes.ripped_along(pool, rip):
                fixed = relaxed.reduced_cost(aim, self.opening_entries(group))
                sheet = self.lanes.best_sheet(fills, group, rip)
                cells = self.lanes.cells_across(group, rip)
                cost = fixed - sheet.values[cells]
                reduced[group.number] = min(reduced[group.number], cost)
                if cost < IMPROVES:
                    ripped = self.lanes.ripped(sheet, cells, rip)
                    added |= self._add_filled(group, rip, ripped, fills)
                if aim == "remnant_lost":
                    cost = fixed - relaxed.prices["donor"]
                    added |= self._price_donor(group, rip, sheet, cost, fills)
        if not self.lanes.lossless:
            reduced = self._bound_on_reduced(relaxed, aim)
        return Priced(added, reduced, -math.inf if aim == "remnant_lost" else 0.0)

    def widen(self, relaxed: Relaxed) -> None:
        """Around every strip width, and around every blank that sets one."""
        for pool, rip in self.lanes.pools_and_rips:
            fills = self._fills(relaxed, pool, rip)
            filler = self.lanes.fillers[rip]
            for group in self.lanes.ripped_along(pool, rip):
                self._force_strips(group, rip, fills)
            for lane in self.lanes.lanes_of(pool, rip):
                for width in filler.widths:
                    for fill in filler.forced_fills(fills[width], width, lane.length):
                        self._add_fill(lane, width, fill)

    def include(self, answer: Answer) -> None:
        for piece in answer.cut:
            group, rip = self.group_of(piece.stock), piece.rip
            self._add_sheet(group, rip, _ripped(piece))
            for strip in piece.strips:
                fill = self.lanes.fillers[rip].fill_of(strip)
                self._add_fill(self.lanes.lane(group, rip), strip.width, fill)

    def read(self, values: dict) -> Answer:
        """Sheets with their strips filled; strips that no blank needs stay uncut."""
        waiting: dict[tuple[Lane, int], deque[Fill]] = defaultdict(deque)
        for key in sorted(key for key in values if key[0] == "fill"):
            _, lane, width, fill = key
            waiting[lane, width].extend([fill] * values[key])
        groups = {group.number: group for group in self.groups}
        sheets = {number: group.one_by_one() for number, group in groups.items()}
        cut = []
        for key in sorted(k for k in values if k[0] in ("sheet", "donor") and len(k) > 2):
            _, number, rip, ripped = key
            lane = self.lanes.lane(groups[number], rip)
            for sheet in islice(sheets[number], values[key]):
                strips = self._strips(lane, ripped, waiting)
                if strips:
                    cut.append(CutPiece(sheet, rip, strips))
        return Answer(tuple(cut), *knives_made(self.problem, values))

    def _fills(self, relaxed: Relaxed, pool: str, rip: str, safe: bool = True) -> Fills:
        prices = {kind: relaxed.prices[("part", kind, pool)] for kind in self.kinds}
        return self.lanes.fillers[rip].profiles(prices, safe)

    def _bound_on_reduced(self, relaxed: Relaxed, aim: str) -> dict[int, float]:
        """Least reduced costs with sizes rounded to the hopeful side."""
        reduced = dict.fromkeys(self.counts, math.inf)
        for pool, rip in self.lanes.pools_and_rips:
            fills = self._fills(relaxed, pool, rip, safe=False)
            for group in self.lanes.ripped_along(pool, rip):
                fixed = relaxed.reduced_cost(aim, self.opening_entries(group))
                best = self.lanes.best_sheet(fills, group, rip, safe=False).values[-1]
                reduced[group.number] = min(reduced[group.number], fixed - best)
        return reduced

    def _force_strips(self, group: Group, rip: str, fills: Fills) -> None:
        """For each width the best sheet around one strip of it."""
        sheet = self.lanes.best_sheet(fills, group, rip)
        for width in self.lanes.fillers[rip].widths:
            taken = self.lanes.grids[rip].part(width + self.lanes.kerf)
            left = self.lanes.cells_across(group, rip) - taken
            if left >= 0:
                counts = Counter(dict(self.lanes.ripped(sheet, left, rip)))
                counts[width] += 1
                self._add_sheet(group, rip, tuple(sorted(counts.items())))

    def _price_donor(
        self, group: Group, rip: str, sheet: Profile, cost: float, fills: Fills
    ) -> bool:
        """The way that is best with what it leaves beside the last strip."""
        import numpy as np

        length, height = sides(group.piece, rip)
        cells = np.arange(self.lanes.cells_across(group, rip) + 1)
        left = np.maximum(0, height - cells * self.lanes.grids[rip].um)
        low, high = self.problem.rules.min_remnant
        kept = (np.minimum(left, length) >= low) & (np.maximum(left, length) >= high)
        area = np.where(kept, left * length, 0)
        costs = cost - sheet.values[: len(cells)] - area / self.scales["remnant_lost"]
        best = int(np.argmin(costs))
        ripped = self.lanes.ripped(sheet, best, rip)
        if costs[best] >= IMPROVES or not ripped:
            return False
        self._add_filled(group, rip, ripped, fills)
        return self._add_sheet(group, rip, ripped, donor=int(area[best]))

    def _add_filled(self, group: Group, rip: str, ripped: Ripped, fills: Fills) -> bool:
        lane, added = self.lanes.lane(group, rip), self._add_sheet(group, rip, ripped)
        for width, _ in ripped:
            fill = self.lanes.fillers[rip].best_fill(fills[width], lane.length)
            added |= self._add_fill(lane, width, fill)
        return added

    def _add_sheet(self, group: Group, rip: str, ripped: Ripped, donor: int | None = None) -> bool:
        """A sheet ripped this way; as a donor it is singled out for its remnant."""
        if not ripped:
            return False
        lane = self.lanes.lane(group, rip)
        length, height = sides(group.piece, rip)
        taken = sum(number * (width + self.lanes.kerf) for width, number in ripped)
        left = length * max(0, height - taken)
        entries = self.opening_entries(group) | {TIDY: self.spent(group, left)}
        entries |= {("strips", lane, width): number for width, number in ripped}
        kind = "sheet" if donor is None else "donor"
        if donor is not None:
            entries |= self.donor_entries(donor)
        return self.program.add_column((kind, group.number, rip, ripped), entries)

    def _add_fill(self, lane: Lane, width: int, fill: Fill) -> bool:
        yields = self.lanes.fillers[lane.rip].yields(fill)
        if not yields:
            return False
        entries = {("strips", lane, width): -1}
        entries |= {("part", item, lane.pool): n for item, n in yields.items()}
        return self.program.add_column(("fill", lane, width, fill), entries)

    def _add_all(self) -> bool:
        """Every full strip and every full sheet, unless they are too many."""
        fills = list(islice(self.lanes.all_fills(), MOST_WAYS + 1))
        sheets = list(islice(self.lanes.all_sheets(), MOST_WAYS + 1))
        if max(len(fills), len(sheets)) > MOST_WAYS:
            return False
        for fill in fills:
            self._add_fill(*fill)
        for sheet in sheets:
            self._add_sheet(*sheet)
        return True

    def _strips(
        self, lane: Lane, ripped: Ripped, waiting: Mapping[tuple[Lane, int], deque[Fill]]
    ) -> tuple[Strip, ...]:
        strips = []
        for width, number in ripped:
            queue = waiting[lane, width]
            for _ in range(min(number, len(queue))):
                strips.append(self.lanes.fillers[lane.rip].strip(queue.popleft()))
        return tuple(strips)


def _has_room(sheet: Sheet) -> bool:
    return all(min(sides(sheet, rip)) > 0 for rip in rips(sheet))


def _ripped(piece: CutPiece) -> Ripped:
    return tuple(sorted(Counter(strip.width for strip in piece.strips).items()))
