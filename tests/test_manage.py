"""First starts of the command line, played offline in a small copy of the project.

The copy installs two stand-in packages, so that a whole first start takes seconds.
"""

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import pytest

import manage

pytestmark = pytest.mark.slow

PYTHON_OUTSIDE = getattr(sys, "_base_executable", sys.executable)
STAND_IN_DJANGO = """
import os
def execute_from_command_line(argv):
    print("ran", *argv[1:], "SHOP_DEMO=" + os.environ.get("SHOP_DEMO", ""))
    print("DATABASE_URL=" + os.environ.get("DATABASE_URL", ""))
"""
STAND_IN_PYTEST = "import sys; print('tested', *sys.argv[1:]); sys.exit(5)"


def wheel(folder: Path, name: str, module: str, source: str) -> Path:
    """Write a package with one module in the wheel format (PyPA binary distribution format 1.0)."""
    path = folder / f"{name}-1.0-py3-none-any.whl"
    about = f"{name}-1.0.dist-info"
    files = {
        module: source,
        f"{about}/METADATA": f"Metadata-Version: 2.1\nName: {name}\nVersion: 1.0\n",
        f"{about}/WHEEL": "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
    }
    record = "".join(f"{file},,\n" for file in [*files, f"{about}/RECORD"])
    with zipfile.ZipFile(path, "w") as archive:
        for file, text in {**files, f"{about}/RECORD": record}.items():
            archive.writestr(file, text)
    return path


def environment(**extra: str) -> dict[str, str]:
    inherited = ("PIP_", "PYTHON", "SHOP_", "VIRTUAL_ENV", "DATABASE_URL", "BEVELBOOK_", "DJANGO_")
    clean = {name: value for name, value in os.environ.items() if not name.startswith(inherited)}
    return clean | {"PIP_CONFIG_FILE": os.devnull, "PIP_NO_INDEX": "1"} | extra


def start(project: Path, *arguments: str, **extra: str) -> subprocess.CompletedProcess:
    return subprocess.run(
        [PYTHON_OUTSIDE, "manage.py", *arguments],
        cwd=project,
        env=environment(**extra),
        capture_output=True,
        text=True,
        timeout=120,
    )


