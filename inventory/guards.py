"""Database triggers: the ledger is only added to, and no remnant outgrows its parent.

They are installed after every `migrate`, not by one migration: SQLite rebuilds a table when a
column changes and silently drops its triggers with the old table.
"""

from typing import Any

from django.db import DEFAULT_DB_ALIAS, connections

APPEND_ONLY = ("inventory_posting", "inventory_movement", "inventory_wearlog", "inventory_request")
PIECES = "inventory_piece"
TOO_BIG = (
    "(SELECT NEW.length_um > parent.length_um"
    " OR COALESCE(NEW.width_um, 0) > COALESCE(parent.width_um, 0)"
    " FROM inventory_piece parent WHERE parent.id = NEW.parent_id)"
)


def install_after_migrate(using: str = DEFAULT_DB_ALIAS, **_: Any) -> None:
    """Signal receiver of post_migrate; leaves early while the tables don't exist yet."""
    connection = connections[using]
    present = set(connection.introspection.table_names())
    if present.issuperset((*APPEND_ONLY, PIECES)):
        install_guards(connection)


def install_guards(connection: Any) -> None:
    """Create every trigger anew on SQLite or PostgreSQL."""
    drop_guards(connection)
    _run(connection, _sqlite() if connection.vendor == "sqlite" else _postgresql())


def drop_guards(connection: Any) -> None:
    """Remove every trigger; only tests that empty the tables have a reason to."""
    names = [
        (f"{table}_no_{change}", table)
        for table in APPEND_ONLY
        for change in ("update", "delete", "truncate")
    ]
    names += [("inventory_piece_fits_insert", PIECES), ("inventory_piece_fits_update", PIECES)]
    if connection.vendor == "sqlite":
        _run(connection, [f"DROP TRIGGER IF EXISTS {name}" for name, _ in names])
    else:
        _run(connection, [f"DROP TRIGGER IF EXISTS {name} ON {table}" for name, table in names])


def _sqlite() -> list[str]:
    statements = [
        f"CREATE TRIGGER {table}_no_{change} BEFORE {change} ON {table} "
        f"BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END"
        for table in APPEND_ONLY
        for change in ("update", "delete")
    ]
    statements += [
        f"CREATE TRIGGER inventory_piece_fits_{change} BEFORE {change} ON {PIECES} "
        f"WHEN NEW.parent_id IS NOT NULL AND {TOO_BIG} "
        "BEGIN SELECT RAISE(ABORT, 'a piece is larger than its parent'); END"
        for change in ("insert", "update")
    ]
    return statements


def _postgresql() -> list[str]:
    statements = [
        "CREATE OR REPLACE FUNCTION inventory_append_only() RETURNS trigger AS "
        "$$ BEGIN RAISE EXCEPTION '% is append-only', TG_TABLE_NAME; END $$ LANGUAGE plpgsql",
        "CREATE OR REPLACE FUNCTION inventory_piece_fits() RETURNS trigger AS "
        f"$$ BEGIN IF NEW.parent_id IS NOT NULL AND {TOO_BIG} THEN "
        "RAISE EXCEPTION 'a piece is larger than its parent'; END IF; RETURN NEW; END $$ "
        "LANGUAGE plpgsql",
    ]
    for table in APPEND_ONLY:
        statements += [
            f"CREATE TRIGGER {table}_no_{change} BEFORE {change} ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION inventory_append_only()"
            for change in ("update", "delete")
        ]
        statements.append(
            f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION inventory_append_only()"
        )
    statements += [
        f"CREATE TRIGGER inventory_piece_fits_{change} BEFORE {change} ON {PIECES} "
        "FOR EACH ROW EXECUTE FUNCTION inventory_piece_fits()"
        for change in ("insert", "update")
    ]
    return statements


def _run(connection: Any, statements: list[str]) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
