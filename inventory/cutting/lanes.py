"""The strips that sheets can be ripped into, and the best ones at given prices of blanks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from .by_hand import rips
from .groups import Group
from .knapsack import Grid, Profile, all_patterns, best_values, grid_for
from .layout import frame_of
from .plan import Sheet
from .problem import CutPiece, Problem
from .strips import Fill, StripFiller, options_for

Ripped = tuple[tuple[int, int], ...]  # (strip width, number of such strips), narrow first
Fills = Mapping[int, Profile]


@dataclass(frozen=True, order=True)
class Lane:
    """Strips of one pool, direction and usable length."""

    pool: str
    rip: str
    length: int


class Lanes:
    """Groups of sheets by direction of ripping, with the knapsacks along and across."""

    def __init__(self, problem: Problem, groups: Sequence[Group]) -> None:
        self.problem, self.groups = problem, groups
        self.kerf = problem.rules.kerf
        self.ways = [(group, rip) for group in groups for rip in rips(group.piece)]
        self.pools_and_rips = sorted({(group.pool, rip) for group, rip in self.ways})
        self.fillers = {rip: self._filler(rip) for rip in ("x", "y")}
        self.grids = {rip: self._grid_across(rip) for rip in ("x", "y")}

    @property
    def lossless(self) -> bool:
        return all(grid.lossless for grid in self._all_grids())

    @property
    def grid_um(self) -> int:
        """Coarsest grid that sizes are rounded to, 1 when none are."""
        return max([1, *(grid.um for grid in self._all_grids() if not grid.lossless)])

    def lane(self, group: Group, rip: str) -> Lane:
        return Lane(group.pool, rip, sides(group.piece, rip)[0])

    def all_lanes(self) -> list[Lane]:
        return sorted({self.lane(group, rip) for group, rip in self.ways})

    def lanes_of(self, pool: str, rip: str) -> list[Lane]:
        return [lane for lane in self.all_lanes() if (lane.pool, lane.rip) == (pool, rip)]

    def ripped_along(self, pool: str, rip: str) -> list[Group]:
        return [group for group, way in self.ways if (group.pool, way) == (pool, rip)]

    def cells_across(self, group: Group, rip: str, safe: bool = True) -> int:
        return self.grids[rip].room(sides(group.piece, rip)[1] + self.kerf, safe)

    def best_sheet(self, fills: Fills, group: Group, rip: str, safe: bool = True) -> Profile:
        """Best value of the sheet's strips for every height, given the best fills of strips."""
        filler, grid = self.fillers[rip], self.grids[rip]
        length, height = sides(group.piece, rip)
        cells = filler.cells(length, safe)
        return best_values(
            [grid.part(width + self.kerf, safe) for width in filler.widths],
            [fills[width].values[cells] for width in filler.widths],
            [height // width for width in filler.widths],
            self.cells_across(group, rip, safe),
        )

    def ripped(self, sheet: Profile, cells: int, rip: str) -> Ripped:
        """Strips that reach the best value within this height."""
        widths = self.fillers[rip].widths
        counts = sheet.pattern(cells, len(widths))
        return tuple((width, n) for width, n in zip(widths, counts, strict=True) if n)

    def all_fills(self) -> Iterator[tuple[Lane, int, Fill]]:
        """Every full strip."""
        for lane in self.all_lanes():
            filler = self.fillers[lane.rip]
            for width in filler.widths:
                for fill in filler.all_fills(width, lane.length):
                    yield lane, width, fill

    def all_sheets(self) -> Iterator[tuple[Group, str, Ripped]]:
        """Every way to rip a sheet into strips until no further one fits."""
        for group, rip in self.ways:
            widths = self.fillers[rip].widths
            height = sides(group.piece, rip)[1]
            needs = [width + self.kerf for width in widths]
            most = [height // width for width in widths]
            for counts in all_patterns(needs, most, height + self.kerf, full_only=True):
                yield group, rip, tuple((w, n) for w, n in zip(widths, counts, strict=True) if n)

    def _filler(self, rip: str) -> StripFiller:
        usable = [sides(group.piece, way) for group, way in self.ways if way == rip]
        longest = max((length for length, _ in usable), default=0)
        highest = max((height for _, height in usable), default=0)
        demand, rules = self.problem.demand(), self.problem.rules
        options = options_for(self.problem.parts, demand, rip, longest, highest, rules)
        return StripFiller(options, demand, longest, self.kerf, rules.exact_strips)

    def _grid_across(self, rip: str) -> Grid:
        heights = [sides(group.piece, way)[1] for group, way in self.ways if way == rip]
        needs = [width + self.kerf for width in self.fillers[rip].widths]
        return grid_for(needs, max(heights, default=0) + self.kerf)

    def _all_grids(self) -> list[Grid]:
        return [filler.grid for filler in self.fillers.values()] + list(self.grids.values())


def sides(sheet: Sheet, rip: str) -> tuple[int, int]:
    """Usable length along the strips and height across them."""
    frame = frame_of(CutPiece(sheet, rip, ()))
    return frame.u1 - frame.u0, frame.v1 - frame.v0
