"""The reorder list as rows of a file."""

from collections.abc import Iterator

from inventory.queries.list_changes import LineChange, ListChanges
from inventory.queries.reorder_list import ReorderList


def csv_rows(listed: ReorderList, changes: ListChanges | None) -> Iterator[tuple]:
    """A heading, then the due lines and those that will be due soon."""
    yield (
        "supplier",
        "item",
        "name",
        "unit",
        "on hand",
        "available",
        "on order",
        "drafted",
        "reorder point",
        "order by",
        "runs out",
        "packs",
        "pack",
        "quantity",
        "cost",
        "why",
        "changed",
    )
    for line in [*listed.lines, *listed.soon]:
        choice, offer = line.choice, line.offer
        yield (
            offer.supplier.name if offer else "",
            line.item.code,
            line.item.name,
            line.item.stock_unit,
            line.stock.on_hand,
            line.stock.available,
            line.stock.on_order,
            line.drafted,
            round(line.forecast.reorder_point, 3),
            line.order_by or "",
            line.runs_out.expected or "",
            choice.packs if choice else "",
            offer.pack_name if offer else "",
            choice.qty if choice else "",
            line.cost,
            line.why,
            _change_text(changes.lines[line.item.pk]) if changes else "",
        )


def _change_text(change: LineChange) -> str:
    return "; ".join(filter(None, ["new on the list" if change.is_new else "", change.words]))
