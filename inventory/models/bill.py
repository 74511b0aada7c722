"""Bills of materials: revisioned operations, each with what it consumes and wears."""

from django.db import models
from django.db.models import Q
from django.utils import timezone

from inventory.fields import QuantityField


class BillOfMaterials(models.Model):
    """One revision of how a product, or a part made in house, is built."""

    class Status(models.TextChoices):
        DRAFT = "draft", "draft"
        ACTIVE = "active", "active"
        RETIRED = "retired", "retired"

    product = models.ForeignKey(
        "Product", on_delete=models.PROTECT, null=True, blank=True, related_name="bills"
    )
    made_item = models.ForeignKey(
        "Item", on_delete=models.PROTECT, null=True, blank=True, related_name="bills"
    )
    revision = models.PositiveSmallIntegerField()
    status = models.CharField(max_length=8, choices=Status, default=Status.DRAFT)
    valid_from = models.DateField()
    written_at = models.DateTimeField(default=timezone.now, editable=False)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["product", "made_item", "-revision"]
        constraints = [
            models.CheckConstraint(
                condition=Q(product__isnull=True, made_item__isnull=False)
                | Q(product__isnull=False, made_item__isnull=True),
                name="bill_has_one_owner",
            ),
            models.UniqueConstraint(
                fields=["product", "revision"],
                condition=Q(product__isnull=False),
                name="one_product_revision",
            ),
            models.UniqueConstraint(
                fields=["made_item", "revision"],
                condition=Q(made_item__isnull=False),
                name="one_made_revision",
            ),
            models.UniqueConstraint(
                fields=["product"],
                condition=Q(status="active", product__isnull=False),
                name="one_active_product_bill",
            ),
            models.UniqueConstraint(
                fields=["made_item"],
                condition=Q(status="active", made_item__isnull=False),
                name="one_active_made_bill",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.product or self.made_item} rev {self.revision}"


class Operation(models.Model):
    """One step of the routing."""

    bill = models.ForeignKey(BillOfMaterials, on_delete=models.CASCADE, related_name="operations")
    number = models.PositiveSmallIntegerField(help_text="10, 20, 30 ...")
    name = models.CharField(max_length=60)
    good_share = QuantityField(
        "yield", default=1, help_text="share of good pieces, 0.98 for 2 % scrap"
    )
    setup_size = models.PositiveIntegerField(
        "knives per setup", null=True, blank=True, help_text="e.g. one glue mix for 4 knives"
    )
    bench_minutes = QuantityField("minutes per knife", default=0)
    setup_minutes = QuantityField("minutes per setup", default=0)
    wait_days = models.PositiveSmallIntegerField(
        "days to wait after it", default=0, help_text="cure, cool"
    )
    service = models.ForeignKey(
        "Item",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="service_operations",
        limit_choices_to={"kind": "service"},
    )
    caution = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["bill", "number"]
        constraints = [
            models.UniqueConstraint(fields=["bill", "number"], name="one_operation_number"),
            models.CheckConstraint(
                condition=Q(good_share__gt=0, good_share__lte=1), name="yield_above_0_to_1"
            ),
            models.CheckConstraint(
                condition=Q(setup_size__isnull=True) | Q(setup_size__gte=1),
                name="setup_size_one_or_more",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"


class BomLine(models.Model):
    """What one operation consumes: a quantity, or parts cut from pieces."""

    class Per(models.TextChoices):
        KNIFE = "knife", "knife"
        BATCH = "batch", "batch"
        SETUP = "setup", "setup"

    operation = models.ForeignKey(Operation, on_delete=models.CASCADE, related_name="lines")
    item = models.ForeignKey("Item", on_delete=models.PROTECT, related_name="bom_lines")
    per = models.CharField(max_length=5, choices=Per, default=Per.KNIFE)
    qty = QuantityField(help_text="stock units, or number of cut parts")
    loss_share = QuantityField(
        "lost on the way", default=0, help_text="0.03: three in a hundred dropped or split"
    )
    cut_length_um = models.PositiveBigIntegerField("finished length", null=True, blank=True)
    cut_width_um = models.PositiveBigIntegerField("finished width", null=True, blank=True)
    allowance_um = models.PositiveBigIntegerField("allowance for each machined side", default=0)
    may_turn = models.BooleanField("may be cut across the grain", default=False)
    option = models.ForeignKey(
        "ProductOption",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="bom_lines",
        help_text="only for this choice",
    )

    class Meta:
        ordering = ["operation", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(qty__gt=0), name="bom_qty_above_zero"),
            models.CheckConstraint(
                condition=Q(loss_share__gte=0, loss_share__lt=1), name="loss_from_0_below_1"
            ),
            models.CheckConstraint(
                condition=Q(cut_length_um__isnull=True, cut_width_um__isnull=True)
                | Q(cut_length_um__gt=0),
                name="cut_has_a_length",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.qty} {self.item_id} per {self.per}"

    @property
    def blank_um(self) -> tuple[int, int | None]:
        """Length and width to cut, allowance on both sides included."""
        width = None if self.cut_width_um is None else self.cut_width_um + 2 * self.allowance_um
        return self.cut_length_um + 2 * self.allowance_um, width


class WearLine(models.Model):
    """Life of a wearing item that one knife uses up in an operation.

    machine, pocket: where the one that does it is fitted; empty: wherever one of the item is.
    """

    operation = models.ForeignKey(Operation, on_delete=models.CASCADE, related_name="wear_lines")
    item = models.ForeignKey("Item", on_delete=models.PROTECT, related_name="wear_lines")
    life_per_knife = QuantityField(help_text="in the item's life unit")
    machine = models.ForeignKey(
        "Machine", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    pocket = models.CharField(max_length=20, blank=True)
    work_material = models.CharField(max_length=60, blank=True)
    cutting_data = models.CharField("speed, feed and depth", max_length=60, blank=True)

    class Meta:
        ordering = ["operation", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["operation", "item", "machine", "pocket"],
                name="one_wear_line_a_pocket",
                violation_error_message="It is there twice for one pocket. Add the two up.",
            ),
            models.UniqueConstraint(
                fields=["operation", "item"],
                condition=Q(machine__isnull=True),
                name="one_wear_line",
                violation_error_message=(
                    "It is there twice without a machine. Add the two up, or name the machines."
                ),
            ),
            models.CheckConstraint(
                condition=Q(pocket="") | Q(machine__isnull=False),
                name="pocket_is_of_a_machine",
                violation_error_message="A pocket belongs to a machine. Name the machine too.",
            ),
            models.CheckConstraint(condition=Q(life_per_knife__gt=0), name="wear_above_zero"),
        ]

    def __str__(self) -> str:
        return f"{self.life_per_knife} of {self.item_id}"
