"""At the machine with one thumb: used, measured, broke; and at the laptop, how long they last."""

from decimal import Decimal

import pytest
from django.urls import reverse

from inventory import actions
from inventory.models import Fitting, WearLog, WearReading
from tests import factories as make

SMALLEST_TARGET = 44


@pytest.fixture
def shop(transactional_db):
    """One cutter fitted with a past of seven lives, and a batch ahead."""
    trail = make.knife_shop()
    actions.save_item(values={"wear_limit_um": 200}, item=trail.cutter)
    make.stock(trail.cutter, 10)
    one = Fitting.objects.get()
    for life in (95, 110, 120, 124, 130, 142):
        actions.log_wear(fitting=one, amount=Decimal(life), day=make.DAY)
        one = actions.swap(fitting=one, reason="worn", day=make.DAY)
    actions.log_wear(fitting=one, amount=Decimal(40), day=make.DAY)
    one.refresh_from_db()
    actions.read_wear(fitting=one, vb_um=60, day=make.DAY)
    make.plan(trail.knife, 12)
    return trail


@pytest.fixture
def fitting(shop):
    return Fitting.objects.get(removed_on=None)


def open_pocket(page):
    page.goto("/cutters/")
    page.locator("a.pocket").tap()


def small_targets(page):
    return page.locator(".thumb :is(summary, button, a):visible").evaluate_all(
        "(found, least) => found.map(one => one.getBoundingClientRect())"
        ".filter(box => box.height < least || box.width < least).length",
        SMALLEST_TARGET,
    )


def test_one_knife_is_logged_in_three_taps(phone, fitting):
    open_pocket(phone)
    phone.locator("summary", has_text="Used").tap()
    phone.get_by_role("button", name="1 × TRAIL").tap()
    phone.get_by_text(f"5 min logged on {fitting.label}.").wait_for()
    assert WearLog.objects.filter(fitting=fitting).latest("pk").amount == 5


def test_plus_makes_it_three_knives_without_typing(phone, fitting):
    open_pocket(phone)
    phone.locator("summary", has_text="Used").tap()
    for count in ("2", "3"):
        phone.get_by_role("button", name="One more").or_(phone.get_by_label("One more")).tap()
        phone.locator("output", has_text=count).wait_for()
    phone.get_by_role("button", name="3 × TRAIL").tap()
    phone.get_by_text("15 min logged").wait_for()


def test_wear_land_is_noted_in_three_taps(phone, fitting):
    open_pocket(phone)
    phone.locator("summary", has_text="Measured").tap()
    phone.get_by_role("button", name="125").tap()
    phone.get_by_text("125 µm noted").wait_for()
    assert WearReading.objects.latest("pk").vb_um == 125


def test_broken_cutter_is_changed_in_three_taps(phone, fitting):
    open_pocket(phone)
    phone.locator("summary", has_text="Broke").tap()
    phone.get_by_role("button", name="Broke, a new one is in").tap()
    phone.get_by_text(f"{fitting.label} is out.").wait_for()
    fitting.refresh_from_db()
    assert fitting.end_reason == "broken"
    assert Fitting.objects.get(removed_on=None).life_used == 0


def test_worn_cutter_is_changed_in_three_taps(phone, fitting):
    open_pocket(phone)
    phone.locator("summary", has_text="Changed").tap()
    phone.get_by_role("button", name="Worn, a new one is in").tap()
    phone.get_by_text(f"{fitting.label} is out.").wait_for()
    assert Fitting.objects.get(pk=fitting.pk).end_reason == "worn"


def test_reground_one_goes_in_by_three_taps_and_asks_for_its_offset(phone, axe, fitting):
    worn = Fitting.objects.filter(end_reason="worn").first()
    out = actions.send_to_regrind(fitting=worn, day=make.DAY)
    actions.bring_back_reground(regrind=out, day=make.DAY, diameter_um=5_920)
    open_pocket(phone)
    phone.locator("summary", has_text="Changed").tap()
    phone.get_by_role("button", name=f"Worn, {worn.label} reground is in (5.92 mm)").tap()
    phone.get_by_text("Set its offset to the measured diameter of 5.92 mm").wait_for()
    axe(phone)
    assert Fitting.objects.get(removed_on=None).label == f"{worn.label}-R1"


