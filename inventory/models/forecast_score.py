"""What a forecast said of one item against what was used, once the weeks have passed."""

from django.db import models


class ForecastScore(models.Model):
    """One item from a run's day to the end of some weeks; quantities in its stock unit.

    It stands by itself, because runs are deleted when all their weeks are scored.
    """

    class Ahead(models.TextChoices):
        FOUR_WEEKS = "4", "about 4 weeks"
        EIGHT_WEEKS = "8", "about 8 weeks"
        LEAD_TIME = "lead", "its lead time"

    item = models.ForeignKey("Item", on_delete=models.CASCADE, related_name="forecast_scores")
    as_of = models.DateField(help_text="day of the forecast; the use after it counts")
    ahead = models.CharField(max_length=4, choices=Ahead)
    until = models.DateField(help_text="last day that counts")
    mean = models.FloatField()
    q05 = models.FloatField()
    q50 = models.FloatField()
    q80 = models.FloatField()
    q95 = models.FloatField()
    used = models.FloatField(help_text="by the ledger")
    ran_out = models.BooleanField(
        default=False, help_text="none on hand for a week: what was wanted is not known"
    )
    stands_apart = models.BooleanField(
        default=False, help_text="shares no day with an earlier one of its kind that does"
    )
    scale = models.FloatField(
        null=True, help_text="usual change of use from one such stretch to the next, before"
    )
    error = models.FloatField(null=True, help_text="distance of the mean, in scales")
    loss = models.FloatField(null=True, help_text="mean quantile loss, in scales")

    class Meta:
        ordering = ["-as_of", "item"]
        constraints = [
            models.UniqueConstraint(fields=["item", "as_of", "ahead"], name="scored_once")
        ]

    def __str__(self) -> str:
        return f"{self.item_id} from {self.as_of} to {self.until}"

    @property
    def is_judged(self) -> bool:
        """Whether its range says anything: some use was expected, and none was lost."""
        return self.q95 > 0 and not self.ran_out

    @property
    def held(self) -> bool:
        """Whether the use lies in the range that should hold it nine times in ten."""
        return self.q05 <= self.used <= self.q95
