"""Which backups stay when there are many."""

from datetime import UTC, datetime, timedelta

from inventory.exchange.backup.rotation import moments_to_keep

NOON = datetime(2026, 3, 31, 12, tzinfo=UTC)


def days_before(*counts):
    return [NOON - timedelta(days=count) for count in counts]


def test_few_backups_all_stay():
    few = days_before(0, 1, 2, 300, 900)
    assert moments_to_keep(few) == set(few)


def test_no_backup_is_no_trouble():
    assert moments_to_keep([]) == set()


def test_seven_of_one_day_stay_and_the_days_before_keep_their_last():
    today = [NOON + timedelta(minutes=minute) for minute in range(20)]
    before = days_before(1, 2, 3, 4, 5, 6)
    assert moments_to_keep(today + before) == set(today[-7:] + before)


def test_two_years_of_daily_backups_shrink_to_days_weeks_and_months():
    kept: set[datetime] = set()
    for moment in days_before(*range(730, -1, -1)):
        kept = moments_to_keep({*kept, moment})
    ages = sorted((NOON - moment).days for moment in kept)
    assert ages[:7] == [0, 1, 2, 3, 4, 5, 6]
    # 31 March 2026 is a Tuesday: the weeks before end 2, 9, 16 and 23 days ago.
    assert {2, 9, 16, 23} < set(ages)
    assert sum(moment.month != 3 and (moment + timedelta(days=1)).day == 1 for moment in kept) == 11
    assert len(kept) == 7 + 3 + 11


def test_a_long_pause_costs_no_old_backup():
    old = days_before(800, 830, 860)
    assert moments_to_keep([NOON, *old]) == {NOON, *old}
