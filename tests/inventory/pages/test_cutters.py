"""What is in the pockets, what a thumb logs, and what is said about how long one lasts."""

import uuid
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory import actions
from inventory.models import Balance, Fitting, WearLog, WearReading
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop():
    return make.knife_shop()


@pytest.fixture
def fitting(shop):
    return Fitting.objects.get()


def send(client, name, fitting, *more, **values):
    url = reverse(name, args=[fitting.label, *more])
    return client.post(url, {"key": uuid.uuid4(), **values})


def test_without_a_cutter_the_list_says_what_to_do(maker_client):
    make.shop()
    assert "Nothing is fitted yet" in maker_client.get("/cutters/").content.decode()


def test_pocket_shows_life_used_and_the_batches_it_lasts(viewer_client, shop, fitting):
    actions.log_wear(fitting=fitting, amount=Decimal(10), day=make.DAY)
    make.plan(shop.knife, 2)
    make.plan(shop.knife, 12, make.days(20))
    page = viewer_client.get("/cutters/").content.decode()
    assert "10 of about 120 min" in page
    assert "lasts B-0001, not B-0002" in page
    assert "for B-0001" in page


def test_cutter_without_a_chance_is_marked_and_told_how_many_spares_lack(
    viewer_client, shop, fitting
):
    actions.issue_stock(item=shop.cutter, qty=Decimal(3), day=make.DAY, reason="scrap")
    actions.log_wear(fitting=fitting, amount=Decimal(115), day=make.DAY)
    make.plan(shop.knife, 20)
    page = viewer_client.get("/cutters/").content.decode()
    assert '<span class="status stop">will not last</span>' in page
    assert "none in stock, lay out 2 for B-0001: 2 short" in page


def test_item_a_batch_wears_but_no_machine_holds_is_listed(viewer_client, shop, fitting):
    actions.remove(fitting=fitting, reason="worn", day=make.DAY)
    make.plan(shop.knife, 2)
    page = viewer_client.get("/cutters/").content.decode()
    assert "Needed ahead, in no machine" in page
    assert "not fitted" in page


def test_life_far_beyond_all_others_is_flagged(viewer_client, shop, fitting):
    actions.log_wear(fitting=fitting, amount=Decimal(900), day=make.DAY)
    page = viewer_client.get(fitting.get_absolute_url()).content.decode()
    assert "Was a change not logged, or an entry made in the wrong pocket?" in page


def test_one_knife_is_logged_by_the_amount_of_its_bill(maker_client, shop, fitting):
    page = maker_client.get(fitting.get_absolute_url()).content.decode()
    assert 'name="amount" value="5.000000"' in page
    answer = send(maker_client, "fitting-log", fitting, amount="5.000000", operation="Mill")
    assert answer.status_code == 302
    log = WearLog.objects.get()
    assert (log.amount, log.operation, log.day) == (5, "Mill", timezone.localdate())


def test_stepper_multiplies_what_is_logged(maker_client, fitting):
    page = maker_client.get(f"{fitting.get_absolute_url()}?knives=3").content.decode()
    assert "3 × TRAIL" in page
    assert 'value="15.000000"' in page


@pytest.mark.parametrize("asked", ["²", "-3", "9" * 5000], ids=["raised", "negative", "endless"])
def test_odd_number_of_knives_to_log_is_answered_with_a_page(maker_client, fitting, asked):
    address = fitting.get_absolute_url()
    assert maker_client.get(address, {"knives": asked}).status_code == 200


@pytest.mark.parametrize("knives", ["0", "-1", "x", "9999999", ""])
def test_stepper_stays_between_one_and_a_big_batch(maker_client, fitting, knives):
    answer = maker_client.get(fitting.get_absolute_url(), {"knives": knives})
    assert 1 <= answer.context["knives"] <= 200


def test_batch_in_work_is_offered_whole_and_gets_the_entry(maker_client, shop, fitting):
    batch = make.in_work(shop.knife, 4)
    send(maker_client, "fitting-log", fitting, amount="5", batch=batch.number)
    page = maker_client.get(fitting.get_absolute_url()).content.decode()
    assert f"all that is left of {batch}" in page
    # Five knives are started for four good ones, 25 min in all; 5 of them are logged.
    assert "20 min" in page
    assert WearLog.objects.get().batch == batch


def test_same_tap_sent_twice_logs_once(maker_client, fitting):
    values = {"key": uuid.uuid4(), "amount": "5"}
    for _ in range(2):
        maker_client.post(reverse("fitting-log", args=[fitting.label]), values)
    assert WearLog.objects.count() == 1


