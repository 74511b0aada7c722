"""Products: the list, and one product with its bill, its cost and its batches."""

import math
from typing import Any

import django_tables2 as tables
from django import forms
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django_tables2.utils import A

from inventory.actions import save_product
from inventory.models import BatchLine, BillOfMaterials, Item, Product, Shop
from inventory.pages import display
from inventory.pages.columns import (
    LEAD,
    CountColumn,
    DayColumn,
    MoneyColumn,
    StatusColumn,
    TextColumn,
)
from inventory.pages.forms import ActionPage
from inventory.pages.record_form import RecordForm
from inventory.pages.table_page import TablePage
from inventory.queries import products as queries
from inventory.queries.bills import default_options
from inventory.queries.knife_cost import CostLine, KnifeCost, knife_cost
from inventory.queries.record_check import CODE
from inventory.units import show_number

USUAL_BATCH = 20
BATCH_MARKS = {"planned": "", "reserved": "work", "in_work": "work", "finished": "good"}


class ProductTable(tables.Table):
    code = TextColumn(linkify=True, attrs={"a": {"class": "code"}})
    name = TextColumn(attrs=LEAD)
    revision = CountColumn(verbose_name="Bill revision")
    batches = CountColumn(verbose_name="Batches finished")
    good = CountColumn(verbose_name="Good knives made")
    coming = CountColumn(verbose_name="Knives planned")
    state = StatusColumn(
        verbose_name="State",
        mark_of=lambda product: ("", "") if product.active else ("no longer made", "watch"),
        orderable=False,
    )

    class Meta:
        empty_text = "No product is entered. Add one, then write its bill."
        order_by = "code"


class ProductList(TablePage):
    template_name = "products/list.html"
    table_class = ProductTable
    heading = "Products"
    export_name = "products"

    def get_rows(self) -> QuerySet[Product]:
        return queries.products_with_history()


class CostTable(tables.Table):
    item = TextColumn(
        linkify=("item", [A("item__code")]), accessor="item__code", verbose_name="Item"
    )
    name = TextColumn(accessor="item__name", verbose_name="Name", attrs=LEAD)
    takes = TextColumn(
        accessor="qty", verbose_name="A good knife takes", attrs={"td": {"class": "number"}}
    )
    amount = MoneyColumn(verbose_name="Cost")
    known_from = TextColumn(verbose_name="Known from")

    class Meta:
        orderable = False

    def render_takes(self, record: CostLine) -> str:
        if record.wears:
            return display.life(record.qty, record.item.life_unit)
        return display.quantity(record.qty, record.item.stock_unit, self.request.user)


class HistoryTable(tables.Table):
    batch = TextColumn(linkify=True)
    start_on = DayColumn(accessor="batch__start_on", verbose_name="Start")
    wanted = CountColumn(verbose_name="Wanted")
    start_qty = CountColumn(verbose_name="Started")
    good = CountColumn(verbose_name="Good")
    bill = TextColumn(accessor="bill__revision", verbose_name="Bill revision")
    state = StatusColumn(
        verbose_name="State",
        mark_of=lambda line: (line.batch.get_state_display(), BATCH_MARKS[line.batch.state]),
    )

    class Meta:
        orderable = False
        empty_text = "No batch of it yet."

    def render_good(self, value: int, record: BatchLine) -> str:
        return str(value) if record.batch.state == "finished" else ""


def product_page(request: HttpRequest, code: str) -> HttpResponse:
    product = get_object_or_404(Product, code=code)
    options = list(product.options.all())
    chosen = chosen_options(request, options)
    bill = queries.active_bill(product)
    knives = asked_knives(request)
    shop = Shop.objects.first()
    cost = knife_cost(bill, chosen, knives, timezone.localdate(), shop) if bill and shop else None
    history = queries.batches_of(product)
    shown = {
        "product": product,
        "heading": product.name,
        "sub": product.code,
        "groups": by_group(options, chosen),
        "bill": bill,
        "good_share": overall_yield(bill),
        "wait_days": sum(step.wait_days for step in bill.operations.all()) if bill else 0,
        "knives": knives,
        "cost": cost,
        "cost_table": CostTable(cost.lines, request=request) if cost else None,
        "bench_hours": bench_words(cost),
        "revisions": queries.revisions_of(product),
        "history": HistoryTable(history[:20], request=request),
        "batches": len(history),
    }
    return render(request, "products/product.html", shown)


