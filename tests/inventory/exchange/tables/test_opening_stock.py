from datetime import date, timedelta

import pytest
from django.utils import timezone

from inventory import actions
from inventory.exchange.tables import table_named
from inventory.exchange.tables.check_file import check_file, save_found
from inventory.exchange.tables.table import Found
from inventory.models import Balance, Lot, Piece, Place, Posting
from inventory.queries.audit import audit
from tests.factories import (
    D,
    bar,
    days,
    epoxy,
    on_hand,
    place,
    screws,
    service,
    sheet,
    stock,
    supplier,
)

pytestmark = pytest.mark.django_db


def check(text: str) -> Found:
    return check_file(table_named("stock"), text.encode())


def save(text: str) -> int:
    return save_found(table_named("stock"), check(text))


def test_quantities_are_booked_in_the_unit_of_the_item():
    glue, bolt = epoxy(), screws()
    save("item,contents\nEPOXY,2.5 lb\nSCREW-M4,200\n")
    assert on_hand(glue) == D("1133.980925")  # 1 lb: tests/published/test_nist_units.py
    assert on_hand(bolt) == 200
    assert set(Posting.objects.values_list("kind", "reason")) == {("receive", "opening stock")}
    assert audit() == []


def test_rows_of_one_heat_are_one_lot_wherever_its_pieces_lie():
    steel = bar(place=place("Rack 1"))
    save(
        "item,contents,heat,place,received,unit cost\n"
        "BAR-4X40,3 of 914 mm + 560 mm,7H-2231,,2024-11-20,0.021\n"
        "BAR-4X40,24 in,7H-2231,Window,2024-11-20,0.021\n"
    )
    lot = Lot.objects.get()
    assert (lot.maker_number, lot.received_on, lot.unit_cost) == (
        "7H-2231",
        date(2024, 11, 20),
        D("0.021"),
    )
    lengths = Piece.objects.order_by("length_um").values_list("length_um", flat=True)
    assert list(lengths) == [560_000, 609_600, 914_000, 914_000, 914_000]
    places = Balance.objects.filter(item=steel).values_list("place__name", flat=True)
    assert sorted(places) == ["Rack 1"] * 4 + ["Window"]
    assert Place.objects.filter(name="Window").exists()


def test_what_is_known_of_a_lot_is_kept():
    epoxy(shelf_life_days=365)
    supplier("BRACKEN")
    save(
        "item;contents;lot;supplier;received;made;status;note\n"
        "EPOXY;500 g;L-OLD;BRACKEN;5.3.2025;1.2.2025;quarantine;second can\n"
    )
    lot = Lot.objects.get()
    assert (lot.number, lot.supplier.code, lot.status) == ("L-OLD", "BRACKEN", "quarantine")
    assert lot.expires_on == date(2026, 2, 1)


def test_labels_that_pieces_carry_are_kept_and_the_others_numbered():
    sheet()
    save(
        "item,contents,piece,offcut\nSHEET-6,305 x 610 mm,OLD-7,yes\nSHEET-6,2 of 305 x 610 mm,,\n"
    )
    assert sorted(Piece.objects.values_list("label", "is_offcut")) == [
        *[("OLD-7", True), ("P-0001", False), ("P-0002", False)],
    ]


TWICE = "item,contents,heat\nBAR-4X40,3 of 914 mm,7H\nSCREW-M4,200,\n"


def test_same_file_again_enters_nothing_twice():
    bar(), screws()
    save(TWICE)
    again = check(TWICE)
    assert (len(again.of("unchanged")), again.to_save, again.refusals) == (2, [], [])


def test_heat_that_was_entered_before_is_refused_by_its_lot_number():
    bar(), screws()
    save(TWICE)
    [refusal] = check("item,contents,heat\nBAR-4X40,2 of 914 mm,7H\n").refusals
    assert (
        "Lot L-0001 of BAR-4X40 was entered before and holds something else now" in refusal.reason
    )


def test_delivery_of_the_same_heat_does_not_stand_in_the_way():
    stock(screws(), 50, maker_number="7H")
    assert save("item,contents,heat\nSCREW-M4,200,7H\n") == 1


def test_stock_that_was_used_since_is_not_entered_again():
    bolt = screws()
    save("item,contents\nSCREW-M4,200\n")
    actions.issue_stock(item=bolt, qty=D(1), day=timezone.localdate(), reason="repair")
    assert not check("item,contents\nSCREW-M4,200\n").can_be_saved


