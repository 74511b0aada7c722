"""A batch goes into work: its pieces are cut, its made parts taken."""

from collections.abc import Mapping, Sequence
from datetime import date

from inventory.actions.batch_state import STATE, refuse_unless, refuse_unmade, use_for_batch
from inventory.actions.cut_material import cut_by_plan
from inventory.actions.cut_piece import Size
from inventory.actions.posting import lock_items, refuse_impossible_day
from inventory.actions.request import action
from inventory.errors import NotEnough, Refused
from inventory.models import Batch, User
from inventory.queries.batch_needs import batch_builds, items_of
from inventory.queries.bills import made_bills
from inventory.queries.cut_plans import StartPlan, out_of_reach, start_plan


@action
def start_batch(
    *,
    batch: Batch,
    day: date,
    kept: Mapping[str, Sequence[Size]] | None = None,
    by: User | None = None,
) -> Batch:
    """Cut the pieces held for the batch, and take its parts made in house.

    kept: remnants really kept, by label of the piece they were cut from; the others as planned.
    The rest stays held and is used up when the batch is finished, by what really got that far.
    Refuses a part that has to be made ahead and isn't there.
    """
    refuse_unless(batch, "started", STATE.RESERVED)
    refuse_impossible_day(day)
    lines = batch_builds(batch)
    lock_items(items_of(lines, made_bills()))
    plan = start_plan(batch, lines, day)
    refuse_unmade(batch, plan.made)
    _refuse_out_of_reach(batch, plan, day)
    _refuse_uncut(batch, plan, kept or {})
    batch.reservations.filter(is_open=True, piece__isnull=False).update(is_open=False)
    for material in plan.cuts:
        cut_by_plan(material, day=day, kept=kept or {}, batch=batch, by=by)
    use_for_batch(batch, plan.made_held, day, by)
    batch.state, batch.started_on = STATE.IN_WORK, day
    batch.save(update_fields=["state", "started_on"])
    return batch


def _refuse_out_of_reach(batch: Batch, plan: StartPlan, day: date) -> None:
    missing = any(material.missing for material in plan.cuts)
    if missing and (pieces := out_of_reach(batch, day)):
        named = "; ".join(f"{label} {why}" for label, why in pieces)
        raise NotEnough(
            f"Batch {batch.number} can't be cut as planned: {named}. Put that right, or release the "
            "batch and hold it again."
        )


def _refuse_uncut(batch: Batch, plan: StartPlan, kept: Mapping[str, Sequence[Size]]) -> None:
    cut = {planned.piece for material in plan.cuts for planned in material.plan.rack_pieces}
    for label in kept:
        if label not in cut:
            raise Refused(
                f"Batch {batch.number} doesn't cut piece {label}. Look at its plan again, and cut "
                "the piece on its own page."
            )
