"""What stock is taken for by hand, and the fields that every such form shares."""

from datetime import date
from typing import Any

from django import forms
from django.utils import timezone

from inventory.models import Batch, Movement
from inventory.pages.forms import ActionForm, DayField

REASONS = [
    ("one-off", "one-off"),
    ("repair", "repair"),
    ("sample", "sample"),
    ("practice", "practice"),
    ("shop use", "shop use"),
]
SCRAPPED = ("scrap", "scrap, thrown away")
FOR_BATCH = "batch "


def purposes() -> list[tuple[str, str]]:
    """Outside batches, or extra for one in work."""
    in_work = Batch.objects.filter(state=Batch.State.IN_WORK).order_by("number")
    numbers = in_work.values_list("number", flat=True)
    return [*REASONS, *((FOR_BATCH + number, f"batch {number}, extra") for number in numbers)]


def all_purposes() -> list[tuple[str, str]]:
    return [*purposes(), SCRAPPED]


def purpose_of(taken: Movement | None) -> str:
    """What an entry was taken for, as one of the purposes; empty when nothing was taken."""
    if taken is None:
        return ""
    batch = taken.posting.batch
    return f"{FOR_BATCH}{batch.number}" if batch else taken.posting.reason


class DayOrToday(DayField):
    """Today when no day is sent: a tap sends none."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, **kwargs)

    def clean(self, value: Any) -> date:
        return super().clean(value) or timezone.localdate()


class ReasonForm(ActionForm):
    """Cleaned to `reason` and `batch`, as the actions take them."""

    reason = forms.ChoiceField(label="What for", choices=all_purposes)
    day = DayOrToday()
    note = forms.CharField(max_length=200, required=False)

    def clean(self) -> dict:
        asked = super().clean()
        asked["batch"] = None
        reason = asked.get("reason", "")
        if reason.startswith(FOR_BATCH):
            number = reason.removeprefix(FOR_BATCH)
            asked |= {"reason": "batch", "batch": Batch.objects.get(number=number)}
        return asked
