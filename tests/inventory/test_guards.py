"""The database itself refuses to change or remove what was written, on both engines."""

import uuid

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction

from inventory import actions
from inventory.guards import APPEND_ONLY, drop_guards, install_guards
from inventory.models import Movement, Piece, Posting, Request, WearLog
from tests.factories import DAY, MM, D, bar, cutter, fitted, rack, screws, sheet, stock

KEY = "5f0c6f4e-6f5b-4c3a-9b69-3f1d3c2f6d11"
LEDGER = [Movement, Posting, WearLog, Request]
sqlite_only = pytest.mark.skipif("connection.vendor != 'sqlite'", reason="SQLite's own statement")
postgresql_only = pytest.mark.skipif(
    "connection.vendor != 'postgresql'", reason="PostgreSQL's own statement"
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def written():
    """One row in each table of the ledger."""
    stock(screws(), 100, key=uuid.UUID(KEY))
    actions.log_wear(fitting=fitted(cutter()), amount=D(5), day=DAY)
    connection.check_constraints()  # nothing stays pending that would refuse first


def refused(statement):
    with (
        pytest.raises(DatabaseError) as refusal,
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute(statement)
    return str(refusal.value)


def test_every_table_of_the_ledger_is_guarded():
    assert sorted(APPEND_ONLY) == sorted(model._meta.db_table for model in LEDGER)


@pytest.mark.parametrize("model", LEDGER)
def test_row_is_not_changed(written, model):
    column = model._meta.pk.column
    table = model._meta.db_table
    assert "append-only" in refused(f"UPDATE {table} SET {column} = {column}")


@pytest.mark.parametrize("model", LEDGER)
def test_row_is_not_removed(written, model):
    count = model.objects.count()
    assert "append-only" in refused(f"DELETE FROM {model._meta.db_table}")
    assert model.objects.count() == count > 0


@sqlite_only
@pytest.mark.parametrize("model", LEDGER)
def test_row_is_not_replaced(written, model):
    table = model._meta.db_table
    assert "append-only" in refused(f"REPLACE INTO {table} SELECT * FROM {table}")


@postgresql_only
@pytest.mark.parametrize("model", LEDGER)
def test_table_is_not_emptied(written, model):
    assert "append-only" in refused(f"TRUNCATE {model._meta.db_table} CASCADE")


@postgresql_only
def test_table_is_not_emptied_along_with_another(written):
    assert "append-only" in refused("TRUNCATE inventory_item CASCADE")


def test_orm_is_refused_too(written):
    movement = Movement.objects.first()
    movement.qty = D(5)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        movement.save()
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        Movement.objects.all().delete()


@pytest.mark.parametrize(
    ("length", "width"), [(601, 300), (600, 301), (301, 600)], ids=["long", "wide", "turned"]
)
def test_piece_larger_than_its_parent_is_refused(length, width):
    (parent,) = rack(sheet(), (600, 300))
    row = {"lot": parent.lot, "length_um": length * MM, "width_um": width * MM, "parent": parent}
    with pytest.raises(DatabaseError, match="larger than its parent"), transaction.atomic():
        Piece.objects.create(label="X", **row)


def test_piece_does_not_grow_beyond_its_parent_later():
    (parent,) = rack(bar(), 1000)
    child = Piece.objects.create(lot=parent.lot, label="X", length_um=1000 * MM, parent=parent)
    with pytest.raises(DatabaseError, match="larger than its parent"), transaction.atomic():
        Piece.objects.filter(pk=child.pk).update(length_um=1000 * MM + 1)


def test_guards_come_back_with_every_migrate(written):
    drop_guards(connection)
    call_command("migrate", verbosity=0)
    assert "append-only" in refused("DELETE FROM inventory_movement")


def test_guards_are_installed_anew_without_complaint(written):
    install_guards(connection)
    install_guards(connection)
    assert "append-only" in refused("DELETE FROM inventory_movement")
