"""The shop set up for the first time, and who works in it."""

from collections.abc import Mapping
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from inventory.actions.posting import ORIGIN
from inventory.actions.request import action
from inventory.errors import Refused, WrongState
from inventory.models import Place, Shop, User


@action
def set_up_shop(
    *,
    name: str,
    currency: str,
    username: str,
    password: str,
    settings: Mapping[str, Any] | None = None,
) -> User:
    """Name the shop and make its owner's account; only while nobody has one."""
    if User.objects.exists():
        raise WrongState("This shop has an owner already. Sign in.")
    shop = Shop(pk=1, name=name, currency=currency, **(settings or {}))
    _clean(shop)
    shop.save()
    Place.objects.get_or_create(name=ORIGIN)
    return _new_user(username, password, User.Role.OWNER, "")


@action
def add_user(
    *, username: str, password: str, role: str, first_name: str = "", by: User | None = None
) -> User:
    """Add somebody as owner, maker or viewer."""
    return _new_user(username, password, role, first_name)


@action
def save_shop(*, values: Mapping[str, Any], by: User | None = None) -> Shop:
    """Change the shop's settings."""
    shop = Shop.objects.get()
    for field, value in values.items():
        setattr(shop, field, value)
    _clean(shop)
    shop.save(update_fields=list(values))
    return shop


@action
def choose_units(*, length_unit: str, mass_unit: str, by: User) -> User:
    """Set the units in which one person sees lengths and masses; stock stays in its own units."""
    by.length_unit, by.mass_unit = length_unit, mass_unit
    _clean(by)
    by.save(update_fields=["length_unit", "mass_unit"])
    return by


@action
def change_role(*, user: User, role: str, is_active: bool = True, by: User | None = None) -> User:
    """Give a person another role, or close the account.

    Refuses to leave the shop without an owner who can sign in.
    """
    others = User.objects.filter(role=User.Role.OWNER, is_active=True).exclude(pk=user.pk)
    if (role != User.Role.OWNER or not is_active) and not others.exists():
        raise Refused(f"{user.username} is the only owner. Make somebody else an owner first.")
    user.role, user.is_active = role, is_active
    _clean(user)
    user.save(update_fields=["role", "is_active"])
    return user


def _new_user(username: str, password: str, role: str, first_name: str) -> User:
    user = User(username=username, role=role, first_name=first_name)
    try:
        validate_password(password, user)
    except ValidationError as error:
        raise Refused(f"Password: {' '.join(error.messages)}") from error
    user.set_password(password)
    _clean(user)
    user.save()
    return user


def _clean(record: Shop | User) -> None:
    try:
        record.full_clean()
    except ValidationError as error:
        raise Refused(" ".join(error.messages)) from error
