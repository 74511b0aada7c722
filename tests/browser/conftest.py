"""A real browser: pages of a phone and a laptop, logged in, that fail on what they report.

Every test in this folder carries the marker `browser`. Without Chromium they are skipped with one
line that says so; where CI=true they fail instead.
"""

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, Page

# Playwright's synchronous interface keeps an event loop in this thread, and Django refuses
# database work beside a loop; nothing here runs at the same time.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
NO_CHROMIUM = "no Chromium on this computer (Debian, Ubuntu: apt install chromium)"
IN_CI = os.environ.get("CI") == "true"
FOLDER = Path(__file__).parent
PHONE = {
    "viewport": {"width": 390, "height": 844},
    "device_scale_factor": 2,
    "is_mobile": True,
    "has_touch": True,
}
LAPTOP = {"viewport": {"width": 1280, "height": 800}}
# A refused form answers 409 or 422 on purpose, and Chromium reports that as an error.
REFUSED_FORM = ("status of 409", "status of 422")
FAILED = pytest.StashKey[bool]()


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if FOLDER in item.path.parents:
            item.add_marker(pytest.mark.browser)
            if not CHROMIUM and not IN_CI:
                item.add_marker(pytest.mark.skip(reason=NO_CHROMIUM))


def pytest_terminal_summary(terminalreporter: Any) -> None:
    skipped = [str(report.longrepr) for report in terminalreporter.stats.get("skipped", [])]
    count = sum(NO_CHROMIUM in reason for reason in skipped)
    if count:
        terminalreporter.write_line(f"{count} browser tests skipped: {NO_CHROMIUM}")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Any:
    report = yield
    item.stash[FAILED] = item.stash.get(FAILED, False) or report.failed
    return report


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, Any]:
    if not CHROMIUM:
        pytest.fail(NO_CHROMIUM)
    return {
        "executable_path": CHROMIUM,
        "args": [
            "--headless=new",
            "--no-sandbox",  # Chromium has none when it runs as root
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-dev-shm-usage",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
        ],
    }


@pytest.fixture
def open_page(
    browser: Browser, live_server: Any, request: pytest.FixtureRequest, tmp_path: Path
) -> Iterator[Callable[..., Page]]:
    """Make pages: `open_page(person, LAPTOP)`; `page.goto("/stock/")` is a page of the site.

    After the test each page must have reported no error and asked no other host for anything. Of
    a failed test the trace and a picture stay in pytest's temporary folder.
    """
    contexts, faults = [], []

    def open_for(person: Any, device: dict[str, Any], **options: Any) -> Page:
        context = browser.new_context(base_url=live_server.url, **device, **options)
        context.tracing.start(screenshots=True, snapshots=True)
        contexts.append(context)
        if person:
            context.add_cookies([session_cookie(person, live_server.url)])
        page = context.new_page()
        watch(page, live_server.url, faults)
        return page

    yield open_for
    failed = request.node.stash.get(FAILED, False) or bool(faults)
    for number, context in enumerate(contexts, start=1):
        if failed:
            context.pages[-1].screenshot(path=tmp_path / f"page-{number}.png", full_page=True)
        context.tracing.stop(path=tmp_path / f"trace-{number}.zip" if failed else None)
        context.close()
    assert not faults, f"the browser reported: {faults}; trace in {tmp_path}"


def session_cookie(person: Any, url: str) -> dict[str, str]:
    client = Client()
    client.force_login(person)
    name = settings.SESSION_COOKIE_NAME
    return {"name": name, "value": client.cookies[name].value, "url": url}


def watch(page: Page, site: str, faults: list[str]) -> None:
    """Collect script errors, console errors and requests that leave the site."""

    def on_console(message: Any) -> None:
        if message.type == "error" and not any(code in message.text for code in REFUSED_FORM):
            faults.append(f"{message.text} ({message.location.get('url', '')})")

    def on_request(asked: Any) -> None:
        url = urlsplit(asked.url)
        if url.scheme not in ("data", "blob", "about") and url.netloc != urlsplit(site).netloc:
            faults.append(f"request to another host: {asked.url}")

    page.on("console", on_console)
    page.on("pageerror", lambda error: faults.append(f"script error: {error}"))
    page.on("request", on_request)


@pytest.fixture
def phone(open_page: Callable[..., Page], maker: Any) -> Page:
    """The maker's phone at the machine."""
    return open_page(maker, PHONE)


@pytest.fixture
def laptop(open_page: Callable[..., Page], owner: Any) -> Page:
    """The owner's laptop, for planning."""
    return open_page(owner, LAPTOP)


@pytest.fixture(scope="session")
def axe() -> Callable[[Page], None]:
    """`axe(page)` asserts that axe-core finds no accessibility fault on the page as it stands."""

    def assert_accessible(page: Page) -> None:
        found = Axe().run(page)
        assert found.violations_count == 0, found.generate_report()

    return assert_accessible
