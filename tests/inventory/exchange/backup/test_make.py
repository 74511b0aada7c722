"""A backup is whole, of one moment, and checked; a half one is never taken for it."""

import errno
import os
import random
import time
import zipfile
from datetime import UTC, datetime, timedelta

import pytest
from django.conf import settings
from django.db import connection

from inventory.errors import Refused
from inventory.exchange.backup import archive, make, make_backup
from inventory.exchange.backup.archive import check_archive
from inventory.exchange.backup.contents import count_rows, refuse_other_rows
from inventory.models import Balance
from inventory.queries.backups import NAME, backups_in, last_backup_at
from tests.workers import hang_up_of_the_killed

pytestmark = pytest.mark.django_db(transaction=True)
processes = pytest.mark.skipif(os.name == "nt", reason="no fork and no SIGKILL")


def left_in(folder):
    return sorted(path.name for path in folder.iterdir())


def test_backup_holds_every_row_and_every_file(shop):
    made = make_backup()
    assert made.manifest.rows == count_rows(connection)
    assert made.manifest.mismatches == []
    with zipfile.ZipFile(made.backup.path) as packed:
        assert packed.testzip() is None
        names = packed.namelist()
        assert packed.read("files/sheets/resin.pdf") == b"sheets/resin.pdf" * 100
    files = ["files/certificates/heat 7.pdf", "files/sheets/resin.pdf"]
    assert sorted(names)[1:] == [*files, "manifest.json"]
    assert check_archive(made.backup.path) == made.manifest


def test_backup_is_named_by_its_moment_and_leaves_nothing_else(shop):
    before = datetime.now(UTC).replace(microsecond=0)
    backup = make_backup().backup
    assert before <= backup.made <= datetime.now(UTC)
    assert left_in(settings.BACKUP_DIR) == [backup.path.name, "last_backup.txt"]
    assert last_backup_at() == backup.made
    if os.name != "nt":  # it holds password hashes
        assert backup.path.stat().st_mode & 0o077 == 0


def test_two_backups_of_one_second_are_two(shop):
    made = [make_backup().backup.path for _ in range(2)]
    assert left_in(settings.BACKUP_DIR)[:2] == sorted(path.name for path in made)


def test_attached_file_from_before_1980_is_no_hindrance(shop):
    os.utime(settings.MEDIA_ROOT / "sheets/resin.pdf", (0, 0))
    assert "sheets/resin.pdf" in make_backup().manifest.files


def test_shop_without_data_has_nothing_to_back_up(new_computer):
    with new_computer():
        with pytest.raises(Refused, match="nothing to back up"):
            make_backup()
        assert left_in(settings.BACKUP_DIR) == []


def test_stock_that_does_not_add_up_is_backed_up_and_said(shop):
    Balance.objects.filter(item__code="SCREW-M4").update(qty=7)
    assert "SCREW-M4" in make_backup().manifest.mismatches[0]


def test_copy_with_other_rows_is_not_used():
    with pytest.raises(Refused, match="copy of inventory_lot holds 2 rows, it should be 3"):
        refuse_other_rows({"inventory_lot": 2}, {"inventory_lot": 3})


def test_backup_goes_to_another_folder_and_is_remembered_here(shop, tmp_path):
    stick = tmp_path / "stick"
    stick.mkdir()
    made = make_backup(stick)
    assert left_in(stick) == [made.backup.path.name]
    assert left_in(settings.BACKUP_DIR) == ["last_backup.txt"]


def test_stick_that_is_not_plugged_in_is_refused(shop, tmp_path):
    with pytest.raises(Refused, match="Plug the disk in"):
        make_backup(tmp_path / "stick")
    assert not (tmp_path / "stick").exists()


def test_backup_that_can_not_be_noted_is_one_all_the_same(shop, tmp_path):
    (settings.BACKUP_DIR / "last_backup.txt").mkdir(parents=True)
    assert make_backup().backup.path.exists()


def test_old_backups_are_thinned_out_and_other_files_stay(shop):
    settings.BACKUP_DIR.mkdir()
    old = [datetime(2020, 1, 1, tzinfo=UTC) + timedelta(hours=hour) for hour in range(12)]
    for moment in old:
        (settings.BACKUP_DIR / moment.strftime(NAME)).touch()
    (settings.BACKUP_DIR / "holiday.zip").touch()
    newest = make_backup().backup
    kept = {backup.made for backup in backups_in(settings.BACKUP_DIR)}
    assert kept == {newest.made, *old[-6:]}
    assert (settings.BACKUP_DIR / "holiday.zip").exists()


