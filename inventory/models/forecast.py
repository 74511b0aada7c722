"""Stored results of a forecast run; pages read them, the run computes them."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q


class ForecastRun(models.Model):
    """One run over the shop; the newest whole one is the one that counts.

    plan and bills: what it was worked out from, so that a later run can say what changed.
    """

    class State(models.TextChoices):
        QUEUED = "queued", "waits to begin"
        RUNNING = "running", "being worked out"
        DONE = "done", "whole"
        FAILED = "failed", "failed"

    OPEN = (State.QUEUED, State.RUNNING)

    as_of = models.DateField()
    state = models.CharField(max_length=8, choices=State, default=State.DONE)
    progress = models.PositiveSmallIntegerField(default=0, help_text="percent, while it runs")
    trouble = models.TextField(blank=True, help_text="why it failed")
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    computer = models.CharField(max_length=80, blank=True, help_text="where it is worked out")
    lock = models.UUIDField(default=uuid.uuid4, help_text="names the file its process holds")
    made_at = models.DateTimeField(auto_now_add=True)
    horizon_weeks = models.PositiveSmallIntegerField()
    paths = models.PositiveIntegerField()
    seed = models.BigIntegerField()
    seconds = models.FloatField(default=0)
    plan_digest = models.CharField(
        max_length=64, blank=True, help_text="of the plan and bills it was computed from"
    )
    plan = models.JSONField(
        default=dict, help_text="batches to start: number -> {product code: knives}"
    )
    bills = models.JSONField(
        default=dict, help_text="product or made part -> revision of its bill in force"
    )

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(progress__lte=100), name="run_progress_valid"),
            models.UniqueConstraint(
                fields=["state"], condition=Q(state="running"), name="one_run_at_a_time"
            ),
        ]

    def __str__(self) -> str:
        return f"forecast of {self.as_of}"


class ProductForecast(models.Model):
    run = models.ForeignKey(ForecastRun, on_delete=models.CASCADE, related_name="products")
    product = models.ForeignKey("Product", on_delete=models.CASCADE, related_name="forecasts")
    demand_class = models.CharField(max_length=20)
    model = models.CharField(max_length=60)
    knives_per_week = models.FloatField()
    batches_seen = models.PositiveIntegerField()
    weekly_level = models.FloatField(
        default=0, help_text="knives a week by the weekly model that moves the rhythm"
    )
    scores = models.JSONField(default=dict)
    weeks = models.JSONField(default=list, help_text="[[Monday, mean, q05, q50, q95], ...]")
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["product"]
        constraints = [models.UniqueConstraint(fields=["run", "product"], name="one_product_a_run")]

    def __str__(self) -> str:
        return f"{self.product_id} in {self.run_id}"


class ItemForecast(models.Model):
    """Use of one item over lead time and horizon, in its stock unit."""

    run = models.ForeignKey(ForecastRun, on_delete=models.CASCADE, related_name="items")
    item = models.ForeignKey("Item", on_delete=models.CASCADE, related_name="forecasts")
    demand_class = models.CharField(max_length=20)
    model = models.CharField(max_length=120)
    service_level = models.FloatField()
    lead_mean_days = models.FloatField()
    lead_low_days = models.FloatField()
    lead_high_days = models.FloatField()
    lead_seen = models.PositiveIntegerField(help_text="deliveries behind the lead time")
    use_per_week = models.FloatField()
    lead_demand_mean = models.FloatField()
    lead_demand_q05 = models.FloatField()
    lead_demand_q95 = models.FloatField()
    reorder_point = models.FloatField()
    safety_stock = models.FloatField()
    order_up_to = models.FloatField()
    fill_by_order = models.JSONField(
        default=list,
        help_text="share of use met from the shelf by order quantity: [[quantity, share], ...]",
    )
    weekly_level = models.FloatField(
        default=0, help_text="use outside batches a week by its weekly model"
    )
    use_factor = models.FloatField(default=1, help_text="real use against the bills")
    use_error = models.FloatField(default=0, help_text="standard error of the factor")
    use_scatter = models.FloatField(default=0, help_text="of one batch's real use, as a share")
    use_batches = models.PositiveIntegerField(default=0, help_text="finished batches behind it")
    per_knife = models.JSONField(default=dict, help_text="product code -> use per knife started")
    weeks = models.JSONField(
        default=list, help_text="cumulative use: [[Monday, mean, q05, q50, q80, q95], ...]"
    )
    note = models.TextField(blank=True)
    was_due = models.BooleanField(default=False, help_text="on the reorder list of that moment")
    position_then = models.FloatField(null=True, blank=True)
    packs_then = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["item"]
        constraints = [
            models.UniqueConstraint(fields=["run", "item"], name="one_item_a_run"),
            models.CheckConstraint(condition=Q(reorder_point__gte=0), name="reorder_point_valid"),
        ]

    def __str__(self) -> str:
        return f"{self.item_id} in {self.run_id}"

    @property
    def is_used(self) -> bool:
        """Whether any use of it is expected."""
        return self.order_up_to > 0