def bill_page(request: HttpRequest, code: str, revision: int | None = None) -> HttpResponse:
    """The bill of a part made in house, or an earlier revision of it."""
    item = get_object_or_404(Item, code=code, kind=Item.Kind.MADE)
    bill = queries.bill_revision(item, revision) if revision else queries.active_bill(item)
    return render(request, "products/bill.html", _bill_shown(item, bill))


def product_revision(request: HttpRequest, code: str, revision: int) -> HttpResponse:
    product = get_object_or_404(Product, code=code)
    bill = queries.bill_revision(product, revision)
    return render(request, "products/bill.html", _bill_shown(product, bill))


def _bill_shown(owner: Product | Item, bill: BillOfMaterials | None) -> dict:
    return {
        "owner": owner,
        "is_part": isinstance(owner, Item),
        "bill": bill,
        "good_share": overall_yield(bill),
        "revisions": queries.revisions_of(owner),
        "heading": f"Bill of {owner.code}",
        "sub": owner.name,
    }


def asked_knives(request: HttpRequest) -> int:
    """Batch size asked for by ?knives=, within reason."""
    asked = request.GET.get("knives", "")
    return min(max(int(asked), 1), 1000) if asked.isdecimal() and len(asked) < 6 else USUAL_BATCH


def chosen_options(request: HttpRequest, options: list) -> list:
    """The choice of each group asked for by ?choice=, else its default."""
    asked = set(request.GET.getlist("choice"))
    named = [option for option in options if str(option.pk) in asked]
    groups = {option.group for option in named}
    rest = [option for option in default_options(options) if option.group not in groups]
    return [*named, *rest]


def by_group(options: list, chosen: list) -> list[tuple[str, list[tuple[Any, bool]]]]:
    """Each group with its options and whether they are chosen."""
    groups: dict[str, list[tuple[Any, bool]]] = {}
    for option in options:
        groups.setdefault(option.group, []).append((option, option in chosen))
    return list(groups.items())


def overall_yield(bill: BillOfMaterials | None) -> float | None:
    return math.prod(step.good_share for step in bill.operations.all()) if bill else None


def bench_words(cost: KnifeCost | None) -> str:
    return f"{show_number(cost.minutes, 0)} min" if cost else ""


class OptionsField(forms.CharField):
    """Groups of choices, one a line, cleaned to [(group, choice, is the usual one), ...]."""

    def clean(self, value: Any) -> list[tuple[str, str, bool]]:
        found = []
        for line in filter(None, map(str.strip, super().clean(value).splitlines())):
            group, colon, choices = line.partition(":")
            names = [name.strip() for name in choices.split(",") if name.strip()]
            if not colon or not group.strip() or not names:
                raise forms.ValidationError(f"“{line}”: write Handle colour: black, orange.")
            found += [(group.strip(), name, name == names[0]) for name in names]
        return found


class ProductForm(RecordForm):
    code = forms.CharField(max_length=30, validators=[CODE], help_text="Short, for labels.")
    choices = OptionsField(
        label="Options",
        required=False,
        widget=forms.Textarea({"rows": 3}),
        help_text="A group a line, the usual choice first: Handle colour: black, orange. "
        "Choices are added, never taken away.",
    )

    class Meta:
        model = Product
        fields = ["code", "name", "active", "note"]
        labels = {"active": "Still made"}
        widgets = {"note": forms.Textarea({"rows": 3})}


class NewProduct(ActionPage):
    role = "owner"
    form_class = ProductForm
    heading = "New product"
    sub = "A knife model. Its bill of materials comes next."
    submit_label = "Save the product"
    product: Product | None = None

    def act(self, form: ProductForm) -> Product:
        values = form.values
        options = values.pop("choices", [])
        return save_product(
            values=values,
            options=options,
            product=self.product,
            by=form.user,
            key=form.cleaned_data["key"],
        )

    def back_url(self) -> str:
        return reverse("products")


class EditProduct(NewProduct):
    sub = ""

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.product = get_object_or_404(Product, code=kwargs["code"])
        self.heading = f"Change {self.product.code}"

    def get_form_kwargs(self) -> dict:
        instance = Product.objects.get(pk=self.product.pk)
        return {**super().get_form_kwargs(), "instance": instance}

    def get_initial(self) -> dict:
        groups = by_group(list(self.product.options.all()), [])
        lines = [
            f"{group}: {', '.join(option.choice for option, _ in options)}"
            for group, options in groups
        ]
        return {"choices": "\n".join(lines)}

    def back_url(self) -> str:
        return self.product.get_absolute_url()
