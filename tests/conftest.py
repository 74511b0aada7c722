"""What every test of the site shares: people, their clients, and a database of its own.

Which database is the settings' business (DATABASE_URL); a test run never opens the shop's files.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.db import connections
from django.test import Client, TransactionTestCase


def pytest_configure() -> None:
    # Hashed file names need `collectstatic` first; slow password hashes protect nobody here.
    plain = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    settings.STORAGES = {**settings.STORAGES, "staticfiles": plain}
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture(scope="session", autouse=True)
def folders_of_the_tests(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Attached and collected files stay out of the shop's own folders."""
    settings.MEDIA_ROOT = tmp_path_factory.mktemp("files")
    settings.STATIC_ROOT = tmp_path_factory.mktemp("static")
    settings.BACKUP_DIR = tmp_path_factory.mktemp("backups")


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """SQLite: a file of this run, so that two runs at once don't share one."""
    if connections["default"].vendor == "sqlite":
        database = connections["default"].settings_dict
        database["TEST"]["NAME"] = str(tmp_path_factory.mktemp("database") / "test.sqlite3")
        # Nothing here must survive a power cut, and emptying the tables needn't wait for the disk.
        database["OPTIONS"]["init_command"] += "PRAGMA synchronous=OFF;"


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """Tests that commit empty the tables afterwards; the ledger's guards step aside for that."""
    from inventory.guards import drop_guards, install_guards

    empty_tables = TransactionTestCase._fixture_teardown

    def empty_unguarded_tables(case: Any) -> None:
        drop_guards(connections["default"])
        try:
            empty_tables(case)
        finally:
            install_guards(connections["default"])

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TransactionTestCase, "_fixture_teardown", empty_unguarded_tables)
        yield
    with django_db_blocker.unblock():
        _hang_up(connections["default"])


def _hang_up(connection: Any) -> None:
    """PostgreSQL drops no database that a thread of a stopped test server still talks to."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
                " WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )


@pytest.fixture
def other_processes(
    transactional_db: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Path:
    """What the site starts as a process of its own works in the tests' database; its data folder."""
    database = connections["default"].settings_dict
    if connections["default"].vendor == "sqlite":
        (tmp_path / "shop.sqlite3").symlink_to(database["NAME"])
    else:
        person, address = f"{database['USER']}:{database['PASSWORD']}", database["HOST"]
        url = f"postgresql://{person}@{address}:{database['PORT']}/{database['NAME']}"
        monkeypatch.setenv("DATABASE_URL", url)
    monkeypatch.setenv("SHOP_DATA", str(tmp_path))
    monkeypatch.delenv("SHOP_DEMO", raising=False)
    monkeypatch.setattr(settings, "DATA_DIR", tmp_path)
    return tmp_path


def _person(role: str) -> Any:
    from inventory.models import User

    return User.objects.create_user(username=role, role=role)


@pytest.fixture
def owner(db: None) -> Any:
    return _person("owner")


@pytest.fixture
def maker(db: None) -> Any:
    return _person("maker")


@pytest.fixture
def viewer(db: None) -> Any:
    return _person("viewer")


def _client_of(person: Any) -> Client:
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def owner_client(owner: Any) -> Client:
    return _client_of(owner)


@pytest.fixture
def maker_client(maker: Any) -> Client:
    return _client_of(maker)


@pytest.fixture
def viewer_client(viewer: Any) -> Client:
    return _client_of(viewer)
