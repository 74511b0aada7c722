from typing import Any

import pytest

from inventory.exchange.tables import table_named
from inventory.exchange.tables.check_file import check_file, save_found
from inventory.exchange.tables.notation import Notation
from inventory.exchange.tables.table import Found
from inventory.models import Item, Place
from tests import factories as make
from tests.factories import D, days

pytestmark = pytest.mark.django_db


def check(text: str, **notation: Any) -> Found:
    return check_file(table_named("items"), text.encode(), Notation(**notation))


def save(text: str) -> int:
    return save_found(table_named("items"), check(text))


def refusals(found: Found) -> list[tuple[int, str]]:
    return [(refusal.row, refusal.column) for refusal in found.refusals]


def test_headings_in_any_order_and_spelling_are_understood():
    save("KIND;Stock_Unit; Standard Grade ;CODE;Name\nadhesive;g;two-part;EPOXY;Epoxy\n")
    item = Item.objects.get()
    assert [item.code, item.kind, item.stock_unit] == ["EPOXY", "adhesive", "g"]
    assert item.grade == "two-part"


def test_lengths_and_numbers_are_read_in_the_units_they_are_written_in():
    save(
        "code;name;kind;kerf;thickness;shortest kept;service level\n"
        "BAR;bar;bar;1,5;3/16 in;100 mm;98 %\n"
        "SHEET;sheet;Sheet;0.08 in;6,35;2 in;0,95\n"
    )
    bar, sheet = Item.objects.order_by("code")
    assert (bar.stock_unit, sheet.stock_unit) == ("mm", "mm2")
    assert (bar.kerf_um, bar.thickness_um, bar.keep_length_um) == (1500, 4762, 100_000)
    assert (sheet.kerf_um, sheet.thickness_um, sheet.keep_length_um) == (2032, 6350, 50_800)
    assert (bar.service_level, sheet.service_level) == (D("0.98"), D("0.95"))


def test_change_shows_what_was_and_what_becomes_of_it():
    make.bar(name="old bar", colour="grey")
    [change] = check("code,name,kerf,colour\nBAR-4X40,new bar,2,\n").changes
    assert change.state == "changed"
    assert change.differences == (("name", "old bar", "new bar"), ("kerf", "1.5", "2"))


def test_empty_cell_and_missing_column_leave_what_is_there():
    make.bar(colour="grey", note="keep")
    save("code,name,colour\nBAR-4X40,new bar,\n")
    item = Item.objects.get()
    assert (item.name, item.colour, item.note, item.kerf_um) == ("new bar", "grey", "keep", 1500)


def test_unknown_column_is_said_and_the_rest_is_read():
    found = check("code,name,kind,aisle\nBOLT,Bolt,fastener,7\n")
    assert found.remarks == ["Not read, because there is no such column: aisle."]
    assert len(found.of("new")) == 1


def test_new_place_is_made_once_and_said_before():
    make.place("Rack 1")
    text = "code,name,kind,place\nA,a,fastener,Rack 1\nB,b,fastener,Bin\nC,c,fastener,Bin\n"
    assert check(text).remarks == ["New places are made: Bin."]
    save(text)
    assert Place.objects.count() == 2
    assert Item.objects.get(code="C").place.name == "Bin"


def test_two_part_system_may_name_a_part_further_down_the_list():
    text = (
        "code,name,kind,stock unit,mixed with,mix share\n"
        "RESIN,resin,adhesive,g,HARD,0.5\nHARD,hardener,adhesive,g,,\n"
    )
    save(text)
    resin = Item.objects.get(code="RESIN")
    assert (resin.mixed_with.code, resin.mix_share) == ("HARD", D("0.5"))
    assert check(text).to_save == []


