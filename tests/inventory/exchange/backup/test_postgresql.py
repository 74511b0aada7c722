"""PostgreSQL's client programs: missing, too old, and what they print."""

import re
import shutil

import pytest
from django.db import connection

from inventory.errors import Refused
from inventory.exchange.backup import make_backup, postgresql, restore_backup

postgresql_only = pytest.mark.skipif(
    "connection.vendor != 'postgresql'", reason="PostgreSQL's own programs"
)


@postgresql_only
@pytest.mark.django_db(transaction=True)
def test_missing_programs_are_named_with_the_version_that_fits(shop, monkeypatch):
    monkeypatch.setattr(shutil, "which", lambda name: None)
    server = connection.pg_version // 10000
    wanted = f"The program pg_dump isn't on this computer. .* version {server} or newer"
    with pytest.raises(Refused, match=wanted):
        make_backup()


@postgresql_only
@pytest.mark.django_db(transaction=True)
def test_programs_older_than_the_server_are_refused(shop, monkeypatch):
    file = make_backup().backup.path
    monkeypatch.setattr(postgresql, "_version", lambda program: 9)
    with pytest.raises(Refused, match="pg_dump is of version 9, the server of"):
        make_backup()
    with pytest.raises(Refused, match="pg_restore is of version 9, the server of"):
        restore_backup(file, replace=True)


# Lines as pg_dump 15 and pg_restore 15 print them.
@pytest.mark.parametrize(
    ("line", "table"),
    [
        (b"COPY public.inventory_lot (id, number) FROM stdin;\n", b"inventory_lot"),
        (b'COPY public.inventory_request (key, action, "at") FROM stdin;\n', b"inventory_request"),
        (b'COPY shop."Lot" (id) FROM stdin;\n', b"Lot"),
        (b"COPY of the certificate asked for\n", None),
    ],
    ids=["plain", "a reserved word for a column", "quoted", "a note"],
)
def test_beginning_of_a_tables_rows_is_recognised(line, table):
    found = re.fullmatch(postgresql.COPY, line)
    assert (found and found[1]) == table
