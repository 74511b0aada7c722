"""Other processes at work in the tests' shop, so that they can be killed.

One interpreter loads the site and forks a worker for each start: a fork takes milliseconds, an
interpreter with all imports a second. What the workers say comes back as lines "PID word ...".
"""

import importlib
import os
import select
import signal
import subprocess
import sys
import time
import uuid
from collections import Counter, defaultdict
from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
READY, STARTED, GONE, FAILED = "ready", "started", "gone", "failed"
PATIENCE = 60
"""Seconds of silence after which a test gives up."""


class Workers:
    """The tests' side: start workers, hear what they did, kill them."""

    def __init__(self, database: str, folder: Path) -> None:
        environment = {**os.environ, "SHOP_DATA": str(folder), "PYTHONPATH": str(ROOT)}
        self._foreman = subprocess.Popen(
            [sys.executable, __file__, database],
            env={**environment, "DJANGO_SETTINGS_MODULE": "inventory.settings"},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            bufsize=0,
        )
        self._said: dict[int, list[str]] = defaultdict(list)
        self._heard: Counter[int] = Counter()
        self._half_line = b""
        self.wait_for(self._foreman.pid, READY)

    def start(self, deed: str, *details: Any) -> int:
        """Start a worker with one of the deeds below; return its process id."""
        self._tell("start", deed, *details)
        return int(self.wait_for(self._foreman.pid, STARTED))

    def wait_for(self, speaker: int, word: str) -> str:
        """Listen until that process says this word, or ends; return the rest of the line."""
        while True:
            for line in self._said[speaker][self._heard[speaker] :]:
                self._heard[speaker] += 1
                first, _, rest = line.partition(" ")
                if first in (word, GONE, FAILED):
                    return rest
            self._listen()

    def kill(self, worker: int) -> list[str]:
        """Kill it with a signal that nothing can catch; return all it had said."""
        os.kill(worker, signal.SIGKILL)
        return self.let_end(worker)

    def let_end(self, worker: int) -> list[str]:
        """Wait for its end; return all it said, and fail if it did."""
        self._tell("wait", worker)
        while GONE not in self._said[worker]:
            self._listen()
        *said, _ = self._said.pop(worker)
        del self._heard[worker]
        assert not any(line.startswith(FAILED) for line in said), said
        return said

    def close(self) -> None:
        self._foreman.communicate(timeout=PATIENCE)

    def _tell(self, *words: Any) -> None:
        self._foreman.stdin.write((" ".join(map(str, words)) + "\n").encode())

    def _listen(self) -> None:
        pipe = self._foreman.stdout
        assert select.select([pipe], [], [], PATIENCE)[0], "the workers have fallen silent"
        heard = os.read(pipe.fileno(), 65536)
        assert heard, "the foreman of the workers has ended"
        *lines, self._half_line = (self._half_line + heard).split(b"\n")
        for line in lines:
            pid, _, words = line.decode().partition(" ")
            self._said[int(pid)].append(words)


def main(database: str) -> None:
    """The foreman's side: load the site, then fork on demand; never touch the database itself."""
    import django

    django.setup()
    from django.db import connection

    for module in ("inventory.exchange.backup", "tests.factories"):
        importlib.import_module(module)  # here once, not in every worker

    connection.settings_dict["NAME"] = database
    if connection.vendor == "postgresql":
        connection.settings_dict["OPTIONS"]["application_name"] = "worker"
    say(READY)
    for line in sys.stdin:
        order, *words = line.split()
        if order == "wait":
            os.waitpid(int(words[0]), 0)
            say(GONE, speaker=int(words[0]))
        elif worker := os.fork():
            say(f"{STARTED} {worker}")
        else:
            work(*words)


def say(words: str, speaker: int | None = None) -> None:
    os.write(1, f"{speaker or os.getpid()} {words}\n".encode())  # one write: lines never mix


def work(deed: str, *details: str) -> None:
    try:
        DEEDS[deed](*details)
    except BaseException as error:
        say(f"{FAILED} {error!r}")
    os._exit(0)


def post_for_ever() -> None:
    """Deliveries of three bars, one of them cut, screws used; each named once it is done."""
    while True:
        post_thrice()


def post_for_ever_in_bits() -> None:
    """The same without a transaction around each action: what the proofs must be able to see."""
    from django.db import connection

    from inventory.actions import request

    request._all_or_nothing = nullcontext
    connection.features.has_select_for_update = False  # it takes a transaction
    post_for_ever()


def post_thrice() -> None:
    from inventory import actions
    from inventory.models import Item
    from tests.factories import DAY, MM, D

    bar, screws = Item.objects.get(code="BAR-4X40"), Item.objects.get(code="SCREW-M4")
    lot = done(actions.receive_delivery, item=bar, pieces=[(1000 * MM, None, 3)], day=DAY)
    parts = {"parts": [(240 * MM, None, 1)], "remnants": [(700 * MM, None)]}
    done(actions.cut_piece, piece=lot.pieces.first(), day=DAY, **parts)
    done(actions.issue_stock, item=screws, qty=D(3), day=DAY, reason="sample")


def deliver_ten_twice() -> None:
    """Ten deliveries, each form sent twice."""
    from inventory import actions
    from inventory.models import Item
    from tests.factories import DAY, D

    screws = Item.objects.get(code="SCREW-M4")
    for _ in range(10):
        key = uuid.uuid4()
        for _ in range(2):
            done(actions.receive_delivery, item=screws, qty=D(1), day=DAY, key=key)


def back_up_for_ever(folder: str) -> None:
    while True:
        back_up(folder)


def back_up(folder: str, largest_file: str = "") -> None:
    """One backup; with a largest file, the disk takes no more than that many bytes of one."""
    from django.conf import settings

    from inventory.errors import Refused
    from inventory.exchange.backup import make_backup

    settings.BACKUP_DIR = Path(folder)
    if largest_file:
        import resource  # Windows has none

        resource.setrlimit(resource.RLIMIT_FSIZE, (int(largest_file),) * 2)
    say("begun")
    try:
        say(f"made {make_backup().backup.path}")
    except Refused as refusal:
        say(f"refused {refusal}")


def restore(file: str, folder: str) -> None:
    from django.conf import settings

    from inventory.exchange.backup import restore_backup

    settings.BACKUP_DIR = Path(folder)
    say("begun")
    restore_backup(Path(file), replace=True)


def done(action: Callable[..., Any], key: uuid.UUID | None = None, **asked: Any) -> Any:
    key = key or uuid.uuid4()
    result = action(key=key, **asked)
    say(f"did {key}")
    return result


DEEDS: dict[str, Callable[..., None]] = {
    deed.__name__: deed
    for deed in (
        post_for_ever,
        post_for_ever_in_bits,
        deliver_ten_twice,
        back_up,
        back_up_for_ever,
        restore,
    )
}


def hang_up_of_the_killed() -> None:
    """Wait until PostgreSQL has noticed that killed workers are gone; SQLite has nothing to notice."""
    from django.db import connection

    while connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1 FROM pg_stat_activity WHERE application_name = 'worker'")
            if cursor.fetchone() is None:
                return
        time.sleep(0.005)


if __name__ == "__main__":
    main(sys.argv[1])
