"""What a forecast takes of cutters: each in line at its own age and with its own life."""

import pytest

from inventory import actions
from inventory.actions import NewWear
from inventory.queries.history import usage_table
from inventory.queries.usage import usage_by_product
from inventory.queries.wear_futures import wear_lives
from tests.factories import DAY, D, bill, cutter, fitted, machine, product, simple_knife, step

pytestmark = pytest.mark.django_db


def used(item, pocket, life, **values):
    one = fitted(item, pocket, **values)
    actions.log_wear(fitting=one, amount=D(life), day=DAY)
    return one


def ages(item):
    """Use so far of those in line, by station and turn."""
    lives = wear_lives(usage_by_product(DAY), {item.code})
    in_line = lives[lives["turn"] > 0].groupby(["station", "turn"])["used"].first()
    return in_line.to_dict()


def test_every_fitted_one_is_in_line_at_its_own_age_the_most_worn_first():
    item = cutter()
    simple_knife("TRAIL", wear=((item, D(5)),))
    used(item, "1", 40), used(item, "2", 75)
    assert ages(item) == {("1", 1): 75.0, ("1", 2): 40.0}


def test_pockets_that_the_bills_name_are_stations_of_their_own():
    item, mill = cutter(), machine()
    bill(
        product(),
        step(10, "Rough", wear=(NewWear(item, D(6), mill, "1"),)),
        step(20, "Bevels", wear=(NewWear(item, D(3), mill, "2"),)),
    )
    used(item, "1", 40), used(item, "2", 75)
    table = usage_table(usage_by_product(DAY), {item.code}).set_index("station")["per_knife"]
    assert ages(item) == {("1", 1): 40.0, ("2", 1): 75.0}
    assert table["1"] == pytest.approx(2 * table["2"])


def test_reground_one_goes_in_after_the_fitted_one_with_the_life_of_its_kind():
    item = cutter()
    simple_knife("TRAIL", wear=((item, D(5)),))
    for life in (20, 22, 25, 27, 30):
        out = actions.send_to_regrind(
            fitting=actions.remove(fitting=used(item, "9", 100), reason="worn", day=DAY), day=DAY
        )
        back = actions.bring_back_reground(regrind=out, day=DAY)
        actions.remove(fitting=used(item, "9", life, regrind=back), reason="worn", day=DAY)
    out = actions.send_to_regrind(
        fitting=actions.remove(fitting=used(item, "9", 100), reason="worn", day=DAY), day=DAY
    )
    actions.bring_back_reground(regrind=out, day=DAY)
    used(item, "1", 40)
    assert ages(item) == {("1", 1): 40.0, ("1", 2): 0.0}
    scale = wear_lives(usage_by_product(DAY), {item.code}).groupby("turn")["scale"].median()
    assert scale[2] < 0.5 * scale[0]
    assert scale[1] == scale[0]


def test_without_one_fitted_only_new_ones_are_told():
    item = cutter()
    simple_knife("TRAIL", wear=((item, D(5)),))
    lives = wear_lives(usage_by_product(DAY), {item.code})
    assert set(lives["turn"]) == {0}
    assert len(lives) > 20


def test_item_that_no_bill_wears_is_left_out():
    fitted(cutter())
    assert wear_lives(usage_by_product(DAY), {"MILL-6"}).empty
