"""Drawings of amounts over time."""

import re
from datetime import date
from xml.etree import ElementTree

import pytest

from inventory.pages.charts import fan_chart, step_chart

SVG = "{http://www.w3.org/2000/svg}"
POINTS = [(date(2025, 1, 1), 0.0), (date(2025, 1, 11), 80.0), (date(2025, 1, 21), 40.0)]


def parsed(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" '))


def test_stock_stays_until_the_day_it_changes():
    svg = step_chart(POINTS, title="BOLT", description="up and down")
    line = parsed(svg).find(f"{SVG}path[@class='line']").get("d")
    assert re.findall("[MHV]", line) == ["M", "H", "V", "H", "V"]


def test_drawing_says_what_it_shows():
    root = parsed(step_chart(POINTS, title="BOLT <5>", description="up & down"))
    assert root.find(f"{SVG}title").text == "BOLT <5>"
    assert root.find(f"{SVG}desc").text == "up & down"


def test_drawing_carries_no_style_of_its_own():
    assert "style=" not in step_chart(POINTS, title="a", description="b", limit=30)


def test_limit_lies_between_the_amounts_around_it():
    root = parsed(step_chart(POINTS, title="a", description="b", limit=40))
    limit = float(root.find(f"{SVG}line[@class='limit']").get("y1"))
    path = root.find(f"{SVG}path[@class='line']").get("d")
    assert limit == float(path.rsplit("V", 1)[1])


@pytest.mark.parametrize("points", [POINTS[:1], [(date(2025, 1, 1), 0.0)] * 2])
def test_single_day_and_empty_stock_can_be_drawn(points):
    parsed(step_chart(points, title="a", description="b"))


def test_fan_encloses_its_middle_and_keeps_what_was_seen():
    weeks = [(date(2025, 1, 6), 1.0, 2.0, 4.0), (date(2025, 1, 13), 2.0, 4.0, 9.0)]
    root = parsed(fan_chart(weeks, title="a", description="b", seen=[(date(2025, 1, 6), 3.0)]))
    assert len(root.find(f"{SVG}polygon").get("points").split()) == 4
    assert len(root.findall(f"{SVG}circle")) == 1
