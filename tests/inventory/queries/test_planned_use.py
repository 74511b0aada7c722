"""Planned batches enter the forecast by their own choices."""

import pytest

from inventory import actions
from inventory.actions.update_forecast import update_forecast
from inventory.models import Batch, ForecastRun, Item, Product
from inventory.queries.forecast_inputs import is_stale
from inventory.queries.planned_use import planned_use
from tests.factories import (
    DAY,
    D,
    bill,
    cutter,
    days,
    in_work,
    line,
    option,
    plan,
    product,
    screws,
    shop,
    simple_knife,
    step,
    stock,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def neck() -> Product:
    """Per knife a scale, per batch a clip, natural or orange both; 2 screws and a mill's wear."""
    shop()
    knife = product("NECK", [("scale", "natural", True), ("scale", "orange", False)])
    colours = [
        line(screws(f"{colour}-{part}".upper()), per=per, option=option(knife, colour))
        for colour in ("natural", "orange")
        for part, per in (("scale", "knife"), ("clip", "batch"))
    ]
    bill(knife, step(10, "Assemble", *colours, line(screws(), 2), wear=((cutter(), D(3)),)))
    return knife


def orange(knife: Product) -> Batch:
    """Ten planned for a Sunday, the last day of the second week forecast."""
    return plan(knife, 10, days(13), options=(option(knife, "orange"),))


def built(knife: Product, colour: str, wanted: int) -> None:
    """A finished batch of one colour; takes what its bill says."""
    stock_the_shop()
    batch = in_work(knife, wanted, options=(option(knife, colour),))
    actions.finish_batch(batch=batch, day=days(2))


def stock_the_shop() -> None:
    for item in Item.objects.filter(life_unit=""):
        stock(item, 200, days(-30))


def differences() -> dict[str, float]:
    return {row.item.code: pytest.approx(row.qty) for row in planned_use(days(3))}


def used_with_the_plan(run: ForecastRun) -> dict[str, tuple[float, float]]:
    """Mean and 95 % quantile up to the planned day, by item code."""
    weeks = {row.item.code: row.weeks[1] for row in run.items.select_related("item")}
    return {code: (mean, high) for code, (_, mean, *_, high) in weeks.items()}


def test_orange_batch_takes_orange_in_place_of_the_usual_natural(neck):
    orange(neck)
    assert differences() == {
        "NATURAL-SCALE": -10,
        "NATURAL-CLIP": -1,
        "ORANGE-SCALE": 10,
        "ORANGE-CLIP": 1,
    }


def test_batch_in_the_usual_choice_adds_nothing(neck):
    plan(neck, 10, days(13))
    assert differences() == {}


def test_mix_of_the_year_is_taken_off_and_the_own_choice_put_on(neck):
    built(neck, "natural", 6)
    built(neck, "orange", 2)
    orange(neck)
    assert differences() == {
        "NATURAL-SCALE": -7.5,
        "NATURAL-CLIP": -0.75,
        "ORANGE-SCALE": 7.5,
        "ORANGE-CLIP": 0.75,
    }


def test_product_without_options_adds_nothing():
    plan(simple_knife("TRAIL", line(screws(), 3), wear=((cutter(), D(3)),)), 10)
    assert planned_use(DAY) == []


def test_shop_without_a_plan_adds_nothing(neck):
    assert planned_use(DAY) == []


def test_planned_batch_takes_by_the_revision_it_was_planned_with():
    item = screws()
    knife = simple_knife("TRAIL", line(item, 3))
    plan(knife, 10, days(7))
    bill(knife, step(10, "Assemble", line(item, 2)), day=DAY)
    assert differences() == {item.code: 10}


def test_batch_that_was_started_is_no_longer_planned(neck):
    stock_the_shop()
    in_work(neck, 10, options=(option(neck, "orange"),))
    assert planned_use(days(3)) == []


def test_forecast_of_an_orange_plan_asks_for_no_natural(neck):
    orange(neck)
    used = used_with_the_plan(update_forecast(as_of=days(3)))
    assert used["NATURAL-SCALE"] == used["NATURAL-CLIP"] == (0, 0)
    assert used["ORANGE-SCALE"] == (10, 10)
    assert used["ORANGE-CLIP"] == (1, 1)
    assert used["SCREW-M4"] == (20, 20)


def test_forecast_beyond_the_plan_keeps_the_mix_of_the_year(neck):
    built(neck, "natural", 6)
    built(neck, "orange", 2)
    orange(neck)
    run = update_forecast(as_of=days(3))
    scales = {
        colour: run.items.get(item__code=f"{colour}-SCALE").weeks
        for colour in ("NATURAL", "ORANGE")
    }
    later = {colour: weeks[-1][1] - weeks[1][1] for colour, weeks in scales.items()}
    assert later["NATURAL"] == pytest.approx(3 * later["ORANGE"], rel=1e-3)
    assert later["ORANGE"] > 0


def test_plan_in_another_colour_makes_the_forecast_stale(neck):
    batch = plan(neck, 10, days(13))
    run = update_forecast(as_of=days(3))
    assert not is_stale(run)
    actions.cancel_batch(batch=batch, day=days(3), note="orange wanted")
    orange(neck)
    assert is_stale(run)
