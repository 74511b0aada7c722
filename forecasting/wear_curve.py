"""Life of a cutter read from wear land measured now and then, up to a limit."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite, isnan

from forecasting.errors import BadInput, require

__all__ = ["WearLife", "life_at_wear"]

Reading = tuple[float, float]


@dataclass(frozen=True)
class WearLife:
    """Life up to the wear limit.

    Args:
        life: use at which the limit was reached, or at the last reading if it was not.
        reached: False means the life is censored: the cutter had more in it.
        warnings: what was odd about the readings, for people.
    """

    life: float
    reached: bool
    warnings: tuple[str, ...]


def life_at_wear(use: Sequence[float], wear: Sequence[float | None], limit: float) -> WearLife:
    """Use at which the wear land first reaches the limit, on a straight line between readings.

    Missing readings (None or nan) are skipped, never taken as 0. Falling wear is measurement
    scatter: it is warned of, not refused. Nothing is read beyond the last reading.

    Args:
        use: shape (n,), rising, 0 or more, in the life unit.
        wear: shape (n,), wear land; limit: in the same unit, above 0.
    Raises: BadInput if use does not rise, a reading is negative, or none is left.
    Source: straight line between readings: common practice, no source. ISO 8688-2:1989 names
        0.3 mm of uniform wear as the limit in the laboratory: read second hand.
    Checked in: tests/published/test_wear_curves.py
    """
    require(isfinite(limit) and limit > 0, "limit", "be a number above 0", limit)
    readings = _measured(use, wear)
    warnings = _falls(readings)
    first_use, first_wear = readings[0]
    if first_wear >= limit:
        late = (
            f"Wear was already {first_wear:g} at the first reading: life is {first_use:g} at most."
        )
        return WearLife(first_use, True, (*warnings, late))
    for before, after in zip(readings, readings[1:], strict=False):
        if after[1] >= limit:
            return WearLife(_crossing(before, after, limit), True, warnings)
    return WearLife(readings[-1][0], False, warnings)


def _measured(use: Sequence[float], wear: Sequence[float | None]) -> list[Reading]:
    require(len(use) == len(wear), "use and wear", "have one length", (len(use), len(wear)))
    rises = all(before < after for before, after in zip(use, use[1:], strict=False))
    require(rises and all(isfinite(at) and at >= 0 for at in use), "use", "rise from 0", list(use))
    readings = [
        (float(at), float(land))
        for at, land in zip(use, wear, strict=True)
        if land is not None and not isnan(land)
    ]
    if not readings:
        raise BadInput("no wear reading is left; measure the cutter before asking for its life")
    for _, land in readings:
        require(isfinite(land) and land >= 0, "wear", "be a number of 0 or more", land)
    return readings


def _falls(readings: list[Reading]) -> tuple[str, ...]:
    return tuple(
        f"Wear falls from {before[1]:g} at {before[0]:g} to {after[1]:g} at {after[0]:g}: "
        "measure again."
        for before, after in zip(readings, readings[1:], strict=False)
        if after[1] < before[1]
    )


def _crossing(before: Reading, after: Reading, limit: float) -> float:
    share = (limit - before[1]) / (after[1] - before[1])
    return before[0] + share * (after[0] - before[0])
