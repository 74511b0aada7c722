"""Where stock lies: a shelf in the shop or a vendor's premises."""

from django.db import models
from django.urls import reverse


class Place(models.Model):
    name = models.CharField(max_length=60, unique=True)
    supplier = models.ForeignKey(
        "Supplier",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="places",
        help_text="set when the stock lies at a vendor",
    )

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("place", args=[self.pk])