def test_reading_at_the_limit_says_change_it(maker_client, shop, fitting):
    actions.save_item(values={"wear_limit_um": 200}, item=shop.cutter)
    answer = send(maker_client, "fitting-read", fitting, vb_um="200")
    assert WearReading.objects.get().vb_um == 200
    page = maker_client.get(answer.url).content.decode()
    assert "change it" in page
    assert "reached the limit of 200 µm" in page


def test_falling_wear_land_is_kept_and_warned_of(maker_client, shop, fitting):
    actions.save_item(values={"wear_limit_um": 300}, item=shop.cutter)
    for amount, vb in (("10", "150"), ("10", "120")):
        send(maker_client, "fitting-log", fitting, amount=amount)
        send(maker_client, "fitting-read", fitting, vb_um=vb)
    page = maker_client.get(fitting.get_absolute_url()).content.decode()
    assert "Wear falls from 150 at 10 to 120 at 20: measure again." in page
    assert "<svg" in page


def test_broken_cutter_ends_its_life_and_the_next_one_starts_at_nothing(maker_client, fitting):
    send(maker_client, "fitting-log", fitting, amount="40")
    answer = send(maker_client, "fitting-change", fitting, reason="broken", fit_next="on")
    fitting.refresh_from_db()
    next_one = Fitting.objects.get(removed_on=None)
    assert (fitting.end_reason, fitting.life_used) == ("broken", 40)
    assert (next_one.pocket, next_one.life_used) == (fitting.pocket, 0)
    assert answer.url == next_one.get_absolute_url()


def test_cutter_taken_out_leaves_the_pocket_empty(maker_client, fitting):
    answer = send(maker_client, "fitting-change", fitting, reason="removed_early")
    assert answer.url == "/cutters/"
    assert not Fitting.objects.filter(removed_on=None).exists()


def test_without_a_spare_no_next_one_is_offered(maker_client, shop, fitting):
    actions.issue_stock(item=shop.cutter, qty=Decimal(3), day=make.DAY, reason="scrap")
    page = maker_client.get(fitting.get_absolute_url()).content.decode()
    assert "None is here to fit" in page
    assert "a new one is in" not in page


def test_change_without_a_spare_is_refused_and_nothing_changes(maker_client, shop, fitting):
    actions.issue_stock(item=shop.cutter, qty=Decimal(3), day=make.DAY, reason="scrap")
    answer = send(maker_client, "fitting-change", fitting, reason="worn", fit_next="on")
    assert answer.status_code == 422
    fitting.refresh_from_db()
    assert fitting.is_fitted


def test_wrong_entry_is_taken_back_and_both_lines_stay(maker_client, fitting):
    send(maker_client, "fitting-log", fitting, amount="40")
    log = WearLog.objects.get()
    send(maker_client, "fitting-undo", fitting, log.pk)
    fitting.refresh_from_db()
    assert fitting.life_used == 0
    assert sorted(WearLog.objects.values_list("amount", flat=True)) == [-40, 40]
    assert "taken back" in maker_client.get(fitting.get_absolute_url()).content.decode()


def test_entry_may_be_moved_to_the_cutter_that_broke_that_day(maker_client, fitting):
    make.stock(fitting.item, 1)
    new = actions.swap(fitting=fitting, reason="broken", day=timezone.localdate())
    send(maker_client, "fitting-log", new, amount="16")
    entry = WearLog.objects.get()
    page = maker_client.get(reverse("fitting-move", args=[new.label, entry.pk]))
    assert f"pocket {fitting.pocket}: {fitting} ({fitting.item.code}), broken" in page.text
    send(maker_client, "fitting-move", new, entry.pk, to=fitting.label)
    fitting.refresh_from_db()
    assert fitting.life_used == 16


@pytest.mark.parametrize(
    ("name", "values", "words"),
    [
        ("fitting-log", {"amount": "0"}, "above zero"),
        ("fitting-log", {"amount": "5", "day": "2999-01-01"}, "in the future"),
        ("fitting-log", {"amount": "5", "day": "2001-01-01"}, "was fitted on"),
        ("fitting-log", {"amount": "much"}, "not a quantity"),
        ("fitting-read", {"vb_um": "6000"}, "Enter 0 to 5000"),
        ("fitting-change", {"reason": "bored"}, "not one of the available choices"),
    ],
    ids=["nothing", "tomorrow", "before it was fitted", "no number", "no wear land", "no reason"],
)
def test_entry_that_cannot_be_is_refused_in_words(maker_client, fitting, name, values, words):
    answer = send(maker_client, name, fitting, **values)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not WearLog.objects.exists()


