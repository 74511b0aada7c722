"""A delivery into stock, with or without an order."""

from decimal import Decimal
from typing import Any

from django import forms
from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.urls import reverse

from inventory.actions import receive_delivery
from inventory.models import Item, Lot, OrderLine, Place, Supplier
from inventory.models.piece import size_in_stock_unit
from inventory.pages import display
from inventory.pages.forms import (
    ActionForm,
    ActionPage,
    DayField,
    LengthField,
    PiecesField,
    QuantityFormField,
)
from inventory.queries.stock import open_orders_of

ARRIVES_AS = [
    (Lot.Status.RELEASED, "ready to use"),
    (Lot.Status.RECEIVED, "received, still to be looked at"),
    (Lot.Status.QUARANTINE, "quarantine, until a test is done"),
]


class ReceiveForm(ActionForm):
    qty = QuantityFormField(label="How much came", help_text="In any unit: 48 in, 2.5 lb, 500 g.")
    pieces = PiecesField(
        label="Which pieces came",
        help_text="A size a line, with a count if there are several alike: 4 of 305 x 610 mm. "
        "The length along the grain comes first.",
    )
    day = DayField(label="Day it came")
    order_line = forms.ModelChoiceField(
        OrderLine.objects.none(), label="Against order", required=False, empty_label="no order"
    )
    supplier = forms.ModelChoiceField(
        Supplier.objects.all(),
        required=False,
        empty_label="not said",
        help_text="An order says it.",
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
        help_text="In the shop's currency, without tax. An order says it.",
    )
    thickness_um = LengthField(label="Measured thickness", required=False)
    place = forms.ModelChoiceField(Place.objects.all(), required=False, empty_label="its own place")
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *args: Any, item: Item, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.item = item
        self.fields["qty"].unit = item.stock_unit
        self.fields["qty"].density = item.density_g_per_ml
        self.fields["order_line"].queryset = OrderLine.objects.filter(
            pk__in=[line.pk for line in open_orders_of(item)]
        ).select_related("order__supplier", "offer")
        self.fields["order_line"].label_from_instance = self.say_order
        del self.fields["qty" if item.in_pieces else "pieces"]
        if not item.in_pieces:
            del self.fields["thickness_um"]
        if not item.shelf_life_days:
            del self.fields["made_on"]

    def say_order(self, line: OrderLine) -> str:
        left = display.quantity_text(line.outstanding, self.item.stock_unit, self.user)
        return (
            f"{line.order.number} {line.order.supplier}: {line.packs} × {line.offer.pack_name}, "
            f"{left} still to come"
        )

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
    submit_label = "Take into stock"

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.item = get_object_or_404(Item, code=kwargs["code"])
        self.heading, self.sub = f"Receive {self.item.code}", self.item.name

    def get_form_kwargs(self) -> dict:
        return {**super().get_form_kwargs(), "item": self.item}

    def get_initial(self) -> dict:
        """What is still to come of the order line asked for by ?line=."""
        asked = self.request.GET.get("line", "")
        lines = {str(line.pk): line for line in open_orders_of(self.item)}
        if asked not in lines:
            return {}
        line = lines[asked]
        return {"order_line": line.pk, **self.expected(line)}

    def expected(self, line: OrderLine) -> dict[str, str]:
        if not self.item.in_pieces:
            unit = self.item.get_stock_unit_display() if self.item.stock_unit != "each" else ""
            return {"qty": f"{line.outstanding.normalize():f} {unit}".strip()}
        offer = line.offer
        size = size_in_stock_unit(offer.piece_length_um, offer.piece_width_um)
        return {"pieces": f"{int(line.outstanding / size)} of {display.size_of_offer(offer)}"}

    def act(self, form: ReceiveForm) -> Lot:
        asked = form.asked
        del asked["paid"]
        return receive_delivery(item=self.item, unit_cost=form.unit_cost(), **asked)

    def message_for(self, result: Lot) -> str:
        came = sum(balance.qty for balance in result.balances.all())
        shown = display.quantity_text(came, self.item.stock_unit, self.request.user)
        labels = ", ".join(piece.label for piece in result.pieces.all())
        return f"{shown} in stock as lot {result.number}{f', pieces {labels}' if labels else ''}."

    def back_url(self) -> str:
        return reverse("item", args=[self.item.code])
