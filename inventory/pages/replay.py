"""Replay: the shop's past played again, as it was stored; nothing is worked out in a request."""

from datetime import date
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from inventory.actions.replay_past import settle_open_replay, start_replay
from inventory.models import ReplayRun
from inventory.pages.forms import ActionForm, ActionPage
from inventory.pages.replay_drawings import exchange_chart
from inventory.queries.replay_words import more_or_less, replay_words
from inventory.queries.replays import failed_replay, latest_replay

SHORT_NAMES = (
    "these reorder points",
    "normal, smoothed use",
    "normal, half a year",
    "rule of thumb",
)
USUAL_SECONDS = 15
"""Said before the first replay of a shop, when none has been timed yet."""


def replay_page(request: HttpRequest) -> HttpResponse:
    run = latest_replay()
    under_way = settle_open_replay()
    shown = {
        "heading": "Replay",
        "sub": "The past played again: what would have been served, with how much on the shelf.",
        "run": run,
        "under_way": under_way,
        "failed": None if under_way else failed_replay(),
        "seconds": round(max(run.seconds, 1)) if run else USUAL_SECONDS,
    }
    if run is not None:
        shown |= _found(run.result)
    return render(request, "forecast/replay.html", shown)


class PlayAgain(ActionPage):
    """Play the past again, in the background."""

    form_class = ActionForm
    heading = "Play the past again"
    sub = (
        "From the builds, use and deliveries on record and the bills in force today, in the "
        "background. What is shown now stays until the new replay is whole."
    )
    submit_label = "Play again"

    def act(self, form: ActionForm) -> ReplayRun:
        return start_replay(as_of=timezone.localdate(), **form.asked)

    def message_for(self, result: ReplayRun) -> str:
        return ""  # the page says that it is under way

    def back_url(self) -> str:
        return reverse("replay")


def _found(result: dict[str, Any]) -> dict[str, Any]:
    rules = result["rules"]
    shown = {
        "result": result,
        "first_day": date.fromisoformat(result["first_day"]),
        "last_day": date.fromisoformat(result["last_day"]),
        "words": replay_words(result),
    }
    if not rules:
        return shown
    return shown | {
        "chart": exchange_chart(result, SHORT_NAMES),
        "fills": [Decimal(fill) for fill in rules[0]["stock_at_fill"]],
        "compared": [
            (SHORT_NAMES[place], rule, _cells(result, place)) for place, rule in enumerate(rules)
        ],
        "settings": [_setting(point) for point in rules[0]["points"]],
        "least_served": [
            (row["item"], _exact(row["orders"], 0), _setting(row)) for row in result["least_served"]
        ],
        "rivals": [
            (name, rule["knob"], [_setting(point) for point in rule["points"]])
            for name, rule in zip(SHORT_NAMES[1:], rules[1:], strict=False)
        ],
    }


def _cells(result: dict[str, Any], place: int) -> list[tuple[Decimal | None, str]]:
    """Money at each fill, and what our reorder points needed against it."""
    stocks = result["rules"][place]["stock_at_fill"]
    shares = result["saved"][place - 1]["at_fill"] if place else dict.fromkeys(stocks)
    return [
        (_exact(stock, 0), "" if shares[fill] is None else more_or_less(shares[fill]))
        for fill, stock in stocks.items()
    ]


def _setting(point: dict[str, Any]) -> dict[str, Decimal | None]:
    places = {"knob": 3, "fill": 3, "expected_fill": 3, "stock": 0}
    return {name: _exact(point.get(name), digits) for name, digits in places.items()}


def _exact(figure: float | None, places: int) -> Decimal | None:
    return None if figure is None else round(Decimal(str(figure)), places)
