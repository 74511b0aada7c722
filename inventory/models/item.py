"""What is kept: anything stocked, and outside services that are bought by the piece."""

from decimal import ROUND_CEILING, Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from inventory.fields import MoneyField, QuantityField
from inventory.models.code import one_code_whatever_its_case, refuse_like_code

LONGEST_LIFE_DAYS = 36_500
FLATTEST_SHAPE, STEEPEST_SHAPE = Decimal("0.2"), Decimal(20)
"""Beyond these a figure is a slip of the pen, and no date or chance can be worked out with it."""
ABOVE_ZERO = MinValueValidator(Decimal("0.00001"))


class Item(models.Model):
    class Kind(models.TextChoices):
        BAR = "bar", "bar"
        SHEET = "sheet", "sheet"
        WEBBING = "webbing", "webbing"
        FASTENER = "fastener", "fastener"
        ADHESIVE = "adhesive", "adhesive"
        ABRASIVE = "abrasive", "abrasive"
        MEDIA = "media", "blasting or tumbling media"
        CUTTER = "cutter", "cutter"
        CHEMICAL = "chemical", "chemical"
        PACKAGING = "packaging", "packaging"
        MADE = "made", "made part"
        SERVICE = "service", "outside service"

    class Unit(models.TextChoices):
        EACH = "each", "each"
        MM = "mm", "mm"
        MM2 = "mm2", "mm²"
        GRAM = "g", "g"
        ML = "mL", "mL"

    class LifeUnit(models.TextChoices):
        MINUTES = "min", "minutes in cut"
        PIECES = "pieces", "pieces"
        METRES = "m", "metres"

    class Status(models.TextChoices):
        ACTIVE = "active", "active"
        LAST_BUY = "last_buy", "last buy"
        DISCONTINUED = "discontinued", "discontinued"

    class LotMatch(models.TextChoices):
        NONE = "none", "any lots"
        KNIFE = "knife", "one lot for each knife"
        BATCH = "batch", "one lot for the whole batch"

    class GritSystem(models.TextChoices):
        P = "P", "FEPA P (ISO 6344)"
        F = "F", "FEPA F (ISO 8486)"
        CAMI = "CAMI", "ANSI/CAMI"

    class ValueClass(models.TextChoices):
        A = "A", "A, most of the value"
        B = "B", "B, the next"
        C = "C", "C, the many of little value"

    class UseClass(models.TextChoices):
        X = "X", "X, even use"
        Y = "Y", "Y, uneven use"
        Z = "Z", "Z, now and then"

    code = models.CharField(max_length=30, unique=True)
    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=10, choices=Kind)
    stock_unit = models.CharField(max_length=4, choices=Unit, default=Unit.EACH)
    status = models.CharField(max_length=12, choices=Status, default=Status.ACTIVE)
    colour = models.CharField(max_length=40, blank=True)
    grade = models.CharField(
        "standard grade", max_length=60, blank=True, help_text="e.g. AISI 440C, NEMA G-10"
    )
    place = models.ForeignKey(
        "Place", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    note = models.TextField(blank=True)

    thickness_um = models.PositiveBigIntegerField("thickness", null=True, blank=True)
    thickness_off_um = models.PositiveBigIntegerField(
        "thickness may be off by",
        null=True,
        blank=True,
        help_text="empty: the usual tolerance of such material",
    )
    width_um = models.PositiveBigIntegerField("width", null=True, blank=True)
    kerf_um = models.PositiveBigIntegerField("kerf of the saw used on it", default=0)
    trim_um = models.PositiveBigIntegerField("squaring trim at the first edge", default=0)
    keep_length_um = models.PositiveBigIntegerField("shortest remnant worth keeping", default=0)
    keep_width_um = models.PositiveBigIntegerField("narrowest remnant worth keeping", default=0)
    has_grain = models.BooleanField("grain or weave runs along the length", default=False)
    lot_match = models.CharField(max_length=6, choices=LotMatch, default=LotMatch.NONE)

    density_g_per_ml = QuantityField("density in g/mL", null=True, blank=True)
    shelf_life_days = models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=[MaxValueValidator(LONGEST_LIFE_DAYS)],
        help_text="unopened, from manufacture",
    )
    opened_life_days = models.PositiveIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(LONGEST_LIFE_DAYS)]
    )

    weight_of_one_g = QuantityField(
        "weight of one in g", null=True, blank=True, help_text="from a weighed sample"
    )
    weighed_sample = models.PositiveIntegerField("pieces in that sample", null=True, blank=True)
    mixed_with = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="the other part of a two-part system",
    )
    mix_share = QuantityField(
        "of the other part for one of this", null=True, blank=True, help_text="in stock units"
    )

    grit_system = models.CharField(max_length=4, choices=GritSystem, blank=True)
    grit_number = models.PositiveIntegerField(null=True, blank=True)
    grit_um = QuantityField("mean grain size in µm", null=True, blank=True)

    diameter_um = models.PositiveBigIntegerField("cutting diameter DC", null=True, blank=True)
    cut_depth_um = models.PositiveBigIntegerField("depth of cut APMX", null=True, blank=True)
    usable_length_um = models.PositiveBigIntegerField("usable length LU", null=True, blank=True)
    overall_length_um = models.PositiveBigIntegerField("overall length OAL", null=True, blank=True)
    corner_radius_um = models.PositiveBigIntegerField("corner radius RE", null=True, blank=True)
    flutes = models.PositiveSmallIntegerField("flutes NOF", null=True, blank=True)
    coating = models.CharField(max_length=40, blank=True)
    most_regrinds = models.PositiveSmallIntegerField(
        "regrinds it takes", null=True, blank=True, help_text="empty: as long as it measures up"
    )
    smallest_diameter_um = models.PositiveBigIntegerField(
        "smallest diameter still used", null=True, blank=True
    )

    life_unit = models.CharField(max_length=6, choices=LifeUnit, blank=True)
    rated_life = QuantityField(
        "usual life", null=True, blank=True, help_text="in the life unit; the shop's own figure"
    )
    rated_shape = QuantityField(
        "usual Weibull shape",
        null=True,
        blank=True,
        validators=[MinValueValidator(FLATTEST_SHAPE), MaxValueValidator(STEEPEST_SHAPE)],
        help_text="about 1 breaks, 2 to 4 wears",
    )
    wear_limit_um = models.PositiveIntegerField("wear land limit in µm", null=True, blank=True)
    change_cost = MoneyField(
        "cost of a change made in time",
        null=True,
        blank=True,
        validators=[ABOVE_ZERO],
        help_text="empty: price of one and the bench time of a change",
    )
    failure_cost = MoneyField(
        "cost of a change after a failure",
        null=True,
        blank=True,
        validators=[ABOVE_ZERO],
        help_text="empty: the same and a spoilt knife",
    )
    revision = models.PositiveSmallIntegerField(
        default=1, help_text="raise it when geometry or coating changes: a new life record starts"
    )

    value_class = models.CharField(max_length=1, choices=ValueClass, blank=True, editable=False)
    use_class = models.CharField(max_length=1, choices=UseClass, blank=True, editable=False)

    service_level = models.DecimalField(
        max_digits=4, decimal_places=3, null=True, blank=True, help_text="empty: the shop's own"
    )
    most_stored = QuantityField(
        "room for at most",
        null=True,
        blank=True,
        validators=[ABOVE_ZERO],
        help_text="in stock units; empty: as much as is ordered",
    )
    needed_until = models.DateField(
        "needed until",
        null=True,
        blank=True,
        help_text="the last order covers the use until then; empty: no end in sight",
    )
    hazard_codes = models.CharField(
        "GHS hazard statements", max_length=120, blank=True, help_text="e.g. H315 H317 H319"
    )
    caution = models.TextField(blank=True)
    data_sheet = models.FileField("safety data sheet", upload_to="sheets/", blank=True)
    data_sheet_dated = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["code"]
        constraints = [
            one_code_whatever_its_case("one_item_code"),
            models.CheckConstraint(
                condition=(
                    Q(kind__in=["bar", "webbing"], stock_unit="mm")
                    | Q(kind="sheet", stock_unit="mm2")
                    | (
                        ~Q(kind__in=["bar", "webbing", "sheet"])
                        & Q(stock_unit__in=["each", "g", "mL"])
                    )
                ),
                name="item_unit_fits_kind",
                violation_error_message=(
                    "Bars and webbing are kept in mm, sheets in mm², everything else in each, g or mL. "
                    "Choose the unit that goes with the kind."
                ),
            ),
            models.CheckConstraint(
                condition=Q(life_unit="", rated_life__isnull=True)
                | (
                    Q(life_unit__in=["min", "pieces", "m"], stock_unit="each")
                    & (Q(rated_life__isnull=True) | Q(rated_life__gt=0))
                ),
                name="wearing_item_has_a_life",
                violation_error_message=(
                    "Only what is counted wears, and a usual life above zero needs its unit. "
                    "Choose minutes, pieces or metres, or leave the life empty."
                ),
            ),
            models.CheckConstraint(
                condition=Q(service_level__isnull=True)
                | Q(service_level__gt=0, service_level__lt=1),
                name="item_service_between_0_and_1",
                violation_error_message=(
                    "The service level lies between 0 and 1. Write 0.95 for 95 %%."
                ),
            ),
            models.CheckConstraint(
                condition=Q(most_stored__isnull=True) | Q(most_stored__gt=0),
                name="room_above_zero",
                violation_error_message="There is room for something, or the field stays empty.",
            ),
            models.CheckConstraint(
                condition=Q(grit_number__isnull=True) | ~Q(grit_system=""),
                name="grit_number_has_a_system",
                violation_error_message=(
                    "A grit number needs its system. Choose FEPA P, FEPA F or CAMI."
                ),
            ),
            models.CheckConstraint(
                condition=Q(density_g_per_ml__isnull=True) | Q(density_g_per_ml__gt=0),
                name="density_above_zero",
                violation_error_message="The density must be above zero.",
            ),
            models.CheckConstraint(
                condition=Q(weight_of_one_g__isnull=True)
                | Q(weight_of_one_g__gt=0, stock_unit="each"),
                name="weight_of_one_is_of_counted_things",
                violation_error_message=(
                    "Only what is kept by count has a weight of one, and it is above zero."
                ),
            ),
            models.CheckConstraint(
                condition=Q(mixed_with__isnull=True, mix_share__isnull=True)
                | (Q(mixed_with__isnull=False, mix_share__gt=0) & ~Q(mixed_with=F("pk"))),
                name="mix_has_a_share",
                violation_error_message=(
                    "A two-part system needs both: the other part, and how much of it goes with one of this."
                ),
            ),
            models.CheckConstraint(
                condition=Q(mixed_with__isnull=True) | Q(stock_unit__in=["g", "mL"]),
                name="mixed_parts_are_weighed_or_measured",
                violation_error_message="Only what is kept in g or mL is mixed with another part.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"

    def get_absolute_url(self) -> str:
        return reverse("item", args=[self.code])

    def clean(self) -> None:
        """The code is its own; the tie of a two-part system is stated once, in like units."""
        refuse_like_code(self)
        other = self.mixed_with
        if other is None:
            return
        if other.stock_unit not in (self.Unit.GRAM, self.Unit.ML):
            raise ValidationError(
                f"{other.code} is kept in {other.get_stock_unit_display()}; only what is kept in g "
                "or mL is mixed."
            )
        if self.pk and other.mixed_with_id == self.pk:
            raise ValidationError(
                f"{other.code} already says how it is mixed with {self.code}. Change it there."
            )

    @property
    def in_pieces(self) -> bool:
        """Bars, sheets and rolls are kept as physical pieces, not as a sum."""
        return self.stock_unit in (self.Unit.MM, self.Unit.MM2)

    @property
    def wears(self) -> bool:
        return bool(self.life_unit)

    @property
    def has_geometry(self) -> bool:
        lengths = (self.cut_depth_um, self.usable_length_um, self.overall_length_um)
        return any((*lengths, self.diameter_um, self.flutes, self.corner_radius_um, self.coating))

    @property
    def is_service(self) -> bool:
        return self.kind == self.Kind.SERVICE

    def in_whole_units(self, qty: Decimal) -> Decimal:
        """What to take for a calculated need: 21.6 sheets of paper are 22, grams stay as they are."""
        if self.stock_unit == self.Unit.EACH:
            return qty.to_integral_value(ROUND_CEILING)
        return qty.quantize(Decimal("0.000001"), ROUND_CEILING)
