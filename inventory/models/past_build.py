"""Knives built before the records began, brought in from a notebook or a spreadsheet."""

from django.db import models
from django.db.models import Q


class PastBuild(models.Model):
    """One product built on one day: history for the forecast, without movements of stock."""

    product = models.ForeignKey("Product", on_delete=models.PROTECT, related_name="past_builds")
    day = models.DateField("day the knives were started")
    started = models.PositiveIntegerField("knives started")
    good = models.PositiveIntegerField("good knives")
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["day", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["product", "day"], name="one_past_build_a_day"),
            models.CheckConstraint(
                condition=Q(started__gte=1) & Q(good__lte=models.F("started")),
                name="past_build_adds_up",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.started} x {self.product_id} on {self.day}"
