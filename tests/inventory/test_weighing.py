"""A count by weight holds the true number; the smaller the sample, the wider it says it may be.

The bounds are checked against true weights read off an imagined scale: readings are rounded to its
step as a real one rounds them.
"""

from decimal import ROUND_HALF_EVEN, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.weighing import count_by_weight, net_weight, weight_of_one

D = Decimal
STEPS = [D("0.01"), D("0.1"), D(1), D(5)]


def read_off(true_g, step):
    """What a scale of that step shows."""
    return (true_g / step).quantize(D(1), ROUND_HALF_EVEN) * step


def test_bag_of_hundred_that_holds_97_is_seen_on_the_scale():
    # A screw of 1.52 g in a 12.3 g cup, scale of 0.1 g, sample of 50 (76.0 g).
    one = weight_of_one(50, D("76.0"))
    net = net_weight(D("159.7"), D("12.3"))
    found = count_by_weight(net, one, step_g=D("0.1"), sample=50)
    assert (one, found.count, found.least, found.most) == (D("1.52"), 97, 97, 97)


def test_sample_of_five_can_not_tell_a_thousand_to_the_piece():
    # 5 screws show 8 g on a kitchen scale of 1 g: one weighs 1.5 to 1.7 g.
    found = count_by_weight(D(1520), weight_of_one(5, D(8)), step_g=D(1), sample=5)
    assert (found.count, found.least, found.most, found.plus_minus) == (950, 894, 1014, 64)


@given(
    one_mg=st.integers(200, 20_000),
    sample=st.integers(5, 200),
    true_count=st.integers(0, 3000),
    cup_mg=st.integers(0, 200_000),
    step=st.sampled_from(STEPS),
)
def test_true_number_always_lies_between_the_least_and_the_most(
    one_mg, sample, true_count, cup_mg, step
):
    one, cup = D(one_mg) / 1000, D(cup_mg) / 1000
    weighed = read_off(one * sample, step)
    if weighed <= step:
        return
    found = count_by_weight(
        read_off(cup + one * true_count, step) - read_off(cup, step),
        weight_of_one(sample, weighed),
        step_g=step,
        sample=sample,
    )
    assert found.least <= true_count <= found.most
    assert found.least <= found.count <= found.most


def test_larger_sample_makes_the_count_closer():
    widths = [
        count_by_weight(D(1500), D("1.5"), step_g=D(1), sample=n).plus_minus
        for n in (10, 50, 200, 1000)
    ]
    assert widths == sorted(widths, reverse=True)
    assert widths[0] > 30 > widths[-1]


def test_without_a_known_sample_only_the_scale_counts():
    found = count_by_weight(D(150), D("1.5"), step_g=D(3), sample=None)
    assert (found.least, found.count, found.most) == (98, 100, 102)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: weight_of_one(0, D(10)), "at least one piece"),
        (lambda: weight_of_one(10, D(0)), "a weight above zero"),
        (lambda: weight_of_one(10, D("0.000001")), "less than a microgram"),
        (lambda: net_weight(D(10), D(12)), "container weighs more"),
        (lambda: count_by_weight(D(10), D("0.1"), step_g=D(5), sample=5), "Weigh more pieces"),
    ],
    ids=["no pieces", "no weight", "dust", "tare above gross", "too light for the scale"],
)
def test_weighing_that_tells_nothing_is_refused(call, words):
    with pytest.raises(Refused, match=words):
        call()
