"""What came and went of an item, week by week, and the stock it left."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from itertools import dropwhile

from django.db.models import Sum

from forecasting.stock_turns import StockTurns, stock_turns
from inventory.models import Balance, Item, Movement, Posting

NOTHING = Decimal(0)
FEWEST_WEEKS = 8
CORRECTIONS = {Posting.Kind.COUNT, Posting.Kind.REVERSE}


@dataclass(frozen=True)
class StockWeek:
    """Quantities in the item's stock unit; stock: at the end of the week.

    corrected: by counts and by entries that were undone, more or less than recorded.
    """

    monday: date
    came: Decimal
    used: Decimal
    corrected: Decimal
    is_corrected: bool
    stock: Decimal

    @property
    def before(self) -> Decimal:
        return self.stock - self.came + self.used - self.corrected


@dataclass(frozen=True)
class Turnover:
    """What was used in so many whole weeks, what lay there on average, and what that makes."""

    weeks: int
    used: Decimal
    average: float
    turns: StockTurns


def turnover(weeks: Sequence[StockWeek]) -> Turnover | None:
    """How often the stock turned over, from the first week that anything was there.

    The running week, the last, doesn't count. None for fewer than eight weeks, or if nothing lay
    there or nothing was used.
    """
    whole = list(dropwhile(lambda week: not week.before and not week.came, weeks[:-1]))
    used = sum((week.used for week in whole), NOTHING)
    lay = sum(((week.before + week.stock) / 2 for week in whole), NOTHING)
    if len(whole) < FEWEST_WEEKS or used <= 0 or lay <= 0:
        return None
    average = float(lay) / len(whole)
    turns = stock_turns(float(used), average, days=7 * len(whole))
    return Turnover(len(whole), used, average, turns)


def stock_by_week(item: Item, until: date, weeks: int) -> list[StockWeek]:
    """The weeks up to and with that of `until`, the oldest first.

    Reckoned backwards from what is there now, so that only these weeks of the ledger are read, one
    row a day and kind.
    """
    last = until - timedelta(days=until.weekday())
    first = last - timedelta(weeks=weeks - 1)
    changes: dict[date, list[tuple[str, Decimal]]] = defaultdict(list)
    for day, kind, qty in _moved_since(item, first):
        changes[day - timedelta(days=day.weekday())].append((kind, qty))
    stock, rows = _on_hand(item), []
    for back in range(weeks):
        monday = last - timedelta(weeks=back)
        rows.append(_week(monday, changes[monday], stock))
        stock = rows[-1].before
    return rows[::-1]


def _week(monday: date, changes: Iterable[tuple[str, Decimal]], stock: Decimal) -> StockWeek:
    came, used, corrections = NOTHING, NOTHING, []
    for kind, qty in changes:
        if kind in CORRECTIONS:
            corrections.append(qty)
        elif qty > 0:
            came += qty
        else:
            used -= qty
    corrected = sum(corrections, NOTHING)
    return StockWeek(monday, came, used, corrected, bool(corrections), stock)


def _moved_since(item: Item, first: date) -> Iterable[tuple[date, str, Decimal]]:
    rows = Movement.objects.filter(item=item, day__gte=first).order_by()
    return rows.values_list("day", "kind").annotate(moved=Sum("qty"))


def _on_hand(item: Item) -> Decimal:
    return Balance.objects.filter(item=item).aggregate(total=Sum("qty"))["total"] or NOTHING