def test_what_a_killed_backup_left_goes_after_a_day(shop):
    settings.BACKUP_DIR.mkdir()
    two_days_ago = time.time() - 2 * 24 * 3600
    for name in (".unfinished-old", ".unfinished-young"):
        (settings.BACKUP_DIR / name).mkdir()
        (settings.BACKUP_DIR / name / "database.sqlite3").touch()
    os.utime(settings.BACKUP_DIR / ".unfinished-old", (two_days_ago, two_days_ago))
    make_backup()
    assert ".unfinished-old" not in left_in(settings.BACKUP_DIR)
    assert ".unfinished-young" in left_in(settings.BACKUP_DIR)


@pytest.mark.parametrize(
    ("number", "reason"),
    [
        (errno.ENOSPC, "no room left"),
        (errno.EACCES, "may not be opened or written"),
        (errno.EROFS, "may not be opened or written"),
        (errno.EIO, "Input/output error"),
    ],
    ids=["full", "closed", "read-only", "broken"],
)
def test_disk_that_refuses_is_named_in_one_line_and_no_half_file_stays(
    shop, monkeypatch, number, reason
):
    def refuse(handle):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(archive.os, "fsync", refuse)
    with pytest.raises(Refused, match=f"The backup wasn't made: .*{reason}") as refusal:
        make_backup()
    assert "\n" not in str(refusal.value)
    assert left_in(settings.BACKUP_DIR) == []


def test_zip_that_reads_back_otherwise_than_it_was_written_is_no_backup(shop, monkeypatch):
    write = make.write_archive

    def write_badly(path, members, manifest):
        write(path, members, manifest)
        first = zipfile.ZipFile(path).infolist()[0]
        header = 30 + len(first.filename)  # fixed part of a local header, PKWARE APPNOTE 4.3.7
        content = bytearray(path.read_bytes())
        content[first.header_offset + header + first.compress_size // 2] ^= 1
        path.write_bytes(content)

    monkeypatch.setattr(make, "write_archive", write_badly)
    with pytest.raises(Refused, match="damaged"):
        make_backup()
    assert left_in(settings.BACKUP_DIR) == []


@processes
@pytest.mark.slow
def test_disk_that_is_full_halfway_leaves_no_half_file(shop, workers):
    worker = workers.start("back_up", settings.BACKUP_DIR, 100_000)
    said = workers.let_end(worker)[-1]
    assert said.startswith("refused The backup wasn't made") or "pg_dump stopped" in said
    assert backups_in(settings.BACKUP_DIR) == []


@processes
@pytest.mark.slow
def test_backups_made_at_once_are_all_whole(shop, workers):
    crew = [workers.start("back_up", settings.BACKUP_DIR) for _ in range(4)]
    said = [workers.let_end(worker)[-1] for worker in crew]
    assert all(line.startswith("made ") for line in said), said
    for backup in backups_in(settings.BACKUP_DIR):
        assert check_archive(backup.path).mismatches == []
    assert left_in(settings.BACKUP_DIR)[0].startswith("bevelbook-")


@processes
@pytest.mark.slow
def test_backup_killed_at_any_moment_leaves_whole_ones_only(shop, workers):
    rng = random.Random(7)
    for _ in range(8):
        worker = workers.start("back_up_for_ever", settings.BACKUP_DIR)
        workers.wait_for(worker, "begun")
        time.sleep(rng.uniform(0, 0.4))
        workers.kill(worker)
        hang_up_of_the_killed()
    make_backup()
    for backup in backups_in(settings.BACKUP_DIR):
        assert check_archive(backup.path).mismatches == []


@processes
@pytest.mark.slow
def test_backup_while_people_write_is_of_one_moment_and_holds_nobody_up(shop, workers):
    crew = [workers.start("post_for_ever") for _ in range(3)]
    for worker in crew:
        workers.wait_for(worker, "did")
    made = [make_backup() for _ in range(4)]
    said = [workers.kill(worker) for worker in crew]
    hang_up_of_the_killed()
    requests = [each.manifest.rows["inventory_request"] for each in made]
    assert [each.manifest.mismatches for each in made] == [[]] * 4
    assert requests == sorted(requests)
    assert requests[0] < requests[-1] <= sum(map(len, said)) + len(crew)
