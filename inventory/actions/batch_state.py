"""What every step of a batch shares: its state, what is held for it, what is taken for it."""

from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal

from django.db.models import Sum

from forecasting.explosion import Made
from inventory.actions.issue import take_first_expired
from inventory.actions.posting import Entry, post, refuse_impossible_day
from inventory.days import show_day
from inventory.errors import NotEnough, Refused, WrongState
from inventory.fields import QuantityField
from inventory.models import Balance, Batch, Item, Reservation, User
from inventory.queries.availability import free_by_item

STATE = Batch.State


def refuse_unless(batch: Batch, verb: str, *states: str) -> None:
    """Read the batch anew, locked. Raises: WrongState unless it is in one of the states."""
    current = Batch.objects.select_for_update().get(pk=batch.pk)
    batch.state, batch.started_on = current.state, current.started_on
    if current.state not in states:
        wanted = " or ".join(STATE(state).label for state in states)
        raise WrongState(
            f"Batch {batch.number} is {current.get_state_display()}; only one that is {wanted} "
            f"can be {verb}."
        )


def refuse_outside_work(batch: Batch, day: date) -> None:
    """Raise Refused for a day to come or before the batch was started."""
    refuse_impossible_day(day)
    if day < batch.started_on:
        raise Refused(
            f"Batch {batch.number} was started on {show_day(batch.started_on)}, after {show_day(day)}."
        )


def refuse_unmade(batch: Batch, made: Iterable[Made]) -> None:
    """Raise NotEnough for a part that has to be made ahead, because it has to wait."""
    for part in made:
        if part.to_make and part.wait_days:
            raise NotEnough(
                f"Batch {batch.number}: make {part.to_make} {part.item} first; "
                f"they are ready {part.wait_days} day(s) later."
            )


def close_reservations(batch: Batch) -> None:
    """Let go of everything held."""
    batch.reservations.filter(is_open=True).update(is_open=False)


def use_for_batch(
    batch: Batch, amounts: Iterable[tuple[Item, Decimal]], day: date, by: User | None
) -> None:
    """Take quantities for the batch in one posting: of the lots it held, then what is free."""
    wanted = [(item, qty) for item, qty in amounts if qty]
    if not wanted:
        return
    free = free_by_item(day, [item.pk for item, _ in wanted], batch=batch)
    held = _held_by_lot(batch)
    entries = [
        entry
        for item, qty in wanted
        for entry in take_first_expired(item, qty, day, free_stock=_own_first(free[item.pk], held))
    ]
    _take_from_reservations(batch, entries)
    post("issue", entries, day=day, by=by, reason="batch", batch=batch)


def _held_by_lot(batch: Batch) -> dict[int, Decimal]:
    """What the batch holds or held of each lot, pieces left out."""
    rows = batch.reservations.filter(piece__isnull=True).order_by().values_list("lot")
    return dict(rows.annotate(held=Sum("qty", output_field=QuantityField())))


def _own_first(
    free: Iterable[tuple[Balance, Decimal]], held: Mapping[int, Decimal]
) -> list[tuple[Balance, Decimal]]:
    """Free stock with what was chosen for the batch in front: its lots match each other."""
    left, own, rest = dict(held), [], []
    for balance, qty in free:
        chosen = min(qty, left.get(balance.lot_id, Decimal(0)))
        if chosen:
            left[balance.lot_id] -= chosen
            own.append((balance, chosen))
        if qty > chosen:
            rest.append((balance, qty - chosen))
    return own + rest


def _take_from_reservations(batch: Batch, entries: Iterable[Entry]) -> None:
    held = list(batch.reservations.filter(is_open=True, piece__isnull=True))
    for entry in entries:
        left = -entry.qty
        for reservation in held:
            if reservation.lot_id == entry.lot.pk and reservation.is_open and left:
                taken = min(reservation.qty, left)
                left -= taken
                if taken == reservation.qty:
                    reservation.is_open = False
                else:
                    reservation.qty -= taken
    Reservation.objects.bulk_update(held, ["qty", "is_open"])
