"""Which backups there are, and whether the next one is due."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from django.conf import settings

NAME = "bevelbook-%Y-%m-%d-%H%M%S.zip"
"""Of a finished backup, with its moment in UTC; nothing else is ever taken for one."""

DUE_AFTER = timedelta(days=7)
LAST = "last_backup.txt"


@dataclass(frozen=True)
class Backup:
    """One finished backup and the moment it stands for."""

    path: Path
    made: datetime

    @property
    def size(self) -> int:
        """In bytes."""
        return self.path.stat().st_size


def backups_in(folder: Path) -> list[Backup]:
    """Finished backups in a folder, the newest first; other files are passed over."""
    found = [Backup(path, made) for path in folder.glob("*.zip") if (made := _moment_of(path.name))]
    return sorted(found, key=lambda backup: backup.made, reverse=True)


def newest_backup() -> Backup | None:
    """The newest in the shop's own folder."""
    return next(iter(backups_in(settings.BACKUP_DIR)), None)


def last_backup_at() -> datetime | None:
    """When this shop was last backed up, to whichever folder; None if never on this computer."""
    try:
        return datetime.fromisoformat((settings.BACKUP_DIR / LAST).read_text(encoding="ascii"))
    except (OSError, ValueError):
        return None


def backup_is_due(now: datetime) -> bool:
    last = last_backup_at()
    return last is None or now - last > DUE_AFTER


def _moment_of(name: str) -> datetime | None:
    try:
        return datetime.strptime(name, NAME).replace(tzinfo=UTC)
    except ValueError:
        return None
