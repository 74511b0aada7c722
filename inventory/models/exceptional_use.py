"""Use outside batches that is not expected again."""

from django.conf import settings
from django.db import models


class ExceptionalUse(models.Model):
    """An entry that forecasts leave out; in the ledger and in every report it stays as it is."""

    posting = models.OneToOneField("Posting", on_delete=models.PROTECT, related_name="exceptional")
    day = models.DateField(help_text="since when it is known; forecasts of days before counted it")
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"entry {self.posting_id}, not expected again"
