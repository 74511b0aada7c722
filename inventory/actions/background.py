"""A command started in a process of its own, so that no page waits for it."""

import os
import subprocess
import sys
from threading import Thread
from typing import Any

from django.conf import settings


def start_command(*words: str, log: str) -> None:
    """Start `manage.py words...` detached from this process, which may end before it.

    What it prints goes to the file `log` of the data folder. Raises: OSError when it can't start.
    """
    command = [sys.executable, str(settings.BASE_DIR / "manage.py"), *words]
    with (settings.DATA_DIR / log).open("wb") as output:
        process = subprocess.Popen(
            command,
            cwd=settings.BASE_DIR,
            stdin=subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
            **_detached(),
        )
    Thread(target=process.wait, daemon=True).start()  # so that no zombie stays behind


def _detached() -> dict[str, Any]:
    if os.name == "nt":
        return {"creationflags": subprocess.DETACHED_PROCESS | subprocess.CREATE_NEW_PROCESS_GROUP}
    return {"start_new_session": True}