@pytest.mark.parametrize("choice", ["Used", "Measured", "Changed", "Broke"])
def test_no_choice_at_the_machine_asks_for_the_keyboard(phone, fitting, choice):
    """A scanned label opens the same page, one tap sooner."""
    phone.goto(f"/l/{fitting.label}")
    phone.locator("summary", has_text=choice).tap()
    assert phone.locator(".thumb :is(input:not([type=hidden]), textarea, select)").count() == 0
    assert phone.evaluate("document.activeElement.tagName") == "SUMMARY"


def test_opening_one_choice_closes_the_other(phone, fitting):
    open_pocket(phone)
    phone.locator("summary", has_text="Used").tap()
    phone.locator("summary", has_text="Broke").tap()
    assert phone.locator(".thumb details[open]").count() == 1


@pytest.mark.parametrize("choice", ["Used", "Measured", "Changed", "Broke"])
def test_every_target_is_big_enough_for_a_thumb(phone, axe, fitting, choice):
    open_pocket(phone)
    phone.locator("summary", has_text=choice).tap()
    assert phone.locator(".thumb details[open] :is(a, button)").count() >= 1
    assert small_targets(phone) == 0
    assert phone.evaluate("document.documentElement.scrollWidth") == 390
    axe(phone)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("device", ["phone", "laptop"])
def test_pages_are_accessible_in_both_lights(request, axe, fitting, device, scheme):
    page = request.getfixturevalue(device)
    page.emulate_media(color_scheme=scheme)
    kind = reverse("cutter-item", args=[fitting.item.code])
    for address in ("/cutters/", fitting.get_absolute_url(), kind):
        page.goto(address)
        page.locator("svg[role=img]").first.wait_for()
        axe(page)
        assert page.evaluate("document.documentElement.scrollWidth") == page.viewport_size["width"]


def test_without_javascript_the_same_taps_log(open_page, maker, fitting, browser_name):
    device = {"viewport": {"width": 390, "height": 844}}
    page = open_page(maker, device, java_script_enabled=False)
    page.goto(f"{fitting.get_absolute_url()}?knives=2")
    page.get_by_role("button", name="2 × TRAIL").click()
    page.get_by_text("10 min logged").wait_for()


def test_belt_is_seen_half_worn_in_three_taps(phone, fitting):
    kind = make.item("BELT", "abrasive", life_unit="pieces", rated_life=Decimal(30))
    belt = make.fitted(kind, "belt")
    phone.goto("/cutters/")
    phone.get_by_role("link", name=belt.label).tap()
    phone.locator("summary", has_text="Measured").tap()
    phone.get_by_role("button", name="Half worn").tap()
    phone.get_by_text(f"{belt.label} noted as half worn.").wait_for()


def test_worn_cutter_is_reground_and_fitted_again_by_thumb(phone, axe, fitting):
    actions.remove(fitting=fitting, reason="worn", day=make.DAY)
    phone.goto(fitting.get_absolute_url())
    phone.get_by_role("link", name="Send it to be reground").tap()
    phone.get_by_role("button", name="It is on its way").tap()
    phone.get_by_role("link", name=fitting.label).tap()
    phone.get_by_role("link", name="It is back").tap()
    phone.get_by_label("Measured diameter").fill("5.92")
    phone.get_by_role("button", name="It is back").tap()
    phone.get_by_role("link", name="Fit it again").wait_for()
    axe(phone)
    phone.get_by_role("link", name="Fit it again").tap()
    phone.get_by_role("button", name="Fit it").tap()
    phone.get_by_text(f"{fitting.label}-R1 is in Mill, pocket").wait_for()
