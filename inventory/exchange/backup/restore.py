"""A backup put back, onto an empty place or, when told so, over what is there."""

import os
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import connection

from inventory.errors import Refused
from inventory.exchange.backup.archive import (
    FILES,
    Manifest,
    attached_files,
    check_archive,
    extract_archive,
)
from inventory.exchange.backup.contents import Contents, read_contents, unknown_migrations
from inventory.exchange.backup.make import UNFINISHED, engine, make_backup
from inventory.exchange.backup.refusals import in_words
from inventory.queries.backups import Backup

SIGNS_OF_A_SHOP = ("inventory_shop", "inventory_user", "inventory_item")


@dataclass(frozen=True)
class Restored:
    """What was put back, what the database holds now, and the backup of what it replaced."""

    manifest: Manifest
    contents: Contents
    replaced: Backup | None


def restore_backup(file: Path, *, replace: bool = False) -> Restored:
    """Put a backup back: check it whole, bring it up to this version, and check what stands then.

    Refuses a damaged backup, one of another engine or of a newer version, and a place where a shop
    is, unless `replace` is set: then that shop is backed up first.
    """
    with in_words("The restore stopped", settings.DATA_DIR):
        settings.BACKUP_DIR.mkdir(parents=True, exist_ok=True)
        manifest = check_archive(file)
        _refuse_misfit(manifest, file)
        occupied = _shop_is_here()
        if occupied and not replace:
            raise Refused(
                f"There is a shop already in {_place()}. Restore onto an empty place "
                "(SHOP_DATA, DATABASE_URL), or add --replace: what is here is backed up first."
            )
        replaced = _put_back(file, manifest, occupied)
        return Restored(manifest, read_contents(), replaced)


def _put_back(file: Path, manifest: Manifest, occupied: bool) -> Backup | None:
    with tempfile.TemporaryDirectory(prefix=UNFINISHED, dir=settings.BACKUP_DIR) as work:
        extract_archive(file, manifest, Path(work))
        database = Path(work) / engine().NAME
        engine().prepare(database, manifest.rows)
        replaced = _back_up_what_is_here() if occupied else None
        engine().put_back(database)
        _put_files_back(Path(work) / FILES)
    return replaced


def _back_up_what_is_here() -> Backup:
    try:
        return make_backup(rotate=False).backup
    except Refused as refusal:
        raise Refused(
            f"What is here can't be backed up, so it isn't replaced. {refusal} "
            f"Or leave {_place()} aside and restore onto an empty place (SHOP_DATA, DATABASE_URL)."
        ) from refusal


def _refuse_misfit(manifest: Manifest, file: Path) -> None:
    if manifest.engine != connection.vendor:
        raise Refused(
            f"{file} is a backup of a {manifest.engine} database, this shop runs on "
            f"{connection.vendor}. Set or unset DATABASE_URL to match."
        )
    if unknown := unknown_migrations(manifest.migrations):
        raise Refused(
            f"{file} was made by a newer version, which has {unknown[0]}. "
            "Update this one, then restore it."
        )


def _shop_is_here() -> bool:
    if any(attached_files(Path(settings.MEDIA_ROOT))):
        return True
    with connection.cursor() as cursor:
        tables = connection.introspection.table_names(cursor)
        return any(_has_a_row(cursor, table) for table in SIGNS_OF_A_SHOP if table in tables)


def _place() -> str:
    if connection.vendor == "sqlite":
        return str(settings.DATA_DIR)
    return f"the database {connection.settings_dict['NAME']}"


def _has_a_row(cursor: Any, table: str) -> bool:
    cursor.execute(f"SELECT 1 FROM {connection.ops.quote_name(table)} LIMIT 1")
    return cursor.fetchone() is not None


def _put_files_back(folder: Path) -> None:
    """Put the attached files where they were, and take away those that belong to no record now."""
    home = Path(settings.MEDIA_ROOT)
    wanted = attached_files(folder)
    for name, source in wanted.items():
        place = home / name.partition("/")[2]
        place.parent.mkdir(parents=True, exist_ok=True)
        os.replace(source, place)
    for name, path in attached_files(home).items():
        if name not in wanted:
            path.unlink()
