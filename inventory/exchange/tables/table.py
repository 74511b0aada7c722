"""What a list that goes in and out consists of, and what was found in a file of it."""

import hashlib
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any, Literal

from inventory.errors import Refused
from inventory.exchange.tables.cells import Kind, as_text
from inventory.models import User

__all__ = ["Change", "Column", "Found", "Refusal", "Row", "Table", "Tell"]

Tell = Callable[[int, int], None]
"""Is told from time to time how many of how many rows are done."""

State = Literal["new", "changed", "unchanged"]


@dataclass(frozen=True)
class Column:
    """One column: everything the blank form, the reader, the preview and the help say of it.

    kind: how its cells are read and written. needed: no row without it. needed_when_new: no new
    record without it. also: other headings it is found under. field: of the record, if it has
    another name.
    """

    name: str
    kind: Kind
    meaning: str
    example: str = ""
    needed: bool = False
    needed_when_new: bool = False
    also: tuple[str, ...] = ()
    field: str = ""

    @property
    def attribute(self) -> str:
        return self.field or self.name.replace(" ", "_")


@dataclass(frozen=True)
class Row:
    """What one row says; columns without content aren't in it."""

    number: int
    values: dict[str, Any]

    def __getitem__(self, column: str) -> Any:
        return self.values[column]

    def get(self, column: str, default: Any = None) -> Any:
        return self.values.get(column, default)


@dataclass(frozen=True)
class Change:
    """What becomes of one record: differences as (column, before, after); wanted goes to the action."""

    row: int
    what: str
    state: State
    differences: tuple[tuple[str, str, str], ...] = ()
    wanted: Any = None


@dataclass(frozen=True)
class Refusal:
    row: int
    column: str
    reason: str


@dataclass
class Found:
    """What a file would do; nothing has been written yet.

    questions: "numbers" or "days" when some can be read two ways and nobody has said which.
    """

    rows: list[Row] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)
    refusals: list[Refusal] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    questions: set[str] = field(default_factory=set)

    def refuse(self, row: int, column: str, reason: object) -> None:
        self.refusals.append(Refusal(row, column, str(reason)))

    def of(self, state: State) -> list[Change]:
        return [change for change in self.changes if change.state == state]

    @property
    def to_save(self) -> list[Change]:
        return [change for change in self.changes if change.state != "unchanged"]

    @property
    def can_be_saved(self) -> bool:
        return bool(self.to_save) and not self.refusals and not self.questions

    @property
    def digest(self) -> str:
        """A mark of what was shown, so that nothing else is written in its place."""
        shown = [(each.row, each.what, each.state, each.differences) for each in self.changes]
        return hashlib.sha256(repr(shown).encode()).hexdigest()


class Table(ABC):
    """One list. A subclass says its columns, how rows compare with the shop, and how to enter them."""

    name = ""
    title = ""
    about = ""
    columns: Sequence[Column] = ()

    @abstractmethod
    def compare(self, rows: Sequence[Row], found: Found, tell: Tell) -> None:
        """Put a change or a refusal for each row into `found`; reads, and never writes."""

    @abstractmethod
    def enter(self, changes: Sequence[Change], by: User | None, tell: Tell) -> None:
        """Write new and changed records through the actions; called inside one transaction."""

    @abstractmethod
    def records(self) -> Iterator[dict[str, Any]]:
        """Every record of the shop as values by column name, as they would be typed."""

    def column(self, name: str) -> Column:
        return next(column for column in self.columns if column.name == name)

    def written(self, column: str, value: Any) -> str:
        """A value as the file shows it."""
        return as_text(self.column(column).kind.write(value))


def refuse_twice(found: Found, seen: dict[Any, int], key: Any, row: Row, column: str) -> bool:
    """Refuse a row about a record that an earlier row is about."""
    if key in seen:
        found.refuse(row.number, column, f"The same is in row {seen[key]}. Keep one of them.")
        return True
    seen[key] = row.number
    return False


@contextmanager
def refusing(found: Found, row: Row, column: str = "") -> Iterator[None]:
    """Take down what is refused inside as the refusal of a row."""
    try:
        yield
    except Refused as refusal:
        found.refuse(row.number, column, refusal)
