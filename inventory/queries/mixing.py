"""Two-part systems: resin and hardener go only as far as the side that runs out first."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_FLOOR, Decimal

from django.db.models import Q

from inventory.models import Item
from inventory.queries.availability import stock_by_item

FINEST = Decimal("0.000001")
NOTHING = Decimal(0)
UNEVEN = Decimal("0.2")
"""Share of the longer side that is left over before it is worth a word. Common practice, no source."""


@dataclass(frozen=True)
class Mix:
    """`share` of the second part goes with one of the first, both in their stock units.

    first_free, second_free: available of each.
    """

    first: Item
    second: Item
    share: Decimal
    first_free: Decimal
    second_free: Decimal

    @property
    def first_used(self) -> Decimal:
        """What of the first part finds its other part."""
        reach = (self.second_free / self.share).quantize(FINEST, ROUND_FLOOR)
        return min(self.first_free, reach)

    @property
    def second_used(self) -> Decimal:
        return min(self.second_free, (self.first_used * self.share).quantize(FINEST))

    @property
    def short(self) -> Item | None:
        """The part that runs out first; None when both end together."""
        first_left, second_left = self.first_free - self.first_used, self._second_left
        if first_left == second_left == 0:
            return None
        return self.second if first_left else self.first

    @property
    def longer(self) -> Item:
        return self.first if self.short == self.second else self.second

    @property
    def left_over(self) -> Decimal:
        """What stays of the longer part when the other one is used up."""
        return (self.first_free - self.first_used) or self._second_left

    @property
    def is_uneven(self) -> bool:
        """So much would be left over that somebody should buy the other part."""
        there = self.first_free if self.longer == self.first else self.second_free
        return self.left_over > there * UNEVEN

    @property
    def mixed(self) -> Decimal | None:
        """Both together, in the unit of the first part; None when the units can't be added."""
        second = _in_unit(self.second_used, self.second, self.first.stock_unit)
        return None if second is None else self.first_used + second

    @property
    def by_weight(self) -> Decimal | None:
        """Grams of the second for one gram of the first; None without the densities it takes."""
        return self._ratio("g")

    @property
    def by_volume(self) -> Decimal | None:
        """Millilitres of the second for one of the first; None without the densities it takes."""
        return self._ratio("mL")

    @property
    def _second_left(self) -> Decimal:
        left = self.second_free - self.second_used
        return NOTHING if left <= FINEST * max(self.share, 1) else left

    def _ratio(self, unit: str) -> Decimal | None:
        first = _in_unit(Decimal(1), self.first, unit)
        second = _in_unit(self.share, self.second, unit)
        return None if first is None or second is None else second / first


def two_part_systems(day: date, of: Iterable[Item] | None = None) -> list[Mix]:
    """Every tie between two parts, or those in which one of these items takes part."""
    tied = Item.objects.filter(mixed_with__isnull=False).select_related("mixed_with")
    if of is not None:
        ids = [item.pk for item in of]
        tied = tied.filter(Q(pk__in=ids) | Q(mixed_with__in=ids))
    firsts = list(tied.order_by("code"))
    ids = {pk for first in firsts for pk in (first.pk, first.mixed_with_id)}
    stock = stock_by_item(day, ids) if ids else {}
    return [
        Mix(
            first,
            first.mixed_with,
            first.mix_share,
            stock[first.pk].available,
            stock[first.mixed_with_id].available,
        )
        for first in firsts
    ]


def uneven_systems(day: date) -> list[Mix]:
    """Systems of which one part runs out long before the other."""
    return [mix for mix in two_part_systems(day) if mix.short and mix.is_uneven]


def _in_unit(qty: Decimal, item: Item, unit: str) -> Decimal | None:
    """Grams or millilitres of it, through its density where the unit is the other one."""
    if item.stock_unit == unit:
        return qty
    if item.density_g_per_ml is None:
        return None
    return qty * item.density_g_per_ml if unit == "g" else qty / item.density_g_per_ml
