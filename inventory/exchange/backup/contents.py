"""What a database holds: its rows, its version, and whether the stock in it adds up."""

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from django.db import DEFAULT_DB_ALIAS, connection, connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from inventory.errors import Refused
from inventory.queries.audit import audit


@dataclass(frozen=True)
class Contents:
    """Rows by table, the migrations applied ("app.name"), and what the stock audit found.

    mismatches is None for data of another version: the audit knows this version's tables only.
    """

    rows: Mapping[str, int]
    migrations: list[str]
    mismatches: list[str] | None


@contextmanager
def working_on(database: BaseDatabaseWrapper) -> Iterator[None]:
    """Let this thread's queries and `migrate` talk to another database; closes it at the end."""
    shop = connections[DEFAULT_DB_ALIAS]
    connections[DEFAULT_DB_ALIAS] = database
    try:
        yield
    finally:
        connections[DEFAULT_DB_ALIAS] = shop
        database.close()


def read_contents() -> Contents:
    """Read what the database this thread works on holds."""
    migrations = applied_migrations()
    return Contents(
        rows=count_rows(connection),
        migrations=migrations,
        mismatches=audit() if _is_of_this_version(migrations) else None,
    )


def count_rows(database: BaseDatabaseWrapper) -> dict[str, int]:
    """Number of rows of every table."""
    with database.cursor() as cursor:
        tables = sorted(database.introspection.table_names(cursor))
        return {table: _count(database, cursor, table) for table in tables}


def applied_migrations() -> list[str]:
    return sorted(map(".".join, MigrationRecorder(connection).applied_migrations()))


def unknown_migrations(applied: Iterable[str]) -> list[str]:
    """Those that this version doesn't have, because a newer one made them."""
    known = map(".".join, MigrationLoader(None).disk_migrations)
    return sorted(set(applied).difference(known))


def refuse_other_rows(found: Mapping[str, int], wanted: Mapping[str, int]) -> None:
    """Raise Refused unless a copy holds as many rows as it should, table by table."""
    for table, count in sorted(wanted.items()):
        if found.get(table, 0) != count:
            raise Refused(
                f"The copy of {table} holds {found.get(table, 0)} rows, it should be {count}. "
                "It isn't used. Check the disk and try again."
            )


def _is_of_this_version(migrations: list[str]) -> bool:
    executor = MigrationExecutor(connection)
    waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    return not waiting and not unknown_migrations(migrations)


def _count(database: BaseDatabaseWrapper, cursor: Any, table: str) -> int:
    cursor.execute(f"SELECT COUNT(*) FROM {database.ops.quote_name(table)}")
    return cursor.fetchone()[0]
