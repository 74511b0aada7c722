"""Taylor's equation against textbook and course examples."""

import numpy as np
import pytest

from forecasting.taylor import (
    EXPONENT_RANGES,
    exponent_warning,
    fit_extended_taylor,
    fit_taylor,
    life_at_another_speed,
)
from forecasting.wear_curve import life_at_wear


def test_exponent_and_constant_from_two_tests() -> None:
    # Groover, Fundamentals of Modern Manufacturing, chapter 22, example 22.1: n 0.223, C 229.
    taylor = fit_taylor(speed=[160, 100], life=[5, 41])
    assert taylor.n == pytest.approx(0.2234, abs=0.0005)
    assert taylor.c == pytest.approx(229.2, abs=0.5)


# First two: public course sheet "WS CH4", questions 4 and 5 (also Kalpakjian and Schmid,
# Manufacturing Engineering and Technology: +300 %, from memory). Third: public question bank.
@pytest.mark.parametrize(
    ("n", "speed_factor", "life_ratio"),
    [(0.5, 0.5, 4.0), (0.5, 0.25, 16.0), (0.25, 0.5, 16.0)],
    ids=["halved at 0.5", "quartered at 0.5", "halved at 0.25"],
)
def test_slower_cutting_lengthens_life(n: float, speed_factor: float, life_ratio: float) -> None:
    life = life_at_another_speed(life=1, speed=400, new_speed=400 * speed_factor, n=n)
    assert life == pytest.approx(life_ratio, abs=1e-9)


def test_extended_equation_through_three_tests() -> None:
    # Course EML 4321, homework 11 solution, spring 2011; it prints C = 3.684e6, from exponents
    # rounded to 2.41 and 1.26.
    taylor = fit_extended_taylor(speed=[300, 400, 400], feed=[0.2, 0.2, 0.3], life=[30, 15, 9])
    assert taylor.p == pytest.approx(2.409, abs=0.001)
    assert taylor.q == pytest.approx(1.260, abs=0.001)
    assert taylor.c == pytest.approx(3.672e6, rel=0.001)
    assert taylor.c == pytest.approx(3.684e6, rel=0.005)
    assert taylor.life_at(speed=400, feed=0.3) == pytest.approx(9)


def test_wear_readings_to_lives_to_exponent() -> None:
    # Groover turning exercise as reprinted with solution in course IE 215, "HW 09-17-08", problem
    # 23.3; inches and ft/min. The print reads 19.0 and 6.2 min off a graph and swaps the labels.
    slow = life_at_wear([1, 5, 11, 15, 20, 25], [0.005, 0.008, 0.012, 0.015, 0.021, 0.04], 0.02)
    fast = life_at_wear([1, 5, 9, 11, 13], [0.007, 0.017, 0.027, 0.033, 0.04], 0.02)
    assert slow.life == pytest.approx(19.17, abs=0.01)
    assert fast.life == pytest.approx(6.2, abs=0.01)
    taylor = fit_taylor(speed=[350, 450], life=[slow.life, fast.life])
    assert taylor.n == pytest.approx(0.2227, abs=0.0005)
    assert taylor.c == pytest.approx(675.5, abs=0.5)


def test_a_quarter_more_speed_at_exponent_one_quarter() -> None:
    # Public calculator page, worked example (4140 steel, carbide). The same page says a fifth more
    # speed costs 60 % of life; its own equation gives 51.8 %, and so do we.
    taylor = fit_taylor(speed=[400, 500], life=[45, 18.43])
    assert taylor.c == pytest.approx(1036.0, abs=0.5)
    assert life_at_another_speed(45, 400, 500, 0.25) == pytest.approx(18.43, abs=0.01)
    assert 1 - life_at_another_speed(1, 100, 120, 0.25) == pytest.approx(0.518, abs=0.0005)
    assert life_at_another_speed(30, 300, 200, 0.25) == pytest.approx(151.9, abs=0.05)


def test_textbook_exponents_raise_no_doubt() -> None:
    # Groover's table of n and C for turning steel: from memory.
    textbook = {"HSS": 0.125, "carbide": 0.25, "ceramic": 0.6}
    assert textbook.keys() == EXPONENT_RANGES.keys()
    assert all(exponent_warning(n, material) is None for material, n in textbook.items())


@pytest.mark.parametrize(
    ("material", "n"), [("HSS", 0.3), ("carbide", 0.12), ("carbide", 0.5), ("ceramic", 0.25)]
)
def test_exponent_of_another_material_raises_doubt(material: str, n: float) -> None:
    assert "unusual" in str(exponent_warning(n, material))


def test_scattered_tests_around_a_line_are_fitted_with_life_as_the_dependent() -> None:
    speed = np.array([80, 100, 125, 160, 200])
    life = (230 / speed) ** 4 * np.array([1.1, 0.9, 1.05, 0.95, 1.02])
    slope, _ = np.polyfit(np.log(speed), np.log(life), 1)
    assert fit_taylor(speed, life).n == pytest.approx(-1 / slope)
