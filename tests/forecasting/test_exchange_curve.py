import pytest

from forecasting.errors import OutOfRange
from forecasting.exchange_curve import CurvePoint, ExchangeCurve, bend, saved


def curve(*pairs):
    points = tuple(CurvePoint(knob, fill, stock) for knob, (fill, stock) in enumerate(pairs))
    return ExchangeCurve("rule", "knob", points)


STEEP = curve((0.8, 100), (0.9, 150), (0.96, 300))


def test_stock_between_two_settings_lies_on_the_straight_line():
    assert STEEP.stock_at(0.85) == pytest.approx(125)
    assert STEEP.stock_at(0.9) == 150
    assert STEEP.stock_at(0.93) == pytest.approx(225)


def test_fill_that_no_setting_reached_has_no_stock():
    assert STEEP.stock_at(0.97) is None
    assert STEEP.stock_at(0.7) is None


def test_curve_that_falls_back_answers_with_the_least_stock():
    assert curve((0.8, 100), (0.9, 150), (0.85, 160), (0.95, 200)).stock_at(0.87) == pytest.approx(
        135
    )


def test_saving_is_a_share_of_the_rivals_stock_at_the_same_fill():
    dear = curve((0.8, 200), (0.9, 300))
    assert saved(STEEP, dear, 0.9) == pytest.approx(0.5)
    assert saved(dear, STEEP, 0.9) == pytest.approx(-1)
    assert saved(STEEP, dear, 0.95) is None


def test_percent_written_for_a_share_is_refused():
    with pytest.raises(OutOfRange, match="fill must lie between 0 and 1 .*but got 95"):
        STEEP.stock_at(95)


def test_bend_is_where_more_stock_begins_to_serve_little():
    points = curve((0.5, 0), (0.75, 20), (0.93, 40), (0.96, 70), (0.97, 100)).points
    assert bend(points).fill == 0.93


@pytest.mark.parametrize(
    "pairs",
    [[(0.8, 1), (0.9, 2)], [(0.9, 1), (0.9, 2), (0.9, 3)], [(0.2, 0), (0.25, 5), (0.4, 10)]],
    ids=["two points", "nothing gained", "no turn"],
)
def test_curve_without_a_bend_has_none(pairs):
    assert bend(curve(*pairs).points) is None
