"""The shop's own settings, one row."""

from django.db import models

from inventory.fields import MoneyField


class Shop(models.Model):
    name = models.CharField(max_length=80)
    currency = models.CharField(max_length=8, default="EUR")
    holding_rate = models.DecimalField(
        "yearly cost of money on the shelf",
        max_digits=4,
        decimal_places=3,
        default="0.200",
        help_text="0.2 means 20 % of the value a year",
    )
    start_confidence = models.DecimalField(
        "chance that enough good knives finish",
        max_digits=4,
        decimal_places=3,
        default="0.800",
    )
    wear_confidence = models.DecimalField(
        "chance that the laid-out cutters last a batch",
        max_digits=4,
        decimal_places=3,
        default="0.950",
    )
    service_level = models.DecimalField(
        "chance of no shortage before a delivery", max_digits=4, decimal_places=3, default="0.950"
    )
    review_days = models.PositiveSmallIntegerField(
        "days between looks at the reorder list", default=7
    )
    hour_cost = MoneyField("cost of a bench hour", default=0)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(pk=1), name="one_shop"),
            models.CheckConstraint(
                condition=models.Q(start_confidence__gt=0, start_confidence__lt=1)
                & models.Q(wear_confidence__gt=0, wear_confidence__lt=1)
                & models.Q(service_level__gt=0, service_level__lt=1),
                name="shop_chances_between_0_and_1",
            ),
        ]

    def __str__(self) -> str:
        return self.name
