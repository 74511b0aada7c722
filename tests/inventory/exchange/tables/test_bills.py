from datetime import date

import pytest

from inventory.exchange.tables import table_named
from inventory.exchange.tables.check_file import check_file, save_found
from inventory.exchange.tables.table import Found
from inventory.models import BillOfMaterials, BomLine
from tests import factories as make
from tests.factories import D

pytestmark = pytest.mark.django_db

BILL = (
    "product;operation;name;yield;setup size;wait days;service;item;takes;per;lost;cut;allowance;"
    "group;choice;wears;from\n"
    "NECK;10;Mill;95 %;;;;BAR-4X40;1;;;9 1/2 in;0,5 mm;;;;2025-01-15\n"
    "NECK;10;;;;;;MILL-6;;;;;;;;7,5;\n"
    "NECK;20;Harden;;;3;HARDEN;;;;;;;;;;\n"
    "NECK;30;Glue;0,98;4;1;;EPOXY;1 oz;setup;3 %;;;;;;\n"
    "NECK;30;;;;;;SCREW-M4;2;;;;;handle;orange;;\n"
)


@pytest.fixture(autouse=True)
def parts(db):
    make.bar(), make.cutter(), make.service(), make.epoxy(), make.screws(), make.made_part()
    make.product("NECK", [("handle", "orange", True)])


def check(text: str) -> Found:
    return check_file(table_named("bills"), text.encode())


def save(text: str) -> int:
    return save_found(table_named("bills"), check(text))


def test_rows_become_the_operations_of_one_bill():
    save(BILL)
    bill = BillOfMaterials.objects.get()
    mill, harden, glue = bill.operations.all()
    assert (bill.revision, bill.valid_from) == (1, date(2025, 1, 15))
    assert (mill.good_share, harden.service.code, harden.wait_days) == (D("0.95"), "HARDEN", 3)
    assert mill.wear_lines.get().life_per_knife == D("7.5")
    blade = mill.lines.get()
    assert (blade.cut_length_um, blade.allowance_um) == (241_300, 500)
    epoxy, screws = glue.lines.all()
    # 1 oz: tests/published/test_nist_units.py; kept to a millionth
    assert (epoxy.qty, epoxy.per, epoxy.loss_share) == (D("28.349523"), "setup", D("0.03"))
    assert screws.option.choice == "orange"


def test_same_bill_again_is_no_new_revision():
    save(BILL)
    assert check(BILL).to_save == []


def test_changed_bill_is_the_next_revision_and_says_what_differs():
    save(BILL)
    changed = BILL.replace("1 oz", "40 g").replace("Harden", "Harden, vacuum")
    [change] = check(changed).to_save
    assert [(name, after) for name, _, after in change.differences] == [
        ("20", "Harden, vacuum, yield 1, wait 3 days, at HARDEN"),
        ("30 EPOXY", "40 per setup, lost 0.03"),
    ]
    save(changed)
    assert list(BillOfMaterials.objects.order_by("revision").values_list("status", flat=True)) == [
        *["retired", "active"],
    ]


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("NONE;;10;Mill;SCREW-M4;1;;", "There is no product NONE"),
        ("NECK;SHEATH;10;Mill;SCREW-M4;1;;", "either a product or a part"),
        (";SCREW-M4;10;Mill;EPOXY;1;;", "SCREW-M4 is a fastener, not a made part"),
        ("NECK;;10;;SCREW-M4;1;;", "Operation 10 has no name"),
        ("NECK;;10;Mill;NONE;1;;", "There is no item NONE"),
        ("NECK;;10;Mill;;1;;", "Name the item"),
        ("NECK;;10;Mill;SCREW-M4;;;", "Say either how much it takes of SCREW-M4"),
        ("NECK;;10;Mill;BAR-4X40;1;;", "BAR-4X40 is kept in pieces; give the size to cut"),
        ("NECK;;10;Mill;SCREW-M4;1;;5", "Say either how much it takes"),
        ("NECK;;10;Mill;SCREW-M4;;;5", "SCREW-M4 has no life"),
        ("NECK;;10;Mill;EPOXY;1 m;;", "measures a length"),
        (";SHEATH;10;Mill;SHEATH;1;;", "SHEATH"),
    ],
)
def test_row_that_fits_no_bill_is_refused_and_nothing_is_saved(row, reason):
    found = check(f"product;part;operation;name;item;takes;cut;wears\n{row}\n")
    assert reason in found.refusals[0].reason
    assert not found.can_be_saved
    assert not BillOfMaterials.objects.exists()
    assert not BomLine.objects.exists()


def test_rows_of_one_operation_that_contradict_each_other_are_refused():
    found = check(BILL.replace("NECK;30;;;", "NECK;30;Glue;0,9;"))
    assert found.refusals[0].row == 6
    assert "Row 5 gives the operation another yield" in found.refusals[0].reason


def test_part_that_would_contain_itself_is_refused_at_the_row_that_closes_the_ring():
    make.made_part("CORE"), make.made_part("SHELL")
    found = check(
        "part;operation;name;item;takes\nCORE;10;Sew;SHELL;1\nSHELL;10;Sew;CORE;1\nSHEATH;10;Sew;SCREW-M4;1\n"
    )
    [refusal] = found.refusals
    assert refusal.row == 3
    assert "contains itself" in refusal.reason
    assert not BillOfMaterials.objects.exists()
