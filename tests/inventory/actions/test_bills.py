import pytest

from inventory import actions
from inventory.actions import NewBill, NewWear
from inventory.errors import Refused
from inventory.models import BillOfMaterials
from tests.factories import (
    DAY,
    MM,
    D,
    bar,
    bill,
    cutter,
    line,
    made_part,
    product,
    screws,
    service,
    sheet,
    step,
)

pytestmark = pytest.mark.django_db


@pytest.fixture(params=["alone", "in a list"], autouse=True)
def way_in(request, monkeypatch):
    """Every rule holds for a bill that is entered alone and for one that a list brings."""

    def listed(*, operations, valid_from, **owner):
        actions.save_bills(bills=[NewBill(operations, valid_from, **owner)])
        return BillOfMaterials.objects.get(**owner, status="active")

    if request.param == "in a list":
        monkeypatch.setattr(actions, "save_bill", listed)


def test_new_revision_retires_the_old_one_and_changes_nothing_in_it():
    knife, item = product(), screws()
    first = bill(knife, step(10, "Bolt", line(item, 2)))
    second = bill(knife, step(10, "Bolt", line(item, 3)), day=DAY)
    first.refresh_from_db()
    assert [(one.revision, one.status) for one in (first, second)] == [
        (1, "retired"),
        (2, "active"),
    ]
    assert first.operations.get().lines.get().qty == 2


@pytest.mark.parametrize(
    ("operations", "words"),
    [
        (lambda: [], "at least one operation"),
        (lambda: [step(10, "Saw", line(bar(), 1))], "kept in pieces; give the size to cut"),
        (lambda: [step(10, "Bolt", line(screws(), 1, cut=(5, None)))], "leave the size out"),
        (lambda: [step(10, "Saw", line(bar(), 1, cut=(5, 5)))], "needs a length only"),
        (lambda: [step(10, "Saw", line(sheet(), 1, cut=(5, None)))], "needs length x width"),
        (lambda: [step(10, "Saw", line(bar(), 1, cut=(0, None)))], "Saw, BAR-4X40"),
        (lambda: [step(10, "Bolt", line(screws(), 0))], "Bolt, SCREW-M4"),
        (lambda: [step(10, "Bolt", line(screws(), 1, loss_share=D(1)))], "Bolt, SCREW-M4"),
        (lambda: [step(10, "Bolt", line(screws(), 1, per="week"))], "week"),
        (lambda: [step(10, "Mill", good_share=D(0))], "Mill"),
        (lambda: [step(10, "Mill", good_share=D("1.01"))], "Mill"),
        (lambda: [step(10, "Glue", setup_size=0)], "Glue"),
        (lambda: [step(10, "A"), step(10, "B")], "already exists"),
        (lambda: [step(10, "Harden", line(service(), 1))], "set it as the operation's service"),
        (lambda: [step(10, "Harden", service=screws())], "SCREW-M4 is no outside service"),
        (lambda: [step(10, "Mill", wear=((screws(), D(1)),))], "SCREW-M4 has no life"),
        (lambda: [step(10, "Mill", wear=((cutter(), D(0)),))], "Mill"),
        (
            lambda: [step(10, "Mill", wear=(NewWear(cutter(), D(1), pocket="3"),))],
            "A pocket belongs to a machine",
        ),
        (
            lambda: [step(10, "Mill", wear=((one := cutter(), D(1)), (one, D(2))))],
            "twice without a machine",
        ),
    ],
    ids=[
        "empty",
        "bar without size",
        "screw with size",
        "bar with width",
        "sheet without width",
        "cut of nothing",
        "nothing of an item",
        "everything lost",
        "per week",
        "no yield",
        "yield above 1",
        "setup of none",
        "one number twice",
        "service as material",
        "material as service",
        "wear of a screw",
        "no wear",
        "pocket without machine",
        "worn twice",
    ],
)
def test_bill_that_can_not_be_is_refused_and_the_old_one_stays_active(operations, words):
    knife = product()
    first = bill(knife, step(10, "Pack"))
    with pytest.raises(Refused, match=words):
        bill(knife, *operations(), day=DAY)
    assert BillOfMaterials.objects.get().status == first.status == "active"


def test_part_that_contains_itself_is_refused():
    core, shell = made_part("CORE"), made_part("SHELL")
    bill(core, step(10, "", line(shell)))
    with pytest.raises(Refused, match="contains itself"):
        bill(shell, step(10, "", line(core)))
    assert not shell.bills.exists()


def test_bought_item_has_no_bill():
    with pytest.raises(Refused, match="is a fastener, not a made part"):
        bill(screws(), step(10, "Turn"))


def test_allowance_is_cut_on_both_sides():
    record = bill(
        product(), step(10, "Saw", line(sheet(), 1, cut=(100 * MM, 40 * MM), allowance_um=MM))
    )
    assert record.operations.get().lines.get().blank_um == (102 * MM, 42 * MM)


def test_part_may_come_after_the_bill_that_takes_it():
    knife, sheath = product(), made_part("SHEATH")
    takes = NewBill([step(10, "Pack", line(sheath))], DAY, product=knife)
    made = NewBill([step(10, "Sew", line(screws()))], DAY, made_item=sheath)
    assert actions.save_bills(bills=[takes, made]) == 2
    assert knife.bills.get().status == sheath.bills.get().status == "active"


def test_parts_of_one_list_that_contain_each_other_are_refused():
    core, shell = made_part("CORE"), made_part("SHELL")
    with pytest.raises(Refused, match="contains itself"):
        actions.save_bills(
            bills=[
                NewBill([step(10, "", line(shell))], DAY, made_item=core),
                NewBill([step(10, "", line(core))], DAY, made_item=shell),
            ]
        )
    assert not BillOfMaterials.objects.exists()


def test_two_bills_of_one_product_in_a_list_are_two_revisions():
    knife, bolt = product(), screws()
    first, second = (NewBill([step(10, "Bolt", line(bolt, n))], DAY, product=knife) for n in (2, 3))
    actions.save_bills(bills=[first, second])
    assert list(knife.bills.order_by("revision").values_list("revision", "status")) == [
        (1, "retired"),
        (2, "active"),
    ]


def test_hundred_bills_ask_the_database_a_few_questions(django_assert_max_num_queries):
    bolt = screws()
    wanted = [
        NewBill([step(10, "Bolt", line(bolt, 2))], DAY, product=product(f"K-{n}"))
        for n in range(100)
    ]
    with django_assert_max_num_queries(40):
        actions.save_bills(bills=wanted)
