"""A new offer: an item as one supplier sells it from a day on."""

from decimal import Decimal
from typing import Any

from django import forms
from django.urls import reverse

from inventory.actions import save_offer
from inventory.days import show_day
from inventory.models import Item, Offer, Supplier
from inventory.pages.forms import ActionForm, ActionPage, DayField, QuantityFormField, SizeField


class PriceBreaksField(forms.CharField):
    """Prices of a pack, one a line: "42.50", "from 5: 39"; cleaned to [(packs, price), ...]."""

    widget = forms.Textarea(attrs={"rows": 3})

    def clean(self, value: Any) -> list[tuple[int, Decimal]]:
        lines = [line.strip() for line in super().clean(value).splitlines() if line.strip()]
        return [self._read(line) for line in lines]

    def _read(self, line: str) -> tuple[int, Decimal]:
        packs, colon, price = line.lower().removeprefix("from ").rpartition(":")
        try:
            return int(packs) if colon else 1, Decimal(price.strip().replace(",", "."))
        except (ValueError, ArithmeticError) as error:
            raise forms.ValidationError(
                f"“{line}” is no price. Write 42.50, or from 5: 39 for five packs and more."
            ) from error


class PackQuantityField(QuantityFormField):
    """What a pack holds, kept as text until the form knows which item it is of."""

    beside = "item"

    def clean(self, value: Any) -> str:
        return forms.CharField.clean(self, value)


class OfferForm(ActionForm):
    supplier = forms.ModelChoiceField(Supplier.objects.all())
    item = forms.ModelChoiceField(Item.objects.exclude(kind=Item.Kind.MADE))
    their_code = forms.CharField(max_length=40, required=False, label="Their order code")
    pack_name = forms.CharField(
        max_length=40, label="Sold as", initial="each", help_text="As in bag of 100, can of 1 kg."
    )
    pack_qty = PackQuantityField(
        label="In a pack",
        required=False,
        help_text="100, or 2.5 lb. Not for bars, sheets and rolls.",
    )
    piece = SizeField(
        label="Size of a piece", required=False, help_text="Bars, sheets and rolls: 305 x 610 mm."
    )
    pieces_per_pack = forms.IntegerField(
        label="Pieces in a pack", min_value=1, initial=1, help_text="Bars, sheets and rolls."
    )
    price_breaks = PriceBreaksField(
        label="Price of a pack", help_text="A line each: 42.50, then from 5: 39."
    )
    minimum_packs = forms.IntegerField(label="Minimum packs", min_value=1, initial=1)
    lot_charge = forms.DecimalField(
        label="Charge a line or load", min_value=0, max_digits=10, initial=0
    )
    lead_days = forms.IntegerField(label="Quoted lead time, days", min_value=0)
    valid_from = DayField(label="Holds from")
    preferred = forms.BooleanField(label="Order it here first", required=False, initial=True)

    def clean(self) -> dict:
        asked = super().clean()
        item = asked.get("item")
        if item and not item.in_pieces:
            self._read_pack(asked, item)
        return asked

    def _read_pack(self, asked: dict, item: Item) -> None:
        """Only now is it known in which unit the pack was typed."""
        field = QuantityFormField(unit=item.stock_unit, density_g_per_ml=item.density_g_per_ml)
        field.read_for(self.user)
        try:
            asked["pack_qty"] = field.clean(self.data.get(self.add_prefix("pack_qty"), ""))
        except forms.ValidationError as error:
            self.add_error("pack_qty", error)


class NewOffer(ActionPage):
    role = "owner"
    form_class = OfferForm
    heading = "New offer"
    sub = "From its day on it takes the place of the supplier's earlier offer for the item."

    def get_initial(self) -> dict:
        asked = self.request.GET
        return {
            "item": Item.objects.filter(code=asked.get("item", "")).first(),
            "supplier": Supplier.objects.filter(code=asked.get("supplier", "")).first(),
        }

    def act(self, form: OfferForm) -> Offer:
        values = form.values
        item, piece = values.pop("item"), values.pop("piece")
        if item.in_pieces:
            values["piece_length_um"], values["piece_width_um"] = piece or (None, None)
        else:
            values["pieces_per_pack"] = None
        return save_offer(
            item=item,
            supplier=values.pop("supplier"),
            price_breaks=values.pop("price_breaks"),
            valid_from=values.pop("valid_from"),
            values=values,
            by=form.user,
            key=form.cleaned_data["key"],
        )

    def message_for(self, result: Offer) -> str:
        return f"{result.supplier} sells {result.item.code} from {show_day(result.valid_from)} on."

    def done_url(self, result: Offer) -> str:
        return reverse("item", args=[result.item.code])

    def back_url(self) -> str:
        return reverse("suppliers")
