import numpy as np
import pandas as pd
import pytest

from forecasting.build_rhythm import Rhythm, learn_rhythms, rhythm_without_history

TODAY = pd.Timestamp(2026, 11, 25)


def batches(product, *days_ago, qty=12.0):
    days = [TODAY - pd.Timedelta(days=ago) for ago in days_ago]
    return pd.DataFrame({"product": product, "day": days, "qty": qty})


def rhythms(*histories) -> dict[str, Rhythm]:
    return learn_rhythms(pd.concat(histories, ignore_index=True), TODAY)


STEADY = batches("skinner", *range(10, 700, 30))


def test_steady_product_keeps_its_gap_and_is_believed_steady():
    skinner = rhythms(STEADY)["skinner"]
    assert skinner.gaps.expected_days == pytest.approx(30, rel=0.02)
    assert skinner.gaps.chance @ skinner.gaps.variation < 0.1
    assert skinner.alive > 0.95


def test_irregular_product_is_believed_irregular():
    days = np.cumsum(np.random.default_rng(4).exponential(30, 40)).astype(int)
    hunter = rhythms(batches("hunter", *np.unique(days)))["hunter"]
    assert hunter.gaps.chance @ hunter.gaps.variation > 0.4


def test_single_batch_takes_the_gap_of_the_shop():
    hunter = rhythms(STEADY, batches("hunter", 5))["hunter"]
    assert hunter.gaps.expected_days == pytest.approx(30, rel=0.1)


def test_only_batch_of_a_new_shop_gets_the_assumed_gap():
    assert rhythms(batches("hunter", 5))["hunter"].gaps.expected_days == pytest.approx(56, rel=0.05)


def test_pace_that_doubled_a_year_ago_is_followed():
    faster = batches("hunter", *range(7, 365, 14), *range(379, 1000, 28))
    slower = batches("hunter", *range(7, 365, 28), *range(379, 1000, 14))
    assert rhythms(faster)["hunter"].gaps.expected_days < 16
    assert rhythms(slower)["hunter"].gaps.expected_days > 23


def test_long_silence_lowers_the_chance_that_a_product_is_still_made():
    silent = [
        rhythms(STEADY, batches("hunter", *range(ago, ago + 600, 30)))["hunter"].alive
        for ago in (20, 60, 120, 400)
    ]
    assert silent == sorted(silent, reverse=True)
    assert silent[0] > 0.9
    assert silent[-1] < 0.1


def test_batches_of_one_day_are_one_start_with_several_batches():
    hunter = rhythms(batches("hunter", 40, 40, 10, qty=6.0))["hunter"]
    assert sorted(hunter.sizes.tolist()) == [[6.0, 1.0], [12.0, 2.0]]


def test_product_never_made_takes_the_rhythm_of_the_shop_and_its_planned_size():
    known = list(rhythms(STEADY).values())
    fresh = rhythm_without_history(known, np.array([20.0]))
    assert fresh.gaps.expected_days == pytest.approx(30, rel=0.02)
    assert fresh.sizes.tolist() == [[20.0, 1.0]]
    assert fresh.age_days is None


def test_shop_that_never_dropped_anything_believes_longer_in_a_silent_product():
    silent = batches("hunter", *range(75, 700, 30))
    loyal = [batches(f"knife {number}", *range(number, 700, 30)) for number in range(1, 11)]
    fickle = [batches(f"knife {number}", *range(300, 600, 30)) for number in range(1, 11)]
    assert rhythms(silent, *loyal)["hunter"].alive > rhythms(silent, *fickle)["hunter"].alive
