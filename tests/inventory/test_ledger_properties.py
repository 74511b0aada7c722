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

pytestmark = pytest.mark.django_db

day = st.integers(0, 40).map(days)
whole = st.integers(1, 40).map(Decimal)
grams = st.decimals("0.000001", 50, places=6)
lengths = st.integers(50, 600).map(lambda mm: mm * MM)
pick = st.integers(0, 1000)


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

    @rule(day=day, qty=whole, place=pick)
    def deliver_screws(self, day, qty, place):
        stock(self.screws, qty, day, place=self.places[place % 2])

    @rule(day=day, qty=grams, life=st.none() | day)
    def deliver_glue(self, day, qty, life):
        stock(self.glue, qty, day, expires_on=life)

    @rule(day=day, sizes=st.lists(lengths, min_size=1, max_size=3))
    def deliver_steel(self, day, sizes):
        rack(self.steel, *[size // MM for size in sizes], day=day)

    @rule(day=day)
    def deliver_cutter(self, day):
        stock(self.cutter, 1, day)

    @rule(day=day, qty=grams)
    def use_glue(self, day, qty):
        self.try_to(actions.issue_stock, item=self.glue, qty=qty, day=day, reason="sample")

    @rule(day=day, qty=whole)
    def use_screws(self, day, qty):
        self.try_to(actions.issue_stock, item=self.screws, qty=qty, day=day, reason="repair")

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

    @rule(day=day, wanted=st.integers(1, 3))
    def plan_a_batch(self, day, wanted):
        plan(self.knife, wanted, day)

    @rule(
        day=day,
        number=pick,
        verb=st.sampled_from([actions.reserve_batch, actions.start_batch, actions.finish_batch]),
    )
    def carry_on_a_batch(self, day, number, verb):
        if batch := self.one_of(Batch.objects.all(), number):
            self.try_to(verb, batch=batch, day=day)

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
        for found in stock_by_item(days(40)).values():
            assert 0 <= found.available <= found.on_hand


def test_any_sequence_of_actions_keeps_the_promises_of_the_ledger():
    run_state_machine_as_test(
        Shop,
        settings=settings(
            max_examples=8,
            stateful_step_count=25,
            deadline=None,
            derandomize=True,
            suppress_health_check=list(HealthCheck),
        ),
    )
