"""Small parts counted on a scale, and how far such a count can be trusted.

A scale shows whole steps, so each reading is off by up to half a step. The count is given with the
least and the most pieces that fit the readings, worked out exactly; pieces that differ in weight
among themselves come on top of it.
"""

from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from fractions import Fraction

from inventory.errors import Refused

__all__ = ["WeighedCount", "count_by_weight", "net_weight", "weight_of_one"]

MILLIONTH = Decimal("0.000001")
WHOLE = Decimal(1)


@dataclass(frozen=True)
class WeighedCount:
    """count: pieces by weight. least, most: whole numbers of pieces that fit the readings."""

    count: int
    least: int
    most: int

    @property
    def plus_minus(self) -> int:
        """How far the true number may lie from the count, in pieces."""
        return max(self.most - self.count, self.count - self.least)


def weight_of_one(sample: int, weight_g: Decimal) -> Decimal:
    """Weight of one piece in g, to a microgram, from a sample weighed together.

    Raises: Refused for no pieces or no weight.
    """
    if sample < 1 or weight_g <= 0:
        raise Refused("A sample needs at least one piece and a weight above zero.")
    one = (weight_g / sample).quantize(MILLIONTH, ROUND_HALF_EVEN)
    if not one:
        raise Refused("One piece would weigh less than a microgram. Check the weight.")
    return one


def net_weight(gross_g: Decimal, tare_g: Decimal) -> Decimal:
    """What is in the container, in g. Raises: Refused when the container is the heavier one."""
    if tare_g < 0 or gross_g < tare_g:
        raise Refused("The empty container weighs more than the full one. Check both weights.")
    return gross_g - tare_g


def count_by_weight(
    net_g: Decimal, one_g: Decimal, *, step_g: Decimal, sample: int | None
) -> WeighedCount:
    """How many pieces of `one_g` weigh `net_g`.

    Args:
        net_g: difference of two readings, full and empty container.
        step_g: what the scale counts in, above 0; the sample was weighed on the same scale.
        sample: pieces in the weighed sample; None takes the weight of one as exact.
    Raises: Refused when the sample is too light for that scale.
    """
    off = Fraction(step_g) / (2 * sample) + Fraction(MILLIONTH) / 2 if sample else Fraction(0)
    lightest, heaviest = Fraction(one_g) - off, Fraction(one_g) + off
    if lightest <= 0:
        raise Refused("The sample is too light for a scale of that step. Weigh more pieces.")
    net, step = Fraction(net_g), Fraction(step_g)
    return WeighedCount(
        count=_whole(net / Fraction(one_g), ROUND_HALF_EVEN),
        least=max(0, _whole((net - step) / heaviest, ROUND_CEILING)),
        most=_whole((net + step) / lightest, ROUND_FLOOR),
    )


def _whole(number: Fraction, rounding: str) -> int:
    return int((Decimal(number.numerator) / number.denominator).quantize(WHOLE, rounding))
