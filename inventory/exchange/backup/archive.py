"""One zip with everything of a shop: its database, its attached files, and what should be in them."""

import hashlib
import json
import os
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import Any

from inventory.errors import Refused

MANIFEST = "manifest.json"
FILES = "files"
FORMAT = 1
WHOLE_SHOP = "bevelbook whole shop"
"""Kind of the other ZIP, a CSV file for each table."""
PACKED = {"compression": zipfile.ZIP_DEFLATED, "compresslevel": 1, "strict_timestamps": False}
"""On a ledger level 1 takes a quarter of the time of 6 for 5 % more; zip knows no day before 1980."""

DAMAGE = (zipfile.BadZipFile, zlib.error, EOFError, KeyError, NotImplementedError, RuntimeError)


@dataclass(frozen=True)
class Manifest:
    """What a backup says of itself.

    made is an ISO 8601 moment in UTC, engine "sqlite" or "postgresql", rows by table, migrations
    as "app.name", mismatches as the stock audit found them (None: not audited), and digests the
    SHA-256 of every member of the zip but this one.
    """

    made: str
    shop: str
    engine: str
    rows: dict[str, int]
    migrations: list[str]
    mismatches: list[str] | None
    digests: dict[str, str]
    format: int = FORMAT

    @property
    def files(self) -> list[str]:
        """Attached files, as paths within the folder of files."""
        return [name.partition("/")[2] for name in self.digests if name.startswith(f"{FILES}/")]


def attached_files(folder: Path) -> dict[str, Path]:
    """Every file below a folder, by the name it gets in the zip."""
    found = sorted(path for path in folder.rglob("*") if path.is_file())
    return {f"{FILES}/{path.relative_to(folder).as_posix()}": path for path in found}


def digest_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def write_archive(path: Path, members: dict[str, Path], manifest: Manifest) -> None:
    """Write the zip, readable by its owner only, and wait until it is on the disk."""
    with open(path, "xb", opener=_private) as file:
        with zipfile.ZipFile(file, "w", **PACKED) as archive:
            for name, source in members.items():
                archive.write(source, name)
            archive.writestr(MANIFEST, json.dumps(asdict(manifest), indent=1))
        file.flush()
        os.fsync(file.fileno())


def check_archive(path: Path) -> Manifest:
    """Read the zip whole and return its manifest. Raises: Refused when anything isn't as written."""
    with _opened(path) as archive:
        manifest = _manifest(archive, path)
        for name, digest in manifest.digests.items():
            _refuse_unsafe(name, path)
            with archive.open(name) as member:
                if hashlib.file_digest(member, "sha256").hexdigest() != digest:
                    raise Refused(f"{path} is damaged: {name} has changed. Take another backup.")
    return manifest


def extract_archive(path: Path, manifest: Manifest, folder: Path) -> None:
    """Unpack what a checked backup holds."""
    with _opened(path) as archive:
        archive.extractall(folder, members=manifest.digests)


@contextmanager
def _opened(path: Path) -> Iterator[zipfile.ZipFile]:
    try:
        with zipfile.ZipFile(path) as archive:
            yield archive
    except FileNotFoundError as error:
        raise Refused(f"There is no file {path}. Check the name.") from error
    except DAMAGE as error:
        reason = str(error).strip("'\".") or "it ends too early"
        raise Refused(f"{path} is damaged or no backup: {reason}. Take another backup.") from error


def _manifest(archive: zipfile.ZipFile, path: Path) -> Manifest:
    try:
        said = json.loads(archive.read(MANIFEST))
        _refuse_whole_shop(said, path)
        newer = said["format"] > FORMAT
        manifest = None if newer else _told(said)
    except (ValueError, TypeError) as error:
        raise Refused(f"{path} is no backup: its {MANIFEST} can't be read.") from error
    if manifest is None:
        raise Refused(f"{path} was made by a newer version. Update this one, then restore it.")
    return manifest


def _refuse_whole_shop(said: Any, path: Path) -> None:
    if isinstance(said, dict) and said.get("kind") == WHOLE_SHOP:
        raise Refused(
            f"{path} is a whole shop as one ZIP of lists, no backup. Bring it into an empty place "
            f"with manage.py import --all {path}"
        )


def _told(said: dict[str, Any]) -> Manifest:
    """Raises: TypeError or ValueError for a manifest that we never write."""
    manifest = Manifest(**said)
    if datetime.fromisoformat(manifest.made).tzinfo is None:
        raise ValueError("The moment of the manifest has no time zone.")
    texts = [manifest.shop, manifest.engine, *_listed(manifest.migrations)]
    texts += [*_listed(manifest.mismatches or []), *_mapped(manifest.digests, str)]
    texts += _mapped(manifest.rows, int)
    if not all(isinstance(text, str) for text in texts):
        raise TypeError("A text of the manifest is none.")
    return manifest


def _listed(values: Any) -> list[Any]:
    if not isinstance(values, list):
        raise TypeError("A list of the manifest is none.")
    return values


def _mapped(values: Any, kind: type) -> list[Any]:
    """The names of a mapping whose values are all of a kind."""
    if not isinstance(values, dict) or not all(isinstance(v, kind) for v in values.values()):
        raise TypeError("A table of the manifest is none.")
    return list(values)


def _refuse_unsafe(name: str, path: Path) -> None:
    """A name in a zip that somebody has tampered with may lead anywhere."""
    parts = PurePosixPath(name).parts
    if name.startswith("/") or ".." in parts or "\\" in name or ":" in name:
        raise Refused(f"{path} is no backup: it names a file outside of itself, {name}.")


def _private(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)
