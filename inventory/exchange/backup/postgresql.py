"""A PostgreSQL database dumped at one moment, and put back in one transaction."""

import os
import re
import shutil
import subprocess
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from django.core.management import call_command
from django.db import connection, transaction

from inventory.errors import Refused
from inventory.exchange.backup.contents import (
    Contents,
    read_contents,
    refuse_other_rows,
    working_on,
)

NAME = "database.dump"
COPY = re.compile(rb'COPY (?:\S+\.)?"?([^\s."]+)"? \(.*\) FROM stdin;\n')
END_OF_COPY = b"\\.\n"
NEWER_SETTING = b"SET transaction_timeout = 0;\n"
"""What programs from 17 on write, and servers before 17 don't know."""


def copy_out(file: Path) -> Contents:
    """Dump the database as it is at one moment, and check the dump against that moment.

    One transaction takes a snapshot, lends it to pg_dump, counts and audits it.
    """
    dump, listing = _programs("pg_dump", "pg_restore")
    live = connection.copy()
    with working_on(live), transaction.atomic():
        wanted = [f"--snapshot={_snapshot()}", "--format=custom", "--compress=0"]
        _run([dump, *wanted, "--no-owner", "--no-privileges", f"--file={file}"])
        found = read_contents()
    refuse_other_rows(_rows_in(file, listing), found.rows)
    return found


def prepare(file: Path, rows: Mapping[str, int]) -> None:
    """Check a dump out of a backup before anything is replaced."""
    listing, _ = _programs("pg_restore", "psql")
    refuse_other_rows(_rows_in(file, listing), rows)


def put_back(file: Path) -> None:
    """Make the dump the shop's database, in one transaction, and bring it up to this version.

    Raises: Refused when PostgreSQL refuses, for instance because somebody is writing.
    """
    restore, shell = _programs("pg_restore", "psql")
    script = file.with_suffix(".sql")
    with script.open("wb") as statements:
        statements.writelines(_drop_what_is_there())
        with _lines_of([restore, "--clean", "--if-exists", *_plain_sql(file)]) as lines:
            statements.writelines(line for line in lines if line != NEWER_SETTING)
    connection.close()
    quiet = ["--no-psqlrc", "--quiet", "--set=ON_ERROR_STOP=1"]
    _run([shell, *quiet, "--single-transaction", f"--file={script}"])
    call_command("migrate", verbosity=0, interactive=False)


def _snapshot() -> str:
    with connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        cursor.execute("SELECT pg_export_snapshot()")
        return cursor.fetchone()[0]


def _rows_in(file: Path, pg_restore: str) -> Counter[str]:
    """Rows of every table in a dump, counted from what would be put back."""
    rows: Counter[str] = Counter()
    table = ""
    with _lines_of([pg_restore, "--data-only", *_plain_sql(file)]) as lines:
        for line in lines:
            if table and line == END_OF_COPY:
                table = ""
            elif table:
                rows[table] += 1
            elif begin := COPY.fullmatch(line):
                table = begin[1].decode()
    return rows


def _drop_what_is_there() -> Iterator[bytes]:
    """Tables that the dump doesn't know mustn't stay; whoever writes is waited for, not for ever."""
    yield b"SET lock_timeout = '20s';\n"
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            yield f"DROP TABLE {connection.ops.quote_name(table)} CASCADE;\n".encode()


def _plain_sql(file: Path) -> list[str]:
    return ["--no-owner", "--no-privileges", "--file=-", str(file)]


def _programs(*names: str) -> list[str]:
    """Paths of the client programs; Refused when one is missing or older than the server."""
    connection.ensure_connection()
    server = connection.pg_version // 10000
    paths = []
    for name in names:
        path = shutil.which(name)
        if path is None:
            raise Refused(
                f"The program {name} isn't on this computer. Install PostgreSQL's client programs, "
                f"version {server} or newer (Debian, Ubuntu: postgresql-client)."
            )
        version = _version(path)
        if version < server:
            raise Refused(
                f"{name} is of version {version}, the server of {server}. Install PostgreSQL's "
                f"client programs of version {server} or newer."
            )
        paths.append(path)
    return paths


def _version(program: str) -> int:
    return int(re.search(r"\d+", _run([program, "--version"]))[0])


def _run(command: list[str]) -> str:
    heard = {"capture_output": True, "text": True, "errors": "replace"}
    done = subprocess.run(command, env=_environment(), **heard)
    if done.returncode:
        _refuse(command, done.stderr)
    return done.stdout


@contextmanager
def _lines_of(command: list[str]) -> Iterator[Iterator[bytes]]:
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    with subprocess.Popen(command, env=_environment(), **pipes) as program:
        yield program.stdout
        complaint = program.stderr.read()
    if program.returncode:
        _refuse(command, complaint.decode(errors="replace"))


def _refuse(command: list[str], complaint: str) -> None:
    lines = complaint.strip().splitlines() or ["no reason"]
    raise Refused(f"{Path(command[0]).name} stopped: {lines[0]}. Nothing was changed.")


def _environment() -> dict[str, str]:
    """The address of the database for the client programs; a password on a command line is seen."""
    names = {"PGDATABASE": "NAME", "PGHOST": "HOST", "PGPORT": "PORT"}
    names |= {"PGUSER": "USER", "PGPASSWORD": "PASSWORD"}
    given = {name: str(connection.settings_dict[key] or "") for name, key in names.items()}
    return os.environ | {name: value for name, value in given.items() if value} | {"LC_ALL": "C"}
