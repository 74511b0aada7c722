"""Who sells or works for the shop, and on what terms."""

from decimal import Decimal

from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Q
from django.urls import reverse

from inventory.fields import MoneyField, QuantityField
from inventory.models.code import one_code_whatever_its_case, refuse_like_code

LONGEST_LEAD_DAYS = 3_650


class Supplier(models.Model):
    code = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=120)
    is_vendor = models.BooleanField("works on our parts (outside processing)", default=False)
    email = models.EmailField(blank=True)
    order_fee = MoneyField("freight and fees an order", default=0)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [one_code_whatever_its_case("one_supplier_code")]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("supplier", args=[self.code])

    def clean(self) -> None:
        refuse_like_code(self)


class Offer(models.Model):
    """One item as one supplier sells it; a changed pack or price is a new, dated offer."""

    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="offers")
    item = models.ForeignKey("Item", on_delete=models.PROTECT, related_name="offers")
    their_code = models.CharField(max_length=40, blank=True)
    pack_name = models.CharField(max_length=40, default="each", help_text="e.g. bag of 100")
    pack_qty = QuantityField("stock units in a pack")
    piece_length_um = models.PositiveBigIntegerField(null=True, blank=True)
    piece_width_um = models.PositiveBigIntegerField(null=True, blank=True)
    pieces_per_pack = models.PositiveIntegerField(null=True, blank=True)
    minimum_packs = models.PositiveIntegerField(default=1)
    lead_days = models.PositiveIntegerField(
        "quoted lead time in days", validators=[MaxValueValidator(LONGEST_LEAD_DAYS)]
    )
    lot_charge = MoneyField("charge an order line or load", default=0)
    preferred = models.BooleanField(default=True)
    valid_from = models.DateField()
    valid_to = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["item", "-preferred", "supplier"]
        constraints = [
            models.CheckConstraint(condition=Q(pack_qty__gt=0), name="offer_pack_above_zero"),
            models.CheckConstraint(condition=Q(minimum_packs__gte=1), name="offer_minimum_one"),
            models.UniqueConstraint(
                fields=["item"],
                condition=Q(preferred=True, valid_to__isnull=True),
                name="one_preferred_offer",
            ),
            models.CheckConstraint(
                condition=Q(piece_length_um__isnull=True, pieces_per_pack__isnull=True)
                | Q(piece_length_um__gt=0, pieces_per_pack__gte=1),
                name="offer_pieces_have_size",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item_id} from {self.supplier_id}: {self.pack_name}"

    def price_at(self, packs: Decimal | int) -> Decimal:
        """Price of one pack at that count; all packs get the price of the highest break reached."""
        price = Decimal(0)
        for step in self.price_breaks.all():
            if step.from_packs <= packs or not price:
                price = step.price
        return price


class PriceBreak(models.Model):
    offer = models.ForeignKey(Offer, on_delete=models.CASCADE, related_name="price_breaks")
    from_packs = models.PositiveIntegerField(default=1)
    price = MoneyField("price of a pack")

    class Meta:
        ordering = ["from_packs"]
        constraints = [
            models.UniqueConstraint(fields=["offer", "from_packs"], name="one_price_a_break"),
            models.CheckConstraint(
                condition=Q(from_packs__gte=1) & Q(price__gte=0), name="price_break_valid"
            ),
        ]

    def __str__(self) -> str:
        return f"from {self.from_packs}: {self.price}"