@pytest.mark.parametrize(
    ("row", "column", "reason"),
    [
        ("NONE,5,,,,", "item", "There is no item NONE"),
        ("SCREW-M4,2.5,,,,", "", "is counted in whole pieces, not 2.5"),
        ("SCREW-M4,0,,,,", "", "Enter a quantity above zero"),
        ("SCREW-M4,3 of 20 mm,,,,", "contents", "This item is kept as a count"),
        ("EPOXY,2 m,,,,", "contents", "measures a length, but this item is kept as a mass"),
        ("BAR-4X40,305 x 610 mm,,,,", "", "a bar has a length only"),
        ("HARDEN,5,,,,", "", "is an outside service"),
        ("EPOXY,5 g,,NOBODY,,", "", "There is no supplier NOBODY"),
        ("EPOXY,5 g,,,2024-01-02,2024-01-03", "", "made on 3 Jan 2024, after it came"),
        ("BAR-4X40,2 of 914 mm,P-7,,,", "", "the label P-7 is for one piece only"),
        ("BAR-4X40,914 mm,P/7,,,", "contents", "Letters, figures and - . _ only"),
    ],
)
def test_row_that_cannot_lie_there_is_refused(row, column, reason):
    bar(), screws(), epoxy(), service()
    [refusal] = check(f"item,contents,piece,supplier,received,made\n{row}\n").refusals
    assert (refusal.row, refusal.column) == (2, column)
    assert reason in refusal.reason
    assert not Lot.objects.exists()


def test_day_to_come_is_refused():
    screws()
    tomorrow = timezone.localdate() + timedelta(days=1)
    [refusal] = check(f"item,contents,received\nSCREW-M4,5,{tomorrow}\n").refusals
    assert "is in the future" in refusal.reason


def test_rows_of_one_heat_that_contradict_each_other_are_refused():
    bar()
    [refusal] = check(
        "item,contents,heat,unit cost\nBAR-4X40,914 mm,7H,0.02\nBAR-4X40,560 mm,7H,0.03\n"
    ).refusals
    assert (refusal.row, refusal.column) == (3, "unit cost")


def test_label_that_is_taken_is_refused():
    steel = bar()
    save("item,contents,piece,heat\nBAR-4X40,914 mm,OLD-1,A\n")
    [refusal] = check("item,contents,piece,heat\nBAR-4X40,560 mm,OLD-1,B\n").refusals
    assert "The piece label OLD-1 is taken" in refusal.reason
    assert on_hand(steel) == 914


def test_lot_of_another_item_is_refused():
    stock(screws(), 5, days(0))
    epoxy()
    [refusal] = check("item,contents,lot\nEPOXY,5 g,L-0001\n").refusals
    assert "Lot L-0001 is of SCREW-M4" in refusal.reason


def test_codes_are_found_whatever_their_capitals():
    bar(), supplier("BRACKEN")
    text = "item,contents,heat,supplier\nbar-4x40,914 mm,7H,bracken\nBAR-4X40,560 mm,7H,Bracken\n"
    assert save(text) == 2
    assert Lot.objects.get().supplier.code == "BRACKEN"
    assert [change.state for change in check(text).changes] == ["unchanged", "unchanged"]


@pytest.mark.parametrize(
    ("row", "shown"),
    [
        ("BAR-4X40,3 of 42 in", "3 of 42 in, read as 3 of 1 066.8 mm"),
        ("BAR-4X40,3 of 914 mm + 560", "3 of 914 mm + 560, read as 3 of 914 mm + 560 mm"),
        ("BAR-4X40,3 of 914 mm", "3 of 914 mm"),
        ("SHEET-6,4 of 24 x 12 in", "4 of 24 x 12 in, read as 4 of 609.6 × 304.8 mm"),
        ("SHEET-6,610 x 305 mm", "610 x 305 mm"),
        ("EPOXY,2.5 lb", "2.5 lb, read as 1 133.981 g"),
        ("SCREW-M4,200", "200"),
    ],
    ids=["inches", "bare number", "as typed", "sheet in inches", "sheet", "pounds", "count"],
)
def test_preview_shows_what_was_understood_beside_what_was_typed(row, shown):
    # 1 in = 25.4 mm and 1 lb = 453.59237 g exactly: tests/published/test_nist_units.py
    bar(), sheet(), epoxy(), screws()
    [change] = check(f"item,contents\n{row}\n").changes
    [(_, _, after)] = change.differences
    assert after.replace("\u202f", " ") == shown
