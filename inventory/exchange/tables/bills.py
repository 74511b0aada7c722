"""Bills of materials: one row for each thing that an operation takes or wears."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from inventory.actions.bill_rows import NewLine, NewOperation, NewWear
from inventory.actions.bills import NewBill, refuse_impossible_bill, save_bills
from inventory.errors import Refused
from inventory.exchange.tables.bill_words import described, stored_operations
from inventory.exchange.tables.cells import (
    Choice,
    Day,
    Length,
    Number,
    Quantity,
    Text,
    Whole,
    YesNo,
)
from inventory.exchange.tables.codes import ByCode
from inventory.exchange.tables.contents import contents_as_typed
from inventory.exchange.tables.table import Change, Column, Found, Row, Table, Tell, refusing
from inventory.models import (
    BillOfMaterials,
    BomLine,
    Item,
    Machine,
    Product,
    ProductOption,
    User,
)
from inventory.queries.bills import bills_with_lines
from inventory.units import parse_quantity, parse_size

__all__ = ["BillTable"]

Owner = Product | Item

OF_THE_OPERATION = (
    Column("name", Text(60), "of the operation", "Glue and pin"),
    Column("yield", Number(), "share of good pieces: 0.98 or 98 %", "0.98", field="good_share"),
    Column("setup size", Whole(), "knives of one setup or glue mix", "4"),
    Column("minutes", Number(), "at the bench for one knife", "12", field="bench_minutes"),
    Column("setup minutes", Number(), "for one setup", "5"),
    Column("wait days", Whole(), "to cure or cool before the next", "1"),
    Column("service", Text(30), "code of the outside service that does it"),
    Column("caution", Text(300), "shown at the bench", "gloves, fresh air"),
)
OF_THE_LINE = (
    Column("item", Text(30), "code of what it takes or wears", "EPOXY"),
    Column("takes", Quantity(), "how much, or how many parts are cut", "40 g", also=("qty",)),
    Column("per", Choice(BomLine.Per), "knife, batch or setup", "setup"),
    Column("lost", Number(), "on the way: 0.03 or 3 %", "0.03", field="loss_share"),
    Column("cut", Quantity(), "finished size of a part cut from a piece: 240 mm, 120 x 40 mm"),
    Column("allowance", Length(up=True), "for each machined side", field="allowance_um"),
    Column("may turn", YesNo(), "yes if it may be cut across the grain"),
    Column("group", Text(40), "only for one choice of this group ..."),
    Column("choice", Text(40), "... namely this one"),
    Column("wears", Number(), "life of the item that one knife uses up, in its life unit"),
    Column("machine", Text(60), "on which it wears; empty: wherever one is fitted", "Mill"),
    Column("pocket", Text(20), "of that machine", "3"),
    Column("work material", Text(60), "what it cuts there", "440C, annealed"),
    Column("cutting data", Text(60), "speed, feed and depth, as in the program"),
)


@dataclass
class Group:
    """The rows of one bill."""

    owner: Owner
    rows: list[Row] = field(default_factory=list)


class BillTable(Table):
    name = "bills"
    title = "Bills of materials"
    about = (
        "How products, and parts made in house, are built: a row for each thing that an operation "
        "takes or wears. A bill that differs becomes the next revision. Items, products and "
        "choices come first."
    )
    columns = (
        Column("product", Text(30), "code of the product, or ...", "HEATH"),
        Column("part", Text(30), "... of the part made in house"),
        Column("operation", Whole(), "10, 20, 30 ...", "30", needed=True, field="number"),
        *OF_THE_OPERATION,
        *OF_THE_LINE,
        Column("from", Day(), "the day the revision holds from; empty: today", "2025-01-15"),
    )

    def records(self) -> Iterator[dict[str, Any]]:
        for bill in _active().order_by("product__code", "made_item__code"):
            head = {
                "product": bill.product.code if bill.product else "",
                "part": bill.made_item.code if bill.made_item else "",
                "from": bill.valid_from,
            }
            for operation in stored_operations(bill):
                for line in _line_rows(operation):
                    yield {**head, **_operation_cells(operation), **line}

    def compare(self, rows: Sequence[Row], found: Found, tell: Tell) -> None:
        lookup = _Lookup()
        before = {(bill.product or bill.made_item): bill for bill in _active()}
        changes = []
        for group in _groups(rows, lookup, found):
            first = group.rows[0]
            refusals = len(found.refusals)
            operations = _operations(group, lookup, found)
            if len(found.refusals) == refusals:
                known = before.get(group.owner)
                changes.append(_change(group, known, operations, first.get("from")))
        _refuse_what_cannot_be_saved(changes, found)
        found.changes += changes

    def enter(self, changes: Sequence[Change], by: User | None, tell: Tell) -> None:
        save_bills(bills=[change.wanted for change in changes], by=by)


class _Lookup:
    """Records that rows name by their codes."""

    def __init__(self) -> None:
        self.items = ByCode(Item.objects.all())
        self.products = ByCode(Product.objects.all())
        self.machines = {machine.name.casefold(): machine for machine in Machine.objects.all()}
        self.options = {
            (option.product_id, option.group, option.choice): option
            for option in ProductOption.objects.all()
        }

    def item(self, code: str) -> Item:
        item = self.items.get(code)
        if item is None:
            raise Refused(f"There is no item {code}.")
        return item

    def owner(self, row: Row) -> Owner:
        product, part = row.get("product", ""), row.get("part", "")
        if bool(product) == bool(part):
            raise Refused("Name either a product or a part made in house.")
        if part:
            return self.item(part)
        known = self.products.get(product)
        if known is None:
            raise Refused(f"There is no product {product}.")
        return known

    def machine(self, row: Row) -> Machine | None:
        name = row.get("machine", "")
        if not name:
            return None
        machine = self.machines.get(name.casefold())
        if machine is None:
            raise Refused(f"There is no machine {name}. Add it on the page of the cutters.")
        return machine

    def option(self, row: Row, owner: Owner) -> ProductOption | None:
        group, choice = row.get("group", ""), row.get("choice", "")
        if not (group or choice):
            return None
        key = (owner.pk, group, choice)
        if not isinstance(owner, Product) or key not in self.options:
            raise Refused(f"{owner.code} doesn't come in {group}: {choice}.")
        return self.options[key]


def _active() -> Any:
    return bills_with_lines().filter(status=BillOfMaterials.Status.ACTIVE)


def _groups(rows: Sequence[Row], lookup: _Lookup, found: Found) -> list[Group]:
    groups: dict[Owner, Group] = {}
    for row in rows:
        with refusing(found, row, "part" if row.get("part") else "product"):
            owner = lookup.owner(row)
            groups.setdefault(owner, Group(owner)).rows.append(row)
    return list(groups.values())


def _operations(group: Group, lookup: _Lookup, found: Found) -> list[NewOperation]:
    by_number: dict[int, list[Row]] = defaultdict(list)
    for row in group.rows:
        by_number[row["operation"]].append(row)
    operations = []
    for number, rows in sorted(by_number.items()):
        lines, wear = [], []
        for row in rows:
            with refusing(found, row):
                _refuse_contradiction(row, rows[0])
                _add_line(row, group.owner, lookup, lines, wear)
        with refusing(found, rows[0]):
            operations.append(_operation(number, rows[0], lookup, lines, wear))
    return operations


def _refuse_contradiction(row: Row, first: Row) -> None:
    for column in OF_THE_OPERATION:
        if row.get(column.name, first.get(column.name)) != first.get(column.name):
            raise Refused(
                f"Row {first.number} gives the operation another {column.name}. Give both the same."
            )


def _operation(
    number: int,
    row: Row,
    lookup: _Lookup,
    lines: Sequence[NewLine],
    wear: Sequence[NewWear],
) -> NewOperation:
    if not row.get("name"):
        raise Refused(f"Operation {number} has no name in its first row.")
    given = {
        column.attribute: row[column.name]
        for column in OF_THE_OPERATION
        if column.name in row.values
    }
    if code := given.pop("service", ""):
        given["service"] = lookup.item(code)
    return NewOperation(number=number, lines=tuple(lines), wear=tuple(wear), **given)


def _add_line(
    row: Row,
    owner: Owner,
    lookup: _Lookup,
    lines: list[NewLine],
    wear: list[NewWear],
) -> None:
    takes, wears = row.get("takes"), row.get("wears")
    if not row.get("item"):
        if takes or wears:
            raise Refused("Name the item that it takes or wears.")
        return
    item = lookup.item(row["item"])
    if bool(takes) == bool(wears):
        raise Refused(f"Say either how much it takes of {item.code}, or how much of its life.")
    if wears:
        wear.append(
            NewWear(
                item,
                wears,
                lookup.machine(row),
                row.get("pocket", ""),
                row.get("work material", ""),
                row.get("cutting data", ""),
            )
        )
        return
    cut = row.get("cut")
    lines.append(
        NewLine(
            item=item,
            qty=parse_quantity(takes, Item.Unit.EACH if cut else item.stock_unit),
            per=row.get("per", BomLine.Per.KNIFE),
            loss_share=row.get("lost", Decimal(0)),
            cut=parse_size(cut, up=True) if cut else None,
            allowance_um=row.get("allowance", 0),
            may_turn=row.get("may turn", False),
            option=lookup.option(row, owner),
        )
    )


def _change(
    group: Group, known: BillOfMaterials | None, operations: list[NewOperation], day: Any
) -> Change:
    before = described(stored_operations(known)) if known else {}
    after = described(operations)
    differences = tuple(
        (key, before.get(key, ""), after.get(key, ""))
        for key in dict.fromkeys([*before, *after])
        if before.get(key) != after.get(key)
    )
    state = "new" if known is None else "changed" if differences else "unchanged"
    owner = {"product" if isinstance(group.owner, Product) else "made_item": group.owner}
    wanted = NewBill(operations, day or timezone.localdate(), **owner)
    return Change(group.rows[0].number, group.owner.code, state, differences, wanted)


def _refuse_what_cannot_be_saved(changes: Sequence[Change], found: Found) -> None:
    """Each by itself; then all of them saved and taken back: parts may only fit together."""
    to_save = [change for change in changes if change.state != "unchanged"]
    refusals = len(found.refusals)
    for change in to_save:
        with refusing(found, Row(change.row, {})):
            refuse_impossible_bill(change.wanted)
    if not to_save or len(found.refusals) > refusals:
        return
    with transaction.atomic():
        try:
            save_bills(bills=[change.wanted for change in to_save])
        except Refused:
            _refuse_one_by_one(to_save, found)
        transaction.set_rollback(True)


def _refuse_one_by_one(changes: Sequence[Change], found: Found) -> None:
    for change in changes:
        with refusing(found, Row(change.row, {})):
            save_bills(bills=[change.wanted])


def _operation_cells(operation: NewOperation) -> Mapping[str, Any]:
    cells = {column.name: getattr(operation, column.attribute) for column in OF_THE_OPERATION}
    service = operation.service.code if operation.service else ""
    return {**cells, "operation": operation.number, "service": service}


def _line_rows(operation: NewOperation) -> Iterator[dict[str, Any]]:
    """Cells of each line and wear; nothing for an operation that takes nothing."""
    for line in operation.lines:
        yield {
            "item": line.item.code,
            "takes": line.qty,
            "per": line.per,
            "lost": line.loss_share,
            "cut": contents_as_typed(Decimal(0), line.cut) if line.cut else "",
            "allowance": line.allowance_um,
            "may turn": line.may_turn,
            "group": line.option.group if line.option else "",
            "choice": line.option.choice if line.option else "",
        }
    for wear in operation.wear:
        yield {
            "item": wear.item.code,
            "wears": wear.life,
            "machine": wear.machine.name if wear.machine else "",
            "pocket": wear.pocket,
            "work material": wear.work_material,
            "cutting data": wear.cutting_data,
        }
    if not operation.lines and not operation.wear:
        yield {}
