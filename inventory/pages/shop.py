"""What the owner sets for all: the shop's figures, who works here, where stock lies."""

from typing import Any

from django import forms
from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.urls import reverse

from inventory.actions import add_user, change_role, save_place, save_shop
from inventory.models import Place, Shop, Supplier, User
from inventory.pages.account import NameAndPassword
from inventory.pages.forms import ActionForm, ActionPage
from inventory.pages.record_form import RecordForm


class OwnersPage(ActionPage):
    """A form of the settings that leads back to them."""

    role = "owner"

    def done_url(self, result: Any) -> str:
        return reverse("settings")

    def back_url(self) -> str:
        return reverse("settings")


class ShopForm(RecordForm):
    class Meta:
        model = Shop
        fields = [
            *["name", "currency", "hour_cost", "holding_rate", "service_level"],
            *["start_confidence", "wear_confidence", "review_days"],
        ]
        help_texts = {
            "service_level": "0.95 means that 95 of 100 order cycles pass without a shortage.",
            "start_confidence": "How many to start follows from it.",
            "wear_confidence": "How many spare cutters to lay out follows from it.",
        }


class EditShop(OwnersPage):
    form_class = ShopForm
    heading = "The shop's figures"
    done_message = "The figures are saved. The next forecast uses them."

    def get_form_kwargs(self) -> dict:
        return {**super().get_form_kwargs(), "instance": Shop.objects.get()}

    def act(self, form: ShopForm) -> Shop:
        return save_shop(values=form.values, by=form.user, key=form.cleaned_data["key"])


class PersonForm(NameAndPassword):
    field_order = ["username", "first_name", "role", "password"]
    first_name = forms.CharField(label="Name", max_length=60, required=False)
    role = forms.ChoiceField(
        choices=User.Role.choices,
        initial=User.Role.MAKER,
        help_text="A maker books stock, batches and wear; a viewer only looks.",
    )


class NewPerson(OwnersPage):
    form_class = PersonForm
    heading = "Add a person"
    submit_label = "Add"

    def act(self, form: PersonForm) -> User:
        return add_user(**form.asked)

    def message_for(self, result: User) -> str:
        return f"{result.username} can sign in as {result.get_role_display()}."


class RoleForm(ActionForm):
    role = forms.ChoiceField(choices=User.Role.choices)
    is_active = forms.BooleanField(label="May sign in", required=False)


class ChangePerson(OwnersPage):
    form_class = RoleForm

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.person = get_object_or_404(User, username=kwargs["username"])
        self.heading = f"Role of {self.person.username}"

    def get_initial(self) -> dict:
        return {"role": self.person.role, "is_active": self.person.is_active}

    def act(self, form: RoleForm) -> User:
        return change_role(user=self.person, **form.asked)

    def message_for(self, result: User) -> str:
        may = "" if result.is_active else ", who can't sign in any more"
        return f"{result.username} is {result.get_role_display()}{may}."


class PlaceForm(ActionForm):
    name = forms.CharField(max_length=60, help_text="As it is written on the shelf.")
    supplier = forms.ModelChoiceField(
        Supplier.objects.filter(is_vendor=True),
        label="At the vendor",
        required=False,
        empty_label="in the shop",
    )


class NewPlace(OwnersPage):
    form_class = PlaceForm
    heading = "Add a place"
    submit_label = "Add"

    def act(self, form: PlaceForm) -> Place:
        return save_place(**form.asked)

    def message_for(self, result: Place) -> str:
        return f"Stock can lie at {result.name} now."
