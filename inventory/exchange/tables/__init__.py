"""Lists that go in and out as CSV or XLSX, each declared once.

columns of a table -> blank form, reader, comparison with the shop, help on the page, export.
"""

from inventory.errors import NotFound
from inventory.exchange.tables.bills import BillTable
from inventory.exchange.tables.items import ItemTable
from inventory.exchange.tables.offers import OfferTable
from inventory.exchange.tables.opening_stock import OpeningStockTable
from inventory.exchange.tables.past_builds import PastBuildTable
from inventory.exchange.tables.past_lives import PastLifeTable
from inventory.exchange.tables.products import ChoiceTable, ProductTable
from inventory.exchange.tables.suppliers import SupplierTable
from inventory.exchange.tables.table import Table

__all__ = ["TABLES", "table_named"]

TABLES: tuple[type[Table], ...] = (
    SupplierTable,
    ItemTable,
    OpeningStockTable,
    ProductTable,
    ChoiceTable,
    OfferTable,
    BillTable,
    PastBuildTable,
    PastLifeTable,
)
"""In the order in which a new shop brings them in."""


def table_named(name: str) -> Table:
    """A table by its name. Raises: NotFound, listing the names."""
    for table in TABLES:
        if table.name == name:
            return table()
    names = ", ".join(table.name for table in TABLES)
    raise NotFound(f"There is no list “{name}”. There are: {names}.")
