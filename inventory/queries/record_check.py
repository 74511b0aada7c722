"""Many new or changed records judged before they are written, as their models say."""

from collections.abc import Collection, Iterator
from functools import cache
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator
from django.db import models

__all__ = ["CODE", "RecordCheck", "record_check"]

MOST_KNOWN = 100_000

CODE = RegexValidator(
    r"^(?!new\Z)\w[\w.-]*\Z",
    "Letters, figures and - . _ only, and not “new”: the code is in addresses.",
)


@cache
def record_check(model: type[models.Model]) -> "RecordCheck":
    """The check of a model, with the answers it has got so far."""
    return RecordCheck(model)


class RecordCheck:
    """Field rules and check constraints of one model.

    Django asks the database about each constraint of each record. The answer only depends on the
    few values that the constraint speaks of, so it is asked once for each set of them, and the
    answer is kept: a list of 20,000 items needs some hundred questions. Uniqueness is the caller's
    business. Take the one of a model from record_check.
    """

    def __init__(self, model: type[models.Model]) -> None:
        self.model = model
        self.fields = {field.name for field in model._meta.concrete_fields}
        self.constraints = [
            (constraint, sorted(constraint.condition.referenced_base_fields))
            for constraint in model._meta.constraints
            if isinstance(constraint, models.CheckConstraint)
        ]
        self.known: dict[tuple[Any, ...], str] = {}

    def faults(self, record: models.Model, changed: Collection[str]) -> Iterator[tuple[str, str]]:
        """Yield (field, what is wrong) for the changed fields, ("", ...) for constraints on them."""
        try:
            record.clean_fields(exclude=self.fields - set(changed) | self._references())
        except ValidationError as error:
            for name, messages in error.message_dict.items():
                yield name, " ".join(messages)
            return
        for constraint, names in self.constraints:
            is_touched = record.pk is None or not set(changed).isdisjoint(names)
            if is_touched and (fault := self._fault(constraint, names, record)):
                yield "", fault

    def _references(self) -> set[str]:
        """Fields whose content the caller has looked up itself."""
        return {field.name for field in self.model._meta.concrete_fields if field.is_relation}

    def _fault(
        self, constraint: models.CheckConstraint, names: list[str], record: models.Model
    ) -> str:
        values = [getattr(record, name) for name in names]
        key = (constraint.name, *(_plain(value) for value in values))
        fault = self.known.get(key)
        if fault is None:
            fault = self._asked(constraint, record)
            if len(self.known) >= MOST_KNOWN:
                self.known.clear()
            self.known[key] = fault
        return fault

    def _asked(self, constraint: models.CheckConstraint, record: models.Model) -> str:
        try:
            constraint.validate(self.model, record)
        except ValidationError as error:
            return " ".join(error.messages)
        return ""


def _plain(value: Any) -> Any:
    return value.pk if isinstance(value, models.Model) else value
