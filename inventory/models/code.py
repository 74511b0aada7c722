"""Codes people type: one record for each, whatever the case."""

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models.functions import Lower

__all__ = ["one_code_whatever_its_case", "refuse_like_code"]


def one_code_whatever_its_case(name: str) -> models.UniqueConstraint:
    """The rule by which bar-4x50 can't stand beside BAR-4X50."""
    return models.UniqueConstraint(
        Lower("code"),
        name=name,
        violation_error_message="Another code differs from this one by case alone.",
    )


def refuse_like_code(record: models.Model) -> None:
    """Raise ValidationError, naming the record whose code differs by case alone."""
    others = type(record)._default_manager.filter(code__iexact=record.code)
    others = others.exclude(pk=record.pk).exclude(code=record.code)
    if other := others.first():
        raise ValidationError(
            {
                "code": f"There is {other.code} already; capitals alone don't tell two codes "
                "apart. Choose another code, or change that one."
            }
        )
