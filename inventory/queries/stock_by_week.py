"""What came and went of an item, week by week, and the stock it left."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import Sum

from inventory.models import Balance, Item, Movement, Posting

NOTHING = Decimal(0)
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
