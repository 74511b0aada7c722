"""What goes out comes in again as it was: every list, in both file forms."""

import io

import openpyxl
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory import actions
from inventory.actions import NewWear, PastRow
from inventory.exchange.tables import TABLES, table_named
from inventory.exchange.tables.check_file import check_file
from inventory.exchange.tables.files_out import blank_form, exported
from inventory.models import Item
from tests import factories as make
from tests.factories import DAY, MM, D, days

pytestmark = pytest.mark.django_db
NAMES = [table.name for table in TABLES]


@pytest.fixture
def full_shop() -> make.KnifeShop:
    """A shop with something odd in every list."""
    knives = make.knife_shop()
    actions.save_item(
        values={
            "place": make.place("Rack, left"),
            "note": "=2+3\r\nsecond line",
            "grade": "1.4116",
        },
        item=knives.bar,
    )
    other = make.item("HARDENER", "adhesive", "g", density_g_per_ml=D("1.05"))
    actions.save_item(values={"mixed_with": other, "mix_share": D("0.333333")}, item=knives.epoxy)
    make.supplier(order_fee=D("6.5"), note="- closed in August", email="a@bracken.example")
    make.offer(knives.screws, pack_qty=D(100), price_breaks=[(1, D("12.40")), (5, D("11.125"))])
    make.offer(knives.sheet, make.vendor(), piece_length_um=610 * MM, piece_width_um=305 * MM)
    colours = make.product("NECK", [("handle", "orange; red", True), ("handle", "@black", False)])
    make.bill(
        colours,
        make.step(
            10,
            "+ Glue",
            make.line(
                knives.sheet, 2, cut=(120 * MM, 40 * MM + 5), may_turn=True, allowance_um=500
            ),
            make.line(
                knives.epoxy, "7.5", option=make.option(colours, "@black"), loss_share=D("0.03")
            ),
            wear=(
                NewWear(knives.cutter, D("0.75"), make.machine("Mill"), "3", "440C, soft", "-90"),
                NewWear(knives.cutter, D("1.5"), make.machine("Router")),
            ),
        ),
        make.step(20, "Harden", service=knives.harden, wait_days=3, caution="hot, 800 °C"),
    )
    make.rack(
        knives.bar, 560, "180.5", day=days(-5), maker_number="7H-2231", unit_cost=D("0.0212345678")
    )
    actions.record_past_builds(rows=[PastRow(colours, DAY, 12, 11, "'quoted")])
    fitting = knives.cutter.fittings.get()
    actions.log_wear(fitting=fitting, amount=D("31.25"), day=DAY)
    actions.remove(fitting=fitting, day=days(1), reason="broken")
    return knives


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_every_export_read_in_again_changes_nothing(full_shop, form):
    for name in NAMES:
        table = table_named(name)
        found = check_file(table, exported(table, form))
        assert found.changes, name
        assert (found.refusals, found.remarks, found.questions) == ([], [], set()), name
        assert found.to_save == [], name


@pytest.mark.parametrize("form", ["csv", "xlsx"])
@pytest.mark.parametrize("name", NAMES)
def test_blank_form_brings_nothing_in(name, form):
    found = check_file(table_named(name), blank_form(table_named(name), form))
    assert found.changes == found.refusals == []
    [remark] = found.remarks
    assert "is the example of the blank form" in remark


def test_pandas_reads_the_items_as_they_are(full_shop):
    frame = pd.read_csv(io.BytesIO(exported(table_named("items"), "csv")), index_col="code")
    assert frame.loc["BAR-4X40", ["kind", "kerf", "shortest kept"]].tolist() == ["bar", 1.5, 100.0]
    assert frame.loc["EPOXY", "mix share"] == pytest.approx(0.333333)
    assert frame.loc["BAR-4X40", "note"].startswith("'=2+3")


def test_workbook_holds_numbers_days_and_no_formula(full_shop):
    file = io.BytesIO(exported(table_named("stock"), "xlsx"))
    page = openpyxl.load_workbook(file).worksheets[0]
    heading = [cell.value for cell in page[1]]
    kinds = {name: cell.data_type for name, cell in zip(heading, page[2], strict=True)}
    assert (kinds["item"], kinds["unit cost"], kinds["received"]) == ("s", "n", "d")
    assert not [cell for row in page for cell in row if cell.data_type == "f"]


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    note=st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=40)
    | st.text("=+-@'\t\r\n \"#,;", max_size=8),
    grade=st.sampled_from(["=1+1", "'=1", "''-", "-", "#ref", "1e5", "007", "2026-03-05", "TRUE"]),
)
def test_text_of_any_kind_comes_back_from_csv(db, note, grade):
    values = {"code": "ODD", "name": "odd", "kind": "fastener", "note": note, "grade": grade}
    actions.save_item(item=Item.objects.filter(code="ODD").first(), values=values)
    table = table_named("items")
    found = check_file(table, exported(table, "csv"))
    assert found.to_save == found.refusals == []
