"""Cells of lists are those the table library makes, one by one."""

import django_tables2 as tables
import pytest
from django.test import RequestFactory
from django.utils.encoding import force_str

from inventory.models import Item
from inventory.pages.cells import plain_rows, shown_cells
from inventory.pages.columns import CountColumn, StatusColumn, TextColumn
from inventory.pages.movements import MovementTable
from inventory.pages.stock import StockTable
from inventory.queries.movements import movements
from inventory.queries.stock import items_with_on_hand
from tests import factories as make

pytestmark = pytest.mark.django_db


class OddTable(tables.Table):
    """Rows that are no records, with every way a column may be written."""

    name = TextColumn(linkify=lambda value: f"/{value}/")
    length = TextColumn(accessor="name__upper")
    count = CountColumn()
    nothing = TextColumn(default="none")
    hidden = TextColumn(accessor="count", visible=False)
    inner = TextColumn(accessor="count", exclude_from_export=True)
    word = StatusColumn(mark_of=lambda record: ("a" if record["count"] else "", "good"))

    def render_length(self, value, **known):
        return f"{value} in row {known['record']['count']}"

    def value_count(self, value, record):
        return value + 1 if record["name"] else None


@pytest.fixture
def table_of(viewer):
    make.stock(make.screws(place=make.place("Drawer 3")), 40, note="first")
    make.rack(make.bar(), 1000, 180)
    rows = {
        StockTable: items_with_on_hand(),
        MovementTable: movements(),
        OddTable: [{"name": "a", "count": 1}, {"name": "", "count": 0}],
    }

    def table(kind):
        made = kind(rows[kind])
        made.request = RequestFactory().get("/")
        made.request.user = viewer
        return made

    return table


@pytest.mark.parametrize("kind", [StockTable, MovementTable, OddTable])
def test_cells_of_a_page_are_those_of_the_library(table_of, kind):
    table = table_of(kind)
    assert list(shown_cells(table, table.rows)) == [list(row) for row in table.rows]


@pytest.mark.parametrize("kind", [StockTable, MovementTable, OddTable])
def test_exported_rows_are_those_of_the_library(table_of, kind):
    ours = [
        [force_str(value, strings_only=True) for value in row] for row in plain_rows(table_of(kind))
    ]
    assert ours == list(table_of(kind).as_values())


def test_long_list_is_exported_without_holding_it(table_of, django_assert_num_queries):
    table = table_of(StockTable)
    with django_assert_num_queries(4):  # the rows, and what is there, held and on order
        rows = list(plain_rows(table))
    assert len(rows) == 1 + Item.objects.count()
    assert table.data.data._result_cache is None
