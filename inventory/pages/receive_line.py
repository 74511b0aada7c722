"""A delivery against an order line: what was understood is shown before it is booked."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404

from inventory.actions import receive_delivery
from inventory.models import Lot, OrderLine, Place
from inventory.models.piece import size_in_stock_unit
from inventory.pages import display
from inventory.pages.attachments import AttachmentField
from inventory.pages.forms import (
    ActionForm,
    DayField,
    LengthField,
    PiecesField,
    QuantityFormField,
)
from inventory.pages.orders import OrderAction
from inventory.pages.receive import ARRIVES_AS
from inventory.pages.thickness_words import thickness_warning
from inventory.queries.packs import pack_in

MUCH_MORE = Decimal("1.1")


class ReceiveLineForm(ActionForm):
    """Packs, or what really came when packs don't say it."""

    confirmed = forms.CharField(widget=forms.HiddenInput, required=False)
    packs = forms.IntegerField(min_value=1, max_value=100_000, required=False)
    qty = QuantityFormField(
        label="or how much",
        required=False,
        help_text="When it isn't whole packs: 97, 48 in, 2.5 lb.",
    )
    pieces = PiecesField(
        label="or which pieces",
        required=False,
        help_text="When sizes differ. A size a line: 4 of 305 x 610 mm; along the grain first.",
    )
    day = DayField(label="Day it came")
    maker_number = forms.CharField(
        label="Heat, colour or batch number", max_length=60, required=False
    )
    made_on = DayField(label="Day of manufacture", required=False, initial=None)
    expires_on = DayField(
        label="Use by", required=False, initial=None, help_text="Empty: from the shelf life."
    )
    status = forms.ChoiceField(label="It is", choices=ARRIVES_AS)
    thickness_um = LengthField(label="Measured thickness", required=False)
    place = forms.ModelChoiceField(Place.objects.all(), required=False, empty_label="its own place")
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *args: Any, line: OrderLine, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.line, item = line, line.item
        self.fields["packs"].label = f"Packs ({line.offer.pack_name})"
        came = self.fields["pieces" if item.in_pieces else "qty"]
        came.of(item)
        came.pack = pack_in(line.offer)
        del self.fields["qty" if item.in_pieces else "pieces"]
        if not item.in_pieces:
            del self.fields["thickness_um"]
        if not item.shelf_life_days:
            del self.fields["made_on"]
        if self.data.get("confirmed"):
            self.ask_for_certificate()

    def ask_for_certificate(self) -> None:
        """Only the second send books: a file chosen before it would be lost."""
        self.fields["certificate"] = AttachmentField(help_text="A PDF or a picture, if one came.")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if self.errors:
            return cleaned
        typed = cleaned.get("qty") if "qty" in self.fields else cleaned.get("pieces")
        if bool(typed) == bool(cleaned.get("packs")):
            raise ValidationError("Say either how many packs came, or what came of it.")
        return cleaned

    def came(self) -> dict[str, Any]:
        """What is booked: qty, or pieces."""
        offer, packs = self.line.offer, self.cleaned_data.get("packs")
        if not self.line.item.in_pieces:
            return {"qty": offer.pack_qty * packs if packs else self.cleaned_data["qty"]}
        if packs:
            count = (offer.pieces_per_pack or 1) * packs
            return {"pieces": [(offer.piece_length_um, offer.piece_width_um, count)]}
        return {"pieces": self.cleaned_data["pieces"]}

    def total(self) -> Decimal:
        """The same in the item's stock unit."""
        came = self.came()
        if "qty" in came:
            return came["qty"]
        sizes = came["pieces"]
        return sum((size_in_stock_unit(a, b) * count for a, b, count in sizes), Decimal(0))

    def understood(self) -> str:
        """What will be booked, in words: 3 × bag of 100 = 300; all of the line."""
        item, packs = self.line.item, self.cleaned_data.get("packs")
        shown = display.quantity_text(self.total(), item.stock_unit, self.user)
        pieces = self.came().get("pieces")
        words = f"{packs} × {self.line.offer.pack_name} = {shown}" if packs else shown
        if pieces:
            count = sum(size[2] for size in pieces)
            words += f" in {count} piece{'s' if count > 1 else ''}"
        return f"{words} of {item.code}; {self._left()}."

    def _left(self) -> str:
        left = self.line.outstanding - self.total()
        unit = self.line.item.stock_unit
        if left > 0:
            return f"{display.quantity_text(left, unit, self.user)} of the line still to come"
        if self.total() > self.line.outstanding * MUCH_MORE:
            more = display.quantity_text(-left, unit, self.user)
            return f"that is {more} more than was still to come: check the pack"
        return "the line is complete with it"


class ReceiveLine(OrderAction):
    """The first send shows what was understood, the second one books it."""

    form_class = ReceiveLineForm
    template_name = "orders/receive.html"
    heading = "Receive"
    submit_label = "Check it"

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.line = get_object_or_404(
            OrderLine.objects.select_related("item", "offer", "order__supplier"),
            order=self.order,
            pk=kwargs["pk"],
        )
        self.heading = f"Receive {self.line.item.code}"
        left = display.quantity_text(self.line.outstanding, self.line.item.stock_unit, request.user)
        self.sub = f"{self.line.item.name}; {left or 'nothing'} still to come of {self.sub}"

    def get_form_kwargs(self) -> dict:
        return {**super().get_form_kwargs(), "line": self.line}

    def get_initial(self) -> dict:
        packs = self.line.outstanding / self.line.offer.pack_qty
        return {"packs": int(packs)} if packs == int(packs) and packs else {}

    def form_valid(self, form: ReceiveLineForm) -> HttpResponse:
        understood = form.understood()
        if form.cleaned_data["confirmed"] == understood:
            return super().form_valid(form)
        form.data = form.data.copy()
        form.data["confirmed"] = understood
        form.ask_for_certificate()
        shown = {"form": form, "understood": understood, "submit_label": "Book it"}
        return self.render_to_response(self.get_context_data(**shown))

    def act(self, form: ReceiveLineForm) -> Lot:
        asked = {
            name: value
            for name, value in form.asked.items()
            if name not in ("confirmed", "packs", "qty", "pieces")
        }
        return receive_delivery(item=self.line.item, order_line=self.line, **form.came(), **asked)

    def message_for(self, result: Lot) -> str:
        labels = ", ".join(piece.label for piece in result.pieces.all())
        booked = f"Booked as lot {result.number}{f', pieces {labels}' if labels else ''}."
        return f"{booked} {thickness_warning(result, self.request.user)}".strip()
