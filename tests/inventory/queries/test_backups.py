"""Which files are backups, and when the next one is due."""

from datetime import UTC, datetime, timedelta

import pytest

from inventory.queries.backups import (
    LAST,
    backup_is_due,
    backups_in,
    last_backup_at,
    newest_backup,
)

NOW = datetime(2026, 3, 3, 18, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.BACKUP_DIR = tmp_path
    return tmp_path


def test_backups_are_told_by_their_names_the_newest_first(folder):
    names = ["bevelbook-2025-12-31-235959.zip", "bevelbook-2026-03-03-070000.zip"]
    others = [".unfinished-bevelbook-2026-03-03-080000.zip", "bevelbook-2026-13-01-000000.zip"]
    for name in [*names, *others, "bevelbook-2026-03-03-090000.zip.part", "holiday.zip"]:
        (folder / name).touch()
    assert [backup.path.name for backup in backups_in(folder)] == names[::-1]
    assert newest_backup().made == datetime(2026, 3, 3, 7, tzinfo=UTC)


def test_folder_that_is_not_there_holds_none(settings, folder):
    settings.BACKUP_DIR = folder / "nowhere"
    assert newest_backup() is None
    assert last_backup_at() is None


@pytest.mark.parametrize(
    ("age", "due"),
    [(timedelta(0), False), (timedelta(days=7), False), (timedelta(days=7, seconds=1), True)],
    ids=["just now", "seven days", "more than seven days"],
)
def test_backup_is_due_after_seven_days(folder, age, due):
    (folder / LAST).write_text((NOW - age).isoformat())
    assert backup_is_due(NOW) is due


@pytest.mark.parametrize("note", [None, "", "last week", "\\xff"], ids=repr)
def test_without_a_readable_note_a_backup_is_due(folder, note):
    if note is not None:
        (folder / LAST).write_bytes(note.encode("latin-1"))
    assert backup_is_due(NOW)
