import pytest

from forecasting.errors import OutOfRange
from forecasting.netting import fixed_quantity, net_requirements


def test_release_before_the_first_period_is_past_due():
    record = net_requirements([5, 5, 5], [0, 0, 0], on_hand=5, lead=2)
    assert record.releases == (5, 0, 0)
    assert record.past_due == 5


def test_lead_time_longer_than_the_record_leaves_only_past_due_releases():
    record = net_requirements([5, 5], [0, 0], on_hand=0, lead=6)
    assert record.releases == (0, 0)
    assert record.past_due == 10


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: net_requirements([1, 2], [0], on_hand=0, lead=1), "scheduled must have 2 periods"),
        (lambda: net_requirements([1], [0], on_hand=0, lead=-1), "lead must not be negative"),
        (lambda: fixed_quantity(0), "lot must be above 0"),
    ],
    ids=["length", "lead", "lot"],
)
def test_impossible_records_are_refused(call, message):
    with pytest.raises(OutOfRange, match=message):
        call()
