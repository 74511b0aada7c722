"""The site's secret key, made at first start and kept beside the data."""

import os
import secrets
from pathlib import Path


def secret_key(folder: Path) -> str:
    """Return the key in `folder`, writing a new one (readable by its owner only) when absent."""
    path = folder / "secret_key"
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return path.read_text(encoding="ascii")
    key = secrets.token_urlsafe(50)
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write(key)
    return key
