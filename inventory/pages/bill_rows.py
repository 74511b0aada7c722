"""The rows of a bill's form: operations, what they take, and what they wear."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.forms import BaseFormSet, formset_factory
from django.forms.formsets import DELETION_FIELD_NAME
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from inventory.models import BomLine, Item, Machine
from inventory.pages.forms import LengthField, QuantityFormField, SizeField, read_in_units_of
from inventory.pages.input_renderer import InputRenderer

EMPTY_ROWS = 4


class Row(forms.Form):
    """One row; the formset lets an added one stay empty."""

    def __init__(self, *args: Any, user: Any, items: Mapping[str, Item], **kwargs: Any) -> None:
        super().__init__(*args, label_suffix="", **kwargs)
        self.items = items
        read_in_units_of(user, self)

    def as_cells(self) -> SafeString:
        """Every field in a cell, its label for those who hear the table or see it on a phone."""
        return format_html_join(
            "",
            '<td data-label="{}"><label class="visually-hidden" for="{}">{}</label>{}{}</td>',
            (
                (field.label, field.id_for_label, field.label, field, _errors(field))
                for field in self
            ),
        )

    def clean_item(self) -> Item | None:
        code = self.cleaned_data["item"].strip()
        if not code:
            return None
        if code not in self.items:
            raise forms.ValidationError(f"No item has the code “{code}”. Enter the item first.")
        return self.items[code]


class OperationRow(Row):
    number = forms.IntegerField(min_value=1, max_value=9999)
    name = forms.CharField(max_length=60)
    good_percent = forms.DecimalField(
        label="Yield, %", min_value=Decimal("0.01"), max_value=100, initial=100
    )
    setup_size = forms.IntegerField(label="Knives a setup", min_value=1, required=False)
    bench_minutes = forms.DecimalField(label="Minutes a knife", min_value=0, required=False)
    setup_minutes = forms.DecimalField(label="Minutes a setup", min_value=0, required=False)
    wait_days = forms.IntegerField(label="Days to wait after", min_value=0, required=False)
    item = forms.CharField(
        label="Outside service",
        required=False,
        widget=forms.TextInput({"list": "services", "autocomplete": "off"}),
    )
    caution = forms.CharField(max_length=300, required=False)


class LineRow(Row):
    number = forms.IntegerField(label="Operation", min_value=1)
    item = forms.CharField(widget=forms.TextInput({"list": "items", "autocomplete": "off"}))
    qty = forms.CharField(label="Takes", max_length=40, help_text="2.5 g, or parts where cut.")
    per = forms.ChoiceField(choices=BomLine.Per.choices, initial="knife")
    cut = SizeField(label="Cut to (finished)", required=False, up=True)
    allowance_um = LengthField(label="Allowance a side", required=False, up=True, nothing=0)
    loss_percent = forms.DecimalField(
        label="Lost, %", min_value=0, max_value=Decimal("99.9"), required=False
    )
    may_turn = forms.BooleanField(label="May be turned", required=False)
    option = forms.ChoiceField(label="Only for", required=False)

    def __init__(self, *args: Any, options: Mapping[str, Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.options = options
        choices = [(key, str(option)) for key, option in options.items()]
        self.fields["option"].choices = [("", "any choice"), *choices]

    def clean(self) -> dict:
        """Only now is it known in which unit the quantity was typed."""
        asked = super().clean()
        item, text = asked.get("item"), asked.get("qty")
        if item and text:
            unit = "each" if item.in_pieces else item.stock_unit
            field = QuantityFormField(unit=unit, density_g_per_ml=item.density_g_per_ml)
            try:
                asked["qty"] = field.clean(text)
            except forms.ValidationError as error:
                self.add_error("qty", error)
        return asked


class WearRow(Row):
    number = forms.IntegerField(label="Operation", min_value=1)
    item = forms.CharField(widget=forms.TextInput({"list": "wearing", "autocomplete": "off"}))
    life = forms.DecimalField(
        label="Life a knife", min_value=0, help_text="In the life unit of the item."
    )
    machine = forms.CharField(
        required=False, widget=forms.TextInput({"list": "machines", "autocomplete": "off"})
    )
    pocket = forms.CharField(max_length=20, required=False)
    work_material = forms.CharField(label="It cuts", max_length=60, required=False)
    cutting_data = forms.CharField(label="Speed, feed, depth", max_length=60, required=False)

    def __init__(self, *args: Any, machines: Mapping[str, Machine], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.machines = machines

    def clean_machine(self) -> Machine | None:
        name = self.cleaned_data["machine"].strip()
        if name and name not in self.machines:
            raise forms.ValidationError(
                f"No machine is called “{name}”. Add it on the page of the cutters first."
            )
        return self.machines.get(name)


class Rows(BaseFormSet):
    def add_fields(self, form: Row, index: int | None) -> None:
        super().add_fields(form, index)
        form.fields[DELETION_FIELD_NAME].label = "Take out"


def rows_of(kind: type[Row], most: int) -> type[Rows]:
    return formset_factory(
        kind,
        formset=Rows,
        extra=EMPTY_ROWS,
        can_delete=True,
        max_num=most,
        renderer=InputRenderer(),
    )


Operations = rows_of(OperationRow, 200)
Lines = rows_of(LineRow, 500)
Wear = rows_of(WearRow, 200)


def filled(rows: BaseFormSet) -> list[dict]:
    """Cleaned rows that say something and aren't taken out."""
    asked = [row.cleaned_data for row in rows.forms]
    return [row for row in asked if row.get("number") and not row.get("DELETE")]


def _errors(field: forms.BoundField) -> SafeString:
    if not field.errors:
        return SafeString("")
    return format_html(
        '<div class="errors" id="{}_error">{}</div>', field.auto_id, " ".join(field.errors)
    )
