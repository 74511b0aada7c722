"""A shop to back up, and another computer to restore it on."""

import uuid
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.db.backends.base.base import BaseDatabaseWrapper

from inventory import actions
from inventory.exchange.backup.contents import working_on
from tests import factories as make


@pytest.fixture(autouse=True)
def own_folders(settings: Any, tmp_path: Path) -> None:
    settings.BACKUP_DIR = tmp_path / "backups"
    settings.MEDIA_ROOT = tmp_path / "files"


@pytest.fixture
def shop(transactional_db: None, tmp_path: Path) -> None:
    """Stock with a request, a cut bar and a worn cutter, its owner, two attached files."""
    actions.set_up_shop(
        name="Thornwick Knives", currency="EUR", username="wren", password="grind-7-bevels"
    )
    make.stock(make.screws(), 1000, key=uuid.uuid4())
    bar, _ = make.rack(make.bar(), 1000, 1000)
    actions.cut_piece(
        piece=bar,
        parts=[(240 * make.MM, None, 1)],
        remnants=[(700 * make.MM, None)],
        day=make.DAY,
        key=uuid.uuid4(),
    )
    actions.log_wear(fitting=make.fitted(make.cutter()), amount=make.D(5), day=make.DAY)
    for name in ("sheets/resin.pdf", "certificates/heat 7.pdf"):
        path = tmp_path / "files" / name
        path.parent.mkdir(parents=True)
        path.write_bytes(name.encode() * 100)


@pytest.fixture
def new_computer(
    settings: Any, tmp_path: Path
) -> Iterator[Callable[[], AbstractContextManager[None]]]:
    """Within `with new_computer():` there is no database, no file and no backup yet."""

    @contextmanager
    def move() -> Iterator[None]:
        home = tmp_path / f"new-{uuid.uuid4().hex}"
        home.mkdir()
        here = settings.BACKUP_DIR, settings.MEDIA_ROOT
        settings.BACKUP_DIR, settings.MEDIA_ROOT = home / "backups", home / "files"
        with _empty_database(home) as database, working_on(database):
            yield
        settings.BACKUP_DIR, settings.MEDIA_ROOT = here

    return move


@contextmanager
def _empty_database(home: Path) -> Iterator[BaseDatabaseWrapper]:
    database = connection.copy()
    if connection.vendor == "sqlite":
        database.settings_dict["NAME"] = home / "shop.sqlite3"
        yield database
        return
    name = f"test_{home.name}".replace("-", "_")
    database.settings_dict["NAME"] = name
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE DATABASE {name}")
    try:
        yield database
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f"DROP DATABASE {name} WITH (FORCE)")
