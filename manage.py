#!/usr/bin/env python3
"""Bevelbook's command line. Needs Python 3.11 or newer and nothing else.

Outside a virtual environment it makes `.venv` beside this file, installs what is missing and runs
the command there; inside one, or with BEVELBOOK_NO_BOOTSTRAP=1, it installs nothing.
"""

import contextlib
import hashlib
import os
import re
import sqlite3
import subprocess
import sys
from pathlib import Path

VERSION = tuple(sys.version_info[:2])
if VERSION < (3, 11):
    sys.exit(f"Python 3.11 or newer is needed; {sys.executable} is older. Run it with a newer one.")

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
SITE = ROOT / "requirements.txt"
TESTS = ROOT / "tests" / "requirements.txt"
OFFLINE = re.compile(r"connection broken by|timed out|name resolution|ConnectionError")


def main(argv: list[str]) -> int:
    """Run one command and return its exit code; a refusal is one line on stderr."""
    command = argv[1] if len(argv) > 1 else ""
    if sys.prefix != sys.base_prefix or os.environ.get("BEVELBOOK_NO_BOOTSTRAP") == "1":
        return run(command, argv)
    make_ready([SITE, TESTS] if command == "test" else [SITE])
    return run_inside(argv)


def say(line: str) -> None:
    print(line, file=sys.stderr, flush=True)  # stdout belongs to the command


def make_ready(wanted: list[Path]) -> None:
    """Install the wanted requirements files into .venv, one process at a time."""
    if all(map(is_installed, wanted)):
        return
    (ROOT / ".data").mkdir(exist_ok=True)
    with contextlib.closing(sqlite3.connect(ROOT / ".data" / "install.lock", timeout=3600)) as lock:
        lock.execute("BEGIN EXCLUSIVE")  # ends with this process, however that ends
        for requirements in wanted:
            if not is_installed(requirements):
                install(requirements)


def is_installed(requirements: Path) -> bool:
    mark = stamp(requirements)
    return PYTHON.exists() and mark.exists() and mark.read_text() == fingerprint(requirements)


def stamp(requirements: Path) -> Path:
    return VENV / ("installed-tests" if requirements == TESTS else "installed-site")


def fingerprint(requirements: Path) -> str:
    return hashlib.sha256(repr(VERSION).encode() + requirements.read_bytes()).hexdigest()


def install(requirements: Path) -> None:
    """Install one requirements file; its stamp goes first and comes back last."""
    stamp(requirements).unlink(missing_ok=True)
    if not has_working_pip():
        make_environment()
    command = [PYTHON, "-m", "pip", "install", "--no-input", "--disable-pip-version-check"]
    command += ["--progress-bar=off", "--retries=2", "-r", requirements]
    pip = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    lines = []
    for line in pip.stdout:
        lines.append(line)
        show_progress(line)
    if pip.wait():
        sys.exit(why_it_failed(lines))
    stamp(requirements).write_text(fingerprint(requirements))


def has_working_pip() -> bool:
    if not PYTHON.exists():
        return False
    check = [PYTHON, "-c", f"import pip, sys; sys.exit(sys.version_info[:2] != {VERSION})"]
    return subprocess.run(check, capture_output=True).returncode == 0


def make_environment() -> None:
    say(f"Making {VENV} (once; needs the internet and about 1 GB, takes a minute or two)")
    command = [sys.executable, "-m", "venv", "--clear", VENV]
    made = subprocess.run(command, capture_output=True, text=True)
    if made.returncode:
        reason = " ".join((made.stderr + made.stdout).split())
        sys.exit(
            f"Python could not make {VENV}: {reason} On Debian or Ubuntu install python3-venv, "
            "then run the same command again."
        )


def show_progress(pip_line: str) -> None:
    if pip_line.startswith("Collecting "):
        say("  fetching " + re.split(r"[^\w.-]", pip_line.split()[1])[0])
    elif pip_line.startswith("Installing collected packages:"):
        say(f"  installing {pip_line.count(',') + 1} packages")


def why_it_failed(pip_lines: list[str]) -> str:
    if any(map(OFFLINE.search, pip_lines)):
        return (
            "The packages could not be fetched: no connection to the package index. Connect to the "
            "internet (behind a proxy set HTTPS_PROXY) and run the same command again."
        )
    errors = [line for line in pip_lines if line.startswith("ERROR:")] or ["pip gave no reason."]
    return f"The packages could not be installed. {errors[-1].strip()} Run the same command again."


def run_inside(argv: list[str]) -> int:
    if os.name == "nt":  # exec there hands the prompt back before the command has ended
        return subprocess.call([PYTHON, *argv])
    os.execv(PYTHON, [str(PYTHON), *argv])


def run(command: str, argv: list[str]) -> int:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "inventory.settings")
    if command == "test":
        os.chdir(ROOT)
        return subprocess.call([sys.executable, "-m", "pytest", *argv[2:]])
    if command == "demo":  # before the settings load: it must not reach another database
        os.environ["SHOP_DEMO"] = "1"
        if os.environ.pop("DATABASE_URL", None):
            say("DATABASE_URL is ignored: the demo keeps its own database.")
    try:
        from django.core.management import execute_from_command_line
    except ModuleNotFoundError:
        sys.exit(
            f"Django is not installed in {sys.prefix}. Leave this virtual environment, or run "
            f"`{sys.executable} -m pip install -r {SITE}`; then run the same command again."
        )
    execute_from_command_line(argv)
    return 0


if __name__ == "__main__":
    with contextlib.suppress(KeyboardInterrupt):
        sys.exit(main(sys.argv))
    sys.exit(130)
