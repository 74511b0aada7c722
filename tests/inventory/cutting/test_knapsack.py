"""Fillings of a length against trying everything."""

import random
from itertools import product

import pytest

from inventory.cutting.knapsack import all_patterns, best_values, grid_for


def every_filling(sizes, most, room):
    counts = product(*(range(limit + 1) for limit in most))
    return [c for c in counts if sum(n * s for n, s in zip(c, sizes, strict=True)) <= room]


@pytest.mark.parametrize("seed", range(10))
def test_best_value_and_its_filling_are_those_of_trying_everything(seed):
    rng = random.Random(seed)
    sizes = [rng.randint(1, 12) for _ in range(3)]
    worth = [rng.randint(0, 9) for _ in range(3)]
    most = [rng.randint(0, 5) for _ in range(3)]
    profile = best_values(sizes, worth, most, 30)
    for room in range(31):
        fillings = every_filling(sizes, most, room)
        best = max(sum(n * v for n, v in zip(c, worth, strict=True)) for c in fillings)
        assert profile.values[room] == best
        found = profile.pattern(room, 3)
        assert found in fillings
        assert sum(n * v for n, v in zip(found, worth, strict=True)) == best


@pytest.mark.parametrize("seed", range(10))
def test_full_fillings_are_those_to_which_nothing_can_be_added(seed):
    rng = random.Random(seed)
    sizes = [rng.randint(2, 12) for _ in range(3)]
    most = [rng.randint(1, 4) for _ in range(3)]
    everything = set(every_filling(sizes, most, 30))
    larger = {
        c for c in everything for n in range(3) if (*c[:n], c[n] + 1, *c[n + 1 :]) in everything
    }
    assert set(all_patterns(sizes, most, 30, full_only=False)) == everything
    assert set(all_patterns(sizes, most, 30, full_only=True)) == everything - larger


def test_grid_is_the_common_divisor_and_loses_nothing():
    grid = grid_for([198_800 + 1200, 100_000], 4_000_000)
    assert (grid.um, grid.lossless) == (100_000, True)


def test_grid_that_is_too_fine_rounds_parts_up_and_pieces_down():
    grid = grid_for([100_001, 100_003], 4_000_000)
    assert not grid.lossless
    assert grid.part(100_001) * grid.um >= 100_001
    assert grid.room(3_999_999) * grid.um <= 3_999_999
    assert grid.part(100_001, safe=False) * grid.um <= 100_001
    assert grid.room(3_999_999, safe=False) * grid.um >= 3_999_999
