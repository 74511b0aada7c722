"""Numbers and days as different countries write them."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.exchange.tables.notation import (
    Ambiguous,
    Notation,
    decimal_mark_of,
    plain_numbers,
    read_day,
)

UNKNOWN = Notation()


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("12,5", "12.5"),
        ("12.5 kg", "12.5 kg"),
        ("1.234,56", "1234.56"),
        ("1,234.56", "1234.56"),
        ("1 234,5", "1234.5"),
        ("1\u202f234\u202f567", "1234567"),
        ("1'234.50", "1234.50"),
        ("1.234.567", "1234567"),
        ("1,234,567", "1234567"),
        ("0,125", "0.125"),
        ("1,2345", "1.2345"),
        ("3/16 in", "3/16 in"),
        ("1 1/2 in", "1 1/2 in"),
        ("12,5 x 24,25 mm", "12.5 x 24.25 mm"),
        ("914, 560", "914, 560"),
        ("42,50; from 5: 39,10", "42.50; from 5: 39.10"),
        ("4 of 610 x 305 mm", "4 of 610 x 305 mm"),
        ("-3,5", "-3.5"),
        ("250", "250"),
    ],
)
def test_number_that_can_only_be_read_one_way_is_read_that_way(text, plain):
    assert plain_numbers(text, UNKNOWN) == plain


@pytest.mark.parametrize(
    ("text", "with_comma", "with_point"),
    [
        ("1,234", "1.234", "1234"),
        ("1.234 kg", "1234 kg", "1.234 kg"),
        ("12,500", "12.500", "12500"),
    ],
)
def test_number_that_can_be_read_two_ways_is_read_as_told(text, with_comma, with_point):
    assert plain_numbers(text, Notation(decimal_mark=",")) == with_comma
    assert plain_numbers(text, Notation(decimal_mark=".")) == with_point
    with pytest.raises(Ambiguous, match="numbers"):
        plain_numbers(text, UNKNOWN)


@pytest.mark.parametrize(
    ("texts", "mark"),
    [
        (["1,234", "2,5"], ","),
        (["1.234,5"], ","),
        (["1,234", "2.5 kg"], "."),
        (["1,234", "17"], None),
        (["2,5", "2.5"], None),
        ([], None),
    ],
    ids=["comma", "comma after thousands", "point", "no sign", "both", "nothing"],
)
def test_decimal_mark_shows_in_the_other_numbers_of_a_file(texts, mark):
    assert decimal_mark_of(texts) == mark


@given(st.decimals(0, 10**9, places=4), st.sampled_from([(",", "."), (".", ","), (" ", ",")]))
def test_any_amount_written_with_thousands_marks_reads_back(number, marks):
    group, decimal = marks
    whole, _, part = f"{number:,.4f}".partition(".")
    assert plain_numbers(f"{whole.replace(',', group)}{decimal}{part}", UNKNOWN) == f"{number:.4f}"


@pytest.mark.parametrize(
    "text",
    [
        *["2026-03-05", "2026/3/5", "2026.03.05", "2026-03-05 00:00:00", "5.3.2026", "05.03.2026"],
        *["5. 3. 2026", "5 Mar 2026", "5 March 2026", "Mar 5, 2026", "March 5 2026", "5-Mar-2026"],
    ],
)
def test_day_that_can_only_be_read_one_way_is_read_that_way(text):
    assert read_day(text, UNKNOWN) == date(2026, 3, 5)


@pytest.mark.parametrize("text", ["25/03/2026", "03/25/2026", "25-3-2026"])
def test_day_above_twelve_tells_day_from_month(text):
    assert read_day(text, UNKNOWN) == date(2026, 3, 25)


@pytest.mark.parametrize("text", ["05/03/2026", "5-3-2026"])
def test_day_that_can_be_read_two_ways_is_read_as_told(text):
    assert read_day(text, Notation(day_first=True)) == date(2026, 3, 5)
    assert read_day(text, Notation(day_first=False)) == date(2026, 5, 3)
    with pytest.raises(Ambiguous, match="days"):
        read_day(text, UNKNOWN)


def test_fifth_of_may_is_the_same_in_both_orders():
    assert read_day("05/05/2026", UNKNOWN) == date(2026, 5, 5)


@pytest.mark.parametrize("text", ["5.3.26", "31.2.2026", "2026-13-01", "soon", "45721"])
def test_what_is_no_day_is_refused(text):
    with pytest.raises(Refused, match="is no day"):
        read_day(text, UNKNOWN)
