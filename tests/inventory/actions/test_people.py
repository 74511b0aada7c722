import pytest

from inventory import actions
from inventory.errors import Refused, WrongState
from inventory.models import Place, Shop, User
from tests.factories import D

pytestmark = pytest.mark.django_db

PASSWORD = "brass-liner-and-bolt"


def set_up(**values):
    asked = {"name": "Thornwick", "currency": "EUR", "username": "ada", "password": PASSWORD}
    return actions.set_up_shop(**{**asked, **values})


def test_first_person_is_the_owner_of_a_shop_with_a_place():
    person = set_up()
    assert person.is_owner
    assert person.check_password(PASSWORD)
    assert (Shop.objects.get().name, Place.objects.get().name) == ("Thornwick", "Shop")


def test_shop_is_set_up_once():
    set_up()
    with pytest.raises(WrongState, match="has an owner already"):
        set_up(username="eve")
    assert User.objects.count() == 1


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"password": "ada"}, "too short"),
        ({"password": "password123"}, "too common"),
        ({"settings": {"service_level": D(1)}}, "chances"),
        ({"username": "a b"}, "valid username"),
    ],
    ids=["short password", "common password", "certain service", "bad name"],
)
def test_set_up_that_is_refused_leaves_no_shop(values, words):
    with pytest.raises(Refused, match=words):
        set_up(**values)
    assert not Shop.objects.exists()
    assert not User.objects.exists()


def test_shop_keeps_an_owner_who_can_sign_in():
    ada = set_up()
    with pytest.raises(Refused, match="is the only owner"):
        actions.change_role(user=ada, role="maker")
    with pytest.raises(Refused, match="is the only owner"):
        actions.change_role(user=ada, role="owner", is_active=False)
    actions.add_user(username="bo", password=PASSWORD, role="owner")
    assert actions.change_role(user=ada, role="maker").role == "maker"


def test_name_is_given_once():
    set_up()
    with pytest.raises(Refused, match="already exists"):
        actions.add_user(username="ada", password=PASSWORD, role="maker")


@pytest.mark.parametrize(
    ("role", "may_write", "is_owner"),
    [("owner", True, True), ("maker", True, False), ("viewer", False, False)],
)
def test_roles_say_what_a_person_may_do(role, may_write, is_owner):
    person = actions.add_user(username="cy", password=PASSWORD, role=role)
    assert (person.may_write, person.is_owner) == (may_write, is_owner)


def test_unknown_role_is_refused():
    with pytest.raises(Refused, match="chief"):
        actions.add_user(username="cy", password=PASSWORD, role="chief")


def test_units_are_a_matter_of_the_reader():
    person = set_up()
    changed = actions.choose_units(by=person, length_unit="in", mass_unit="oz")
    assert (changed.length_unit, changed.mass_unit) == ("in", "oz")
    with pytest.raises(Refused, match="ell"):
        actions.choose_units(by=person, length_unit="ell", mass_unit="g")


def test_settings_of_the_shop_change():
    set_up()
    assert actions.save_shop(values={"review_days": 14}).review_days == 14
    with pytest.raises(Refused):
        actions.save_shop(values={"holding_rate": D("12345.6")})
