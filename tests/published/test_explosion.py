"""Level-by-level explosion against a textbook example.

Source: Heizer & Render, Operations Management, material planning chapter, the speaker kit: 50 kits A
of 2 B and 3 C; B of 2 D and 2 E; C of 2 E and 2 F; F of 1 G and 2 D; on hand 10, 15, 20, 10, 10,
5, 0. From memory, recalculated on paper; the weeks are not part of the explosion.
"""

from decimal import Decimal

import pytest

from forecasting.explosion import Bill, Build, Line, Step, explode, usage_per_knife

BILLS = {
    "A": {"B": 2, "C": 3},
    "B": {"D": 2, "E": 2},
    "C": {"E": 2, "F": 2},
    "F": {"G": 1, "D": 2},
}
ON_HAND = {"B": 15, "C": 20, "D": 10, "E": 10, "F": 5, "G": 0}


def bill(code):
    lines = tuple(Line(item, "knife", Decimal(qty)) for item, qty in BILLS.get(code, {}).items())
    return Bill(code, (Step(10, "Assemble", lines=lines),))


MADE = {code: bill(code) for code in ON_HAND}


@pytest.fixture(scope="module")
def exploded():
    kits = 50 - 10
    stock = {code: Decimal(qty) for code, qty in ON_HAND.items()}
    return {part.item: part for part in explode([Build(bill("A"), kits, kits)], MADE, stock).made}


@pytest.mark.parametrize(
    ("item", "gross", "net"),
    [
        ("B", 80, 65),
        ("C", 120, 100),
        ("E", 330, 320),
        ("F", 200, 195),
        ("D", 520, 510),
        ("G", 195, 195),
    ],
)
def test_net_requirement_is_the_textbooks(exploded, item, gross, net):
    # Planned releases there: B 65, C 100, E 120 + 200, F 195, D 380 + 130, G 195.
    assert (exploded[item].needed, exploded[item].to_make) == (gross, net)


def test_part_used_at_two_levels_is_netted_once(exploded):
    assert exploded["D"].from_stock == 10


def test_average_use_of_one_kit_is_the_product_along_each_path():
    # Paper: D = 2 x 2 + 3 x 2 x 2 = 16; E = 2 x 2 + 3 x 2 = 10; G = 3 x 2 = 6.
    made = {code: MADE[code] for code in ("B", "C", "F")}
    usage = {use.item: use.per_knife for use in usage_per_knife(bill("A"), made)}
    assert usage == {"D": 16, "E": 10, "G": 6}
