"""Who works here and what they may do."""

from django.contrib.auth.models import AbstractUser
from django.db import models


class User(AbstractUser):
    class Role(models.TextChoices):
        OWNER = "owner", "owner"
        MAKER = "maker", "maker"
        VIEWER = "viewer", "viewer"

    class LengthUnit(models.TextChoices):
        MM = "mm", "mm"
        INCH = "in", "in"

    class MassUnit(models.TextChoices):
        GRAM = "g", "g"
        OUNCE = "oz", "oz"

    role = models.CharField(max_length=10, choices=Role, default=Role.VIEWER)
    length_unit = models.CharField(max_length=2, choices=LengthUnit, default=LengthUnit.MM)
    mass_unit = models.CharField(max_length=2, choices=MassUnit, default=MassUnit.GRAM)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(role__in=["owner", "maker", "viewer"]), name="user_role_known"
            )
        ]

    @property
    def may_write(self) -> bool:
        """Owner and maker post stock, batches and wear; a viewer only reads."""
        return self.role in (self.Role.OWNER, self.Role.MAKER)

    @property
    def is_owner(self) -> bool:
        """The owner also changes items, products, suppliers and people."""
        return self.role == self.Role.OWNER
