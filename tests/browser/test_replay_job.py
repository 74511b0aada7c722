"""The past played again from the page: asked for, waited for, read on a laptop and a phone."""

import pytest
from django.utils import timezone

from inventory.actions import replay_past as playing
from inventory.actions.replay_past import play_queued
from inventory.models import ReplayRun
from inventory.queries.replays import PlayedPast
from tests import factories as make

FILLS = ("0.80", "0.85", "0.90", "0.95", "0.97")


def rule(name, dearer):
    points = [
        {"knob": knob, "fill": fill, "stock": dearer * stock, "expected_fill": fill - 0.02}
        for knob, fill, stock in ((0.5, 0.8, 900), (0.8, 0.92, 1400), (0.95, 0.97, 2100), (0.99, 0.985, 3000))
    ]  # fmt: skip
    stocks = dict(zip(FILLS, (900.0, 1100.0, 1320.0, 1800.0, None), strict=True))
    return {"rule": name, "knob": "chance of lasting", "points": points, "stock_at_fill": stocks}


def found():
    rivals = ("normal safety stock", "half a year's use", "a rule of thumb")
    return {
        "first_day": "2026-05-11",
        "last_day": "2026-11-22",
        "currency": "EUR",
        "items": 46,
        "unused": 2,
        "without_cost": ["RIVET"],
        "rules": [rule("simulated futures", 1), *(rule(name, 1.2) for name in rivals)],
        "saved": [{"against": name, "at_fill": dict.fromkeys(FILLS, 0.16)} for name in rivals],
        "as_set": {"fill": 0.97, "stock": 2100.0, "expected_fill": 0.95},
        "bend": {"chance": 0.8, "fill": 0.92, "stock": 1400.0},
        "least_served": [
            {"item": "BAR-4X40", "fill": 0.7, "expected_fill": 0.9, "stock": 45.0, "orders": 4.0}
        ],
    }


@pytest.fixture
def shop(transactional_db, monkeypatch):
    """A shop whose replay is played by the test itself, not by a process of its own."""
    monkeypatch.setattr(playing, "start_process", lambda run: None)
    monkeypatch.setattr(playing, "play_past", lambda day: PlayedPast(found(), 9.0))
    return make.shop()


def test_replay_is_asked_for_and_appears_when_it_is_whole(shop, laptop, axe):
    laptop.goto("/forecast/")
    laptop.click("text=Replay")
    axe(laptop)
    laptop.click("text=Play it now")
    laptop.click("main button[type=submit]")
    assert "The past is being played again" in laptop.inner_text("#replay")
    axe(laptop)
    play_queued(run=ReplayRun.objects.get())
    laptop.wait_for_selector(".chart svg")
    assert "97 of 100 would have been on the shelf" in laptop.inner_text("#replay")
    axe(laptop)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_replay_is_read_on_the_phone_without_scrolling_sideways(
    shop, open_page, viewer, axe, scheme
):
    ReplayRun.objects.create(
        as_of=timezone.localdate(), state=ReplayRun.State.DONE, seconds=9, result=found()
    )
    page = open_page(viewer, {"viewport": {"width": 390, "height": 844}}, color_scheme=scheme)
    page.goto("/forecast/replay/")
    page.click("summary")
    axe(page)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert page.locator("text=Play again").count() == 0
