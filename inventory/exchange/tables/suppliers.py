"""Suppliers and vendors."""

from collections.abc import Sequence

from inventory.actions.catalogue import save_suppliers
from inventory.exchange.tables.cells import Number, Text, YesNo
from inventory.exchange.tables.records import RecordTable
from inventory.exchange.tables.table import Change, Column, Tell
from inventory.models import Supplier, User

__all__ = ["SupplierTable"]


class SupplierTable(RecordTable):
    name = "suppliers"
    title = "Suppliers"
    about = "Who sells to the shop or works on its parts."
    model = Supplier
    columns = (
        Column("code", Text(20), "short, for labels", "BOLTS", needed=True, also=("supplier",)),
        Column("name", Text(120), "as on its invoices", "The Bolt Counter", needed_when_new=True),
        Column(
            "works on our parts", YesNo(), "yes for outside processing", "no", field="is_vendor"
        ),
        Column("email", Text(254), "for orders", "orders@bolts.example"),
        Column("order fee", Number(5), "freight and fees of one order", "6.50"),
        Column("note", Text(), "anything else", "closed in August"),
    )

    def enter(self, changes: Sequence[Change], by: User | None, tell: Tell) -> None:
        save_suppliers(entries=self.entries(changes), by=by)
