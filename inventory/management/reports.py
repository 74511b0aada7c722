"""The three answers as text for a terminal."""

from collections.abc import Iterable
from decimal import Decimal

from inventory.days import show_day
from inventory.management.terminal import heading, paragraph, table
from inventory.models import Shop
from inventory.queries.batch_check import BatchCheck, MaterialCheck
from inventory.queries.cautions import DEFER
from inventory.queries.join_orders import Joined, worth_joining
from inventory.queries.reorder_list import ReorderLine, ReorderList
from inventory.queries.wear_check import WearCheck
from inventory.units import show_number, show_quantity, show_size


def batch_check_report(check: BatchCheck) -> str:
    """The whole batch check, the answer first."""
    parts = [heading(f"Batch check for {_wanted(check)}"), *map(paragraph, _answer(check))]
    parts += ["", _materials(check), _made(check), _wear(check.wear), _services(check)]
    if check.cautions:
        parts.append(heading("Usual cautions"))
        parts += [paragraph(f"{each.about}: {each.text}", "  ") for each in check.cautions]
        parts.append(paragraph(DEFER, "  "))
    return "\n".join(part for part in parts if part is not None and part != "")


def reorder_report(found: ReorderList, currency: str) -> str:
    """Due lines by supplier with totals, then what comes due soon, and what is put aside."""
    if found.run is None:
        return "No forecast yet. Make one: python3 manage.py forecast"
    parts = [
        heading(f"Reorder list of {show_day(found.day)}, forecast of {show_day(found.run.as_of)}")
    ]
    if found.is_stale:
        parts.append(paragraph("Plan or bills have changed since: python3 manage.py forecast"))
    if not found.lines:
        parts.append("Nothing has to be ordered today.")
    riding = worth_joining(found, float(Shop.objects.get().holding_rate)) if found.groups else {}
    for group in found.groups:
        name = group.supplier.name if group.supplier else "Nobody offers these yet"
        by = f", order by {show_day(group.order_by)}" if group.order_by else ""
        parts.append(heading(f"{name}: {_money(group.total, currency)}{by}"))
        parts.append(
            table(
                ["item", "order", "cost", "why"],
                [_order(line, currency) for line in group.lines],
                [2],
            )
        )
        if group.supplier:
            parts += [_ride(each, currency) for each in riding.get(group.supplier.pk, [])]
    if found.soon:
        names = ", ".join(f"{line.item.code} ({_what_to_do(line)})" for line in found.soon)
        parts += ["", paragraph(f"Due within two weeks: {names}.")]
    if found.asleep:
        names = ", ".join(
            f"{each.line.item.code} (until {show_day(each.snooze.until)})" for each in found.asleep
        )
        parts += ["", paragraph(f"Put aside: {names}.")]
    return "\n".join(parts)


def _ride(joined: Joined, currency: str) -> str:
    orders = " and ".join(
        f"{line.item.code} ({line.choice.packs} × {line.offer.pack_name})" for line in joined.lines
    )
    saves = _money(Decimal(str(round(joined.saves, 2))), currency)
    return paragraph(
        f"Also worth ordering now: {orders}. Saves about {saves}, another fee before the next order "
        f"here being {joined.alone:.0%} likely."
    )


def cutter_report(checks: Iterable[WearCheck], title: str) -> str:
    """Every wearing item of a job, those that will not last first."""
    return heading(title) + "\n" + _wear_table(sorted(checks, key=lambda check: check.chance))


def _wanted(check: BatchCheck) -> str:
    return " and ".join(
        " ".join(
            [
                f"{line.wanted.qty} × {line.wanted.product.code}",
                *(f"({option.choice})" for option in line.wanted.options),
            ]
        )
        for line in check.lines
    )


def _answer(check: BatchCheck) -> Iterable[str]:
    for line, can_make in zip(check.lines, check.can_make, strict=True):
        yield (
            f"{line.wanted.product.name}: start {line.start.start} so that {line.wanted.qty} good "
            f"ones finish with {line.start.chance_enough:.0%} chance. "
            f"{can_make} can be made from what is here."
        )
    if check.wear_short:
        yield "Counted so that the cutters here last more likely than not."
    if check.limited_by:
        yield f"Limited by: {', '.join(str(item) for item in check.limited_by)}."
    short = len(check.short) + len(check.wear_short)
    yield f"{short} item(s) short." if short else "Nothing is short."
    if check.start_on is None:
        yield "No start date: something that is short has no supplier."
    else:
        yield f"Could start on {show_day(check.start_on)}; ready about {show_day(check.ready_on)}."