def test_cutter_set_aside_goes_on_where_it_stopped(maker_client, shop, fitting):
    actions.log_wear(fitting=fitting, amount=Decimal(30), day=make.DAY)
    actions.remove(fitting=fitting, reason="removed_early", day=make.DAY)
    before = sum(Balance.objects.filter(item=shop.cutter).values_list("qty", flat=True))
    values = {
        "key": uuid.uuid4(),
        "item": shop.cutter.code,
        "machine": fitting.machine.pk,
        "pocket": "7",
        "continues": fitting.label,
        "day": "2025-03-04",
    }
    answer = maker_client.post(reverse("cutter-fit"), values)
    assert answer.status_code == 302, answer.context["form"].errors
    again = Fitting.objects.get(removed_on=None)
    assert (again.life_used, again.pocket) == (30, "7")
    assert sum(Balance.objects.filter(item=shop.cutter).values_list("qty", flat=True)) == before


def test_kind_without_any_knowledge_says_so(viewer_client, shop):
    blank = make.cutter("SAW", rated_life=None, rated_shape=None)
    make.fitted(blank, "2")
    page = viewer_client.get(reverse("cutter-item", args=["SAW"])).content.decode()
    assert "Neither a usual life nor a failure is known" in page
    make.plan(shop.knife, 1)
    assert "life not known" in viewer_client.get("/cutters/").content.decode()


def test_lists_come_as_csv(viewer_client, shop, fitting):
    actions.log_wear(fitting=fitting, amount=Decimal("12.5"), day=make.DAY)
    listed = b"".join(viewer_client.get("/cutters/?format=csv")).decode()
    assert f"Mill,1,{fitting.label},MILL-6,min,12.5," in listed
    url = reverse("cutter-item", args=[shop.cutter.code])
    lives = b"".join(viewer_client.get(f"{url}?format=csv")).decode()
    assert "12.5,min,still in use" in lives


def test_viewer_sees_the_cutter_but_no_button(viewer_client, fitting):
    page = viewer_client.get(fitting.get_absolute_url()).content.decode()
    assert "Log at the machine" not in page


@pytest.mark.parametrize("name", ["fitting-log", "fitting-read", "fitting-change"])
def test_viewer_may_not_log(viewer_client, fitting, name):
    assert (
        send(viewer_client, name, fitting, amount="5", vb_um="5", reason="worn").status_code == 403
    )
    assert not WearLog.objects.exists()


def test_only_the_owner_adds_a_machine(maker_client, owner_client, shop):
    url = reverse("machine-new")
    assert maker_client.post(url, {"key": uuid.uuid4(), "name": "Router"}).status_code == 403
    assert owner_client.post(url, {"key": uuid.uuid4(), "name": "Router"}).status_code == 302


def test_list_asks_the_database_the_same_however_many_pockets(
    viewer_client, shop, django_assert_max_num_queries
):
    for number in range(12):
        make.fitted(make.cutter(f"MILL-{number + 10}"), f"T{number}")
    for start in range(6):
        make.plan(shop.knife, 3, make.days(start))
    with django_assert_max_num_queries(36):
        viewer_client.get("/cutters/")


def test_entry_that_makes_the_life_too_long_to_be_true_is_asked_back_once(maker_client):
    make.shop()
    one = make.fitted(make.cutter(), "4")
    url = reverse("fitting-log", args=[one.label])
    typed = {"key": str(uuid.uuid4()), "amount": "999999"}
    asked = maker_client.post(url, typed).content.decode()
    assert "far beyond its usual life" in asked
    assert 'type="checkbox" name="sure"' in asked
    assert not one.logs.exists()
    assert maker_client.post(url, typed | {"sure": "on"}).status_code == 302
    assert one.logs.get().amount == 999_999


def test_batch_in_work_reminds_to_log_before_the_change(maker_client):
    trail = make.knife_shop()
    one = trail.cutter.fittings.get()
    actions.log_wear(fitting=one, amount=Decimal(5), day=make.DAY)
    batch = make.in_work(trail.knife, 8, start=10)
    page = maker_client.get(one.get_absolute_url()).content.decode()
    assert f"{batch} is in work with 50 min not logged yet" in page
