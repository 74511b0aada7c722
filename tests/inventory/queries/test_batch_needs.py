import pytest

from inventory.errors import NotFound, Refused
from inventory.queries.batch_needs import (
    Wanted,
    batch_builds,
    choose_options,
    find_product,
    items_of,
    start_builds,
)
from inventory.queries.bills import made_bills
from tests.factories import D, knife_shop, line, plan, product, screws, simple_knife

pytestmark = pytest.mark.django_db


def test_product_is_found_however_its_code_is_typed():
    knife = product("TRAIL")
    assert find_product(" trail ") == knife
    with pytest.raises(NotFound, match="No product has the code CAMP. There are: TRAIL"):
        find_product("CAMP")


def colours():
    return product(
        options=[
            ("scales", "black", True),
            ("scales", "orange", False),
            ("sheath", "black", True),
            ("sheath", "tan", False),
        ]
    )


def test_choices_not_named_are_the_usual_ones():
    chosen = choose_options(colours(), ["orange"])
    assert [str(option) for option in chosen] == ["scales: orange", "sheath: black"]


def test_choice_of_two_groups_is_named_with_its_group():
    knife = colours()
    with pytest.raises(NotFound, match="TRAIL has no choice “black”"):
        choose_options(knife, ["black"])
    chosen = choose_options(knife, ["sheath=TAN"])
    assert [option.choice for option in chosen] == ["black", "tan"]


def test_unknown_choice_names_those_there_are():
    with pytest.raises(NotFound, match="There are: scales: black, scales: orange"):
        choose_options(colours(), ["green"])


@pytest.mark.parametrize("qty", [0, -1, 2001])
def test_silly_number_of_knives_is_refused(qty):
    with pytest.raises(Refused, match="1 to 2000 good knives"):
        start_builds([Wanted(simple_knife("TRAIL", line(screws())), qty)], 0.8)


def test_given_start_says_with_what_chance_enough_finish():
    # YLD-2, pump exercise, mathhelpforum.com 60407 (read): P(5 of 5) at 95 % = 0.774.
    knife = simple_knife("TRAIL", line(screws()), good_share=D("0.95"))
    (started,) = start_builds([Wanted(knife, 5, start=5)], 0.8)
    assert started.start.chance_enough == pytest.approx(0.774, abs=0.0006)
    (more,) = start_builds([Wanted(knife, 5)], 0.95)
    assert more.build.start == 6


def test_planned_batch_is_built_by_its_own_bill_choices_and_start():
    trail = knife_shop()
    batch = plan(trail.knife, 8, start=11)
    (started,) = batch_builds(batch)
    assert (started.build.start, started.build.wanted) == (11, 8)
    assert started.record == batch.lines.get().bill


def test_items_of_a_batch_reach_through_its_made_parts():
    trail = knife_shop()
    batch = plan(trail.knife, 4)
    expected = {
        trail.bar,
        trail.screws,
        trail.epoxy,
        trail.block,
        trail.sheet,
        trail.sheath,
        trail.thermoplastic,
    }
    assert set(items_of(batch_builds(batch), made_bills())) == {item.pk for item in expected}
