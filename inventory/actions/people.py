"""What people may do, and the units they read in."""

from inventory.actions.request import action
from inventory.errors import Refused
from inventory.models import User


@action
def choose_units(*, length_unit: str, mass_unit: str, by: User) -> User:
    """Set the units in which one person sees lengths and masses; stock stays in its own units."""
    by.length_unit, by.mass_unit = length_unit, mass_unit
    by.full_clean(exclude=["password"])
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
    user.full_clean(exclude=["password"])
    user.save(update_fields=["role", "is_active"])
    return user
