"""Template words of the shop: quantities in the reader's units, marks, links."""

import uuid
from decimal import Decimal
from typing import Any

from django import template
from django.urls import reverse
from django.utils.html import format_html_join
from django.utils.safestring import SafeString

from inventory import units
from inventory.pages import display
from inventory.pages.cells import shown_cells
from inventory.pages.life import percent as chance_of_life

register = template.Library()


@register.inclusion_tag("parts/nav_link.html", takes_context=True)
def nav_link(context: dict, name: str, label: str, where: str = "") -> dict:
    """One link of the main navigation, marked on its own page and on those below it."""
    href = reverse(name)
    path = context["request"].path
    current = path == href or (href != "/" and path.startswith(href))
    return {"href": href, "label": label, "where": where, "current": current}


@register.inclusion_tag("parts/sort_link.html", takes_context=True)
def sort_link(context: dict, table: Any, column: Any) -> dict:
    """Header link that sorts by this column, keeping the filter and going to the first page."""
    asked = context["request"].GET.copy()
    asked[table.prefixed_order_by_field] = column.order_by_alias.next
    asked.pop(table.prefixed_page_field, None)
    asked.pop("format", None)
    return {"href": f"?{asked.urlencode()}", "header": column.header}


@register.simple_tag
def table_rows(table: Any) -> SafeString:
    """The body rows of a table: one page of a TablePage, else all.

    Heading and attributes of a column are asked for once, not for every cell: that is half of the
    time a long list takes.
    """
    columns = [(column.header, column.attrs["td"].as_html()) for column in table.columns]
    rows = table.paginated_rows if getattr(table, "in_pages", False) else table.rows
    cells = shown_cells(table, rows)
    return format_html_join("\n", "<tr>{}</tr>", ((_row(columns, row),) for row in cells))


def _row(columns: list[tuple[str, str]], cells: list[Any]) -> SafeString:
    labelled = zip(columns, cells, strict=True)
    return format_html_join(
        "",
        '<td data-label="{}" {}>{}</td>',
        ((header, attrs, cell) for (header, attrs), cell in labelled),
    )


@register.simple_tag
def request_key() -> str:
    """A new key for a form, so that a double tap acts once."""
    return str(uuid.uuid4())


@register.simple_tag(takes_context=True)
def quantity(context: dict, qty: Decimal | None, unit: str) -> SafeString:
    """A stock quantity in the units the reader chose: {% quantity row.qty item.stock_unit %}."""
    return display.quantity(qty, unit, context["user"])


@register.simple_tag(takes_context=True)
def signed(context: dict, qty: Decimal, unit: str) -> SafeString:
    """A change with its sign: {% signed difference item.stock_unit %} gives +40 or −12 mm."""
    return display.signed(qty, unit, context["user"])


@register.simple_tag
def life(amount: Decimal, unit: str) -> str:
    """Life of a wearing item: {% life wear.life_per_knife wear.item.life_unit %}."""
    return display.life(amount, unit)


@register.simple_tag(takes_context=True)
def length(context: dict, um: int | None) -> str:
    """A length kept in µm: {% length piece.length_um %}."""
    return units.show_length(um, context["user"].length_unit)


@register.simple_tag(takes_context=True)
def size(context: dict, length_um: int, width_um: int | None = None) -> str:
    """A bar's length or a sheet's length and width: {% size piece.length_um piece.width_um %}."""
    return units.show_size(length_um, width_um, context["user"].length_unit)


@register.simple_tag(takes_context=True)
def money(context: dict, amount: Decimal | None) -> str:
    """An amount with the shop's currency: {% money lot.unit_cost %}."""
    return display.money(amount, context["shop"].currency if context.get("shop") else "")


@register.simple_tag
def status(word: str, mark: str = "") -> SafeString:
    """A status word with its mark: good, work, watch, stop, or none for a plain one."""
    return display.status(word, mark)


@register.filter
def number(value: Decimal) -> str:
    """A plain number without trailing zeros: {{ step.bench_minutes|number }}."""
    return units.show_number(value, 6)


register.filter("chance", chance_of_life)


@register.filter
def percent(share: Any) -> str:
    """0.975 as 97.5 %."""
    return "" if share is None else f"{units.show_number(Decimal(str(share)) * 100, 1)}\u202f%"
