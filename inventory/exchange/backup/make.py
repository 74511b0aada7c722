"""A backup made: copied, checked, packed, read back, and only then given its name."""

import os
import shutil
import tempfile
import time
import uuid
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import ModuleType

from django.conf import settings
from django.db import connection

from inventory.errors import Refused
from inventory.exchange.backup import postgresql, sqlite
from inventory.exchange.backup.archive import (
    Manifest,
    attached_files,
    check_archive,
    digest_of,
    write_archive,
)
from inventory.exchange.backup.contents import Contents
from inventory.exchange.backup.refusals import in_words
from inventory.exchange.backup.rotation import moments_to_keep
from inventory.models import Shop
from inventory.queries.backups import LAST, NAME, Backup, backups_in

UNFINISHED = ".unfinished-"
A_DAY = 24 * 60 * 60


@dataclass(frozen=True)
class Made:
    """A finished backup and what it holds."""

    backup: Backup
    manifest: Manifest


def engine() -> ModuleType:
    """The module that copies and puts back this shop's kind of database."""
    return sqlite if connection.vendor == "sqlite" else postgresql


def make_backup(folder: Path | None = None, *, rotate: bool = True) -> Made:
    """Back the shop up into a folder (its own unless told otherwise) and thin out the old ones.

    The copy is that of one moment, also while people write. It is counted and audited, packed
    with the attached files, read back and compared; only then it gets the name of a backup. One
    that is killed halfway is never taken for a backup.
    Raises: Refused, and nothing is left but what was there.
    """
    if folder is not None and not folder.is_dir():
        raise Refused(f"There is no folder {folder}. Plug the disk in, or make the folder first.")
    target = folder or settings.BACKUP_DIR
    with in_words("The backup wasn't made", target):
        settings.BACKUP_DIR.mkdir(parents=True, exist_ok=True)
        _sweep(target)
        made = _pack(target)
    with suppress(OSError):  # what fails now is no fault of the backup
        _note(made.backup.made)
        if rotate:
            _rotate(target)
    return made


def _pack(target: Path) -> Made:
    backup = _next_name(target)
    unfinished = _unfinished(target)
    with tempfile.TemporaryDirectory(prefix=UNFINISHED, dir=settings.BACKUP_DIR) as work:
        database = Path(work) / engine().NAME
        contents = engine().copy_out(database)
        _refuse_nothing(contents)
        # After the database: a record's file is always there before the record.
        members = {database.name: database, **attached_files(Path(settings.MEDIA_ROOT))}
        manifest = _manifest(backup.made, contents, members)
        try:
            write_archive(unfinished, members, manifest)
            check_archive(unfinished)
            os.replace(unfinished, backup.path)
        finally:
            unfinished.unlink(missing_ok=True)
    _wait_for_the_disk(target)
    return Made(backup, manifest)


def _next_name(target: Path) -> Backup:
    """This second's name, or the next one that is free."""
    moment = datetime.now(UTC).replace(microsecond=0)
    while (path := target / moment.strftime(NAME)).exists():
        moment += timedelta(seconds=1)
    return Backup(path, moment)


def _unfinished(folder: Path) -> Path:
    """A name of its own: two backups at once don't meet."""
    return folder / f"{UNFINISHED}{uuid.uuid4().hex}"


def _manifest(made: datetime, contents: Contents, members: dict[str, Path]) -> Manifest:
    shop = Shop.objects.values_list("name", flat=True).first()
    return Manifest(
        made=made.isoformat(),
        shop=shop or "",
        engine=connection.vendor,
        rows=dict(contents.rows),
        migrations=contents.migrations,
        mismatches=contents.mismatches,
        digests={name: digest_of(path) for name, path in members.items()},
    )


def _refuse_nothing(contents: Contents) -> None:
    if not contents.migrations:
        raise Refused("There is nothing to back up: this shop has no data yet.")


def _note(moment: datetime) -> None:
    """Remember the moment, wherever the backup went, for the reminder."""
    fresh = _unfinished(settings.BACKUP_DIR)
    fresh.write_text(moment.isoformat(), encoding="ascii")
    os.replace(fresh, settings.BACKUP_DIR / LAST)


def _rotate(target: Path) -> None:
    there = backups_in(target)
    kept = moments_to_keep(backup.made for backup in there)
    for backup in there:
        if backup.made not in kept:
            backup.path.unlink(missing_ok=True)


def _sweep(target: Path) -> None:
    """Remove what backups left that were killed; a young one may be at work still."""
    for folder in {target, settings.BACKUP_DIR}:
        for left in folder.glob(f"{UNFINISHED}*"):
            with suppress(FileNotFoundError):  # that one has just been finished
                if time.time() - left.stat().st_mtime > A_DAY:
                    _remove(left)


def _remove(left: Path) -> None:
    if left.is_dir():
        shutil.rmtree(left, ignore_errors=True)
    else:
        left.unlink(missing_ok=True)


def _wait_for_the_disk(folder: Path) -> None:
    """The new name itself must survive a power cut; Windows opens no folders."""
    if os.name != "nt":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
