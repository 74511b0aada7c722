"""Sizes that are easily taken for one another: 5/32 in beside 4 mm, 3/16 in beside 4.8 mm."""

from django.db.models import Q

from inventory.models import Item

NEAR = 97
"""Percent of the larger one, from which on two sizes look alike. Common practice, no source: closer
than an eye tells at the rack."""


def look_alikes(item: Item) -> list[Item]:
    """Items of the same kind whose thickness, or width at a like thickness, is near but not equal."""
    alike = Q()
    if item.thickness_um:
        alike |= _near("thickness_um", item.thickness_um)
    if item.width_um:
        alike |= _near("width_um", item.width_um) & _not_far("thickness_um", item.thickness_um)
    if not alike:
        return []
    return list(Item.objects.filter(alike, kind=item.kind).exclude(pk=item.pk))


def _near(name: str, um: int) -> Q:
    return Q(**{f"{name}__range": _reach(um)}) & ~Q(**{name: um})


def _not_far(name: str, um: int | None) -> Q:
    """Equal, near, or not stated at one of them."""
    return Q(**{f"{name}__range": _reach(um)}) | Q(**{f"{name}__isnull": True}) if um else Q()


def _reach(um: int) -> tuple[int, int]:
    """From the smallest to the largest size that looks like this one."""
    return -(-um * NEAR // 100), um * 100 // NEAR
