"""The three answers as plain data for JSON; quantities as text, so that nothing is rounded."""

from typing import Any

from inventory.models import Shop
from inventory.queries.batch_check import BatchCheck, MaterialCheck
from inventory.queries.join_orders import worth_joining
from inventory.queries.reorder_list import ReorderLine, ReorderList
from inventory.queries.wear_check import WearCheck


def batch_check_data(check: BatchCheck) -> dict[str, Any]:
    """Keys: day, lines, can_make, limited_by, start_on, ready_on, materials, made, wear, services."""
    return {
        "day": str(check.day),
        "possible": check.is_possible,
        "lines": [
            {
                "product": line.wanted.product.code,
                "options": [str(option) for option in line.wanted.options],
                "wanted": line.wanted.qty,
                "start": line.start.start,
                "chance_enough": round(line.start.chance_enough, 4),
                "can_make": can_make,
            }
            for line, can_make in zip(check.lines, check.can_make, strict=True)
        ],
        "limited_by": [item.code for item in check.limited_by],
        "start_on": _day(check.start_on),
        "ready_on": _day(check.ready_on),
        "materials": [_material(line) for line in check.materials],
        "made": [
            {
                "item": part.item.code,
                "needed": str(part.made.needed),
                "from_stock": str(part.made.from_stock),
                "to_make": part.made.to_make,
                "wait_days": part.made.wait_days,
            }
            for part in check.made
        ],
        "wear": [wear_data(line) for line in check.wear],
        "services": [
            {
                "item": line.item.code,
                "qty": line.qty,
                "vendor": line.offer.supplier.code if line.offer else None,
                "lead_days": line.offer.lead_days if line.offer else None,
                "minimum": str(line.minimum.normalize()),
                "cost": str(round(line.cost, 2)),
            }
            for line in check.services
        ],
        "cautions": [{"about": each.about, "text": each.text} for each in check.cautions],
    }


def wear_data(line: WearCheck) -> dict[str, Any]:
    """One wearing item of a job; lives in `unit`."""
    return {
        "item": line.item.code,
        "unit": line.item.life_unit,
        "fitted": line.fitted.label if line.fitted else None,
        "used": str(line.used),
        "job": str(line.job),
        "ahead": str(line.ahead),
        "chance": round(line.chance, 4),
        "places": [
            {
                "fitted": [one.label for one in station.fitted],
                "job": str(station.job),
                "chance": round(station.chance, 4),
            }
            for station in line.stations
        ],
        "spares": line.spares,
        "reground": line.reground,
        "spares_wanted": line.spares_wanted,
        "short": line.short,
        "answer": line.status,
    }


def reorder_data(found: ReorderList) -> dict[str, Any]:
    """Keys: day, forecast_of, stale, suppliers (each with lines, fee, total), soon, put_aside.

    worth_joining of a supplier: lines that aren't due, what adding them saves, and the chance that
    they would cost a fee of their own.
    """
    riding = worth_joining(found, float(Shop.objects.get().holding_rate)) if found.groups else {}
    return {
        "day": str(found.day),
        "forecast_of": _day(found.run.as_of) if found.run else None,
        "stale": found.is_stale,
        "suppliers": [
            {
                "supplier": group.supplier.code if group.supplier else None,
                "order_by": _day(group.order_by),
                "fee": str(round(group.fee, 2)),
                "total": str(round(group.total, 2)),
                "lines": [_line(line) for line in group.lines],
                "worth_joining": [
                    {
                        "lines": [_line(line) for line in each.lines],
                        "saves": str(round(each.saves, 2)),
                        "chance_of_a_fee": round(each.alone, 3),
                    }
                    for each in (riding.get(group.supplier.pk, []) if group.supplier else [])
                ],
            }
            for group in found.groups
        ],
        "soon": [_line(line) for line in found.soon],
        "put_aside": [
            {**_line(each.line), "until": _day(each.snooze.until), "reason": each.snooze.reason}
            for each in found.asleep
        ],
        "total": str(round(found.total, 2)),
    }


def _material(line: MaterialCheck) -> dict[str, Any]:
    data = {
        "item": line.item.code,
        "unit": line.item.stock_unit,
        "need": str(line.need),
        "on_hand": str(line.stock.on_hand),
        "held": str(line.stock.held),
        "unusable": {why: str(qty) for why, qty in line.stock.unusable.items()},
        "available": str(line.stock.available),
        "short": str(line.short),
        "covered_on": _day(line.covered) if line.is_short else None,
        "covered_by": line.covered_by,
    }
    if line.material is not None:
        data["parts"] = [
            {"length_um": size.length_um, "width_um": size.width_um or None, "count": count}
            for size, count in line.parts.items()
        ]
        data["kits_wanted"] = line.material.kits
        data["kits_possible"] = line.material.can_make
        data["full_pieces_to_buy"] = line.pieces_short
    return data


def _line(line: ReorderLine) -> dict[str, Any]:
    return {
        "item": line.item.code,
        "unit": line.item.stock_unit,
        "position": str(line.position),
        "reorder_point": line.forecast.reorder_point,
        "order_up_to": line.forecast.order_up_to,
        "packs": line.choice.packs if line.choice else None,
        "pack": line.offer.pack_name if line.offer else None,
        "qty": str(line.choice.qty) if line.choice else None,
        "cost": str(round(line.cost, 2)),
        "order_by": None if line.comes_late else _day(line.order_by),
        "comes_late": line.comes_late,
        "runs_out": _day(line.runs_out.expected),
        "runs_out_early": _day(line.runs_out.early),
        "why": line.why,
    }


def _day(day: Any) -> str | None:
    return str(day) if day else None
