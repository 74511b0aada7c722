"""A file that the process of a forecast run holds: whoever can take it knows that it has ended.

SQLite's lock ends with its process, however that ends, on every system.
"""

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings

from inventory.models import ForecastRun, ReplayRun

PATIENCE = 20
"""Seconds to wait for one that only looks whether the file is held."""


@contextlib.contextmanager
def held(run: ForecastRun | ReplayRun) -> Iterator[None]:
    """Hold the run's file while it is worked out, and remove it at the end."""
    path = _path(run)
    path.parent.mkdir(exist_ok=True)
    try:
        with contextlib.closing(sqlite3.connect(path, timeout=PATIENCE)) as lock:
            lock.execute("BEGIN EXCLUSIVE")
            yield
    finally:
        drop_lock(run)


def is_held(run: ForecastRun | ReplayRun) -> bool:
    """Whether a process of this computer works on it."""
    path = _path(run)
    try:
        existing = f"{path.resolve().as_uri()}?mode=rw"
        with contextlib.closing(sqlite3.connect(existing, timeout=0, uri=True)) as lock:
            lock.execute("BEGIN EXCLUSIVE")
    except sqlite3.OperationalError:
        return path.exists()
    return False


def drop_lock(run: ForecastRun | ReplayRun) -> None:
    """Remove the file; one that somebody looks at this moment may stay, it does no harm."""
    with contextlib.suppress(OSError):
        _path(run).unlink(missing_ok=True)


def _path(run: ForecastRun | ReplayRun) -> Path:
    return settings.DATA_DIR / "running" / f"{run.lock}.lock"
