"""A new revision of a bill of materials; the old one is retired, never changed."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from django.core.exceptions import ValidationError
from django.db.models import Max

from forecasting.errors import BadInput
from forecasting.explosion import usage_per_knife
from inventory.actions.request import action
from inventory.errors import Refused
from inventory.models import (
    BillOfMaterials,
    BomLine,
    Item,
    Machine,
    Operation,
    Product,
    ProductOption,
    User,
    WearLine,
)
from inventory.queries.bills import bill_of, bills_with_lines, made_bills

STATUS = BillOfMaterials.Status


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


@action
def save_bill(
    *,
    operations: Sequence[NewOperation],
    valid_from: date,
    product: Product | None = None,
    made_item: Item | None = None,
    note: str = "",
    by: User | None = None,
) -> BillOfMaterials:
    """Write the next revision and make it the active one.

    Refuses a bill without operations, a cut for an item that isn't kept in pieces (or none for one
    that is), wear of an item without a life, and a part that would contain itself.
    """
    owner = {"product": product, "made_item": made_item}
    if (product is None) == (made_item is None):
        raise Refused("A bill belongs to a product or to a part made in house.")
    if not operations:
        raise Refused(f"{product or made_item}: a bill needs at least one operation.")
    if made_item is not None and made_item.kind != Item.Kind.MADE:
        raise Refused(f"{made_item.code} is a {made_item.get_kind_display()}, not a made part.")
    earlier = BillOfMaterials.objects.filter(**owner)
    newest = earlier.aggregate(newest=Max("revision"))["newest"] or 0
    earlier.filter(status=STATUS.ACTIVE).update(status=STATUS.RETIRED)
    bill = BillOfMaterials.objects.create(
        **owner, revision=newest + 1, status=STATUS.ACTIVE, valid_from=valid_from, note=note
    )
    for new in operations:
        _save_operation(bill, new)
    _refuse_loop(bill)
    return bill


def _save_operation(bill: BillOfMaterials, new: NewOperation) -> None:
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
    _save(operation, new.name)
    for line in new.lines:
        _save_line(operation, line)
    for wear in new.wear:
        _save_wear(operation, NewWear(*wear))


def _save_wear(operation: Operation, new: NewWear) -> None:
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
    _save(line, f"{operation.name}, {code}")


def _save_line(operation: Operation, new: NewLine) -> None:
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
    _save(line, f"{operation.name}, {code}")


def _save(record: Operation | BomLine | WearLine, where: str) -> None:
    try:
        record.full_clean()
    except ValidationError as error:
        raise Refused(f"{where}: {' '.join(error.messages)}") from error
    record.save()


def _refuse_loop(bill: BillOfMaterials) -> None:
    record = bills_with_lines().get(pk=bill.pk)
    try:
        usage_per_knife(bill_of(record), made_bills())
    except BadInput as error:
        raise Refused(str(error)) from error
