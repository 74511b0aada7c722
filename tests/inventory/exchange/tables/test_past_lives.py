import pytest

from inventory import actions
from inventory.exchange.tables import table_named
from inventory.exchange.tables.check_file import check_file, save_found
from inventory.exchange.tables.table import Found
from inventory.models import Fitting, Movement
from inventory.queries.audit import audit
from tests.factories import DAY, D, cutter, fitted, screws

pytestmark = pytest.mark.django_db

HEAD = "item;machine;pocket;fitted;removed;life;ended\n"
LIVES = (
    HEAD
    + "MILL-6;Mill;3;5.3.2024;22.4.2024;118,5;worn\nMILL-6;Mill;3;22.4.2024;1.5.2024;31;removed early\n"
)


def check(text: str) -> Found:
    return check_file(table_named("lives"), text.encode())


def test_lives_are_recorded_once_and_agree_with_their_logs():
    cutter()
    assert check(LIVES).remarks == ["New machines are made: Mill."]
    save_found(table_named("lives"), check(LIVES))
    ended = Fitting.objects.order_by("pk").values_list("label", "life_used", "end_reason")
    assert list(ended) == [("T-0001", D("118.5"), "worn"), ("T-0002", D(31), "removed_early")]
    assert audit() == []
    assert not Movement.objects.exists()
    assert (check(LIVES).to_save, check(LIVES).refusals) == ([], [])


def test_life_keeps_its_operation_cutting_data_regrinds_and_revision():
    item = cutter(revision=2)
    head = HEAD[:-1] + ";operation;cutting data;regrinds;revision\n"
    rows = head + "MILL-6;Mill;3;5.3.2024;22.4.2024;118,5;worn;Mill bevels;90 m/min;1;1\n"
    save_found(table_named("lives"), check(rows))
    life = Fitting.objects.get()
    assert (life.cutting_data, life.regrinds, life.revision) == ("90 m/min", 1, 1)
    assert life.logs.get().operation == "Mill bevels"
    [written] = table_named("lives").records()
    assert (written["operation"], written["revision"]) == ("Mill bevels", 1)
    later = head + f"{item.code};Mill;3;1.5.2024;2.5.2024;9;worn;;;;3\n"
    assert "is at revision 2; there is no 3" in check(later).refusals[0].reason


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("NONE;Mill;3;5.3.2024;22.4.2024;118;worn", "There is no item NONE"),
        ("SCREW-M4;Mill;3;5.3.2024;22.4.2024;118;worn", "SCREW-M4 has no life"),
        ("MILL-6;Mill;3;22.4.2024;5.3.2024;118;worn", "before it was fitted"),
        ("MILL-6;Mill;3;5.3.2024;5.3.2099;118;worn", "is in the future"),
        ("MILL-6;Mill;3;5.3.2024;22.4.2024;0;worn", "a life of 0"),
        ("MILL-6;Mill;3;5.3.2024;22.4.2024;118;tired", "is not one of: worn, broken"),
        ("MILL-6;Mill;3;5.3.2024;22.4.2024;99;broken", "is recorded already, as T-0001"),
    ],
    ids=["no item", "no life", "wrong way", "to come", "nothing", "no reason", "other figures"],
)
def test_life_that_cannot_have_been_is_refused(row, reason):
    cutter(), screws()
    save_found(table_named("lives"), check(HEAD + "MILL-6;Mill;3;5.3.2024;22.4.2024;118,5;worn\n"))
    assert reason in check(f"{HEAD}{row}\n").refusals[0].reason
    assert Fitting.objects.count() == 1


def test_cutter_taken_out_unused_is_no_life_to_take_along():
    actions.remove(fitting=fitted(cutter()), day=DAY, reason="removed_early")
    assert list(table_named("lives").records()) == []


def test_two_that_broke_in_a_pocket_on_one_day_are_two_lives():
    cutter()
    row = "MILL-6;Mill;3;5.3.2024;5.3.2024;{};broken\n"
    both = HEAD + row.format(3) + row.format("4,5")
    save_found(table_named("lives"), check(both))
    assert set(Fitting.objects.values_list("life_used", flat=True)) == {3, D("4.5")}
    assert (check(both).to_save, check(both).refusals) == ([], [])
    assert "The same is in row 2" in check(both + row.format(3)).refusals[0].reason