@pytest.mark.parametrize(
    ("row", "column", "reason"),
    [
        ("BOLT,Bolt,screw,,,,", "kind", "“screw” is not one of: bar, sheet"),
        (",Bolt,fastener,,,,", "code", "Every row needs code; it is empty here"),
        ("NEW/1,Bolt,fastener,,,,", "code", "Letters, figures and - . _ only"),
        ("BOLT,,fastener,,,,", "name", "New here: it needs a name"),
        ("BOLT,Bolt,fastener,mm,,,", "", "Bars and webbing are kept in mm"),
        ("BOLT,Bolt,fastener,each,soon,,", "kerf", "“soon” is not a length"),
        ("BOLT,Bolt,fastener,each,,-1,", "", "The density must be above zero"),
        ("BOLT,Bolt,fastener,each,,1.2.3.4,", "density", "is no number"),
        ("BOLT,Bolt,fastener,each,,1e99999999,", "density", "is no number"),
        ("BOLT,#N/A,fastener,,,,", "name", "A formula failed in the spreadsheet: #N/A"),
        ("BOLT,Bolt,fastener,each,1,3,,365", "", "more cells than the first row has names"),
        ("BOLT,Bolt,fastener,each,,,2.5", "shelf life days", "“2.5” is no whole number"),
        ("EPOXY,Epoxy,adhesive,mL,,,", "", "EPOXY has movements in g; its stock unit stays"),
        ("BOLT" + "X" * 30 + ",Bolt,fastener,,,,", "code", "has 34 letters; at most 30"),
    ],
)
def test_row_that_cannot_be_is_refused_with_its_column_and_reason(row, column, reason):
    make.stock(make.epoxy())
    found = check(f"code,name,kind,stock unit,kerf,density,shelf life days\n{row}\n")
    [refusal] = found.refusals
    assert refusal.row == 2
    assert refusal.column == column
    assert not found.can_be_saved
    assert reason in refusal.reason


def test_one_code_twice_in_a_file_is_refused():
    found = check("code,name,kind\nBOLT,a,fastener\nNUT,n,fastener\nBOLT,b,fastener\n")
    assert refusals(found) == [(4, "code")]
    assert found.refusals[0].reason == "The same is in row 2. Keep one of them."


def test_numbers_that_can_be_read_two_ways_are_asked_about_and_nothing_is_guessed():
    text = "code;name;kind;weight of one\nBOLT;Bolt;fastener;1,250\n"
    found = check(text)
    assert found.questions == {"numbers"}
    assert not found.can_be_saved
    [change] = check(text, decimal_mark=",").changes
    assert ("weight of one", "", "1.25") in change.differences


def test_items_of_other_days_are_known_again():
    make.screws(data_sheet_dated=days(0))
    assert check("code,data sheet dated\nSCREW-M4,3.3.2025\n").of("unchanged")


def test_every_field_of_an_item_has_a_column():
    worked_out_or_attached = {"id", "value_class", "use_class", "data_sheet"}
    fields = {field.name for field in Item._meta.concrete_fields}
    columns = {column.attribute for column in table_named("items").columns}
    assert fields - columns == worked_out_or_attached


def test_row_finds_its_item_whatever_the_capitals():
    make.bar(colour="grey")
    [change] = check("code,colour\nbar-4x40,black\n").changes
    assert (change.what, change.state) == ("BAR-4X40", "changed")
    assert change.differences == (("colour", "grey", "black"),)
    save("code,colour\nbar-4x40,black\n")
    assert Item.objects.values_list("code", "colour").get() == ("BAR-4X40", "black")


def test_two_rows_that_differ_by_capitals_alone_are_one_item_twice():
    found = check("code,name,kind\nBOLT,Bolt,fastener\nBolt,Bolt,fastener\n")
    assert refusals(found) == [(3, "code")]


def test_other_part_of_a_mix_is_found_whatever_its_capitals():
    save(
        "code,name,kind,stock unit,mixed with,mix share\n"
        "RESIN,Resin,adhesive,g,hardener,0.43\nHARDENER,Hardener,adhesive,g,,\n"
    )
    assert Item.objects.get(code="RESIN").mixed_with.code == "HARDENER"


@pytest.mark.parametrize("kind", ["adhesive", "chemical", "media"])
def test_new_item_kept_by_weight_or_by_the_can_says_its_stock_unit(kind):
    found = check(f"code,name,kind,stock unit\nX,x,{kind},\n")
    [refusal] = found.refusals
    assert refusal.row == 2
    assert refusal.reason.endswith("needs its stock unit. Write g, mL or each.")
    assert not check(f"code,name,kind,stock unit\nX,x,{kind},each\n").refusals
