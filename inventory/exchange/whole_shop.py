"""The whole shop as one ZIP: a CSV file for each table of the database, and the attached files.

Everything but passwords and sessions goes along; numbers are exact, days and times as ISO 8601
writes them. It comes in again where no shop is yet.
"""

import csv
import io
import json
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from itertools import chain
from typing import IO, Any

from django.apps import apps
from django.contrib.auth.hashers import make_password
from django.core.exceptions import ValidationError
from django.core.files.storage import default_storage
from django.db import connection, models, transaction
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone

from inventory.actions.load_shop import Records, load_shop
from inventory.errors import Refused
from inventory.exchange.backup.archive import DAMAGE, WHOLE_SHOP
from inventory.exchange.csv_export import csv_lines, text_of_cell
from inventory.models import User

__all__ = ["read_whole_shop", "write_whole_shop"]

MANIFEST = "manifest.json"
VERSION = 1
PASSWORD = User._meta.get_field("password")
MOST_UNPACKED = 4 * 1024**3
LARGEST_CELL = 64 * 1024**2


def write_whole_shop(file: IO[bytes]) -> dict[str, int]:
    """Write the ZIP and return the number of records by table."""
    counts: dict[str, int] = {}
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive, _moment():
        for model in _models():
            counts[_name(model)] = _write_table(archive, model)
        files = sorted(_attached_files())
        for name in files:
            with default_storage.open(name) as attached:
                archive.writestr(f"files/{name}", attached.read())
        manifest = {
            "kind": WHOLE_SHOP,
            "version": VERSION,
            "schema": _schema(),
            "made_at": timezone.now().isoformat(),
            "tables": counts,
            "files": files,
        }
        archive.writestr(MANIFEST, json.dumps(manifest, indent=2))
    return counts


def read_whole_shop(content: bytes, *, only_check: bool = False) -> dict[str, int]:
    """Load the ZIP into an empty database, all of it or nothing; return counts by table.

    only_check: try it and take it back. Raises: Refused, also when the ZIP is of another version.
    """
    with _opened(content) as archive, transaction.atomic():
        manifest = _manifest(archive)
        files = [] if only_check else _files(archive, manifest["files"])
        counts = load_shop(tables=_tables(archive), files=files, said=manifest["tables"])
        if only_check:
            transaction.set_rollback(True)
    return counts


def _models() -> list[type[models.Model]]:
    """Every table of the shop; links to tables that aren't in the ZIP stay out."""
    own = apps.get_app_config("inventory").get_models(include_auto_created=True)
    return [
        model
        for model in own
        if all(
            field.related_model._meta.app_label == "inventory"
            for field in model._meta.concrete_fields
            if field.is_relation
        )
    ]


def _fields(model: type[models.Model]) -> list[models.Field]:
    return [field for field in model._meta.concrete_fields if field != PASSWORD]


def _name(model: type[models.Model]) -> str:
    return model._meta.db_table


def _schema() -> str:
    """The newest migration of the shop's tables."""
    applied = MigrationRecorder(connection).applied_migrations()
    return max(name for app, name in applied if app == "inventory")


@contextmanager
def _moment() -> Iterator[None]:
    """Read all tables as they were at one moment, while others go on writing."""
    is_outermost = not connection.in_atomic_block
    with transaction.atomic():
        if is_outermost and connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")
        yield


def _write_table(archive: zipfile.ZipFile, model: type[models.Model]) -> int:
    fields = _fields(model)
    names = [field.attname for field in fields]
    records = model._base_manager.order_by("pk").values_list(*names)
    rows = (map(_cell, record) for record in records.iterator())
    with archive.open(f"{_name(model)}.csv", "w") as file:
        for line in csv_lines(chain([names], rows)):
            file.write(line.encode())
    return records.count()


def _cell(value: Any) -> Any:
    """Text that reads back as the same value; numbers stay numbers."""
    if isinstance(value, bool):
        return int(value)
    if isinstance(value, dict | list):
        return json.dumps(value)
    return value.isoformat() if isinstance(value, date) else value


def _attached_files() -> set[str]:
    """Names of all files that records name."""
    return {
        name
        for model in _models()
        for field in _fields(model)
        if isinstance(field, models.FileField)
        for name in model._base_manager.values_list(field.attname, flat=True)
        if name
    }


@contextmanager
def _opened(content: bytes) -> Iterator[zipfile.ZipFile]:
    usual = csv.field_size_limit(LARGEST_CELL)  # a cutting plan, a long note
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            if sum(part.file_size for part in archive.infolist()) > MOST_UNPACKED:
                raise Refused("This file unpacks to more than any shop holds.")
            yield archive
    except (*DAMAGE, UnicodeDecodeError, json.JSONDecodeError, csv.Error) as error:
        raise Refused(f"This is no whole shop, or it is damaged: {error}. Export anew.") from error
    finally:
        csv.field_size_limit(usual)


def _manifest(archive: zipfile.ZipFile) -> dict[str, Any]:
    manifest = json.loads(archive.read(MANIFEST))
    said = manifest if isinstance(manifest, dict) else {}
    if (said.get("kind"), said.get("version")) != (WHOLE_SHOP, VERSION):
        raise Refused("This ZIP holds no whole shop of this kind. Take one that was exported here.")
    if manifest["schema"] != _schema():
        raise Refused(
            f"This ZIP is of the version with {manifest['schema']}, here is {_schema()}. "
            "Load it with the version that wrote it, update, and export anew."
        )
    files, tables = manifest["files"], manifest["tables"]
    if not (isinstance(tables, dict) and isinstance(files, list)) or not all(
        isinstance(name, str) for name in files
    ):
        raise Refused(f"The {MANIFEST} of this ZIP has been changed. Export anew.")
    return manifest


def _tables(archive: zipfile.ZipFile) -> Iterator[Records]:
    for model in _models():
        name, fields = f"{_name(model)}.csv", _fields(model)
        text = io.TextIOWrapper(archive.open(name), "utf-8-sig", newline="")
        rows = csv.reader(text, strict=True)
        if next(rows, None) != [field.attname for field in fields]:
            raise Refused(f"The columns of {name} aren't those of this version. Export anew.")
        yield _records(model, fields, rows)


def _records(
    model: type[models.Model], fields: list[models.Field], rows: Iterator[list[str]]
) -> Records:
    values = ([_value(field, cell) for field, cell in _paired(fields, row)] for row in rows)
    if model is not User:
        return Records(model, fields, values)
    nobody_knows = make_password(None)
    return Records(model, [*fields, PASSWORD], ([*row, nobody_knows] for row in values))


def _paired(fields: list[models.Field], row: list[str]) -> Iterator[tuple[models.Field, str]]:
    if len(row) != len(fields):
        raise Refused(f"A row of {_name(fields[0].model)} has {len(row)} cells. Export anew.")
    return zip(fields, row, strict=True)


def _value(field: models.Field, cell: str) -> Any:
    """What the database keeps of a cell. Raises: Refused, naming table and column."""
    text = text_of_cell(cell)
    if text == "" and field.null:
        return None
    try:
        return json.loads(text) if isinstance(field, models.JSONField) else field.to_python(text)
    except (ValidationError, ValueError) as error:
        raise Refused(
            f"“{text[:60]}” can't stand in {field.attname} of {_name(field.model)}."
        ) from error


def _files(archive: zipfile.ZipFile, names: list[str]) -> Iterator[tuple[str, bytes]]:
    """Attached files that the loaded records name, and no others."""
    known = _attached_files()
    for name in names:
        if name not in known:
            raise Refused(f"No record names the file {name}. Export anew.")
        yield name, archive.read(f"files/{name}")
