"""Who may open a page: everyone signed in reads, makers write, the owner changes what things are."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse

REFUSED = {
    "maker": "This page changes the stock. Your account may only look.",
    "owner": "Only the owner changes items, products, suppliers and people.",
}


def check_role(user: Any, role: str) -> None:
    """Raise PermissionDenied with a sentence when the user doesn't have the role."""
    allowed = {"viewer": True, "maker": user.may_write, "owner": user.is_owner}[role]
    if not allowed:
        raise PermissionDenied(REFUSED[role])


def role_required(role: str) -> Callable:
    """Decorate a view function: role_required("maker") or role_required("owner")."""

    def decorate(view: Callable) -> Callable:
        @wraps(view)
        def checked(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            check_role(request.user, role)
            return view(request, *args, **kwargs)

        return checked

    return decorate


class RoleRequired:
    """The same for a class-based view: set `role`; "anyone" is for pages before signing in."""

    role = "viewer"

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if self.role != "anyone":
            check_role(request.user, self.role)
        return super().dispatch(request, *args, **kwargs)
