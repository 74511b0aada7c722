"""How the pieces held for a batch are to be cut, kept from the day they are held."""

from django.db import models


class CutPlan(models.Model):
    """One plan an item of a batch; the bench sheet prints it and the start cuts by it."""

    batch = models.ForeignKey("Batch", on_delete=models.CASCADE, related_name="cut_plans")
    item = models.ForeignKey("Item", on_delete=models.PROTECT, related_name="+")
    plan = models.JSONField(help_text="as inventory.cutting writes it")

    class Meta:
        ordering = ["batch", "item__code"]
        constraints = [models.UniqueConstraint(fields=["batch", "item"], name="one_plan_an_item")]

    def __str__(self) -> str:
        return f"{self.item_id} for {self.batch_id}"
