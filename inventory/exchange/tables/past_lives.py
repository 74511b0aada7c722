"""Lives of cutters from before the records began."""

from collections.abc import Iterator, Sequence
from typing import Any

from inventory.actions.past_lives import PastLife, record_past_lives, refuse_impossible_life
from inventory.errors import Refused
from inventory.exchange.tables.cells import Choice, Day, Number, Text, Whole
from inventory.exchange.tables.codes import ByCode
from inventory.exchange.tables.table import (
    Change,
    Column,
    Found,
    Row,
    Table,
    Tell,
    refuse_twice,
    refusing,
)
from inventory.models import Fitting, Item, Machine, User
from inventory.queries.life_traits import operations_of

__all__ = ["PastLifeTable"]

CHUNK = 500


class PastLifeTable(Table):
    name = "lives"
    title = "Lives of cutters"
    about = (
        "Cutters, belts and blades that were fitted and removed before the records began. The "
        "chances of the next ones are learned from them; stock doesn't move. Items come first."
    )
    columns = (
        Column("item", Text(30), "code of the cutter", "MILL-6", needed=True, also=("code",)),
        Column("machine", Text(60), "where it ran; a new machine is made", "Mill", needed=True),
        Column("pocket", Text(20), "its place in the machine", "3", needed=True),
        Column("fitted", Day(), "the day it went in", "2024-03-05", True, field="fitted_on"),
        Column("removed", Day(), "the day it came out", "2024-04-22", True, field="removed_on"),
        Column("life", Number(), "used, in the item's life unit", "118.5", True, field="life_used"),
        Column(
            "ended",
            Choice(Fitting.EndReason),
            ", ".join(Fitting.EndReason.labels),
            "worn",
            needed=True,
            field="end_reason",
        ),
        Column("work material", Text(60), "what it cut", "1.4116"),
        Column("operation", Text(60), "in which it was used", "Mill bevels"),
        Column("cutting data", Text(60), "speed, feed and depth", "90 m/min, 0.03 mm"),
        Column("regrinds", Whole(), "how often it had been reground", "0"),
        Column("revision", Whole(), "of the item then; empty: the present one", "1"),
        Column("note", Text(200), "anything else", "chipped at the corner"),
    )

    def records(self) -> Iterator[dict[str, Any]]:
        """Every life that has ended and was used; one that went on elsewhere is in its last fitting."""
        lives = list(_ended().filter(continued_by=None, life_used__gt=0))
        operations = operations_of(lives)
        own = [column for column in self.columns if column.name != "operation"]
        for fitting in lives:
            yield {
                **{column.name: getattr(fitting, column.attribute) for column in own},
                "item": fitting.item.code,
                "machine": fitting.machine.name,
                "operation": operations.get(fitting.pk, ""),
            }

    def compare(self, rows: Sequence[Row], found: Found, tell: Tell) -> None:
        items = ByCode(Item.objects.all())
        known = {_key_of(fitting): fitting for fitting in _ended()}
        seen: dict[Any, int] = {}
        for row in rows:
            item = items.get(row["item"])
            if item is None:
                found.refuse(row.number, "item", f"There is no item {row['item']}.")
                continue
            life = self._life(row, item)
            if not refuse_twice(found, seen, _key_of_life(life), row, "fitted"):
                with refusing(found, row):
                    found.changes.append(self._change(row, life, known.get(_key_of_life(life))))
        new = {row["machine"] for row in rows} - set(Machine.objects.values_list("name", flat=True))
        if new:
            found.remarks.append(f"New machines are made: {', '.join(sorted(new))}.")

    def enter(self, changes: Sequence[Change], by: User | None, tell: Tell) -> None:
        for start in range(0, len(changes), CHUNK):
            tell(start, len(changes))
            chunk = changes[start : start + CHUNK]
            record_past_lives(lives=[change.wanted for change in chunk], by=by)

    def _life(self, row: Row, item: Item) -> PastLife:
        given = {self.column(name).attribute: value for name, value in row.values.items()}
        return PastLife(**{**given, "item": item})

    def _change(self, row: Row, life: PastLife, known: Fitting | None) -> Change:
        what = f"{life.item.code} in {life.machine} {life.pocket}, {row['fitted']}"
        shown = f"{self.written('life', life.life_used)}, {self.written('ended', life.end_reason)}"
        if known is not None and (known.life_used, known.end_reason) == (
            life.life_used,
            life.end_reason,
        ):
            return Change(row.number, what, "unchanged")
        refuse_impossible_life(life)
        if known is not None:
            raise Refused(f"{what} is recorded already, as {known.label}. Leave it out.")
        return Change(row.number, what, "new", (("", "", shown),), life)


def _ended() -> Any:
    return Fitting.objects.filter(removed_on__isnull=False).select_related("item", "machine")


def _key_of(fitting: Fitting) -> tuple[Any, ...]:
    return fitting.machine.name, *_in_that_machine(fitting)


def _key_of_life(life: PastLife) -> tuple[Any, ...]:
    return life.machine, *_in_that_machine(life)


def _in_that_machine(life: Fitting | PastLife) -> tuple[Any, ...]:
    """One a pocket at a time; but two may break in it on one day."""
    known = life.item.code, life.pocket, life.fitted_on, life.removed_on
    within_a_day = life.fitted_on == life.removed_on
    return (*known, life.life_used, life.end_reason) if within_a_day else known
