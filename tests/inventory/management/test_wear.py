"""Cutters from a terminal."""

import json

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from inventory import actions
from inventory.models import Fitting, WearLog, WearReading
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def mill():
    make.shop(hour_cost=make.D(60))
    item = make.cutter(wear_limit_um=300, smallest_diameter_um=5850)
    make.stock(item, 3, unit_cost=make.D(18))
    make.fitted(item, "4")
    return item


@pytest.fixture
def say(capsys):
    def run(*words: str) -> str:
        call_command("wear", *words)
        return capsys.readouterr().out

    return run


def test_use_is_logged_for_an_operation_on_its_day(mill, say):
    said = say("log", "T-0001", "12.5", "--operation", "Mill bevels", "--day", "2025-03-04")
    assert said == "T-0001: 12.5 minutes in cut used so far.\n"
    log = WearLog.objects.get()
    assert (log.operation, str(log.day)) == ("Mill bevels", "2025-03-04")


def test_last_entry_is_taken_back(mill, say):
    say("log", "T-0001", "12.5")
    say("log", "T-0001", "30")
    assert "30 of" in (said := say("undo", "T-0001"))
    assert "12.5 minutes in cut used so far" in said
    say("undo", "T-0001")
    with pytest.raises(CommandError, match="no entry to take back"):
        call_command("wear", "undo", "T-0001")


def test_use_is_not_logged_on_a_batch_that_is_not_in_work(mill):
    batch = make.plan(make.simple_knife(wear=((mill, make.D(5)),)), 4)
    with pytest.raises(CommandError, match="is planned, not in work"):
        call_command("wear", "log", "T-0001", "5", "--batch", batch.number)
    assert not WearLog.objects.exists()


def test_list_shows_the_learned_life_beside_the_stated_one(mill, say):
    say("log", "T-0001", "90")
    say("swap", "T-0001", "worn")
    [shown] = json.loads(say("list", "--json"))
    assert shown["usual life"] == "120"
    assert 60 < float(shown["learned life"]) < 130


def test_wear_is_read_in_um_or_by_eye(mill, say):
    assert "wear land 310 µm noted. That is at or over its limit." in say("read", "T-0001", "310")
    assert "noted as half worn." in say("read", "T-0001", "half")
    assert list(WearReading.objects.values_list("vb_um", "level")) == [(310, ""), (None, "half")]


def test_change_ends_one_life_for_its_reason_and_begins_the_next(mill, say):
    say("log", "T-0001", "90")
    assert "T-0001 removed, T-0002 fitted in Mill 4." in say("swap", "T-0001", "broken")
    assert Fitting.objects.get(label="T-0001").end_reason == "broken"
    [shown] = json.loads(say("list", "--json"))
    assert (shown["label"], shown["used"]) == ("T-0002", "0")


def test_cutter_is_sent_to_be_reground_and_fitted_again(mill, say):
    say("remove", "T-0001", "worn")
    assert "out to be reground" in say("regrind", "T-0001")
    with pytest.raises(CommandError, match="is used down to 5.85 mm"):
        call_command("wear", "reground", "T-0001", "--diameter", "5.8")
    assert "is back, ready to fit." in say("reground", "T-0001", "--diameter", "5.92")
    said = say("fit", "MILL-6", "Mill", "4", "--reground", "T-0001", "--data", "90 m/min")
    assert "T-0001-R1 (MILL-6) fitted in Mill 4." in said


def test_cutter_set_aside_goes_on(mill, say):
    say("log", "T-0001", "20")
    say("remove", "T-0001", "removed_early")
    say("fit", "MILL-6", "Mill", "5", "--set-aside", "T-0001")
    assert Fitting.objects.get(removed_on=None).life_used == 20


def test_life_of_a_kind_is_told_with_what_it_rests_on(mill, say):
    said = say("life", "MILL-6")
    assert "No failure seen" in said
    assert "one in ten gone by" in said
    assert "Replace on failure, keep a spare" in said


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        (["log", "T-0099", "5"], "No fitting is called T-0099. There are: T-0001."),
        (["log", "T-0001", "0"], "Enter an amount above zero"),
        (["reground", "T-0001"], "wasn't sent out"),
        (["life", "NONE"], "No item is called NONE"),
    ],
    ids=["no such cutter", "nothing used", "not sent", "no such item"],
)
def test_what_can_not_be_is_refused_in_words(mill, words, answer):
    with pytest.raises(CommandError, match=answer):
        call_command("wear", *words)
    assert not WearLog.objects.exists()


def test_wear_land_typed_in_mm_is_refused_not_rounded_to_nothing(mill, say):
    with pytest.raises(CommandError, match="in whole µm, so 0.3 isn't one"):
        say("read", "T-0001", "0.3")
    assert not WearReading.objects.exists()


def test_next_one_to_go_in_may_be_the_reground_one(mill, say):
    say("swap", "T-0001", "worn")
    say("regrind", "T-0001")
    say("reground", "T-0001", "--diameter", "5.92")
    said = say("swap", "T-0002", "broken", "--reground", "T-0001")
    assert said == "T-0002 removed, T-0001-R1 fitted in Mill 4.\n"


def test_cutter_fitted_before_its_stock_was_counted_is_asked_about_and_fitted_with_sure(mill, say):
    lot = mill.lots.get()
    place = make.where(lot)
    actions.count_lot(lot=lot, place=place, counted=make.D(1), day=make.days(9), reason="counted")
    asked = ("fit", "MILL-6", "Mill", "5", "--day", "2025-03-04")
    with pytest.raises(
        CommandError, match="counted on 12 Mar 2025, .* all the same\\? If so, add --sure"
    ):
        say(*asked)
    assert "fitted in Mill 5" in say(*asked, "--sure")
