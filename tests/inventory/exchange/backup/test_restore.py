"""A backup put back: whole or not at all, and never over a shop by mistake."""

import json
import os
import random
import shutil
import time
import zipfile
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import DatabaseError, connection, transaction

from inventory.errors import Refused
from inventory.exchange.backup import make_backup, restore_backup
from inventory.exchange.backup.archive import check_archive
from inventory.exchange.backup.contents import count_rows
from inventory.exchange.whole_shop import write_whole_shop
from inventory.models import Lot, Posting, User
from inventory.queries.audit import audit
from inventory.queries.backups import backups_in
from tests import factories as make
from tests.workers import hang_up_of_the_killed

pytestmark = pytest.mark.django_db(transaction=True)
SHEET = "sheets/resin.pdf"


@pytest.fixture
def file(shop) -> Path:
    return make_backup().backup.path


def rewritten(file, **changes):
    """The same backup with other words in its manifest."""
    changed = file.with_name("changed.zip")
    with zipfile.ZipFile(file) as old, zipfile.ZipFile(changed, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "manifest.json":
                content = json.dumps(json.loads(content) | changes)
            new.writestr(name, content)
    return changed


def test_shop_is_back_on_a_new_computer_with_every_row_and_file(file, new_computer):
    here = count_rows(connection)
    with new_computer():
        restored = restore_backup(file)
        assert count_rows(connection) == here
        assert restored.contents.mismatches == audit() == []
        assert restored.replaced is None
        assert (settings.MEDIA_ROOT / SHEET).read_bytes() == SHEET.encode() * 100
        assert (settings.MEDIA_ROOT / "certificates/heat 7.pdf").exists()
        assert list(settings.BACKUP_DIR.iterdir()) == []


def test_restored_shop_works_on(file, new_computer):
    """People sign in, numbers go on where they were, and the ledger is guarded."""
    with new_computer():
        restore_backup(file)
        assert User.objects.get(username="wren").check_password("grind-7-bevels")
        newest = Lot.objects.order_by("pk").last().number
        assert make.stock(make.screws("SCREW-M5"), 10).number > newest
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
            Posting.objects.update(note="changed")
        assert audit() == []
        assert make_backup().manifest.mismatches == []


def test_restored_twice_is_refused_the_second_time(file, new_computer):
    with new_computer():
        restore_backup(file)
        with pytest.raises(Refused, match="There is a shop already in .*add --replace"):
            restore_backup(file)


def test_attached_files_alone_are_not_overwritten_either(file, new_computer):
    with new_computer():
        kept = settings.MEDIA_ROOT / "sheets" / "of another shop.pdf"
        kept.parent.mkdir(parents=True)
        kept.touch()
        with pytest.raises(Refused, match="already"):
            restore_backup(file)
        assert kept.exists()


def test_replaced_shop_is_backed_up_first_and_comes_back_from_that(file):
    (settings.MEDIA_ROOT / SHEET).write_text("revised")
    (settings.MEDIA_ROOT / "later.pdf").touch()
    make.stock(make.screws("LATER"), 10)
    restored = restore_backup(file, replace=True)
    assert not Lot.objects.filter(item__code="LATER").exists()
    assert (settings.MEDIA_ROOT / SHEET).read_text().startswith(SHEET)
    assert not (settings.MEDIA_ROOT / "later.pdf").exists()
    assert restored.replaced.path != file
    restore_backup(restored.replaced.path, replace=True)
    assert Lot.objects.filter(item__code="LATER").exists()
    assert (settings.MEDIA_ROOT / SHEET).read_text() == "revised"
    assert (settings.MEDIA_ROOT / "later.pdf").exists()


def test_tables_of_a_newer_version_do_not_stay(file):
    with connection.cursor() as cursor:
        cursor.execute("CREATE TABLE inventory_next_year (id integer)")
    restore_backup(file, replace=True)
    assert "inventory_next_year" not in connection.introspection.table_names()


def test_shop_that_can_not_be_backed_up_is_not_replaced(file, monkeypatch):
    def refuse(**options):
        raise Refused("The database is damaged.")

    monkeypatch.setattr("inventory.exchange.backup.restore.make_backup", refuse)
    make.stock(make.screws("LATER"), 10)
    with pytest.raises(Refused, match="so it isn't replaced.*damaged.*empty place"):
        restore_backup(file, replace=True)
    assert Lot.objects.filter(item__code="LATER").exists()


def test_backup_of_an_earlier_version_is_brought_up_to_this_one(shop, new_computer):
    call_command("migrate", "axes", "0008", verbosity=0)
    try:
        made = make_backup()
    finally:
        call_command("migrate", verbosity=0)
    assert made.manifest.mismatches is None
    with new_computer():
        restored = restore_backup(made.backup.path)
        assert restored.contents.mismatches == []
        assert set(restored.contents.migrations) > set(made.manifest.migrations)


def test_backup_of_a_newer_version_is_refused(file, new_computer):
    newer = [*check_archive(file).migrations, "inventory.9999_of_next_year"]
    with new_computer():
        with pytest.raises(Refused, match="newer version, which has inventory.9999_of_next_year"):
            restore_backup(rewritten(file, migrations=newer))
        assert connection.introspection.table_names() == []


def test_backup_of_another_kind_of_database_is_refused(file, new_computer):
    other = {"sqlite": "postgresql", "postgresql": "sqlite"}[connection.vendor]
    with new_computer(), pytest.raises(Refused, match=f"backup of a {other} database"):
        restore_backup(rewritten(file, engine=other))


def cut_short(file):
    file.write_bytes(file.read_bytes()[:-2000])


def one_bit_turned(file):
    with zipfile.ZipFile(file) as packed:
        database = packed.infolist()[0]
    content = bytearray(file.read_bytes())
    content[database.header_offset + database.compress_size // 2] ^= 1
    file.write_bytes(content)


def no_zip(file):
    file.write_text("my knives")


def another_zip(file):
    with zipfile.ZipFile(file, "w") as other:
        other.writestr("holiday.txt", "sea")


def without_a_file(file):
    digests = check_archive(file).digests | {"files/gone.pdf": "0" * 64}
    rewritten(file, digests=digests).replace(file)


def a_file_exchanged(file):
    digests = check_archive(file).digests | {f"files/{SHEET}": "0" * 64}
    rewritten(file, digests=digests).replace(file)


def rows_missing(file):
    rows = check_archive(file).rows
    rewritten(file, rows=rows | {"inventory_lot": rows["inventory_lot"] + 1}).replace(file)


def leading_outside(file):
    digests = check_archive(file).digests | {"files/../../evil.pdf": "0" * 64}
    rewritten(file, digests=digests).replace(file)


def of_a_later_form(file):
    rewritten(file, format=2, also="colours").replace(file)


def odd_manifest(file):
    rewritten(file, also="colours").replace(file)


def manifest_with(**changes):
    def harm(file):
        rewritten(file, **changes).replace(file)

    harm.__name__ = f"odd {' '.join(changes)}"
    return harm


def whole_shop_instead(file):
    with file.open("wb") as other:
        write_whole_shop(other)


@pytest.mark.parametrize(
    ("harm", "reason"),
    [
        (cut_short, "damaged or no backup"),
        (one_bit_turned, "damaged"),
        (no_zip, "damaged or no backup: File is not a zip file"),
        (another_zip, "no item named 'manifest.json"),
        (without_a_file, "no item named 'files/gone.pdf"),
        (a_file_exchanged, "resin.pdf has changed"),
        (rows_missing, "copy of inventory_lot holds"),
        (leading_outside, "names a file outside of itself"),
        (of_a_later_form, "made by a newer version"),
        (odd_manifest, "manifest.json can't be read"),
        (manifest_with(digests=["shop.sqlite3"]), "manifest.json can't be read"),
        (manifest_with(made="yesterday"), "manifest.json can't be read"),
        (manifest_with(rows={"inventory_lot": "many"}), "manifest.json can't be read"),
        (manifest_with(migrations=5), "manifest.json can't be read"),
        (manifest_with(mismatches="none"), "manifest.json can't be read"),
        (whole_shop_instead, "whole shop as one ZIP .* with manage.py import --all"),
        (Path.unlink, "There is no file"),
    ],
    ids=lambda value: getattr(value, "__name__", ""),
)
def test_backup_that_is_not_as_it_was_made_is_refused_and_changes_nothing(file, harm, reason):
    harm(file)
    make.stock(make.screws("LATER"), 10)
    with pytest.raises(Refused, match=reason):
        restore_backup(file, replace=True)
    assert Lot.objects.filter(item__code="LATER").exists()
    assert (settings.MEDIA_ROOT / SHEET).exists()
    assert len(backups_in(settings.BACKUP_DIR)) <= 1  # nothing was to be replaced yet


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="no fork and no SIGKILL")
def test_restore_killed_at_any_moment_leaves_the_old_shop_or_the_new_one(file, workers, tmp_path):
    rng = random.Random(5)
    stick = tmp_path / "stick"
    stick.mkdir()
    make.stock(make.screws("LATER"), 10)
    files = [Path(shutil.copy(file, stick)), make_backup(stick).backup.path]
    rows = [check_archive(each).rows for each in files]
    here = rows[1]
    for _ in range(4):
        worker = workers.start("restore", files[rows.index(here) - 1], tmp_path / "elsewhere")
        workers.wait_for(worker, "begun")
        time.sleep(rng.uniform(0, 0.5))
        workers.kill(worker)
        hang_up_of_the_killed()
        here = count_rows(connection)
        assert here in rows
        assert audit() == []
