"""Signing in, the first run, and the settings of a person."""

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.urls import reverse

from inventory.actions.people import choose_units
from inventory.models import User
from inventory.pages.forms import ActionForm, ActionPage


class SignInForm(AuthenticationForm):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, label_suffix="", **kwargs)
        self.fields["username"].label = "Sign-in name"


class SignIn(LoginView):
    template_name = "account/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True


class UnitsForm(ActionForm):
    length_unit = forms.ChoiceField(label="Lengths in", choices=User.LengthUnit)
    mass_unit = forms.ChoiceField(label="Masses in", choices=User.MassUnit)


class Settings(ActionPage):
    """A person's own units; the owner also sees who works here."""

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
        people = User.objects.order_by("username") if self.request.user.is_owner else ()
        return super().get_context_data(people=people, **kwargs)
