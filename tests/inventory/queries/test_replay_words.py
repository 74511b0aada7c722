"""What a replay suggests, in sentences."""

import re

import pytest

from inventory.queries.replay_words import CAVEAT, NOTHING, replay_words


def result(**changes):
    shares = {"0.80": None, "0.85": 0.1, "0.90": 0.101, "0.95": 0.152, "0.97": None}
    return {
        "currency": "EUR",
        "rules": [{"rule": "simulated futures"}],
        "saved": [
            {"against": "a rule of thumb", "at_fill": shares},
            {"against": "half a year", "at_fill": shares | {"0.95": -0.031}},
            {"against": "guessing", "at_fill": shares | {"0.95": None}},
        ],
        "as_set": {"fill": 0.9799, "stock": 2502.2, "expected_fill": 0.947},
        "bend": {"chance": 0.9, "fill": 0.971, "stock": 2156},
    } | changes


def test_where_the_shop_stands_is_said_beside_what_was_expected():
    said = replay_words(result())[0]
    assert "98 of 100 would have been on the shelf" in said
    assert "2\u202f502 EUR lying there on average" in said
    assert "Expected beforehand: 94.7 of 100." in said


@pytest.mark.parametrize(
    ("bend", "said"),
    [
        ({"chance": 0.9, "fill": 0.971, "stock": 2156}, "would free 346 EUR, and 0.9 of 100 fewer would be served"),
        ({"chance": 0.99, "fill": 0.991, "stock": 3002}, "would take 500 EUR more, and 1.1 of 100 more would be served"),
        ({"chance": 0.95, "fill": 0.98, "stock": 2502}, "bends at a chance of 95\u202f%.*You stand close to it"),
    ],
    ids=["below", "above", "there"],
)  # fmt: skip
def test_where_to_stand_is_told_with_its_price(bend, said):
    assert re.search(said, replay_words(result(bend=bend))[1])


def test_straight_curve_is_said_to_have_no_bend():
    assert "no bend" in replay_words(result(bend=None))[1]


def test_rivals_are_compared_at_95_of_100_whoever_won():
    said = replay_words(result())[2]
    assert "For 95 of 100 served at once" in said
    assert "15.2\u202f% less than a rule of thumb; 3.1\u202f% more than half a year." in said
    assert "guessing" not in said


def test_fill_that_no_rival_reached_gives_way_to_the_next():
    shares = {"0.80": 0.1, "0.85": 0.1, "0.90": 0.002, "0.95": None, "0.97": None}
    said = replay_words(result(saved=[{"against": "guessing", "at_fill": shares}]))[2]
    assert said.startswith("For 90 of 100")
    assert "held no less than guessing." in said


def test_warning_not_to_take_it_for_a_setting_comes_last():
    assert replay_words(result())[-1] == CAVEAT


def test_shop_in_which_nothing_was_used_is_told_so():
    assert replay_words(result(rules=[])) == [NOTHING]
