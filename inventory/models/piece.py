"""One physical bar, sheet or roll of a lot; an offcut kept is a remnant with a parent."""

from decimal import Decimal

from django.db import models
from django.db.models import Q
from django.urls import reverse


class Piece(models.Model):
    lot = models.ForeignKey("Lot", on_delete=models.PROTECT, related_name="pieces")
    label = models.CharField(max_length=20, unique=True)
    length_um = models.PositiveBigIntegerField("length", help_text="along the grain")
    width_um = models.PositiveBigIntegerField(
        "width", null=True, blank=True, help_text="sheets only: a bar has its item's width"
    )
    thickness_um = models.PositiveBigIntegerField(
        "measured thickness", null=True, blank=True, help_text="empty: as the lot"
    )
    parent = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="remnants"
    )
    is_offcut = models.BooleanField("an offcut when it came in", default=False)
    squared = models.BooleanField("first edge already squared", default=False)

    class Meta:
        ordering = ["label"]
        constraints = [
            models.CheckConstraint(
                condition=Q(length_um__gt=0) & (Q(width_um__isnull=True) | Q(width_um__gt=0)),
                name="piece_has_size",
            ),
        ]

    def __str__(self) -> str:
        return self.label

    def get_absolute_url(self) -> str:
        return reverse("piece", args=[self.label])

    @property
    def is_remnant(self) -> bool:
        """An offcut: kept of a cut here, or one already when it came in."""
        return self.is_offcut or self.parent_id is not None

    @property
    def quantity(self) -> Decimal:
        """Its whole size in the item's stock unit: mm, or mm² for sheets."""
        return size_in_stock_unit(self.length_um, self.width_um)


def size_in_stock_unit(length_um: int, width_um: int | None) -> Decimal:
    """Exact mm of a bar or roll (3 decimals), or mm² of a sheet (6 decimals)."""
    if width_um is None:
        return Decimal(length_um).scaleb(-3)
    return Decimal(length_um * width_um).scaleb(-6)
