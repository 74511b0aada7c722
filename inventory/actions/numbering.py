"""Running numbers on labels: lots, pieces, batches, orders, fitted cutters, counts."""

from django.db import models

from inventory.models import RunningNumber

LOT, PIECE, BATCH, ORDER, FITTED, COUNT = "L", "P", "B", "O", "T", "C"


def next_number(prefix: str, model: type[models.Model], field: str) -> str:
    """The next label of a kind, e.g. L-0042."""
    return next_numbers(prefix, 1, model, field)[0]


def next_numbers(prefix: str, count: int, model: type[models.Model], field: str) -> list[str]:
    """The next labels of a kind, passing over any that somebody has written by hand.

    The counter's row stays locked until the action ends: two actions never get one number.
    """
    counter, _ = RunningNumber.objects.select_for_update().get_or_create(prefix=prefix)
    given: list[str] = []
    while len(given) < count:
        wanted = count - len(given)
        fresh = [f"{prefix}-{counter.last + n:04}" for n in range(1, wanted + 1)]
        counter.last += wanted
        taken = set(model.objects.filter(**{f"{field}__in": fresh}).values_list(field, flat=True))
        given += [label for label in fresh if label not in taken]
    counter.save(update_fields=["last"])
    return given
