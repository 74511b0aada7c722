"""The form of a whole bill: rows of operations, of what they take, and of what they wear."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.forms import BaseFormSet, formset_factory
from django.utils.html import format_html_join
from django.utils.safestring import SafeString

from inventory.actions import NewLine, NewOperation
from inventory.models import BillOfMaterials, BomLine, Item, Operation, Product, WearLine
from inventory.pages.forms import (
    ActionForm,
    DayField,
    LengthField,
    QuantityFormField,
    SizeField,
    read_in_units_of,
)
from inventory.units import show_length, show_size

SHOWN = ("code", "name", "kind", "stock_unit", "density_g_per_ml", "life_unit")
EMPTY_ROWS = 4
HUNDRED = Decimal(100)


class Row(forms.Form):
    """One row; the formset lets an added one stay empty."""

    def __init__(self, *args: Any, user: Any, items: Mapping[str, Item], **kwargs: Any) -> None:
        super().__init__(*args, label_suffix="", **kwargs)
        self.items = items
        read_in_units_of(user, self)

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


Operations = formset_factory(OperationRow, extra=EMPTY_ROWS, can_delete=True, max_num=200)
Lines = formset_factory(LineRow, extra=EMPTY_ROWS, can_delete=True, max_num=500)
Wear = formset_factory(WearRow, extra=EMPTY_ROWS, can_delete=True, max_num=200)


class BillForm(ActionForm):
    valid_from = DayField(label="Holds from")
    note = forms.CharField(label="What is new", max_length=200, required=False)

    def __init__(
        self, *args: Any, bill: BillOfMaterials | None, owner: Product | Item, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        items = {item.code: item for item in Item.objects.only(*SHOWN)}
        self.suggested = suggestions(items.values())
        chosen = owner.options.all() if isinstance(owner, Product) else ()
        options = {str(option.pk): option for option in chosen}
        data = self.data if self.is_bound else None
        rows = {"user": self.user, "items": items}
        written = list(bill.operations.all()) if bill else []
        unit = self.user.length_unit
        self.operations = Operations(
            data, prefix="op", initial=[_operation(step) for step in written], form_kwargs=rows
        )
        self.lines = Lines(
            data,
            prefix="line",
            initial=[_line(step, one, unit) for step in written for one in step.lines.all()],
            form_kwargs={**rows, "options": options},
        )
        self.wear = Wear(
            data,
            prefix="wear",
            initial=[_wear(step, one) for step in written for one in step.wear_lines.all()],
            form_kwargs=rows,
        )
        self.rowsets = [
            ("Operations", self.operations, "op"),
            ("What they take", self.lines, "line"),
            ("What they wear", self.wear, "wear"),
        ]

    def is_valid(self) -> bool:
        parts = [rows.is_valid() for _, rows, _ in self.rowsets]
        return super().is_valid() and all(parts) and self._numbers_agree()

    def _numbers_agree(self) -> bool:
        """Every row names an operation that is there, and each number only once."""
        numbers = [row["number"] for row in filled(self.operations)]
        twice = sorted({number for number in numbers if numbers.count(number) > 1})
        if twice:
            self.add_error(None, f"Operation {twice[0]} is there twice. Number them 10, 20, 30.")
        for row in (*filled(self.lines), *filled(self.wear)):
            if row["number"] not in numbers:
                self.add_error(
                    None,
                    f"{row['item'].code} belongs to operation {row['number']}, which isn't there.",
                )
        return not self.errors

    def new_operations(self) -> list[NewOperation]:
        rows = sorted(filled(self.operations), key=lambda row: row["number"])
        return [self._new_operation(row) for row in rows]

    def _new_operation(self, row: dict) -> NewOperation:
        number = row["number"]
        return NewOperation(
            number=number,
            name=row["name"],
            good_share=row["good_percent"] / HUNDRED,
            setup_size=row["setup_size"],
            bench_minutes=row["bench_minutes"] or Decimal(0),
            setup_minutes=row["setup_minutes"] or Decimal(0),
            wait_days=row["wait_days"] or 0,
            service=row["item"],
            caution=row["caution"],
            lines=tuple(
                self._new_line(line) for line in filled(self.lines) if line["number"] == number
            ),
            wear=tuple(
                (wear["item"], wear["life"])
                for wear in filled(self.wear)
                if wear["number"] == number
            ),
        )

    def _new_line(self, row: dict) -> NewLine:
        return NewLine(
            item=row["item"],
            qty=row["qty"],
            per=row["per"],
            loss_share=(row["loss_percent"] or Decimal(0)) / HUNDRED,
            cut=row["cut"],
            allowance_um=row["allowance_um"],
            may_turn=row["may_turn"],
            option=self.lines.form_kwargs["options"].get(row["option"]),
        )


def suggestions(items: Iterable[Item]) -> SafeString:
    """Lists a browser completes codes from: stocked items, services, wearing items."""
    lists: dict[str, list[Item]] = {"items": [], "services": [], "wearing": []}
    for item in items:
        lists["services" if item.is_service else "items"].append(item)
        if item.wears:
            lists["wearing"].append(item)
    return format_html_join(
        "",
        '<datalist id="{}">{}</datalist>',
        (
            (name, format_html_join("", '<option value="{}">{}</option>', _pairs(chosen)))
            for name, chosen in lists.items()
        ),
    )


def _pairs(items: Iterable[Item]) -> Iterable[tuple[str, str]]:
    return ((item.code, item.name) for item in items)


def filled(rows: BaseFormSet) -> list[dict]:
    """Cleaned rows that say something and aren't taken out."""
    asked = [row.cleaned_data for row in rows.forms]
    return [row for row in asked if row.get("number") and not row.get("DELETE")]


def _plain(number: Decimal | None) -> str:
    return f"{number.normalize():f}" if number else ""


def _operation(step: Operation) -> dict:
    return {
        "number": step.number,
        "name": step.name,
        "good_percent": _plain(step.good_share * HUNDRED),
        "setup_size": step.setup_size,
        "bench_minutes": _plain(step.bench_minutes),
        "setup_minutes": _plain(step.setup_minutes),
        "wait_days": step.wait_days or None,
        "item": step.service.code if step.service else "",
        "caution": step.caution,
    }


def _line(step: Operation, line: BomLine, unit: str) -> dict:
    shown_unit = (
        "" if line.cut_length_um or line.item.stock_unit == "each" else line.item.stock_unit
    )
    return {
        "number": step.number,
        "item": line.item.code,
        "qty": f"{_plain(line.qty)} {shown_unit}".strip(),
        "per": line.per,
        "cut": _size(line.cut_length_um, line.cut_width_um, unit),
        "allowance_um": _typed_length(line.allowance_um, unit),
        "loss_percent": _plain(line.loss_share * HUNDRED),
        "may_turn": line.may_turn,
        "option": str(line.option_id or ""),
    }


def _wear(step: Operation, wear: WearLine) -> dict:
    return {"number": step.number, "item": wear.item.code, "life": _plain(wear.life_per_knife)}


def _size(length_um: int | None, width_um: int | None, unit: str) -> str:
    if length_um is None:
        return ""
    return show_size(length_um, width_um, unit).replace("\u202f", "").replace("×", "x")


def _typed_length(um: int, unit: str) -> str:
    return show_length(um, unit).replace("\u202f", "") if um else ""