@pytest.fixture(scope="module")
def clone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The project before its first start."""
    folder = tmp_path_factory.mktemp("clone")
    packages = tmp_path_factory.mktemp("packages")
    (folder / "tests").mkdir()
    shutil.copy(manage.__file__, folder)
    django = wheel(packages, "Django", "django/core/management/__init__.py", STAND_IN_DJANGO)
    runner = wheel(packages, "pytest", "pytest.py", STAND_IN_PYTEST)
    (folder / "requirements.txt").write_text(f"{django}\n")
    (folder / "tests" / "requirements.txt").write_text(f"-r ../requirements.txt\n{runner}\n")
    return folder


@pytest.fixture(scope="module")
def first_start(clone: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, object]:
    project = tmp_path_factory.mktemp("started") / "project"
    shutil.copytree(clone, project)
    return project, start(project, "migrate", "--plan")


@pytest.fixture
def new_project(clone: Path, tmp_path: Path) -> Path:
    return shutil.copytree(clone, tmp_path / "project")


@pytest.fixture
def started_project(first_start: tuple[Path, object], tmp_path: Path) -> Path:
    return shutil.copytree(first_start[0], tmp_path / "project", symlinks=True)


def test_first_start_installs_the_packages_and_runs_the_command(first_start):
    _, done = first_start
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("ran migrate --plan")
    assert "Making" in done.stderr
    assert "installing 1 packages" in done.stderr


def test_second_start_installs_nothing_and_adds_less_than_a_second(started_project):
    began = time.monotonic()
    done = start(started_project, "migrate")
    assert done.stdout.startswith("ran migrate")
    assert done.stderr == ""
    assert time.monotonic() - began < 1


def test_install_without_its_stamp_is_repaired(started_project):
    (started_project / ".venv" / "installed-site").unlink()
    shutil.rmtree(next((started_project / ".venv").rglob("site-packages/django")))
    shutil.rmtree(next((started_project / ".venv").rglob("Django-1.0.dist-info")))
    done = start(started_project, "migrate")
    assert done.stdout.startswith("ran migrate"), done.stderr
    assert "Making" not in done.stderr


@pytest.mark.parametrize(
    "lost", ["bin/python", "lib"], ids=["Python is missing", "packages are missing"]
)
def test_half_made_environment_is_made_again(started_project, lost):
    (started_project / ".venv" / "installed-site").unlink()
    path = started_project / ".venv" / lost
    shutil.rmtree(path) if path.is_dir() and not path.is_symlink() else path.unlink()
    done = start(started_project, "migrate")
    assert done.stdout.startswith("ran migrate"), done.stderr
    assert "Making" in done.stderr


def test_changed_requirements_are_installed_at_the_next_start(started_project, tmp_path):
    extra = wheel(tmp_path, "sharpening", "sharpening.py", "")
    with (started_project / "requirements.txt").open("a") as requirements:
        requirements.write(f"{extra}\n")
    done = start(started_project, "migrate")
    assert "installing 1 packages" in done.stderr
    assert start(started_project, "migrate").stderr == ""


def test_two_first_starts_at_once_both_succeed(new_project):
    both = [
        subprocess.Popen(
            [PYTHON_OUTSIDE, "manage.py", "migrate"],
            cwd=new_project,
            env=environment(),
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for _ in range(2)
    ]
    ends = [process.communicate(timeout=120) for process in both]
    assert [out.startswith("ran migrate") for out, _ in ends] == [True, True], ends
    assert sorted("Making" in err for _, err in ends) == [False, True]


@pytest.mark.skipif(os.name == "nt", reason="process groups are ended by signals of POSIX")
def test_start_killed_while_fetching_is_repaired_by_the_next(started_project):
    good = (started_project / "requirements.txt").read_text()
    with socket.create_server(("127.0.0.1", 0)) as silent_index:
        port = silent_index.getsockname()[1]
        (started_project / "requirements.txt").write_text("a-package-that-never-comes\n")
        killed = subprocess.Popen(
            [PYTHON_OUTSIDE, "manage.py", "migrate"],
            cwd=started_project,
            env=environment(PIP_NO_INDEX="0", PIP_INDEX_URL=f"http://127.0.0.1:{port}/"),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        silent_index.settimeout(60)
        silent_index.accept()[0].close()
        os.killpg(killed.pid, signal.SIGKILL)
        killed.wait()
    assert not (started_project / ".venv" / "installed-site").exists()
    (started_project / "requirements.txt").write_text(good)
    assert start(started_project, "migrate").stdout.startswith("ran migrate")


def test_first_start_without_network_says_so_in_one_line(started_project):
    with socket.create_server(("127.0.0.1", 0)) as closed:
        port = closed.getsockname()[1]
    (started_project / "requirements.txt").write_text("a-package-from-the-index\n")
    index = f"http://127.0.0.1:{port}/"
    done = start(started_project, "demo", PIP_NO_INDEX="0", PIP_INDEX_URL=index)
    assert done.returncode == 1
    assert done.stdout == ""
    said = done.stderr.splitlines()
    assert [line for line in said if not line.startswith("  fetching")] == [
        "The packages could not be fetched: no connection to the package index. Connect to the "
        "internet (behind a proxy set HTTPS_PROXY) and run the same command again."
    ]
    assert not (started_project / ".venv" / "installed-site").exists()


def test_too_old_python_is_refused_in_one_line():
    play = (
        "import sys, runpy; sys.version_info = (3, 9, 18, 'final', 0);"
        f"runpy.run_path({manage.__file__!r}, run_name='__main__')"
    )
    done = subprocess.run([sys.executable, "-c", play], capture_output=True, text=True)
    assert done.returncode == 1
    assert done.stderr.startswith("Python 3.11 or newer is needed")
    assert len(done.stderr.splitlines()) == 1


def test_test_command_installs_the_test_packages_and_passes_arguments_and_code(started_project):
    done = start(started_project, "test", "-k", "bars")
    assert done.stdout == "tested -k bars\n"
    assert done.returncode == 5
    assert start(started_project, "test").stderr == ""


def test_demo_can_reach_its_own_database_only(started_project):
    done = start(started_project, "demo", DATABASE_URL="postgresql://shop@127.0.0.1/shop")
    assert done.stdout.splitlines() == ["ran demo SHOP_DEMO=1", "DATABASE_URL="]
    assert done.stderr == "DATABASE_URL is ignored: the demo keeps its own database.\n"


def test_other_commands_keep_the_shops_database(started_project):
    url = "postgresql://shop@127.0.0.1/shop"
    done = start(started_project, "migrate", DATABASE_URL=url)
    assert done.stdout.splitlines() == ["ran migrate SHOP_DEMO=", f"DATABASE_URL={url}"]


def test_bootstrap_switched_off_makes_no_environment(new_project):
    done = start(new_project, "migrate", BEVELBOOK_NO_BOOTSTRAP="1")
    assert "Making" not in done.stderr
    assert not (new_project / ".venv").exists()


def test_start_inside_another_environment_makes_none(new_project):
    inside = subprocess.run(
        [sys.executable, "manage.py", "version"],
        cwd=new_project,
        env=environment(),
        capture_output=True,
        text=True,
    )
    assert "Making" not in inside.stderr
    assert not (new_project / ".venv").exists()


@pytest.mark.parametrize(
    ("pip_lines", "reason"),
    [
        (["WARNING: Retrying after connection broken by 'NewConnectionError'"], "no connection"),
        (["ERROR: No matching distribution found for numba\n"], "No matching distribution"),
        (["ERROR: [Errno 28] No space left on device\n"], "No space left"),
        ([], "pip gave no reason"),
    ],
    ids=["offline", "no such package", "disk full", "silent"],
)
def test_failed_install_names_the_reason_and_the_next_step(pip_lines, reason):
    assert reason in manage.why_it_failed(pip_lines)
    assert "run the same command again" in manage.why_it_failed(pip_lines).lower()
