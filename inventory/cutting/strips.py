"""Ways to fill a strip of a sheet: which blanks, turned how, stacked how often."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from .by_hand import orientations
from .knapsack import Grid, Profile, all_patterns, best_values, grid_for
from .plan import Blank, Rules
from .problem import Segment, Strip

Fill = tuple[int, ...]
MOST_STACKED = 12


@dataclass(frozen=True)
class Option:
    """A blank lying one way in a strip; a third cut may stack it."""

    item: str
    length: int
    width: int
    stack: int
    across: int


def options_for(
    blanks: Mapping[str, Blank],
    most: Mapping[str, int],
    rip: str,
    longest: int,
    highest: int,
    rules: Rules,
) -> list[Option]:
    """All options that fit the largest strip, narrow ones first."""
    options = []
    for item, blank in blanks.items():
        for length, width in orientations(blank, rip):
            deepest = 1 if rules.stages == 2 else min(most[item], MOST_STACKED)
            for stack in range(1, deepest + 1):
                across = stack * (width + rules.kerf) - rules.kerf
                if across <= highest and length <= longest:
                    options.append(Option(item, length, width, stack, across))
    return sorted(options, key=lambda o: (o.across, o.length, o.item))


@dataclass
class StripFiller:
    """The options of one direction and the knapsack over the length of a strip."""

    options: Sequence[Option]
    most: Mapping[str, int]
    longest: int
    kerf: int
    exact: bool
    grid: Grid = field(init=False)

    def __post_init__(self) -> None:
        self.needs = [option.length + self.kerf for option in self.options]
        self.limits = [-(-self.most[o.item] // o.stack) for o in self.options]
        self.grid = grid_for(self.needs, self.longest + self.kerf)
        self.widths = sorted({option.across for option in self.options})

    def fits(self, width: int) -> list[int]:
        """Numbers of the options that may lie in a strip of this width."""
        return [
            n
            for n, o in enumerate(self.options)
            if o.across == width or (o.across < width and not self.exact)
        ]

    def profiles(self, prices: Mapping[str, float], safe: bool = True) -> dict[int, Profile]:
        """Best profile per strip width at these prices of blanks.

        Without `exact` one knapsack in order of width serves all: after the options of a width
        are in, its profile is copied.
        """
        profiles: dict[int, Profile] = {}
        profile = None
        done: list[int] = []
        for width in self.widths:
            fitting = self.fits(width)
            new = fitting if self.exact else fitting[len(done) :]
            profile = best_values(
                [self.grid.part(self.needs[n], safe) for n in new],
                [prices[self.options[n].item] * self.options[n].stack for n in new],
                [self.limits[n] for n in new],
                self.grid.room(self.longest + self.kerf, safe),
                kinds=new,
                start=None if self.exact else profile,
            )
            profiles[width] = profile
            done = fitting
        return profiles

    def cells(self, length: int, safe: bool = True) -> int:
        return self.grid.room(length + self.kerf, safe)

    def best_fill(self, profile: Profile, length: int) -> Fill:
        return profile.pattern(self.cells(length), len(self.options))

    def forced_fills(self, profile: Profile, width: int, length: int) -> Iterator[Fill]:
        """The best fill around one blank as wide as the strip."""
        for n in self.fits(width):
            left = self.cells(length) - self.grid.part(self.needs[n])
            if self.options[n].across == width and left >= 0:
                fill = list(profile.pattern(left, len(self.options)))
                fill[n] += 1
                yield tuple(fill)

    def all_fills(self, width: int, length: int) -> Iterator[Fill]:
        """Every full strip of this width with a blank as wide as the strip."""
        fitting = self.fits(width)
        widest = [n for n in fitting if self.options[n].across == width]
        sizes, limits = [self.needs[n] for n in fitting], [self.limits[n] for n in fitting]
        for counts in all_patterns(sizes, limits, length + self.kerf, full_only=True):
            fill = [0] * len(self.options)
            for n, count in zip(fitting, counts, strict=True):
                fill[n] = count
            if any(fill[n] for n in widest):
                yield tuple(fill)

    def yields(self, fill: Fill) -> dict[str, int]:
        counts: dict[str, int] = {}
        for option, number in zip(self.options, fill, strict=True):
            if number:
                counts[option.item] = counts.get(option.item, 0) + number * option.stack
        return counts

    def strip(self, fill: Fill) -> Strip:
        segments = tuple(
            Segment(option.item, option.length, option.width, ("",) * option.stack)
            for option, number in zip(self.options, fill, strict=True)
            for _ in range(number)
        )
        return Strip(max(s.across(self.kerf) for s in segments), segments)

    def fill_of(self, strip: Strip) -> Fill:
        """The fill that a known strip is an example of."""
        kinds = {(o.item, o.length, o.width, o.stack): n for n, o in enumerate(self.options)}
        fill = [0] * len(self.options)
        for segment in strip.segments:
            fill[kinds[segment.item, segment.length, segment.width, len(segment.kits)]] += 1
        return tuple(fill)
