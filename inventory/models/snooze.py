"""A line of the reorder list put aside until a day."""

from django.conf import settings
from django.db import models


class Snooze(models.Model):
    """One item that is not to be shown on the list for now; at most one for each item."""

    item = models.OneToOneField("Item", on_delete=models.CASCADE, related_name="snooze")
    until = models.DateField("back on the list on")
    reason = models.CharField(max_length=120, blank=True)
    runs_out = models.DateField(
        null=True, blank=True, help_text="expected when it was put aside; earlier brings it back"
    )
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    day = models.DateField()

    class Meta:
        ordering = ["until", "pk"]

    def __str__(self) -> str:
        return f"{self.item_id} until {self.until}"
