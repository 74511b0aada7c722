"""Whether plan or bills have changed since the last forecast; cheap enough for every page."""

import hashlib

from inventory.models import Batch, BatchLine, BillOfMaterials, ForecastRun


def plan_digest() -> str:
    """A mark of the batches still to start, their choices too, and of the bills in force."""
    plan = BatchLine.objects.filter(
        batch__state__in=[Batch.State.PLANNED, Batch.State.RESERVED]
    ).order_by("pk", "options")
    bills = BillOfMaterials.objects.filter(status=BillOfMaterials.Status.ACTIVE).order_by("pk")
    content = (
        list(plan.values_list("bill", "options", "batch__start_on", "start_qty")),
        list(bills.values_list("pk", flat=True)),
    )
    return hashlib.sha256(repr(content).encode()).hexdigest()


def latest_run() -> ForecastRun | None:
    """The forecast that counts: the newest whole one."""
    return ForecastRun.objects.first()


def is_stale(run: ForecastRun) -> bool:
    """Whether the plan or a bill has changed since that run."""
    return run.plan_digest != plan_digest()
