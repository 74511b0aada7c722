"""Signing in, the first run, and the settings of a person."""

from typing import Any

from django import forms
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.decorators import method_decorator

from inventory.actions import choose_units, set_up_shop
from inventory.exchange.backup import KEPT
from inventory.models import User
from inventory.pages.forms import ActionForm, ActionPage
from inventory.queries.backups import newest_backup

MODEL_BACKEND = "django.contrib.auth.backends.ModelBackend"


class NameAndPassword(ActionForm):
    """Fields of a new account; the action judges the password."""

    username = forms.SlugField(
        label="Sign-in name", max_length=60, help_text="Letters, figures, - and _."
    )
    password = forms.CharField(
        max_length=128,
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
        help_text="At least 8 characters, not a common one.",
    )


class SignInForm(AuthenticationForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, label_suffix="", **kwargs)
        self.fields["username"].label = "Sign-in name"


class SignIn(LoginView):
    """The only door; while there is no account it leads to the first run."""

    template_name = "account/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if not User.objects.exists():
            return HttpResponseRedirect(reverse("welcome"))
        return super().get(request, *args, **kwargs)


class WelcomeForm(NameAndPassword):
    field_order = ["name", "currency", "username", "password"]
    name = forms.CharField(label="Name of the shop", max_length=80)
    currency = forms.CharField(
        max_length=8, initial="EUR", help_text="As it stands behind amounts: EUR, USD."
    )


@method_decorator(login_not_required, name="dispatch")
class Welcome(ActionPage):
    """First run: names the shop and makes the owner's account. Closed once there is one."""

    role = "anyone"
    form_class = WelcomeForm
    heading = "Set up your shop"
    sub = "Once, at the first start. Items, suppliers and products come after it."
    submit_label = "Open the shop"
    done_message = "The shop is open. Begin with the items you keep."

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if User.objects.exists():
            return HttpResponseRedirect(reverse("login"))
        return super().dispatch(request, *args, **kwargs)

    def act(self, form: WelcomeForm) -> User:
        return set_up_shop(**form.values, key=form.cleaned_data["key"])

    def done_url(self, result: User) -> str:
        login(self.request, result, backend=MODEL_BACKEND)
        return reverse("stock")


class UnitsForm(ActionForm):
    length_unit = forms.ChoiceField(label="Lengths in", choices=User.LengthUnit)
    mass_unit = forms.ChoiceField(label="Masses in", choices=User.MassUnit)


class Settings(ActionPage):
    """A person's own units; the owner also finds the shop's figures, people and backups here."""

    role = "viewer"
    template_name = "account/settings.html"
    form_class = UnitsForm
    heading = "Settings"
    submit_label = "Use these units"
    done_message = "Quantities are shown in these units now. You may type any unit anywhere."

    def get_initial(self) -> dict:
        user = self.request.user
        return {"length_unit": user.length_unit, "mass_unit": user.mass_unit}

    def act(self, form: UnitsForm) -> User:
        return choose_units(**form.asked)

    def done_url(self, result: User) -> str:
        return reverse("settings")

    def get_context_data(self, **kwargs: Any) -> dict:
        if self.request.user.is_owner:
            kwargs |= {
                "people": User.objects.order_by("username"),
                "backup": newest_backup(),
                "kept_backups": KEPT,
            }
        return super().get_context_data(**kwargs)
