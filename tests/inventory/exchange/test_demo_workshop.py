"""The invented workshop in fixtures/ loads whole and leaves a shop with something to decide."""

from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest
from django.conf import settings
from django.db import transaction
from django.utils import timezone

from inventory.exchange.workshop import load_workshop
from inventory.models import Balance, Batch, Fitting, Item, Lot, PurchaseOrder, User
from inventory.queries.audit import audit
from inventory.queries.batch_check import BatchCheck, check_planned_batch
from inventory.queries.batches import batches_in_work
from inventory.queries.history import build_history
from inventory.queries.regrinds import back_from_regrind, out_to_regrind
from inventory.queries.vendors import out_at_vendors

pytestmark = [pytest.mark.slow, pytest.mark.django_db]


@pytest.fixture(scope="module")
def today(django_db_setup: None, django_db_blocker: Any) -> Iterator[date]:
    """The day on which the demo is loaded, once for all tests of this file."""
    day = timezone.localdate()
    with django_db_blocker.unblock(), transaction.atomic():
        load_workshop(settings.BASE_DIR / "fixtures", today=day)
        yield day
        transaction.set_rollback(True)


@pytest.fixture(scope="module")
def field_check(today: date) -> BatchCheck:
    """The check of the Field batch planned for next week."""
    batch = Batch.objects.filter(state=Batch.State.PLANNED).order_by("start_on").first()
    return check_planned_batch(batch, today)


def test_every_balance_follows_from_its_movements(today: date) -> None:
    assert audit() == []


def test_a_year_of_batches_is_recorded_and_the_builds_of_two_more_are_known(today: date) -> None:
    finished = Batch.objects.filter(state=Batch.State.FINISHED)
    assert 30 <= finished.count() <= 60
    assert 330 <= (today - finished.earliest("started_on").started_on).days <= 370
    history = build_history(today)
    assert (today - history["day"].min()).days > 1000
    assert 110 <= len(history) <= 150


def test_bars_are_there_in_ends_too_short_for_the_next_batch(
    today: date, field_check: BatchCheck
) -> None:
    bars = Balance.objects.filter(item__code="BAR-4X50-440C").order_by("piece__length_um")
    assert [balance.piece.length_um for balance in bars] == [180_000] * 5 + [914_000] * 2
    assert "BAR-4X50-440C" in {check.item.code for check in field_check.short}
    [line, _] = field_check.lines
    assert sum(field_check.can_make) < line.wanted.qty


def test_overdue_order_would_bring_the_bars(today: date) -> None:
    order = PurchaseOrder.objects.get(lines__item__code="BAR-4X50-440C", lines__closed=False)
    assert order.state == PurchaseOrder.State.SENT
    assert all(line.expected_on < today for line in order.lines.all())


def test_orange_is_there_but_not_in_one_lot(today: date, field_check: BatchCheck) -> None:
    orange = Balance.objects.filter(item__code="GE-635-ORG")
    assert len({balance.lot_id for balance in orange}) == 2
    assert "GE-635-ORG" in {check.item.code for check in field_check.short}


def test_thumb_notch_cutter_will_not_last_and_has_no_spare(field_check: BatchCheck) -> None:
    [cutter] = [check for check in field_check.wear if check.item.code == "JM-3"]
    assert not cutter.lasts
    assert cutter.spares == 0
    assert cutter.short > 0


def test_hardener_has_expired(today: date) -> None:
    lots = Lot.objects.filter(item__code="HARD-LAM", balances__isnull=False)
    assert [lot.why_unusable(today).split()[0] for lot in lots] == ["expired"]


def test_bars_of_the_trail_wait_in_quarantine(today: date) -> None:
    waiting = Lot.objects.filter(status=Lot.Status.QUARANTINE, balances__isnull=False)
    assert {lot.item.code for lot in waiting} == {"BAR-4X40-14116"}


def test_knives_are_out_at_the_coater_and_the_heat_treater(today: date) -> None:
    assert {out.service.code for out in out_at_vendors(batches_in_work(), today)} == {
        "COAT-DARK",
        "HT-STAINLESS",
    }


def test_cutters_ended_in_every_way_and_every_pocket_is_filled(today: date) -> None:
    ends = set(Fitting.objects.exclude(end_reason="").values_list("end_reason", flat=True))
    assert ends == set(Fitting.EndReason.values)
    fitted = Fitting.objects.filter(removed_on=None).values("item")
    assert not Item.objects.exclude(life_unit="").exclude(pk__in=fitted).exists()


def test_reground_cutters_were_used_one_is_ready_and_one_is_out(today: date) -> None:
    assert Fitting.objects.filter(item__code="EM-10-R", regrinds__gt=0).count() == 7
    assert {one.fitting.item.code for one in back_from_regrind()} == {"EM-10-R"}
    [out] = out_to_regrind()
    assert out.vendor.is_vendor


def test_every_cutter_has_its_geometry_and_knows_what_it_cuts(today: date) -> None:
    cutters = Item.objects.filter(kind=Item.Kind.CUTTER).exclude(code__in=["BS-1418", "SAW-D200"])
    assert all(cutter.has_geometry and cutter.diameter_um for cutter in cutters)
    fitted = Fitting.objects.filter(removed_on=None, item__in=cutters)
    assert all(one.work_material and one.cutting_data for one in fitted)


def test_finishing_cutter_has_a_pocket_for_each_steel_each_with_its_own_age(today: date) -> None:
    fitted = Fitting.objects.filter(item__code="EM-6-F", removed_on=None).order_by("pocket")
    assert [(one.pocket, one.work_material) for one in fitted] == [
        ("2", "440C, annealed"),
        ("9", "D2, annealed"),
    ]
    assert fitted[0].life_used != fitted[1].life_used


def test_each_role_can_sign_in(today: date) -> None:
    roles = dict(User.objects.values_list("username", "role"))
    assert roles == {"demo": "owner", "bench": "maker", "guest": "viewer"}
