"""Mean life at another cutting speed, by an exponent that is assumed and not learned."""

from dataclasses import dataclass

from forecasting.taylor import EXPONENT_RANGES, exponent_warning, life_at_another_speed

MATERIALS = tuple(EXPONENT_RANGES)


@dataclass(frozen=True)
class OtherSpeed:
    """Mean life expected, in the life unit; doubt: about the exponent, empty if it is usual."""

    life: float
    doubt: str


def life_at_speed(
    mean_life: float, speed: float, new_speed: float, n: float, material: str
) -> OtherSpeed:
    """Taylor's equation from one speed to another; speeds in one unit, material of the cutter.

    Raises: OutOfRange for a number that isn't above 0.
    """
    life = life_at_another_speed(mean_life, speed, new_speed, n)
    return OtherSpeed(life, exponent_warning(n, material) or "")


def usual_exponents(material: str) -> tuple[float, float]:
    """Lowest and highest exponent seen in turning with a cutter of this material."""
    return EXPONENT_RANGES[material]
