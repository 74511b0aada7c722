"""What every action shares: one transaction, a request key that acts once, a word of confirmation."""

import hashlib
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from decimal import InvalidOperation
from functools import wraps
from typing import Any, ParamSpec, TypeVar

from django.apps import apps
from django.db import DataError, IntegrityError, models, transaction

from inventory.errors import AlreadyDone, Refused
from inventory.models import Request

P = ParamSpec("P")
R = TypeVar("R")
_sure: ContextVar[bool] = ContextVar("sure", default=False)


def action(function: Callable[P, R]) -> Callable[..., R]:
    """Make a function an action: all of it or none, and once for each request key.

    The same key with the same content returns the record of the first time; with other content it
    raises AlreadyDone. Without a key the action is simply done. sure: what it would ask back about
    (NotSure) is confirmed.
    """

    @wraps(function)
    def act(*, key: uuid.UUID | None = None, sure: bool = False, **asked: Any) -> Any:
        with _confirmed(sure):
            return once(key, asked)

    def once(key: uuid.UUID | None, asked: dict[str, Any]) -> Any:
        if key is None:
            with _all_or_nothing():
                return function(**asked)
        digest = _digest(function.__name__, asked)
        earlier = Request.objects.filter(pk=key).first()
        if earlier is None:
            try:
                with _all_or_nothing():
                    result = function(**asked)
                    _remember(key, function.__name__, digest, result)
                    return result
            except (IntegrityError, Refused):
                # Its twin may have been quicker and taken what this one was refused.
                earlier = Request.objects.filter(pk=key).first()
                if earlier is None:
                    raise
        return _first_result(earlier, function.__name__, digest)

    return act


def is_sure() -> bool:
    """Whether the action that is being done was confirmed."""
    return _sure.get()


@contextmanager
def _confirmed(sure: bool) -> Iterator[None]:
    """Actions inside of this one are confirmed with it."""
    before = _sure.set(sure or _sure.get())
    try:
        yield
    finally:
        _sure.reset(before)


@contextmanager
def _all_or_nothing() -> Iterator[None]:
    """One transaction; what no column can hold is refused in words, on every engine."""
    try:
        with transaction.atomic():
            yield
    except (DataError, OverflowError, InvalidOperation) as error:
        raise Refused(
            "A number or a text of this entry is larger than can be kept. Nothing was written. "
            "Check the figures and shorten the note."
        ) from error


def _remember(key: uuid.UUID, name: str, digest: str, result: Any) -> None:
    is_record = isinstance(result, models.Model)
    Request.objects.create(
        key=key,
        action=name,
        digest=digest,
        result_model=result._meta.label_lower if is_record else "",
        result_id=result.pk if is_record else None,
    )


def _first_result(earlier: Request, name: str, digest: str) -> Any:
    if (earlier.action, earlier.digest) != (name, digest):
        raise AlreadyDone(
            "This form was sent before with other content, and that entry stands. "
            "Open the page again to make another one."
        )
    if not earlier.result_model:
        return None
    record = apps.get_model(earlier.result_model).objects.filter(pk=earlier.result_id).first()
    if record is None:
        raise AlreadyDone(
            "This form was sent before, and that entry was taken back since. "
            "Open the page again to make another one."
        )
    return record


def _digest(name: str, asked: dict[str, Any]) -> str:
    content = repr((name, sorted((field, _plain(value)) for field, value in asked.items())))
    return hashlib.sha256(content.encode()).hexdigest()


def _plain(value: Any) -> str:
    if isinstance(value, models.Model):
        return f"{value._meta.label_lower}:{value.pk}"
    if isinstance(value, dict):
        return repr(sorted((_plain(k), _plain(v)) for k, v in value.items()))
    if isinstance(value, list | tuple | models.QuerySet):
        return repr([_plain(part) for part in value])
    return repr(value)
