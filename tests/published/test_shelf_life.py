"""Expiry counts from manufacture, and an opened container may end sooner.

Source: E. M. Petrie, Handbook of Adhesives and Sealants, p. 140 (read): shelf life per ASTM D1337 is
that of the unopened container at its stated temperature. "The earlier of both" is common practice,
no source.
"""

from datetime import date

import pytest

from inventory.models.lot import expiry


def test_resin_made_in_march_2025_with_two_years_lasts_to_march_2027_though_opened_later():
    # Calendar: made 10 Mar 2025 + 24 months = 10 Mar 2027; opened 1 Sep 2026 + 12 months is later.
    assert expiry(730, 365, date(2025, 3, 10), date(2026, 9, 1)) == date(2027, 3, 10)


def test_opened_life_counts_when_it_ends_sooner():
    assert expiry(730, 90, date(2025, 3, 10), date(2026, 9, 1)) == date(2026, 11, 30)


@pytest.mark.parametrize(
    ("limits", "expected"),
    [
        ((730, None, date(2025, 3, 10), None), date(2027, 3, 10)),
        ((730, 365, date(2025, 3, 10), None), date(2027, 3, 10)),
        ((None, 365, None, date(2026, 9, 1)), date(2027, 9, 1)),
        ((None, None, date(2025, 3, 10), date(2026, 9, 1)), None),
        ((730, 365, None, None), None),
    ],
    ids=["unopened", "opened life, still closed", "opened only", "lasts", "nothing known"],
)
def test_limit_that_is_not_known_does_not_count(limits, expected):
    assert expiry(*limits) == expected
