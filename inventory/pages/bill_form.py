"""The form of a whole bill: rows of operations, of what they take, and of what they wear."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.html import format_html_join
from django.utils.safestring import SafeString

from inventory.actions import NewLine, NewOperation, NewWear
from inventory.models import (
    BillOfMaterials,
    BomLine,
    Item,
    Machine,
    Operation,
    Product,
    WearLine,
)
from inventory.pages.bill_rows import Lines, Operations, Wear, filled
from inventory.pages.forms import ActionForm, DayField
from inventory.units import show_length, show_size

SHOWN = ("code", "name", "kind", "stock_unit", "density_g_per_ml", "life_unit")
HUNDRED = Decimal(100)


class BillForm(ActionForm):
    valid_from = DayField(label="Holds from")
    note = forms.CharField(label="What is new", max_length=200, required=False)

    def __init__(
        self, *args: Any, bill: BillOfMaterials | None, owner: Product | Item, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        items = {item.code: item for item in Item.objects.only(*SHOWN)}
        machines = {machine.name: machine for machine in Machine.objects.all()}
        self.suggested = suggestions(items.values(), machines)
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
            form_kwargs={**rows, "machines": machines},
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
            wear=tuple(_new_wear(wear) for wear in filled(self.wear) if wear["number"] == number),
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


def suggestions(items: Iterable[Item], machines: Iterable[str]) -> SafeString:
    """Lists a browser completes from: codes of stocked, outside and wearing items, machines."""
    lists: dict[str, list[tuple[str, str]]] = {"items": [], "services": [], "wearing": []}
    for item in items:
        shown = item.code, item.name
        lists["services" if item.is_service else "items"].append(shown)
        if item.wears:
            lists["wearing"].append(shown)
    lists["machines"] = [(name, "") for name in machines]
    return format_html_join(
        "",
        '<datalist id="{}">{}</datalist>',
        (
            (name, format_html_join("", '<option value="{}">{}</option>', chosen))
            for name, chosen in lists.items()
        ),
    )


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
    return {
        "number": step.number,
        "item": wear.item.code,
        "life": _plain(wear.life_per_knife),
        "machine": wear.machine.name if wear.machine else "",
        "pocket": wear.pocket,
        "work_material": wear.work_material,
        "cutting_data": wear.cutting_data,
    }


def _new_wear(row: dict) -> NewWear:
    where = {name: row[name] for name in ("machine", "pocket", "work_material", "cutting_data")}
    return NewWear(row["item"], row["life"], **where)


def _size(length_um: int | None, width_um: int | None, unit: str) -> str:
    if length_um is None:
        return ""
    return show_size(length_um, width_um, unit).replace("\u202f", "").replace("×", "x")


def _typed_length(um: int, unit: str) -> str:
    return show_length(um, unit).replace("\u202f", "") if um else ""
