"""How a shop keeps its plan."""

import numpy as np
import pandas as pd
import pytest

from forecasting.plan_keeping import AS_PLANNED, PlannedStarts, learn_plan_keeping

TODAY = pd.Timestamp(2026, 11, 25)
FUTURES = 4000


def record(*rows):
    return pd.DataFrame(rows, columns=["late", "outcome"]).astype({"late": float})


def starts(keeping, due):
    return keeping.starts(float(due), FUTURES, np.random.default_rng(3))


def test_without_a_record_planned_batches_begin_on_their_day():
    assert set(starts(learn_plan_keeping(record()), 12)) == {12.0}


def test_without_a_record_an_overdue_batch_begins_today():
    assert set(starts(AS_PLANNED, -9)) == {0.0}


def test_shop_that_always_begins_two_weeks_late_is_expected_two_weeks_late():
    late = starts(learn_plan_keeping(record(*[(14, "begun")] * 32)), 12)
    assert (late == 26).mean() == pytest.approx(32 / 40, abs=0.02)


def test_one_late_batch_hardly_moves_the_plan():
    late = starts(learn_plan_keeping(record((14, "begun"))), 12)
    assert (late == 12).mean() == pytest.approx(8 / 9, abs=0.02)


def test_plans_that_were_given_up_leave_futures_without_the_batch():
    keeping = learn_plan_keeping(record(*[(0, "begun")] * 12, *[(5, "given up")] * 4))
    assert np.isinf(starts(keeping, 12)).mean() == pytest.approx(4 / 24, abs=0.02)
    assert (keeping.begun_in_time, keeping.given_up, keeping.seen) == (12, 4, 16)


def test_overdue_batch_is_judged_by_those_that_were_as_late():
    keeping = learn_plan_keeping(record(*[(0, "begun")] * 30, (20, "begun"), (3, "given up")))
    begins = starts(keeping, -10)
    assert set(begins) == {0.0, 10.0, np.inf}
    assert (begins == 10).mean() == pytest.approx(1 / 3, abs=0.03)


def test_batch_still_waiting_counts_as_later_than_it_is_today():
    begun = [(0, "begun")] * 5 + [(30, "begun")] * 5
    known = learn_plan_keeping(record(*begun, *[(10, "waiting")] * 5))
    assert dict(zip(known.late, known.weight, strict=True)) == pytest.approx({0: 5, 30: 10})


def test_batch_waiting_for_longer_than_any_other_tells_nothing_yet():
    known = learn_plan_keeping(record((0, "begun"), (9, "waiting")))
    assert dict(zip(known.late, known.weight, strict=True)) == pytest.approx({0: 1})


def test_batch_forgotten_for_months_counts_as_given_up():
    assert learn_plan_keeping(record((200, "waiting"))).given_up == 1


def test_batch_begun_early_is_expected_early_but_never_before_today():
    begins = starts(learn_plan_keeping(record(*[(-5, "begun")] * 8)), 3)
    assert begins.min() >= 0
    assert (starts(learn_plan_keeping(record(*[(-5, "begun")] * 8)), 12) == 7).any()


def test_batches_due_on_one_day_slip_together():
    keeping = learn_plan_keeping(record(*[(late, "begun") for late in range(20)]))
    due = pd.Series([TODAY + pd.Timedelta(days=10)] * 2 + [TODAY + pd.Timedelta(days=11)])
    days = PlannedStarts(keeping, TODAY, 500, 1).of(due)
    assert days.shape == (500, 3)
    assert (days[:, 0] == days[:, 1]).all()
    assert np.corrcoef(days[:, 0], days[:, 2])[0, 1] < 0.3
