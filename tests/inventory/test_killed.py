"""Processes killed in the middle of posting: nothing half done, nothing done that is lost."""

import os
import random
import time
import uuid

import pytest
from django.db.models import Count

from inventory.models import Lot, Piece, Posting, Request
from inventory.queries.audit import audit
from tests.factories import bar, screws, stock
from tests.workers import Workers, hang_up_of_the_killed

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(os.name == "nt", reason="no fork and no SIGKILL"),
    pytest.mark.slow,
]
ROUNDS = 50


@pytest.fixture
def shop() -> None:
    bar()
    stock(screws(), 1_000_000, key=uuid.uuid4())


def keys(said: list[str]) -> set[uuid.UUID]:
    return {uuid.UUID(line.split()[1]) for line in said if line.startswith("did ")}


def killed_while_posting(workers: Workers, deed: str, rng: random.Random) -> set[uuid.UUID]:
    """One worker killed at a moment of chance; the requests it had named as done."""
    worker = workers.start(deed)
    for _ in range(rng.randint(0, 3)):
        workers.wait_for(worker, "did")
    time.sleep(rng.uniform(0, 0.08))
    done = keys(workers.kill(worker))
    hang_up_of_the_killed()
    return done


def half_done() -> list[str]:
    """What only an action that was cut off can leave; each here writes one request, one posting."""
    lines = audit()
    for rows in (Posting.objects, Lot.objects, Piece.objects):
        lines += [f"{row!r} has no movement" for row in rows.filter(movements=None)]
    bars = Lot.objects.filter(item__code="BAR-4X40", pieces__parent=None)
    short = bars.annotate(whole=Count("pieces")).exclude(whole=3)
    lines += [f"{lot} has {lot.whole} whole bars" for lot in short]
    if Posting.objects.count() != Request.objects.count():
        lines.append("not every posting has its request")
    return lines


def test_killed_fifty_times_leaves_nothing_half_done_and_loses_nothing(workers, shop):
    rng = random.Random(1)
    done = set(Request.objects.values_list("pk", flat=True))
    for killed in range(1, ROUNDS + 1):
        done |= killed_while_posting(workers, "post_for_ever", rng)
        assert half_done() == [], f"round {killed}"
        there = set(Request.objects.values_list("pk", flat=True))
        assert done <= there, f"round {killed}"
        assert len(there - done) <= killed  # done, but killed before it could say so
    assert len(done) > ROUNDS


def test_without_transactions_the_same_kills_do_leave_half_done_work(workers, shop):
    rng = random.Random(1)
    for _ in range(ROUNDS):
        killed_while_posting(workers, "post_for_ever_in_bits", rng)
        if half_done():
            return
    pytest.fail("the proof above could not have failed")


def test_sixteen_processes_lose_and_double_nothing(workers, shop):
    crew = [workers.start("deliver_ten_twice") for _ in range(16)]
    said = [workers.let_end(worker) for worker in crew]
    before = 1
    assert [len(keys(each)) for each in said] == [10] * 16
    assert Request.objects.filter(pk__in=set().union(*map(keys, said))).count() == 160
    assert (Posting.objects.count(), Lot.objects.count()) == (160 + before, 160 + before)
    assert half_done() == []
