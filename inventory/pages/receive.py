"""A delivery into stock without an order; receive_line books one against an order."""

from decimal import Decimal
from typing import Any

from django import forms
from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.urls import reverse

from inventory.actions import receive_delivery
from inventory.models import Item, Lot, Place, Supplier
from inventory.models.piece import size_in_stock_unit
from inventory.pages import display
from inventory.pages.attachments import AttachmentField
from inventory.pages.forms import (
    ActionForm,
    ActionPage,
    DayField,
    LengthField,
    PiecesField,
    QuantityFormField,
)
from inventory.pages.thickness_words import thickness_warning
from inventory.queries.stock import open_orders_of

ARRIVES_AS = [
    (Lot.Status.RELEASED, "ready to use"),
    (Lot.Status.RECEIVED, "received, still to be looked at"),
    (Lot.Status.QUARANTINE, "quarantine, until a test is done"),
    (Lot.Status.UNKNOWN, "lot unknown, for practice only"),
]


class ReceiveForm(ActionForm):
    qty = QuantityFormField(
        label="How much came", help_text="In any unit or in packs: 48 in, 2.5 lb, 2 bags."
    )
    pieces = PiecesField(
        label="Which pieces came",
        help_text="A size a line, with a count if there are several alike: 4 of 305 x 610 mm. "
        "The length along the grain comes first.",
    )
    day = DayField(label="Day it came")
    supplier = forms.ModelChoiceField(
        Supplier.objects.all(), required=False, empty_label="not said"
    )
    maker_number = forms.CharField(
        label="Heat, colour or batch number", max_length=60, required=False
    )
    made_on = DayField(label="Day of manufacture", required=False, initial=None)
    expires_on = DayField(
        label="Use by", required=False, initial=None, help_text="Empty: from the shelf life."
    )
    status = forms.ChoiceField(label="It is", choices=ARRIVES_AS)
    paid = forms.DecimalField(
        label="Paid for all of it",
        required=False,
        min_value=0,
        max_digits=12,
        help_text="In the shop's currency, without tax.",
    )
    thickness_um = LengthField(label="Measured thickness", required=False)
    certificate = AttachmentField(help_text="A PDF or a picture, at most 10 MB.")
    place = forms.ModelChoiceField(Place.objects.all(), required=False, empty_label="its own place")
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *args: Any, item: Item, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.item = item
        self.fields["pieces" if item.in_pieces else "qty"].of(item)
        del self.fields["qty" if item.in_pieces else "pieces"]
        if not item.in_pieces:
            del self.fields["thickness_um"]
        if not item.shelf_life_days:
            del self.fields["made_on"]

    def unit_cost(self) -> Decimal | None:
        """Cost of one stock unit, from what was paid."""
        paid = self.cleaned_data["paid"]
        if paid is None:
            return None
        came = self.cleaned_data.get("qty") or sum(
            size_in_stock_unit(length, width) * count
            for length, width, count in self.cleaned_data.get("pieces", ())
        )
        return paid / came if came else None


class Receive(ActionPage):
    form_class = ReceiveForm
    template_name = "stock/receive.html"
    submit_label = "Take into stock"

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.item = get_object_or_404(Item, code=kwargs["code"])
        self.heading, self.sub = f"Receive {self.item.code}", self.item.name

    def get_form_kwargs(self) -> dict:
        return {**super().get_form_kwargs(), "item": self.item}

    def get_context_data(self, **kwargs: Any) -> dict:
        return super().get_context_data(orders=open_orders_of(self.item), item=self.item, **kwargs)

    def act(self, form: ReceiveForm) -> Lot:
        asked = form.asked
        del asked["paid"]
        return receive_delivery(item=self.item, unit_cost=form.unit_cost(), **asked)

    def message_for(self, result: Lot) -> str:
        came = sum(balance.qty for balance in result.balances.all())
        shown = display.quantity_text(came, self.item.stock_unit, self.request.user)
        labels = ", ".join(piece.label for piece in result.pieces.all())
        booked = f"{shown} in stock as lot {result.number}{f', pieces {labels}' if labels else ''}."
        return f"{booked} {thickness_warning(result, self.request.user)}".strip()

    def back_url(self) -> str:
        return reverse("item", args=[self.item.code])
