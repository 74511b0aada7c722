"""Wearing items in the machine: one record from fitting to removal."""

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from inventory.fields import QuantityField


class Machine(models.Model):
    name = models.CharField(max_length=60, unique=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Fitting(models.Model):
    """One cutter, belt, wheel or blade from the day it is fitted until it is removed."""

    class EndReason(models.TextChoices):
        WORN = "worn", "worn"
        BROKEN = "broken", "broken"
        REMOVED_EARLY = "removed_early", "removed early"
        LOST = "lost", "lost"

    item = models.ForeignKey("Item", on_delete=models.PROTECT, related_name="fittings")
    lot = models.ForeignKey("Lot", on_delete=models.PROTECT, null=True, blank=True)
    label = models.CharField(max_length=20, unique=True)
    machine = models.ForeignKey(Machine, on_delete=models.PROTECT, related_name="fittings")
    pocket = models.CharField(max_length=20)
    revision = models.PositiveSmallIntegerField("of the item when fitted", default=1)
    regrinds = models.PositiveSmallIntegerField(default=0)
    diameter_um = models.PositiveBigIntegerField("measured diameter", null=True, blank=True)
    work_material = models.CharField(max_length=60, blank=True)
    cutting_data = models.CharField("speed, feed and depth", max_length=60, blank=True)
    continues = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="continued_by"
    )
    life_before = QuantityField("life used before this fitting", default=0)
    life_used = QuantityField("life used in all", default=0)
    is_life_confirmed = models.BooleanField("counted though it is far beyond others", default=False)
    fitted_on = models.DateField()
    removed_on = models.DateField(null=True, blank=True)
    end_reason = models.CharField(max_length=14, choices=EndReason, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["machine", "pocket", "-fitted_on"]
        constraints = [
            models.UniqueConstraint(
                fields=["machine", "pocket"],
                condition=Q(removed_on__isnull=True),
                name="one_fitted_a_pocket",
            ),
            models.CheckConstraint(
                condition=Q(removed_on__isnull=True, end_reason="")
                | Q(
                    removed_on__isnull=False,
                    end_reason__in=["worn", "broken", "removed_early", "lost"],
                ),
                name="removal_has_a_reason",
            ),
            models.CheckConstraint(
                condition=Q(life_before__gte=0) & Q(life_used__gte=models.F("life_before")),
                name="life_only_grows",
            ),
        ]

    def __str__(self) -> str:
        return self.label

    def get_absolute_url(self) -> str:
        return reverse("fitting", args=[self.label])

    @property
    def is_fitted(self) -> bool:
        return self.removed_on is None


class WearLog(models.Model):
    """Life used, one entry a job; a wrong entry is answered by its negative."""

    fitting = models.ForeignKey(Fitting, on_delete=models.PROTECT, related_name="logs")
    amount = QuantityField("life used, in the item's life unit")
    day = models.DateField()
    batch = models.ForeignKey(
        "Batch", on_delete=models.PROTECT, null=True, blank=True, related_name="wear_logs"
    )
    operation = models.CharField(max_length=60, blank=True)
    reverses = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="reversed_by"
    )
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-day", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(amount__gt=0, reverses__isnull=True)
                | Q(amount__lt=0, reverses__isnull=False),
                name="wear_grows_or_reverses",
            )
        ]

    def __str__(self) -> str:
        return f"{self.fitting_id}: {self.amount}"


class WearReading(models.Model):
    """Wear at the life used so far: wear land VB under the loupe (ISO 8688-2), or by eye."""

    class Level(models.TextChoices):
        NEW = "new", "as new"
        HALF = "half", "half worn"
        WORN = "worn", "worn"

    fitting = models.ForeignKey(Fitting, on_delete=models.PROTECT, related_name="readings")
    vb_um = models.PositiveIntegerField("wear land in µm", null=True, blank=True)
    level = models.CharField("by eye", max_length=4, choices=Level, blank=True)
    life_at = QuantityField("life used when read")
    day = models.DateField()

    class Meta:
        ordering = ["fitting", "life_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(vb_um__isnull=False, level="")
                | Q(vb_um__isnull=True, level__in=["new", "half", "worn"]),
                name="wear_is_measured_or_seen",
            )
        ]

    def __str__(self) -> str:
        seen = self.get_level_display() or f"{self.vb_um} µm"
        return f"{seen} at {self.life_at}"


class Regrind(models.Model):
    """A cutter out to be reground after one life; back, it is the same one with a new life."""

    fitting = models.OneToOneField(
        Fitting, on_delete=models.PROTECT, related_name="sent_out", verbose_name="life that ended"
    )
    vendor = models.ForeignKey(
        "Supplier", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    sent_on = models.DateField()
    back_on = models.DateField(null=True, blank=True)
    diameter_um = models.PositiveBigIntegerField("measured diameter", null=True, blank=True)
    is_usable = models.BooleanField(default=True)
    fitted_as = models.OneToOneField(
        Fitting,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="ground",
        verbose_name="life that began with it",
    )
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["sent_on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(back_on__isnull=True) | Q(back_on__gte=models.F("sent_on")),
                name="regrind_comes_back_after_it_went",
            )
        ]

    def __str__(self) -> str:
        return f"{self.fitting} reground"


class LifeCorrection(models.Model):
    """What was put right in the record of one life, in words, by whom and when."""

    fitting = models.ForeignKey(Fitting, on_delete=models.PROTECT, related_name="corrections")
    words = models.CharField(max_length=200)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+"
    )
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.words
