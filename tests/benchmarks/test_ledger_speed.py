"""Pages of the shelf with a ledger of 10,000 and of 1,000,000 movements, side by side."""

from collections.abc import Callable, Iterator
from pathlib import Path
from time import process_time
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from inventory.models import Movement, User
from tests.benchmarks.ledgers import ITEMS, ledger

pytestmark = [
    pytest.mark.benchmark,
    pytest.mark.skipif(connection.vendor != "sqlite", reason="writes SQLite files"),
]

LEDGERS = {"short": (1, 5), "long": (5, 100)}
"""Lots of each item, and movements of each lot."""

SHELF = ["/stock/", "/stock/items/ITEM-0007/"]
PARTS = ["/stock/items/ITEM-0007/prices/", "/stock/items/ITEM-0007/history/?weeks=104"]
MOVEMENTS = [
    "/movements/",
    "/movements/?page=40",
    "/movements/?kind=issue",
    "/movements/?place=2",
    "/movements/?q=ITEM",
    "/movements/?q=ITEM-0007&kind=issue",
    "/movements/?kind=count&since=2000-01-01",
]
MOST_MS, MOST_QUERIES, MOST_GROWTH = 150, 11, 1.3
ROUNDS = 15


@pytest.fixture(scope="module")
def open_ledger(
    tmp_path_factory: pytest.TempPathFactory, django_db_blocker: Any
) -> Callable[[str], Any]:
    folder: Path = tmp_path_factory.mktemp("ledgers")

    def opened(name: str) -> Any:
        return ledger(folder / f"{name}.sqlite3", *LEDGERS[name], django_db_blocker)

    return opened


def owners_client() -> Client:
    person = User.objects.filter(role="owner").first() or User.objects.create(
        username="owner", role="owner"
    )
    client = Client()
    client.force_login(person)
    return client


def milliseconds(client: Client, address: str) -> Iterator[float]:
    """Processor time: what else runs on the machine doesn't count."""
    while True:
        start = process_time()
        assert client.get(address).status_code == 200
        yield 1000 * (process_time() - start)


def best(client: Client, address: str) -> float:
    timings = milliseconds(client, address)
    next(timings)
    return min(next(timings) for _ in range(ROUNDS))


def test_time_of_a_page_does_not_grow_with_the_ledger(open_ledger: Callable[[str], Any]) -> None:
    took: dict[str, dict[str, float]] = {}
    queries: dict[str, int] = {}
    for name, (lots, movements) in LEDGERS.items():
        with open_ledger(name):
            assert Movement.objects.count() == ITEMS * lots * movements
            client = owners_client()
            took[name] = {address: best(client, address) for address in SHELF + PARTS + MOVEMENTS}
            for address in SHELF:
                with CaptureQueriesContext(connection) as counted:
                    client.get(address)
                queries[address] = len(counted)
    growth = {address: took["long"][address] / took["short"][address] for address in took["long"]}
    for address, ratio in growth.items():
        print(
            f"\n{address}: {took['long'][address]:.0f} ms with 1,000,000 movements, "
            f"{ratio:.2f} times as long as with 10,000",
            end="",
        )
    assert max(took["long"].values()) < MOST_MS
    assert max(queries.values()) <= MOST_QUERIES
    assert max(growth[address] for address in SHELF) < MOST_GROWTH


def test_whole_list_of_stock_is_taken_as_csv(open_ledger: Callable[[str], Any]) -> None:
    with open_ledger("long"):
        client = owners_client()
        start = process_time()
        lines = b"".join(client.get("/stock/?format=csv").streaming_content).count(b"\r\n")
        seconds = process_time() - start
    print(f"\n{lines - 1} items as CSV: {seconds:.2f} s")
    assert lines == ITEMS + 1
    assert seconds < 1
