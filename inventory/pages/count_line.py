"""One line counted at the shelf, blind and with one thumb; then the next one comes."""

from decimal import Decimal
from typing import Any

from django import forms
from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.urls import reverse

from inventory.actions import enter_count, enter_piece
from inventory.errors import Refused
from inventory.models import CountLine, Item, StockCount
from inventory.pages import display
from inventory.pages.counts import address_of_next
from inventory.pages.forms import ActionForm, ActionPage, QuantityFormField, SizeField
from inventory.pages.weigh import ReadingForm, by_weight, may_be_weighed
from inventory.queries.stock_count import counts_with_progress
from inventory.units import show_number


class LotLineForm(ActionForm):
    counted = QuantityFormField(label="How much is there")


class PieceLineForm(ActionForm):
    """there: "whole" as its label says, "gone", or "size" as measured."""

    there = forms.ChoiceField(
        choices=[("whole", "whole"), ("gone", "gone"), ("size", "size")], widget=forms.HiddenInput
    )
    size = SizeField(
        label="Measured size", required=False, help_text="Length along the grain first."
    )

    def clean(self) -> dict:
        asked = super().clean()
        if asked.get("there") == "size" and not asked.get("size") and not self.errors:
            self.add_error("size", "Enter the size that you measured.")
        return asked


class CountLinePage(ActionPage):
    template_name = "counts/line.html"
    submit_label = "Enter, next"

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        lines = CountLine.objects.select_related("count", "lot__item", "piece", "place")
        self.line = get_object_or_404(lines, count__number=kwargs["number"], pk=kwargs["pk"])
        self.item = self.line.lot.item
        self.heading, self.sub = self.item.code, self.item.name

    def get_form_class(self) -> type[ActionForm]:
        return PieceLineForm if self.line.piece else LotLineForm

    def get_form(self, form_class: Any = None) -> ActionForm:
        form = super().get_form(form_class)
        if self.line.piece:
            form.initial["there"] = "size"
            return form
        field = form.fields["counted"]
        field.of(self.item)
        field.widget.attrs["autofocus"] = True
        if self.item.stock_unit == Item.Unit.EACH:
            field.widget.attrs["inputmode"] = "numeric"
        return form

    def act(self, form: ActionForm) -> CountLine:
        asked = form.asked
        if self.line.piece is None:
            return enter_count(line=self.line, **asked)
        length, width = asked.pop("size") or (0, None)
        if asked.pop("there") == "whole":
            length, width = self.line.piece.length_um, self.line.piece.width_um
        elif form.cleaned_data["there"] == "gone":
            length, width = 0, None
        return enter_piece(line=self.line, length_um=length, width_um=width, **asked)

    def message_for(self, result: CountLine) -> str:
        what = f"{self.item.code} {result.piece or result.lot}"
        if result.piece:
            return f"{what}: {'there' if result.counted else 'not there'}."
        shown = display.quantity_text(result.counted, self.item.stock_unit, self.request.user)
        return f"{what}: {shown} counted."

    def done_url(self, result: CountLine) -> str:
        return address_of_next(result.count, after=result)

    def get_context_data(self, **kwargs: Any) -> dict:
        count = counts_with_progress().get(pk=self.line.count_id)
        shown = {
            "line": self.line,
            "count": count,
            "item": self.item,
            "is_open": count.state == StockCount.State.OPEN,
            "skip": address_of_next(count, after=self.line),
            "sample_page": f"{reverse('item-weigh', args=[self.item.code])}?line={self.line.pk}",
        }
        if may_be_weighed(self.item):
            shown |= self._weighed()
        return super().get_context_data(**(shown | kwargs))

    def _weighed(self) -> dict[str, Any]:
        """The form for the scale, and what its readings come to, put into the field above it."""
        asked = self.request.GET if "gross" in self.request.GET else None
        readings = ReadingForm(asked, item=self.item, user=self.request.user)
        shown: dict[str, Any] = {"readings": readings}
        if asked is not None and readings.is_valid():
            try:
                qty, words = by_weight(self.item, self.request.user, **readings.cleaned_data)
            except Refused as refusal:
                readings.add_error(None, str(refusal))
            else:
                shown["weighed"] = words
                shown["form"] = self._with_initial(qty)
        return shown

    def _with_initial(self, qty: Decimal) -> ActionForm:
        form = self.get_form()
        typed = show_number(qty, 6).replace("\u202f", "")
        unit = self.item.get_stock_unit_display()
        form.initial["counted"] = typed if unit == "each" else f"{typed} {unit}"
        return form
