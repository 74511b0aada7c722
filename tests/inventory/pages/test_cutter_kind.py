"""How long one kind lasts, unlike work side by side, and when a change pays."""

import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from inventory import actions
from inventory.models import Fitting
from tests import factories as make

pytestmark = pytest.mark.django_db

HARD, SOFT = (60, 65, 68, 70, 72, 75), (140, 150, 160, 165, 170, 180)


@pytest.fixture
def shop():
    return make.knife_shop()


def lives_ended(item, *ends, pocket="9", **values):
    """One life after the other in a pocket, each as (life, reason); the last one is still new."""
    make.stock(item, len(ends) + 1)
    one = make.fitted(item, pocket, **values)
    for life, reason in ends:
        actions.log_wear(fitting=one, amount=Decimal(life), day=make.DAY, operation="Mill")
        one = actions.swap(fitting=one, reason=reason, day=make.DAY)
    return one


def worn(*lives):
    return [(life, "worn") for life in lives]


def page_of(client, item, **asked):
    return client.get(reverse("cutter-item", args=[item.code]), asked)


def test_kind_with_few_failures_says_that_it_leans_on_the_usual_life(viewer_client, shop):
    lives_ended(shop.cutter, ("100", "worn"), ("80", "broken"), ("50", "removed_early"))
    page = page_of(viewer_client, shop.cutter).content.decode()
    assert "2 failures seen" in page
    assert "fewer than 5 are too few" in page
    assert "usual life entered for the item" in page


def test_kind_with_enough_failures_stands_on_its_records(viewer_client, shop):
    ends = [(str(life), "worn") for life in (90, 100, 110, 120, 130, 140)]
    lives_ended(shop.cutter, *ends, ("60", "removed_early"))
    answer = page_of(viewer_client, shop.cutter)
    kind = answer.context["kind"]
    assert not kind.model.from_expectation
    assert "6 failures seen" in answer.content.decode()
    assert {share.reason: share.count for share in kind.shares} == {"worn": 6, "removed early": 1}


def test_change_policy_follows_the_costs_typed(viewer_client, shop):
    lives_ended(shop.cutter, *[(str(life), "worn") for life in (110, 115, 118, 120, 122, 125)])
    url = reverse("cutter-item", args=[shop.cutter.code])
    dear = viewer_client.get(url, {"planned": "10", "failure": "300"}).context["policy"]
    cheap = viewer_client.get(url, {"planned": "10", "failure": "10"}).context["policy"]
    assert dear.age is not None
    assert cheap.age is None


def test_new_revision_starts_without_the_old_lives(viewer_client, shop):
    lives_ended(shop.cutter, ("100", "worn"), ("110", "worn"))
    actions.save_item(values={"revision": 2}, item=shop.cutter)
    kind = page_of(viewer_client, shop.cutter).context["kind"]
    assert kind.counted == []
    assert len(kind.lives) == 4


def test_lives_in_unlike_material_stand_side_by_side_and_are_judged_apart(viewer_client, shop):
    lives_ended(shop.cutter, *worn(*SOFT), pocket="8", work_material="annealed bar")
    last = lives_ended(shop.cutter, *worn(*HARD), work_material="hardened bar")
    answer = page_of(viewer_client, shop.cutter)
    page = answer.content.decode()
    assert "By work material" in page
    assert "Unlike: chance alone makes such a difference in under 1\u202f% of cases." in page
    actions.remove(
        fitting=Fitting.objects.get(pocket="8", removed_on=None), reason="lost", day=make.DAY
    )
    actions.remove(fitting=Fitting.objects.get(pocket="1"), reason="lost", day=make.DAY)
    actions.log_wear(fitting=last, amount=Decimal(5), day=make.DAY)
    judged = page_of(viewer_client, shop.cutter).context["kind"].model
    assert judged.failures == len(HARD)
    assert judged.words.startswith("Lives in hardened bar alone, the others are unlike.")


