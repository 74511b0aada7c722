"""Sizes easily taken for one another."""

import pytest

from inventory.queries.look_alikes import look_alikes
from inventory.units import parse_length
from tests.factories import bar, item, sheet

pytestmark = pytest.mark.django_db


def steel(code, thickness, width="40 mm"):
    return bar(code, thickness_um=parse_length(thickness), width_um=parse_length(width))


@pytest.mark.parametrize(
    ("inch", "metric"), [("5/32 in", "4 mm"), ("3/16 in", "4.8 mm")], ids=["5/32 4", "3/16 4.8"]
)
def test_inch_and_metric_twins_look_alike(inch, metric):
    twin = steel("INCH", inch, "1 1/2 in")
    assert look_alikes(steel("METRIC", metric)) == [twin]


@pytest.mark.parametrize(
    ("thickness", "width", "found"),
    [
        ("4 mm", "40 mm", False),
        ("4.12 mm", "60 mm", True),
        ("4.13 mm", "60 mm", False),
        ("4 mm", "1 9/16 in", True),
        ("8 mm", "1 9/16 in", False),
        ("4 mm", "60 mm", False),
    ],
    ids=["equal", "3 percent", "more", "width near", "width near, far thicker", "width far"],
)
def test_near_is_within_three_percent_and_not_equal(thickness, width, found):
    # By arithmetic: 4 / 4.12 is 2.9 % less, 4 / 4.13 is 3.1 % less; 1 9/16 in = 39.6875 mm.
    other = steel("OTHER", thickness, width)
    assert look_alikes(steel("BAR", "4 mm")) == ([other] if found else [])


def test_other_kinds_and_items_without_a_size_do_not_look_alike():
    sheet("SHEET", thickness_um=3969)
    bar("UNSIZED")
    item("WEB", "webbing", "mm", width_um=25_000)
    webbing = item("WEB-IN", "webbing", "mm", width_um=25_400)
    assert [other.code for other in look_alikes(webbing)] == ["WEB"]
    assert look_alikes(steel("BAR", "4 mm")) == []
