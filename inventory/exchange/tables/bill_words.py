"""Operations of a bill in words, so that two of them can be laid side by side."""

from collections import defaultdict
from collections.abc import Iterable
from decimal import Decimal

from inventory.actions import NewLine, NewOperation, NewWear
from inventory.exchange.tables.cells import as_text
from inventory.exchange.tables.contents import contents_as_typed
from inventory.models import BillOfMaterials, Operation

__all__ = ["described", "stored_operations"]


def stored_operations(bill: BillOfMaterials) -> list[NewOperation]:
    """The operations of a bill as one would enter them; its lines are fetched along already."""
    return [_entered(operation) for operation in bill.operations.all()]


def described(operations: Iterable[NewOperation]) -> dict[str, str]:
    """One text for each operation and for each item in it; equal texts mean equal bills."""
    words: dict[str, list[str]] = defaultdict(list)
    for operation in operations:
        where = f"{operation.number}"
        words[where].append(_of_operation(operation))
        for line in operation.lines:
            words[f"{where} {line.item.code}"].append(_of_line(line))
        for wear in operation.wear:
            words[f"{where} {wear.item.code}"].append(_of_wear(wear))
    return {key: " and ".join(sorted(texts)) for key, texts in words.items()}


def _entered(operation: Operation) -> NewOperation:
    lines = [
        NewLine(
            item=line.item,
            qty=line.qty,
            per=line.per,
            loss_share=line.loss_share,
            cut=None if line.cut_length_um is None else (line.cut_length_um, line.cut_width_um),
            allowance_um=line.allowance_um,
            may_turn=line.may_turn,
            option=line.option,
        )
        for line in operation.lines.all()
    ]
    return NewOperation(
        number=operation.number,
        name=operation.name,
        good_share=operation.good_share,
        setup_size=operation.setup_size,
        bench_minutes=operation.bench_minutes,
        setup_minutes=operation.setup_minutes,
        wait_days=operation.wait_days,
        service=operation.service,
        caution=operation.caution,
        lines=tuple(lines),
        wear=tuple(
            NewWear(
                wear.item,
                wear.life_per_knife,
                wear.machine,
                wear.pocket,
                wear.work_material,
                wear.cutting_data,
            )
            for wear in operation.wear_lines.all()
        ),
    )


def _of_operation(operation: NewOperation) -> str:
    parts = [operation.name.strip(), f"yield {as_text(operation.good_share)}"]
    if operation.setup_size:
        parts.append(f"setups of {operation.setup_size}")
    if operation.bench_minutes or operation.setup_minutes:
        setup = (
            f" and {as_text(operation.setup_minutes)} a setup" if operation.setup_minutes else ""
        )
        parts.append(f"{as_text(operation.bench_minutes)} min{setup}")
    if operation.wait_days:
        parts.append(f"wait {operation.wait_days} days")
    if operation.service:
        parts.append(f"at {operation.service.code}")
    if operation.caution:
        parts.append(" ".join(operation.caution.split()))
    return ", ".join(parts)


def _of_line(line: NewLine) -> str:
    parts = [f"{as_text(line.qty)} per {line.per}"]
    if line.cut:
        parts.append(f"cut {contents_as_typed(Decimal(0), line.cut)}")
    if line.allowance_um:
        parts.append(f"allowance {contents_as_typed(Decimal(0), (line.allowance_um, None))}")
    if line.loss_share:
        parts.append(f"lost {as_text(line.loss_share)}")
    if line.may_turn:
        parts.append("may turn")
    if line.option:
        parts.append(f"for {line.option}")
    return ", ".join(parts)


def _of_wear(wear: NewWear) -> str:
    parts = [f"wears {as_text(wear.life)}"]
    if wear.machine:
        parts.append(f"on {wear.machine} {wear.pocket}".rstrip())
    parts += [words for words in (wear.work_material, wear.cutting_data) if words]
    return ", ".join(parts)