def test_one_kind_of_work_is_shown_by_itself(viewer_client, shop):
    lives_ended(shop.cutter, *worn(*SOFT), pocket="8", work_material="annealed bar")
    lives_ended(shop.cutter, *worn(*HARD), work_material="hardened bar")
    answer = page_of(viewer_client, shop.cutter, by="work material", of="annealed bar")
    assert answer.context["kind"].model.weibull.mean == pytest.approx(160, rel=0.05)
    assert "Lives of annealed bar alone." in answer.content.decode()


def test_few_lives_of_unlike_work_are_shown_but_not_judged(viewer_client, shop):
    lives_ended(shop.cutter, *worn(100, 110), pocket="8", cutting_data="90 m/min")
    lives_ended(shop.cutter, *worn(50, 40), cutting_data="120 m/min")
    page = page_of(viewer_client, shop.cutter).content.decode()
    assert "By speed, feed and depth" in page
    assert "Too few failures to tell them apart" in page


def test_reground_ones_stand_beside_new_ones(viewer_client, shop):
    make.fitted(shop.cutter, "5", regrinds=1)
    for one in Fitting.objects.all():
        actions.log_wear(fitting=one, amount=Decimal(20), day=make.DAY)
    page = page_of(viewer_client, shop.cutter).content.decode()
    assert "By grinding" in page
    assert "They are compared, never counted together." in page
    assert "New ones alone" in page
    alone = page_of(viewer_client, shop.cutter, by="grinding", of="reground once")
    assert "New ones alone" not in alone.content.decode()
    assert "0 failed, 1 still good" in page


def test_revisions_are_compared_and_never_counted_together(viewer_client, shop):
    lives_ended(shop.cutter, *worn(*HARD))
    actions.save_item(values={"revision": 2}, item=shop.cutter)
    shop.cutter.refresh_from_db()
    lives_ended(shop.cutter, *worn(*SOFT), pocket="8")
    answer = page_of(viewer_client, shop.cutter)
    assert answer.context["kind"].model.failures == len(SOFT)
    page = answer.content.decode()
    assert "By item revision" in page
    assert "Each revision has its own record." in page
    old = page_of(viewer_client, shop.cutter, by="item revision", of="revision 1")
    assert old.context["kind"].model.failures == len(HARD)


def test_trait_that_does_not_exist_is_passed_over(viewer_client, shop):
    assert page_of(viewer_client, shop.cutter, by="moon", of="full").status_code == 200


def test_life_too_long_to_be_true_is_marked_left_out_and_counted_when_confirmed(maker_client, shop):
    lives_ended(shop.cutter, *worn(100, 110, 900))
    wrong = Fitting.objects.get(life_used=900)
    page = page_of(maker_client, shop.cutter).content.decode()
    assert f'Left out: <a href="{wrong.get_absolute_url()}">' in page
    assert "2 failures seen" in page
    assert (
        "Count this life all the same"
        in maker_client.get(wrong.get_absolute_url()).content.decode()
    )
    maker_client.post(reverse("fitting-confirm", args=[wrong.label]), {"key": uuid.uuid4()})
    page = page_of(maker_client, shop.cutter).content.decode()
    assert "too long to be true" not in page
    assert "3 failures seen" in page


# When to change


def test_costs_come_from_price_bench_time_and_a_spoilt_knife(viewer_client, shop):
    make.shop(hour_cost=Decimal(60))
    answer = page_of(viewer_client, shop.cutter)
    form = answer.context["cost_form"]
    # One costs 18, ten minutes at 60 an hour are 10; a blank of 240 mm at 0.02 is spoilt.
    assert form["planned"].value() == Decimal("28.00")
    assert form["failure"].value() == Decimal("32.80")
    page = answer.content.decode()
    assert "18.00 EUR for one and 10.00 EUR for ten minutes at the bench" in page
    assert "4.80 EUR more, the material of a spoilt knife" in page


def test_costs_stated_for_the_item_come_first(viewer_client, shop):
    values = {"change_cost": Decimal(25), "failure_cost": Decimal(90)}
    actions.save_item(values=values, item=shop.cutter)
    form = page_of(viewer_client, shop.cutter).context["cost_form"]
    assert (form["planned"].value(), form["failure"].value()) == (25, 90)


