"""Whatever is done in whatever order, the ledger keeps its promises."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from inventory import actions
from inventory.errors import Refused
from inventory.models import Balance, Batch, Fitting, Movement, Piece, Posting
from inventory.queries.audit import audit
from inventory.queries.availability import stock_by_item
from tests.factories import (
    MM,
    D,
    bar,
    bill,
    cutter,
    days,
    epoxy,
    line,
    machine,
    made_part,
    place,
    plan,
    product,
    rack,
    screws,
    shop,
    step,
    stock,
)

pytestmark = [pytest.mark.django_db, pytest.mark.slow]

day = st.integers(0, 40).map(days)
whole = st.integers(1, 40).map(Decimal)
grams = st.decimals("0.000001", 50, places=6)
lengths = st.integers(50, 600).map(lambda mm: mm * MM)
pick = st.integers(0, 1000)
LAST_DAY = days(40)

NEXT = {
    "planned": actions.reserve_batch,
    "reserved": actions.start_batch,
    "in_work": actions.finish_batch,
}


class Shop(RuleBasedStateMachine):
    """Any of the shop's verbs on any of its records; refusals are fine, broken promises aren't."""

    def __init__(self) -> None:
        super().__init__()
        self.savepoint = transaction.atomic()
        self.savepoint.__enter__()
        shop()
        self.screws, self.glue, self.steel, self.cutter = screws(), epoxy(), bar(), cutter()
        self.part = made_part("BLOCK")
        bill(self.part, step(10, "", line(self.glue, 2)))
        self.knife = product()
        bill(
            self.knife,
            step(
                10,
                "Saw",
                line(self.steel, 1, cut=(120 * MM, None)),
                good_share=D("0.9"),
                wear=((self.cutter, D(2)),),
            ),
            step(20, "Glue", line(self.part), line(self.screws, 3)),
        )
        self.places = [place("Shelf"), place("Bench")]
        self.mill = machine()
        self.fill()

    def fill(self) -> None:
        """Enough that most verbs find something to do; three batches are planned."""
        stock(self.screws, 60, days(0))
        stock(self.glue, 80, days(0))
        rack(self.steel, 1000, 400, 250, day=days(0))
        for _ in range(3):
            stock(self.cutter, 1, days(0))
        actions.make_part(item=self.part, qty=9, day=days(0))
        for wanted in (2, 3, 1):
            plan(self.knife, wanted, days(5))

    def teardown(self) -> None:
        transaction.set_rollback(True)
        self.savepoint.__exit__(None, None, None)

    def try_to(self, verb: Any, **asked: Any) -> None:
        before = self.everything()
        try:
            verb(**asked)
        except Refused:
            assert self.everything() == before, "a refusal wrote something"

    def everything(self) -> tuple:
        return (
            Movement.objects.count(),
            Posting.objects.count(),
            Piece.objects.count(),
            sorted(Balance.objects.values_list("lot", "piece", "place", "qty"), key=str),
            list(Batch.objects.order_by("pk").values_list("pk", "state")),
            list(Fitting.objects.order_by("pk").values_list("pk", "life_used", "removed_on")),
        )

    @staticmethod
    def one_of(rows: Any, number: int) -> Any:
        rows = list(rows.order_by("pk"))
        return rows[number % len(rows)] if rows else None

    @rule(day=day, item=st.integers(0, 3), qty=whole, sizes=lengths, life=st.none() | day)
    def receive(self, day, item, qty, sizes, life):
        if item == 0:
            rack(self.steel, sizes // MM, day=day)
        else:
            of = (self.screws, self.glue, self.cutter)[item - 1]
            stock(of, qty, day, expires_on=life if item == 2 else None)

    @rule(day=day, of_glue=st.booleans(), qty=whole, little=grams)
    def use(self, day, of_glue, qty, little):
        item, qty = (self.glue, little) if of_glue else (self.screws, qty)
        self.try_to(actions.issue_stock, item=item, qty=qty, day=day, reason="repair")

    @rule(day=day, number=pick, part=lengths, left=lengths)
    def saw_a_piece(self, day, number, part, left):
        if piece := self.one_of(Piece.objects.all(), number):
            self.try_to(
                actions.cut_piece,
                piece=piece,
                parts=[(part, None, 1)],
                remnants=[(left, None)],
                day=day,
            )

    @rule(day=day, number=pick, length=st.just(0) | lengths)
    def count_a_piece(self, day, number, length):
        if piece := self.one_of(Piece.objects.all(), number):
            self.try_to(actions.count_piece, piece=piece, length_um=length, day=day, reason="count")

    @rule(day=day, number=pick, counted=st.integers(0, 60).map(Decimal))
    def count_a_lot(self, day, number, counted):
        if balance := self.one_of(Balance.objects.filter(piece=None), number):
            self.try_to(
                actions.count_lot,
                lot=balance.lot,
                place=balance.place,
                counted=counted,
                day=day,
                reason="count",
            )

    @rule(day=day, number=pick, to=pick, qty=whole)
    def move(self, day, number, to, qty):
        if balance := self.one_of(Balance.objects.all(), number):
            self.try_to(
                actions.move_stock,
                lot=balance.lot,
                piece=balance.piece,
                place_from=balance.place,
                place_to=self.places[to % 2],
                qty=qty,
                day=day,
            )

    @rule(day=day, number=pick)
    def reverse(self, day, number):
        if posting := self.one_of(Posting.objects.all(), number):
            self.try_to(actions.reverse_posting, posting=posting, day=day)

    @rule(day=day, qty=st.integers(1, 4), start=st.integers(0, 2))
    def make_a_part(self, day, qty, start):
        self.try_to(actions.make_part, item=self.part, qty=qty, start=qty + start, day=day)

    @precondition(lambda self: Batch.objects.count() < 6)
    @rule(day=day, wanted=st.integers(1, 3))
    def plan_a_batch(self, day, wanted):
        plan(self.knife, wanted, day)

    @rule(number=pick)
    def carry_on_a_batch(self, number):
        going = Batch.objects.filter(state__in=NEXT)
        if batch := self.one_of(going, number):
            self.try_to(NEXT[batch.state], batch=batch, day=LAST_DAY)

    @rule(day=day, number=pick, verb=st.sampled_from(list(NEXT.values())))
    def do_any_verb_to_a_batch(self, day, number, verb):
        if batch := self.one_of(Batch.objects.all(), number):
            self.try_to(verb, batch=batch, day=day)

    @precondition(lambda self: Batch.objects.filter(state="finished").exists())
    @rule(day=day, number=pick)
    def give_up_a_batch(self, day, number):
        if batch := self.one_of(Batch.objects.all(), number):
            self.try_to(actions.cancel_batch, batch=batch, day=day, note="given up")

    @rule(number=pick)
    def release_a_batch(self, number):
        if batch := self.one_of(Batch.objects.all(), number):
            self.try_to(actions.release_batch, batch=batch)

    @rule(day=day, pocket=st.sampled_from("12"))
    def fit_a_cutter(self, day, pocket):
        self.try_to(actions.fit, item=self.cutter, machine=self.mill, pocket=pocket, day=day)

    @rule(day=day, number=pick, amount=grams)
    def wear_a_cutter(self, day, number, amount):
        if fitting := self.one_of(Fitting.objects.all(), number):
            self.try_to(actions.log_wear, fitting=fitting, amount=amount, day=day)

    @rule(day=day, number=pick, reason=st.sampled_from(Fitting.EndReason.values))
    def swap_a_cutter(self, day, number, reason):
        if fitting := self.one_of(Fitting.objects.all(), number):
            self.try_to(actions.swap, fitting=fitting, reason=reason, day=day)

    @invariant()
    def audit_is_clean(self):
        assert audit() == []

    @invariant()
    def nothing_is_below_zero(self):
        assert not Balance.objects.filter(qty__lte=0).exists()
        for found in stock_by_item(LAST_DAY).values():
            assert 0 <= found.available <= found.on_hand


def test_any_sequence_of_actions_keeps_the_promises_of_the_ledger():
    run_state_machine_as_test(
        Shop,
        settings=settings(
            max_examples=6,
            stateful_step_count=30,
            deadline=None,
            derandomize=True,
            suppress_health_check=list(HealthCheck),
        ),
    )
