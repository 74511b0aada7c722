"""Sizes that are easily taken for one another: 5/32 in beside 4 mm, 3/16 in beside 4.8 mm."""

from inventory.models import Item

NEAR = 3
"""Percent of the larger one. Common practice, no source: closer than an eye tells at the rack."""


def look_alikes(item: Item) -> list[Item]:
    """Items of the same kind whose thickness, or width at a like thickness, is near but not equal."""
    others = Item.objects.filter(kind=item.kind).exclude(pk=item.pk)
    return [other for other in others if _alike(item, other)]


def _alike(item: Item, other: Item) -> bool:
    thickness = item.thickness_um, other.thickness_um
    width = item.width_um, other.width_um
    return _near(*thickness) or (_near(*width) and not _far(*thickness))


def _near(a: int | None, b: int | None) -> bool:
    return bool(a and b) and a != b and not _far(a, b)


def _far(a: int | None, b: int | None) -> bool:
    return bool(a and b) and abs(a - b) * 100 > NEAR * max(a, b)
