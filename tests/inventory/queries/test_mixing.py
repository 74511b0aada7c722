"""Resin and hardener: the side that runs out first decides."""

import pytest

from inventory.queries.mixing import two_part_systems, uneven_systems
from tests.factories import DAY, D, days, epoxy, stock

pytestmark = pytest.mark.django_db


def system(resin_g, hardener_g, share="0.43", **resin):
    hardener = epoxy("HARDENER", density_g_per_ml=D("0.97"))
    first = epoxy("RESIN", mixed_with=hardener, mix_share=D(share), **resin)
    for item, qty in ((first, resin_g), (hardener, hardener_g)):
        if qty:
            stock(item, qty)
    (mix,) = two_part_systems(DAY)
    return mix


@pytest.mark.parametrize(
    ("resin_g", "hardener_g", "mixed", "short", "left_over"),
    [
        (1000, 215, "715", "HARDENER", 500),
        (500, 430, "715", "RESIN", 215),
        (1000, 430, "1430", None, 0),
        (1000, 0, "0", "HARDENER", 1000),
        (0, 430, "0", "RESIN", 430),
    ],
    ids=["little hardener", "little resin", "even", "no hardener", "no resin"],
)
def test_usable_is_what_the_shorter_side_allows(resin_g, hardener_g, mixed, short, left_over):
    # Paper: 100 : 43 by weight; 215 g of hardener take 500 g of resin, 715 g together.
    mix = system(resin_g, hardener_g)
    assert mix.mixed == D(mixed)
    assert (mix.short.code if mix.short else None) == short
    assert mix.left_over == left_over


def test_ratio_that_does_not_divide_leaves_no_crumbs():
    mix = system(300, 100, share="0.333333")
    assert mix.short is None or mix.left_over < D("0.001")


def test_both_ratios_are_told_once_both_densities_are_known():
    # Paper: 0.43 g at 0.97 g/mL are 0.4433 mL, 1 g at 1.13 g/mL is 0.8850 mL: 50.1 : 100.
    mix = system(1, 1, density_g_per_ml=D("1.13"))
    assert round(mix.by_weight * 100, 1) == 43
    assert round(mix.by_volume * 100, 1) == D("50.1")


def test_ratio_by_volume_needs_both_densities():
    assert system(1, 1).by_volume is None


def test_expired_hardener_does_not_count():
    hardener = epoxy("HARDENER")
    resin = epoxy("RESIN", mixed_with=hardener, mix_share=D(1))
    stock(resin, 100)
    stock(hardener, 100, expires_on=DAY)
    assert two_part_systems(DAY)[0].mixed == 200
    assert two_part_systems(days(1))[0].mixed == 0


def test_system_is_found_from_either_part_and_not_from_another_item():
    mix = system(10, 10)
    assert two_part_systems(DAY, [mix.first]) == two_part_systems(DAY, [mix.second]) == [mix]
    assert two_part_systems(DAY, [epoxy("LONE")]) == []


@pytest.mark.parametrize(
    ("hardener_g", "named"), [(430, False), (350, False), (340, True), (0, True)]
)
def test_system_is_named_when_over_a_fifth_would_be_left(hardener_g, named):
    # Paper: 350 g take 814 g of 1000 g of resin, 19 % are left; 340 g leave 21 %.
    system(1000, hardener_g)
    assert bool(uneven_systems(DAY)) is named


def test_system_of_which_nothing_is_here_is_not_named():
    system(0, 0)
    assert uneven_systems(DAY) == []
