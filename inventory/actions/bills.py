"""A new revision of a bill of materials; the old one is retired, never changed."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Max, Q

from forecasting.errors import BadInput
from forecasting.explosion import usage_per_knife
from inventory.actions.bill_rows import NewOperation, rows_of
from inventory.actions.request import action
from inventory.errors import Refused
from inventory.models import BillOfMaterials, BomLine, Item, Operation, Product, User, WearLine
from inventory.queries.bills import bill_of, bills_with_lines, made_bills

STATUS = BillOfMaterials.Status


@dataclass(frozen=True)
class NewBill:
    """The next revision of what a product, or a part made in house, is built by."""

    operations: Sequence[NewOperation]
    valid_from: date
    product: Product | None = None
    made_item: Item | None = None
    note: str = ""


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
    return _write([NewBill(operations, valid_from, product, made_item, note)])[0]


@action
def save_bills(*, bills: Sequence[NewBill], by: User | None = None) -> int:
    """Write many bills as save_bill does, and return how many; all of them or none.

    They are judged together: a part may come after the bill that takes it.
    """
    return len(_write(bills))


def refuse_impossible_bill(new: NewBill) -> None:
    """Raise Refused for what is wrong with a bill by itself; what it contains isn't followed up."""
    rows_of(new.operations, _revision(new, 1))


def _write(wanted: Sequence[NewBill]) -> list[BillOfMaterials]:
    bills = _revisions(wanted)
    rows = [rows_of(new.operations, bill) for new, bill in zip(wanted, bills, strict=True)]
    earlier = BillOfMaterials.objects.filter(_of_owners(wanted), status=STATUS.ACTIVE)
    earlier.update(status=STATUS.RETIRED)
    BillOfMaterials.objects.bulk_create(bills, 500)
    Operation.objects.bulk_create([one for each in rows for one in each.operations], 500)
    BomLine.objects.bulk_create([one for each in rows for one in each.lines], 500)
    WearLine.objects.bulk_create([one for each in rows for one in each.wear], 500)
    _refuse_loops(bills)
    return bills


def _revisions(wanted: Sequence[NewBill]) -> list[BillOfMaterials]:
    """The new revisions, of several of one owner only the last one active."""
    earlier = BillOfMaterials.objects.filter(_of_owners(wanted)).order_by()
    revisions = earlier.values_list("product", "made_item").annotate(Max("revision"))
    newest = {(product, part): revision for product, part, revision in revisions}
    active: dict[tuple[int | None, int | None], BillOfMaterials] = {}
    bills = []
    for new in wanted:
        owner = new.product and new.product.pk, new.made_item and new.made_item.pk
        if owner in active:
            active[owner].status = STATUS.RETIRED
        newest[owner] = newest.get(owner, 0) + 1
        active[owner] = _revision(new, newest[owner])
        bills.append(active[owner])
    return bills


def _revision(new: NewBill, number: int) -> BillOfMaterials:
    _refuse_wrong_owner(new)
    return BillOfMaterials(
        product=new.product,
        made_item=new.made_item,
        revision=number,
        status=STATUS.ACTIVE,
        valid_from=new.valid_from,
        note=new.note,
    )


def _of_owners(wanted: Sequence[NewBill]) -> Q:
    products = [new.product for new in wanted if new.product]
    parts = [new.made_item for new in wanted if new.made_item]
    return Q(product__in=products) | Q(made_item__in=parts)


def _refuse_wrong_owner(new: NewBill) -> None:
    if (new.product is None) == (new.made_item is None):
        raise Refused("A bill belongs to a product or to a part made in house.")
    if new.made_item is not None and new.made_item.kind != Item.Kind.MADE:
        raise Refused(
            f"{new.made_item.code} is a {new.made_item.get_kind_display()}, not a made part."
        )


def _refuse_loops(bills: Sequence[BillOfMaterials]) -> None:
    made = made_bills()
    try:
        for record in bills_with_lines().filter(pk__in=[bill.pk for bill in bills]):
            usage_per_knife(bill_of(record), made)
    except BadInput as error:
        raise Refused(str(error)) from error
