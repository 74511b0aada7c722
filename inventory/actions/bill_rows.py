"""The rows of a bill of materials as they are entered, and what is refused of them."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import NamedTuple, TypeVar

from inventory.errors import Refused
from inventory.models import (
    BillOfMaterials,
    BomLine,
    Item,
    Machine,
    Operation,
    ProductOption,
    WearLine,
)
from inventory.queries.record_check import record_check

Row = TypeVar("Row", Operation, BomLine, WearLine)


@dataclass(frozen=True)
class NewLine:
    """What an operation takes; `cut` as finished (length µm, width µm or None)."""

    item: Item
    qty: Decimal
    per: str = "knife"
    loss_share: Decimal = Decimal(0)
    cut: tuple[int, int | None] | None = None
    allowance_um: int = 0
    may_turn: bool = False
    option: ProductOption | None = None


class NewWear(NamedTuple):
    """Life of an item one knife uses up; on a machine and in a pocket where that is said."""

    item: Item
    life: Decimal
    machine: Machine | None = None
    pocket: str = ""
    work_material: str = ""
    cutting_data: str = ""


@dataclass(frozen=True)
class NewOperation:
    """wear: NewWear, or only its item and life."""

    number: int
    name: str
    good_share: Decimal = Decimal(1)
    setup_size: int | None = None
    bench_minutes: Decimal = Decimal(0)
    setup_minutes: Decimal = Decimal(0)
    wait_days: int = 0
    service: Item | None = None
    caution: str = ""
    lines: tuple[NewLine, ...] = ()
    wear: tuple[NewWear | tuple[Item, Decimal], ...] = ()


@dataclass
class BillRows:
    """What is written for a bill."""

    operations: list[Operation] = field(default_factory=list)
    lines: list[BomLine] = field(default_factory=list)
    wear: list[WearLine] = field(default_factory=list)


def rows_of(operations: Sequence[NewOperation], bill: BillOfMaterials) -> BillRows:
    """Rows of a bill, not saved yet.

    Raises: Refused for a bill without operations, a cut for an item that isn't kept in pieces (or
    none for one that is), wear of an item without a life, and what the models' rules refuse.
    """
    if not operations:
        raise Refused(f"{bill.product or bill.made_item}: a bill needs at least one operation.")
    rows = BillRows()
    numbers: set[int] = set()
    for one in operations:
        if one.number in numbers:
            raise Refused(f"{one.name}: operation {one.number} already exists in this bill.")
        numbers.add(one.number)
        operation = _operation(one, bill)
        rows.operations.append(operation)
        rows.lines += [_line(operation, line) for line in one.lines]
        rows.wear += _wear_lines(operation, [NewWear(*wear) for wear in one.wear])
    return rows


def _operation(new: NewOperation, bill: BillOfMaterials) -> Operation:
    if new.service is not None and not new.service.is_service:
        raise Refused(f"{new.name}: {new.service.code} is no outside service.")
    operation = Operation(
        bill=bill,
        number=new.number,
        name=new.name,
        good_share=new.good_share,
        setup_size=new.setup_size,
        bench_minutes=new.bench_minutes,
        setup_minutes=new.setup_minutes,
        wait_days=new.wait_days,
        service=new.service,
        caution=new.caution,
    )
    return _checked(operation, new.name)


def _wear_lines(operation: Operation, wanted: Sequence[NewWear]) -> list[WearLine]:
    places: set[tuple[Item, Machine | None, str]] = set()
    lines = []
    for new in wanted:
        place = new.item, new.machine, new.pocket
        if place in places:
            raise Refused(f"{operation.name}, {new.item.code}: {_worn_twice(new)}")
        places.add(place)
        lines.append(_wear(operation, new))
    return lines


def _worn_twice(new: NewWear) -> str:
    if new.machine is None:
        return "It is there twice without a machine. Add the two up, or name the machines."
    return "It is there twice for one pocket. Add the two up."


def _wear(operation: Operation, new: NewWear) -> WearLine:
    code = new.item.code
    if not new.item.wears:
        raise Refused(f"{operation.name}: {code} has no life. Give the item a life unit first.")
    line = WearLine(
        operation=operation,
        item=new.item,
        life_per_knife=new.life,
        machine=new.machine,
        pocket=new.pocket,
        work_material=new.work_material,
        cutting_data=new.cutting_data,
    )
    return _checked(line, f"{operation.name}, {code}")


def _line(operation: Operation, new: NewLine) -> BomLine:
    code = new.item.code
    if new.item.is_service:
        raise Refused(f"{operation.name}: {code} is a service; set it as the operation's service.")
    if new.item.in_pieces != (new.cut is not None):
        raise Refused(
            f"{operation.name}: {code} is kept in pieces; give the size to cut."
            if new.item.in_pieces
            else f"{operation.name}: {code} isn't kept in pieces; leave the size out."
        )
    if new.cut and (new.cut[1] is not None) != (new.item.stock_unit == Item.Unit.MM2):
        wanted = "length x width" if new.cut[1] is None else "a length only"
        raise Refused(f"{operation.name}: the cut of {code} needs {wanted}.")
    length, width = new.cut or (None, None)
    line = BomLine(
        operation=operation,
        item=new.item,
        per=new.per,
        qty=new.qty,
        loss_share=new.loss_share,
        cut_length_um=length,
        cut_width_um=width,
        allowance_um=new.allowance_um,
        may_turn=new.may_turn,
        option=new.option,
    )
    return _checked(line, f"{operation.name}, {code}")


def _checked(row: Row, where: str) -> Row:
    check = record_check(type(row))
    if faults := [fault for _, fault in check.faults(row, check.fields)]:
        raise Refused(f"{where}: {' '.join(faults)}")
    return row
