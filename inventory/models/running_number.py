"""The last number given out for each kind of label."""

from django.db import models


class RunningNumber(models.Model):
    prefix = models.CharField(max_length=4, primary_key=True)
    last = models.PositiveBigIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.prefix}-{self.last}"
