import pytest

from forecasting.errors import BadInput
from forecasting.stock_classes import use_class, value_ranks


def letters(**values):
    return {rank.item: rank.letter for rank in value_ranks(values)}


def test_dearest_item_is_a_however_large_its_share():
    assert letters(steel=970, epoxy=20, screws=10) == {"steel": "A", "epoxy": "C", "screws": "C"}


def test_item_belongs_to_the_class_in_which_its_share_begins():
    assert letters(a=79, b=15, c=3, d=3) == {"a": "A", "b": "A", "c": "B", "d": "C"}


def test_item_that_was_not_used_is_c():
    assert letters(a=5, b=0) == {"a": "A", "b": "C"}
    assert letters(a=0) == {"a": "C"}


def test_equal_values_are_ranked_by_name():
    assert [rank.item for rank in value_ranks({"b": 1, "a": 1})] == ["a", "b"]


@pytest.mark.parametrize("value", [-1, float("nan")], ids=["negative", "no number"])
def test_value_below_zero_is_refused(value):
    with pytest.raises(BadInput, match="value of a must be 0 or more"):
        value_ranks({"a": value})


@pytest.mark.parametrize(
    ("months", "expected"),
    [
        ([10] * 12, "X"),
        ([10, 12, 9, 11], "X"),
        ([0, 24, 12, 30], "Y"),
        ([0, 0, 0, 24, 0, 0], "Z"),
        ([0] * 12, ""),
        ([10, 10], ""),
    ],
    ids=["same", "even", "uneven", "one batch", "unused", "two months"],
)
def test_use_is_classed_by_its_variation_from_month_to_month(months, expected):
    assert use_class(months) == expected
