"""How many good knives could be started now, and what stops the next one."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from forecasting.explosion import Build
from inventory.models import Item
from inventory.queries.batch_needs import Started, needs_by_item
from inventory.queries.material_check import MaterialCheck
from inventory.queries.shelf import Shelf
from inventory.queries.wear_check import WearCheck


def can_make(
    shelf: Shelf,
    lines: Sequence[Started],
    materials: Sequence[MaterialCheck],
    wear: Sequence[WearCheck],
) -> tuple[list[int], list[Item]]:
    """Good knives of each line, lines served in order, and the items that stop the next one.

    Of cutters it is enough that they more likely than not see it through; a spare that only makes
    it surer is short in the check, but stops no knife.
    Fewer knives never take more of anything, so the largest count is found by halving.
    """
    counts = [0] * len(lines)
    limits: list[Item] = []

    def lacking(place: int, count: int) -> list[Item]:
        tried = [*counts[:place], count, *counts[place + 1 :]]
        return _lacking(shelf, _builds(lines, tried), materials, wear)

    for place, line in enumerate(lines):
        wanted = line.wanted.qty
        if not lacking(place, wanted):
            counts[place] = wanted
            continue
        low, high = 0, wanted - 1
        while low < high:
            middle = (low + high + 1) // 2
            if lacking(place, middle):
                high = middle - 1
            else:
                low = middle
        counts[place] = low
        limits += [item for item in lacking(place, low + 1) if item not in limits]
    return counts, limits


def _builds(lines: Sequence[Started], counts: Sequence[int]) -> list[Build]:
    """The lines with fewer knives, the start scaled as the full one was."""
    builds = []
    for line, count in zip(lines, counts, strict=True):
        if count:
            start = -(-line.build.start * count // line.wanted.qty)
            builds.append(replace(line.build, start=max(start, count), wanted=count))
    return builds


def _lacking(
    shelf: Shelf,
    builds: Sequence[Build],
    materials: Sequence[MaterialCheck],
    wear: Sequence[WearCheck],
) -> list[Item]:
    exploded = shelf.explode(builds)
    needs = needs_by_item(exploded.needs)
    job: dict[str, Decimal] = defaultdict(Decimal)
    for need in exploded.wear:
        job[need.item] += need.life
    short = [check.item for check in materials if not check.suffices(needs[check.item.code])]
    worn = [
        check.item for check in wear if check.short and not check.likely_carry(job[check.item.code])
    ]
    return short + worn
