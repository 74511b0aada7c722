"""What the disk and the database refuse, told in one line."""

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.db import Error as DatabaseError

from inventory.errors import Refused

FULL = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
CLOSED = (errno.EACCES, errno.EPERM, errno.EROFS)


@contextmanager
def in_words(what: str, folder: Path) -> Iterator[None]:
    """Turn errors of the disk and the database into Refused, beginning with `what` was not done."""
    try:
        yield
    except OSError as error:
        raise Refused(f"{what}: {_why(error, folder)}") from error
    except (sqlite3.Error, DatabaseError) as error:
        reason = " ".join(str(error).split())
        raise Refused(
            f"{what}: the database says “{reason}”. Check that the disk has room and isn't "
            "damaged, then try again."
        ) from error


def _why(error: OSError, folder: Path) -> str:
    if error.errno in FULL:
        return f"there is no room left in {folder}. Free some, or choose another folder."
    if error.errno in CLOSED:
        place = error.filename or folder
        return f"{place} may not be opened or written. Allow it, or choose another folder."
    return f"{error.strerror or error} ({error.filename or folder}). Check the disk and try again."
