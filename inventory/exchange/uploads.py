"""Uploaded lists on their way: read, shown, and saved once that was asked for.

A long list is worked on beside the pages, and the page that shows it asks how far it is. What was
read waits in memory: after a restart it is uploaded again. Nothing is written before saving, and
saving is one transaction.
"""

import logging
import uuid
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from threading import Lock, Thread

from django.db import connections

from inventory.errors import Refused
from inventory.exchange.tables.check_file import check_file, save_found
from inventory.exchange.tables.notation import Notation
from inventory.exchange.tables.table import Found, Table
from inventory.models import User

__all__ = ["Upload", "known_upload", "read_again", "save_upload", "start_upload"]

KEPT = 8
AT_ONCE_BYTES = 30_000
AT_ONCE_RECORDS = 100
READING, SHOWN, SAVING, SAVED, STOPPED = "reading", "shown", "saving", "saved", "stopped"


@dataclass(eq=False)
class Upload:
    """One file of one list; step is what is being done with it."""

    table: Table
    file_name: str
    content: bytes
    owner: User
    key: uuid.UUID = field(default_factory=uuid.uuid4)
    step: str = READING
    done: int = 0
    total: int = 0
    found: Found | None = None
    saved: int = 0
    problem: str = ""

    @property
    def is_running(self) -> bool:
        return self.step in (READING, SAVING)

    def tell(self, done: int, total: int) -> None:
        self.done, self.total = done, total


_uploads: OrderedDict[uuid.UUID, Upload] = OrderedDict()
_lock = Lock()


def start_upload(table: Table, file_name: str, content: bytes, owner: User) -> Upload:
    """Begin to read a file; a short one is read when this returns."""
    upload = Upload(table, file_name, content, owner)
    with _lock:
        _uploads[upload.key] = upload
        while len(_uploads) > KEPT:
            _uploads.popitem(last=False)
    _read(upload, Notation())
    return upload


def known_upload(key: uuid.UUID, owner: User) -> Upload | None:
    """An upload of this person; None once it is forgotten."""
    upload = _uploads.get(key)
    return upload if upload is not None and upload.owner.pk == owner.pk else None


def read_again(upload: Upload, notation: Notation) -> None:
    """Read it with what was told about its numbers and days."""
    if _step_on(upload, SHOWN, READING):
        _read(upload, notation)


def save_upload(upload: Upload) -> None:
    """Write what was shown; asked for twice, it is done once."""
    if _step_on(upload, SHOWN, SAVING):
        is_short = len(upload.found.to_save) <= AT_ONCE_RECORDS
        _work(upload, lambda: _save(upload), is_short)


def _step_on(upload: Upload, expected: str, step: str) -> bool:
    with _lock:
        if upload.step != expected:
            return False
        upload.step = step
        upload.tell(0, 0)
        return True


def _read(upload: Upload, notation: Notation) -> None:
    def read() -> None:
        upload.found = check_file(upload.table, upload.content, notation, upload.tell)
        upload.step = SHOWN

    _work(upload, read, len(upload.content) <= AT_ONCE_BYTES)


def _save(upload: Upload) -> None:
    upload.saved = save_found(upload.table, upload.found, upload.owner, upload.tell)
    upload.step = SAVED


def _work(upload: Upload, do: Callable[[], None], at_once: bool) -> None:
    if at_once:
        _minded(upload, do)
    else:
        Thread(target=_beside, args=(upload, do), daemon=True).start()


def _beside(upload: Upload, do: Callable[[], None]) -> None:
    try:
        _minded(upload, do)
    finally:
        connections.close_all()


def _minded(upload: Upload, do: Callable[[], None]) -> None:
    """Do it; what stops it is kept for the page."""
    try:
        do()
    except Refused as refusal:
        upload.problem, upload.step = str(refusal), STOPPED
    except Exception:
        logging.getLogger(__name__).exception("List %s stopped", upload.table.name)
        upload.problem = "This list could not be worked through. Nothing was written."
        upload.step = STOPPED
