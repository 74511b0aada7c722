"""A knife model and the choices it comes in."""

from django.db import models
from django.urls import reverse

from inventory.models.code import one_code_whatever_its_case, refuse_like_code


class Product(models.Model):
    code = models.CharField(max_length=30, unique=True)
    name = models.CharField(max_length=120)
    active = models.BooleanField(default=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["code"]
        constraints = [one_code_whatever_its_case("one_product_code")]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"

    def get_absolute_url(self) -> str:
        return reverse("product", args=[self.code])

    def clean(self) -> None:
        refuse_like_code(self)


class ProductOption(models.Model):
    """One choice of a group: handle colour = orange."""

    product = models.ForeignKey(Product, on_delete=models.CASCADE, related_name="options")
    group = models.CharField(max_length=40)
    choice = models.CharField(max_length=40)
    is_default = models.BooleanField(default=False)

    class Meta:
        ordering = ["product", "group", "-is_default", "choice"]
        constraints = [
            models.UniqueConstraint(fields=["product", "group", "choice"], name="one_choice"),
            models.UniqueConstraint(
                fields=["product", "group"],
                condition=models.Q(is_default=True),
                name="one_default_choice",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.group}: {self.choice}"