def _materials(check: BatchCheck) -> str:
    rows = [_material(line) for line in check.materials]
    return table(["item", "need", "free", "short", "remarks"], rows, [1, 2, 3])


def _material(line: MaterialCheck) -> list[str]:
    unit = line.item.stock_unit
    remarks = [f"{show_quantity(qty, unit)} {why}" for why, qty in line.stock.unusable.items()]
    if line.stock.held:
        remarks.append(f"{show_quantity(line.stock.held, unit)} held for other batches")
    if line.material is not None:
        remarks += _cutting(line)
    if line.is_short:
        remarks.append(
            f"could be here {show_day(line.covered)} by {line.covered_by}"
            if line.covered
            else line.covered_by
        )
    short = f"short {show_quantity(line.short, unit)}" if line.is_short else ""
    free = show_quantity(line.stock.available, unit)
    return [line.item.code, show_quantity(line.need, unit), free, short, "; ".join(remarks)]


def _cutting(line: MaterialCheck) -> Iterable[str]:
    for size, count in line.parts.items():
        yield f"{count} × {show_size(size.length_um, size.width_um or None)}"
    for kit, wanted in line.material.kits.items():
        yield f"the pieces here yield {line.material.can_make.get(kit, 0)} of {wanted} {kit}"
    if line.pieces_short:
        yield f"buy {line.pieces_short} full piece(s)"


def _made(check: BatchCheck) -> str:
    if not check.made:
        return ""
    rows = [
        [
            part.item.code,
            show_number(part.made.needed),
            show_number(part.made.from_stock),
            str(part.made.to_make),
            f"make first, ready {part.made.wait_days} day(s) later" if part.ahead else "",
        ]
        for part in check.made
    ]
    head = ["made in house", "need", "from stock", "to make", "remarks"]
    return "\n" + table(head, rows, [1, 2, 3])


def _wear(checks: list[WearCheck]) -> str:
    return "\n" + _wear_table(checks) if checks else ""


def _wear_table(checks: Iterable[WearCheck]) -> str:
    rows = [
        [
            check.item.code,
            _life(check.used, check),
            _life(check.job, check),
            _chance(check.chance),
            f"{check.spares} of {check.spares_wanted}",
            check.status + (f", short {check.short}" if check.short else ""),
        ]
        for check in checks
    ]
    return table(["cutter", "used", "job", "lasts", "spares", "answer"], rows, [1, 2, 3, 4])


def _what_to_do(line: ReorderLine) -> str:
    """With a line that isn't at its reorder point yet."""
    if line.comes_late:
        return "on order, may come too late"
    if line.drafted:
        return "its draft order is to be sent"
    return f"order by {show_day(line.order_by)}"


def _chance(chance: float) -> str:
    """In whole per cent, never quite 0 or 100."""
    if chance >= 0.995:
        return "over 99%"
    return "under 1%" if chance < 0.005 else f"{chance:.0%}"


def _life(amount: Decimal, check: WearCheck) -> str:
    return f"{show_number(amount, 1)} {check.item.life_unit}"


def _services(check: BatchCheck) -> str:
    if not check.services:
        return ""
    rows = []
    for service in check.services:
        if service.offer is None:
            rows.append([service.item.code, str(service.qty), "", "", "no vendor offers it"])
            continue
        below = (
            f"below the minimum of {show_number(service.minimum)}" if service.below_minimum else ""
        )
        rows.append(
            [
                service.item.code,
                str(service.qty),
                f"{service.offer.lead_days} days",
                f"{show_number(service.cost_each, 2)} each",
                "; ".join(filter(None, [service.offer.supplier.name, below])),
            ]
        )
    return "\n" + table(["outside", "blades", "takes", "costs", "remarks"], rows, [1, 2, 3])


def _order(line: ReorderLine, currency: str) -> list[str]:
    if line.offer is None or line.choice is None:
        return [line.item.code, "", "", line.why]
    order = f"{line.choice.packs} × {line.offer.pack_name}"
    return [line.item.code, order, _money(line.cost, currency), f"{line.why} {line.choice.reason}."]


def _money(amount: Decimal, currency: str) -> str:
    return f"{show_number(round(amount, 2), 2)} {currency}"
