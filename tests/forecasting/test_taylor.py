import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecasting.errors import BadInput, OutOfRange
from forecasting.taylor import (
    Taylor,
    exponent_warning,
    fit_extended_taylor,
    fit_taylor,
    life_at_another_speed,
)

exponents = st.floats(0.08, 0.6)
speeds = st.floats(20, 600)


@given(exponents, st.floats(50, 3000), speeds)
def test_fit_through_lives_made_by_the_equation_gives_it_back(
    n: float, c: float, speed: float
) -> None:
    made = Taylor(n, c)
    tests = [speed, 1.3 * speed, 1.7 * speed]
    found = fit_taylor(tests, [made.life_at(v) for v in tests])
    assert found.n == pytest.approx(n)
    assert found.c == pytest.approx(c)


@given(exponents, speeds, st.floats(1, 500))
def test_speed_for_a_life_gives_that_life(n: float, c: float, life: float) -> None:
    taylor = Taylor(n, c)
    assert taylor.life_at(taylor.speed_for(life)) == pytest.approx(life)


def test_life_that_grows_with_speed_is_refused() -> None:
    # What the swapped labels of a printed exercise would give.
    with pytest.raises(BadInput, match="life must fall as speed rises"):
        fit_taylor(speed=[350, 450], life=[6.2, 19.0])


@pytest.mark.parametrize(
    ("speed", "life", "match"),
    [
        ([100], [10], "two speeds or more"),
        ([100, 100], [10, 12], "two speeds or more"),
        ([100, 0], [10, 12], "speed must be a number above 0, but got 0"),
        ([100, 200], [10, -1], "life must be a number above 0, but got -1"),
        ([100, 200], [10], "speed and life must have one length"),
    ],
)
def test_tests_that_cannot_be_fitted_are_refused(
    speed: list[float], life: list[float], match: str
) -> None:
    with pytest.raises(BadInput, match=match):
        fit_taylor(speed, life)


@pytest.mark.parametrize(
    ("speed", "feed"),
    [([300, 400], [0.2, 0.3]), ([300, 400, 500], [0.2, 0.2, 0.2])],
    ids=["two tests", "one feed"],
)
def test_feed_that_was_never_varied_alone_is_refused(speed: list[float], feed: list[float]) -> None:
    with pytest.raises(BadInput, match="speed and feed vary independently"):
        fit_extended_taylor(speed, feed, [30, 15, 9][: len(speed)])


def test_unknown_cutter_material_is_refused() -> None:
    with pytest.raises(BadInput, match="one of HSS, carbide, ceramic, but got 'wood'"):
        exponent_warning(0.2, "wood")


def test_impossible_exponent_is_refused() -> None:
    with pytest.raises(OutOfRange, match="n must be a number above 0, but got 0"):
        life_at_another_speed(10, 100, 120, 0)
