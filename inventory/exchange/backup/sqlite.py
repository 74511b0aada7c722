"""The embedded database copied while people write, and put back in one piece."""

import sqlite3
import time
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager, closing
from pathlib import Path

from django.core.management import call_command
from django.db import connection

from inventory.errors import Refused
from inventory.exchange.backup.contents import (
    Contents,
    count_rows,
    read_contents,
    refuse_other_rows,
    working_on,
)

NAME = "database.sqlite3"
PATIENCE = 20
"""Seconds to wait for somebody who writes."""


def copy_out(file: Path) -> Contents:
    """Copy the database as it is at one moment, and check the copy against it.

    One read transaction counts the rows and feeds SQLite's online backup; in WAL mode it neither
    waits for writers nor holds them up.
    """
    live = connection.copy()
    with closing(live), closing(sqlite3.connect(file)) as target:
        live.ensure_connection()
        live.connection.execute("BEGIN")
        rows = count_rows(live)
        live.connection.backup(target)
    with _opened(file):
        _refuse_damage()
        found = read_contents()
    refuse_other_rows(found.rows, rows)
    return found


def prepare(file: Path, rows: Mapping[str, int]) -> None:
    """Check a copy out of a backup and bring it up to this version, before anything is replaced."""
    with _opened(file):
        _refuse_damage()
        refuse_other_rows(count_rows(connection), rows)
        call_command("migrate", verbosity=0, interactive=False)


def put_back(file: Path) -> None:
    """Make the copy the shop's database, in one transaction: killed halfway, the old one stays."""
    connection.close()
    path = connection.settings_dict["NAME"]
    with closing(sqlite3.connect(path, timeout=PATIENCE)) as live:
        live.execute("PRAGMA journal_mode=WAL")
        with closing(sqlite3.connect(file)) as copy:
            copy.backup(live, progress=_give_up_after(PATIENCE))


def _opened(file: Path) -> AbstractContextManager[None]:
    copy = connection.copy()
    options = copy.settings_dict["OPTIONS"]
    copy.settings_dict["NAME"] = file
    # Without a write-ahead log the copy stays one file.
    options["init_command"] = options["init_command"].replace("=WAL", "=DELETE")
    return working_on(copy)


def _refuse_damage() -> None:
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA integrity_check")
        found = [row[0] for row in cursor.fetchall()]
        cursor.execute("PRAGMA foreign_key_check")
        found += [f"a row of {row[0]} names a {row[2]} that isn't there" for row in cursor]
    if found != ["ok"]:
        raise Refused(
            f"The database is damaged: {found[0] if found[0] != 'ok' else found[1]}. "
            "Restore the last good backup."
        )


def _give_up_after(seconds: float) -> Callable[[int, int, int], None]:
    until = time.monotonic() + seconds

    def look(status: int, remaining: int, total: int) -> None:
        if remaining and time.monotonic() > until:
            raise Refused("Somebody is writing all the time. Stop the server and try again.")

    return look