def test_change_in_time_says_what_it_saves_in_a_thousand_minutes(viewer_client, shop):
    lives_ended(shop.cutter, *worn(110, 115, 118, 120, 122, 125))
    answer = page_of(viewer_client, shop.cutter, planned="10", failure="300")
    policy = answer.context["policy"]
    saved = policy.saved_over(1000)
    assert f"That saves about {saved:,.2f}".replace(",", "\u202f") in answer.content.decode()
    assert '<circle class="dot"' in answer.context["cost_chart"]


def test_change_in_time_that_never_pays_says_replace_on_failure(viewer_client, shop):
    lives_ended(shop.cutter, *[(life, "broken") for life in (5, 20, 60, 90, 150, 320)])
    answer = page_of(viewer_client, shop.cutter, planned="10", failure="300")
    page = answer.content.decode()
    assert "Replace on failure, keep a spare" in page
    assert "Run until they fail, " in page
    assert '<circle class="dot"' not in answer.context["cost_chart"]


def test_change_in_time_dearer_than_a_failure_is_drawn_and_never_pays(viewer_client, shop):
    answer = page_of(viewer_client, shop.cutter, planned="1000", failure="1")
    assert answer.context["policy"].age is None
    assert "<polyline" in answer.context["cost_chart"]


def test_without_any_price_the_costs_are_a_ratio(viewer_client):
    make.shop()
    fitting = make.fitted(make.cutter())
    page = page_of(viewer_client, fitting.item).content.decode()
    assert "the costs stand as a ratio" in page


# At another speed


def test_another_speed_is_a_marked_assumption(viewer_client, shop):
    lives_ended(shop.cutter, *worn(*SOFT))
    asked = {"speed": "100", "new_speed": "80", "material": "carbide", "exponent": "0.25"}
    answer = page_of(viewer_client, shop.cutter, **asked)
    mean = answer.context["kind"].model.weibull.mean
    # V T**n = C: a fifth slower at n = 0.25 is 1.25**4 = 2.44 times the life.
    assert f"About {mean * 1.25**4:.1f} min on average" in answer.content.decode()
    assert "not from your records" in answer.content.decode()


def test_exponent_that_no_such_cutter_has_is_doubted(viewer_client, shop):
    asked = {"speed": "100", "new_speed": "80", "material": "HSS", "exponent": "0.5"}
    page = page_of(viewer_client, shop.cutter, **asked).content.decode()
    assert "An exponent of 0.5 is unusual: turning with HSS gives 0.08 to 0.2." in page


@pytest.mark.parametrize("new_speed", ["0", "fast", "1e99", "nan", "900"])
def test_impossible_speed_is_refused_on_the_page(viewer_client, shop, new_speed):
    asked = {"speed": "100", "new_speed": new_speed, "material": "HSS", "exponent": "0.1"}
    answer = page_of(viewer_client, shop.cutter, **asked)
    assert answer.status_code == 200
    assert answer.context["other_speed"] == ""


@pytest.mark.parametrize("planned", ["1e400", "99999999999999999999999999", "NaN", "-1"])
def test_cost_that_can_not_be_is_refused_and_the_page_stays(viewer_client, planned):
    make.shop()
    item = make.cutter(rated_life=100)
    page = viewer_client.get(
        reverse("cutter-item", args=[item.code]), {"planned": planned, "failure": "1e308"}
    )
    assert page.status_code == 200
    assert page.context["cost_form"].errors


def test_failure_with_nothing_logged_is_named(viewer_client, shop):
    gone = make.fitted(shop.cutter, "9")
    actions.remove(fitting=gone, reason="broken", day=make.DAY)
    page = page_of(viewer_client, shop.cutter).content.decode()
    assert f'logged on it: <a href="{gone.get_absolute_url()}">{gone}</a> (broken).' in page


def test_costs_are_read_with_a_decimal_comma(viewer_client, shop):
    make.shop()
    answer = page_of(viewer_client, shop.cutter, planned="28,5", failure="90,25")
    assert answer.context["cost_form"].is_valid()
    assert answer.context["cost_form"].cleaned_data["planned"] == Decimal("28.5")
