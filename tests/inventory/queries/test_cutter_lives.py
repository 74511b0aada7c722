"""One cutter's own record: its wear curve, and what was in the machines on a day."""

import pytest

from inventory import actions
from inventory.queries.cutter_lives import in_a_machine_on, readings_of, wear_life
from tests.factories import DAY, D, cutter, days, fitted, stock

pytestmark = pytest.mark.django_db


def test_worn_by_eye_does_not_hide_what_was_measured_at_the_same_life():
    mill = fitted(cutter())
    actions.log_wear(fitting=mill, amount=D(40), day=DAY)
    actions.read_wear(fitting=mill, vb_um=320, day=DAY)
    actions.read_wear(fitting=mill, level="worn", day=DAY)
    known = wear_life(readings_of(mill), 300)
    assert (known.life, known.reached) == (40, True)


def test_both_of_a_change_were_in_the_machine_that_day():
    old = fitted(cutter(), "4")
    stock(old.item, 1)
    new = actions.swap(fitting=old, reason="worn", day=days(2))
    known = [list(in_a_machine_on(days(count))) for count in (0, 2, 3)]
    assert known == [[old], [new, old], [new]]
