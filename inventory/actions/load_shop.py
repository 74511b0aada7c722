"""A whole shop put back, record by record with its ids and times, where none is yet."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.management.color import no_style
from django.db import IntegrityError, connection, models

from inventory.actions.request import action
from inventory.errors import Refused
from inventory.queries.audit import audit

CHUNK = 1000
MOST_NAMED = 3


@dataclass(frozen=True)
class Records:
    """All records of a model: values in the order of the fields."""

    model: type[models.Model]
    fields: Sequence[models.Field]
    rows: Iterable[Sequence[Any]]


@action
def load_shop(
    *,
    tables: Iterable[Records],
    files: Iterable[tuple[str, bytes]] = (),
    said: Mapping[str, int] | None = None,
) -> dict[str, int]:
    """Insert records as they are and attached files under their names; return counts by table.

    said: how many records each table is said to have. Refuses a database that holds records already,
    other counts than said, records that name missing ones or break a rule, and a shop whose figures
    don't agree with its ledger. After a refusal none of the files is there either.
    """
    counts = {}
    for records in tables:
        if records.model._base_manager.exists():
            raise Refused("There are records in this database already. Load into an empty one.")
        counts[records.model._meta.db_table] = _insert(records)
    _refuse_broken_rules()
    if said is not None and counts != said:
        raise Refused("Records are missing in this file, or there are too many. Export anew.")
    _continue_numbering(counts)
    _keep_all(files)
    return counts


def _insert(records: Records) -> int:
    quote = connection.ops.quote_name
    table = records.model._meta.db_table
    columns = ", ".join(quote(field.column) for field in records.fields)
    places = ", ".join(["%s"] * len(records.fields))
    statement = f"INSERT INTO {quote(table)} ({columns}) VALUES ({places})"
    count, rows = 0, iter(records.rows)
    with connection.cursor() as cursor:
        while chunk := list(islice(rows, CHUNK)):
            count += len(chunk)
            try:
                cursor.executemany(statement, [_stored(records.fields, row) for row in chunk])
            except IntegrityError as error:
                raise Refused(f"The records of {table} don't fit together: {error}") from error
    return count


def _stored(fields: Sequence[models.Field], row: Sequence[Any]) -> list[Any]:
    return [
        field.get_db_prep_save(value, connection) for field, value in zip(fields, row, strict=True)
    ]


def _refuse_broken_rules() -> None:
    try:
        connection.check_constraints()
    except IntegrityError as error:
        raise Refused(f"A record names one that isn't there: {error}") from error
    if mismatches := audit():
        raise Refused(
            "The figures don't agree with the ledger, so the files were changed. Nothing was "
            f"loaded. {' '.join(mismatches[:MOST_NAMED])}"
        )


def _continue_numbering(tables: Iterable[str]) -> None:
    """PostgreSQL counts ids on its own; SQLite goes on from the largest by itself."""
    loaded = list(connection.introspection.installed_models(list(tables)))
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), loaded):
            cursor.execute(statement)


def _keep_all(files: Iterable[tuple[str, bytes]]) -> None:
    kept = []
    try:
        for name, content in files:
            if _keep(name, content):
                kept.append(name)
    except BaseException:
        for name in kept:
            default_storage.delete(name)
        raise


def _keep(name: str, content: bytes) -> bool:
    """Whether the file is new here; the very same one may lie there already."""
    if default_storage.exists(name):
        with default_storage.open(name) as kept:
            if kept.read() == content:
                return False
        raise Refused(f"Another file {name} is in the shop's folder already. Move it away first.")
    default_storage.save(name, ContentFile(content))
    return True
