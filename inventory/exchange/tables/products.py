"""Products, and the choices they come in."""

from collections.abc import Iterator, Sequence
from typing import Any

from inventory.actions.catalogue import save_choices, save_products
from inventory.exchange.tables.cells import Text, YesNo
from inventory.exchange.tables.codes import ByCode
from inventory.exchange.tables.records import RecordTable
from inventory.exchange.tables.table import Change, Column, Found, Row, Table, Tell, refuse_twice
from inventory.models import Product, ProductOption, User

__all__ = ["ChoiceTable", "ProductTable"]


class ProductTable(RecordTable):
    name = "products"
    title = "Products"
    about = "Knife models. Their choices and bills are lists of their own."
    model = Product
    columns = (
        Column("code", Text(30), "short, for labels", "HEATH", needed=True, also=("product",)),
        Column("name", Text(120), "as people say it", "Heath, 90 mm", needed_when_new=True),
        Column("active", YesNo(), "no for a model that isn't built any more", "yes"),
        Column("note", Text(), "anything else", "drop point"),
    )

    def enter(self, changes: Sequence[Change], by: User | None, tell: Tell) -> None:
        save_products(entries=self.entries(changes), by=by)


class ChoiceTable(Table):
    """Choices are only added; the one that is usual can change."""

    name = "choices"
    title = "Choices of products"
    about = "What a product comes in, such as the colours of its handle. Products come first."
    columns = (
        Column("product", Text(30), "code of the product", "HEATH", needed=True),
        Column("group", Text(40), "what is chosen", "handle", needed=True),
        Column("choice", Text(40), "one of them", "orange", needed=True),
        Column(
            "usual", YesNo(), "yes for the one that is taken unless another is asked for", "yes"
        ),
    )

    def records(self) -> Iterator[dict[str, Any]]:
        for option in ProductOption.objects.select_related("product").order_by("product", "pk"):
            yield {
                "product": option.product.code,
                "group": option.group,
                "choice": option.choice,
                "usual": option.is_default,
            }

    def compare(self, rows: Sequence[Row], found: Found, tell: Tell) -> None:
        products = ByCode(Product.objects.all())
        known = {
            (option.product_id, option.group, option.choice): option.is_default
            for option in ProductOption.objects.all()
        }
        seen: dict[Any, int] = {}
        usual: dict[Any, int] = {}
        for row in rows:
            product = products.get(row["product"])
            if product is None:
                found.refuse(row.number, "product", f"There is no product {row['product']}.")
                continue
            group = (product.pk, row["group"])
            if refuse_twice(found, seen, (*group, row["choice"]), row, "choice"):
                continue
            if row.get("usual") and refuse_twice(found, usual, group, row, "usual"):
                continue
            before = known.get((*group, row["choice"]))
            found.changes.append(self._change(row, product, before))

    def enter(self, changes: Sequence[Change], by: User | None, tell: Tell) -> None:
        save_choices(choices=[change.wanted for change in changes], by=by)

    def _change(self, row: Row, product: Product, before: bool | None) -> Change:
        after = row.get("usual", bool(before))
        shown = self.written("usual", before), self.written("usual", after)
        state = "new" if before is None else "unchanged" if before == after else "changed"
        return Change(
            row.number,
            f"{product.code}, {row['group']}: {row['choice']}",
            state,
            () if before == after else (("usual", *shown),),
            (product, row["group"], row["choice"], after),
        )
