"""Products, and the bills of products and of parts made in house, one YAML file each."""

from collections.abc import Callable, Mapping
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from inventory import actions
from inventory.actions import NewLine, NewOperation, NewWear
from inventory.exchange.workshop.days import Deed
from inventory.exchange.workshop.files import as_decimal, blaming, find, read_yaml
from inventory.models import Item, Machine, Product, ProductOption
from inventory.units import parse_length, parse_quantity, parse_size

__all__ = ["load_bills"]


def load_bills(folder: Path, items: Mapping[str, Item], today: date) -> list[Deed]:
    """Save the products; their bills and those of made parts are deeds of the day they start."""
    found: list[Deed] = []
    for path in sorted((folder / "parts").glob("*.yaml")):
        with blaming(path.name):
            content = read_yaml(path)
            owner = {"made_item": find(items, content["code"], "item")}
            found += _bills(path.name, content, owner, items, today)
    for path in sorted((folder / "products").glob("*.yaml")):
        with blaming(path.name):
            content = read_yaml(path)
            owner = {"product": _load_product(content)}
            found += _bills(path.name, content, owner, items, today)
    return found


def _load_product(content: dict[str, Any]) -> Product:
    return actions.save_product(
        values={key: content.get(key, "") for key in ("code", "name", "note")},
        options=[
            (option["group"], option["choice"], option.get("default", False))
            for option in content.get("options", [])
        ],
    )


def _bills(
    file: str,
    content: dict[str, Any],
    owner: dict[str, Any],
    items: Mapping[str, Item],
    today: date,
) -> list[Deed]:
    """Each bill lists all its operations, or only those that differ from the bill before."""
    product = owner.get("product")
    choices = {option.choice: option for option in product.options.all()} if product else {}
    machines = {machine.name: machine for machine in Machine.objects.all()}
    steps: dict[int, NewOperation] = {}
    found = []
    for bill in content["bills"]:
        for operation in bill["operations"]:
            with blaming(f"operation {operation['number']}"):
                steps[operation["number"]] = _operation(operation, items, machines, choices)
        valid_from = today + timedelta(days=bill["from"])
        asked = {
            **owner,
            "operations": [steps[number] for number in sorted(steps)],
            "valid_from": valid_from,
            "note": bill.get("note", ""),
        }
        found.append(Deed(valid_from, "bill", _saving(file, asked)))
    return found


def _saving(file: str, asked: dict[str, Any]) -> Callable[[], None]:
    def save() -> None:
        with blaming(file):
            actions.save_bill(**asked)

    return save


def _operation(
    step: dict[str, Any],
    items: Mapping[str, Item],
    machines: Mapping[str, Machine],
    choices: Mapping[str, ProductOption],
) -> NewOperation:
    service = step.get("service")
    return NewOperation(
        number=step["number"],
        name=step["name"],
        good_share=as_decimal(step.get("yield", 1)),
        setup_size=step.get("setup_size"),
        bench_minutes=as_decimal(step.get("minutes", 0)),
        setup_minutes=as_decimal(step.get("setup_minutes", 0)),
        wait_days=step.get("wait_days", 0),
        service=find(items, service, "item") if service else None,
        caution=step.get("caution", ""),
        lines=tuple(_bill_line(line, items, choices) for line in step.get("takes", [])),
        wear=tuple(_wear(line, items, machines) for line in step.get("wears", [])),
    )


def _wear(
    line: dict[str, Any], items: Mapping[str, Item], machines: Mapping[str, Machine]
) -> NewWear:
    return NewWear(
        item=find(items, line["item"], "item"),
        life=as_decimal(line["life"]),
        machine=find(machines, line["machine"], "machine") if "machine" in line else None,
        pocket=str(line.get("pocket", "")),
        work_material=line.get("cuts", ""),
        cutting_data=line.get("data", ""),
    )


def _bill_line(
    line: dict[str, Any], items: Mapping[str, Item], choices: Mapping[str, ProductOption]
) -> NewLine:
    item = find(items, line["item"], "item")
    unit = Item.Unit.EACH if "cut" in line else item.stock_unit
    choice = line.get("choice")
    return NewLine(
        item=item,
        per=line.get("per", "knife"),
        qty=parse_quantity(str(line["qty"]), unit),
        loss_share=as_decimal(line.get("loss", 0)),
        cut=parse_size(line["cut"], up=True) if "cut" in line else None,
        allowance_um=parse_length(line["allowance"], up=True) if "allowance" in line else 0,
        may_turn=line.get("may_turn", False),
        option=find(choices, choice, "choice") if choice else None,
    )
