"""Time-phased netting: what is needed, what is here, what must be released and when."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import accumulate

from forecasting.errors import require

__all__ = [
    "LotRule",
    "NettingRecord",
    "fixed_quantity",
    "lot_for_lot",
    "net_requirements",
    "record_of",
    "whole_packs",
]

Qty = Decimal | int
LotRule = Callable[[Qty], Qty]


@dataclass(frozen=True)
class NettingRecord:
    """One row of numbers per line of the record, one number per period.

    balance: projected stock if nothing is planned. net: part of the need that nothing covers.
    projected: stock with the planned receipts. releases: planned receipts moved by the lead time.
    past_due: quantity whose release would have had to happen before the first period.
    """

    gross: tuple[Qty, ...]
    scheduled: tuple[Qty, ...]
    balance: tuple[Qty, ...]
    net: tuple[Qty, ...]
    receipts: tuple[Qty, ...]
    projected: tuple[Qty, ...]
    releases: tuple[Qty, ...]
    past_due: Qty


def lot_for_lot(need: Qty) -> Qty:
    """Order exactly what is missing."""
    return need


def fixed_quantity(lot: Qty) -> LotRule:
    """Rule that orders as many whole lots as the need takes."""
    require(lot > 0, "lot", "be above 0", lot)
    return lambda need: math.ceil(Decimal(need) / Decimal(lot)) * lot


def whole_packs(pack: Qty, minimum: int = 1) -> LotRule:
    """Rule that orders as many whole packs as the need takes, never fewer than the minimum."""
    require(minimum >= 1, "minimum", "be 1 or more", minimum)
    lots = fixed_quantity(pack)
    return lambda need: max(lots(need), minimum * pack)


def net_requirements(
    gross: Sequence[Qty],
    scheduled: Sequence[Qty],
    *,
    on_hand: Qty,
    lead: int,
    safety_stock: Qty = 0,
    lot_rule: LotRule = lot_for_lot,
) -> NettingRecord:
    """Planned receipts that keep stock at or above safety stock, and their release periods.

    With a forecast as gross need and a safety stock this is the time-phased order point.
    Args: gross, scheduled: need and open orders per period, equally long; lead: whole periods.
    Raises: OutOfRange if the rows differ in length or lead is negative.
    Source: the record of Orlicky's Material Requirements Planning, chapters 7 and 9.
    Checked in: tests/published/test_netting.py
    """
    require(len(gross) == len(scheduled), "scheduled", f"have {len(gross)} periods", len(scheduled))
    stock, receipts = on_hand, []
    for need, due in zip(gross, scheduled, strict=True):
        short = max(0, need + safety_stock - stock - due)
        receipts.append(lot_rule(short) if short else 0)
        stock += due + receipts[-1] - need
    return record_of(
        gross, scheduled, receipts, on_hand=on_hand, lead=lead, safety_stock=safety_stock
    )


def record_of(
    gross: Sequence[Qty],
    scheduled: Sequence[Qty],
    receipts: Sequence[Qty],
    *,
    on_hand: Qty,
    lead: int,
    safety_stock: Qty = 0,
) -> NettingRecord:
    """The record when the planned receipts are known, one number a period.

    Args, Raises: as net_requirements.
    """
    for name, row in (("scheduled", scheduled), ("receipts", receipts)):
        require(len(row) == len(gross), name, f"have {len(gross)} periods", len(row))
    require(lead >= 0, "lead", "not be negative", lead)
    changes = [due - need for need, due in zip(gross, scheduled, strict=True)]
    with_receipts = [sum(pair) for pair in zip(changes, receipts, strict=True)]
    projected = tuple(accumulate(with_receipts, initial=on_hand))
    return NettingRecord(
        gross=tuple(gross),
        scheduled=tuple(scheduled),
        balance=tuple(accumulate(changes, initial=on_hand))[1:],
        net=tuple(
            max(0, safety_stock - stock - change)
            for stock, change in zip(projected, changes, strict=False)
        ),
        receipts=tuple(receipts),
        projected=projected[1:],
        releases=(*receipts[lead:], *[0] * min(lead, len(receipts))),
        past_due=sum(receipts[:lead]),
    )
