"""What lies on the shelf when the records begin: quantities and pieces, with what is known of lots."""

from collections.abc import Iterator, Sequence
from typing import Any

from django.utils import timezone

from inventory.actions.opening_stock import (
    OpeningLot,
    record_opening_stock,
    refuse_impossible_lot,
)
from inventory.errors import Refused
from inventory.exchange.tables.cells import Quantity, Text, YesNo
from inventory.exchange.tables.codes import ByCode
from inventory.exchange.tables.contents import contents_as_typed
from inventory.exchange.tables.opening_lots import (
    OF_THE_LOT,
    Group,
    KnownLots,
    as_understood,
    groups_of,
    of_lot,
)
from inventory.exchange.tables.table import Change, Column, Found, Row, State, Table, Tell, refusing
from inventory.models import Balance, Lot, Piece, Supplier, User

__all__ = ["OpeningStockTable"]

CHUNK = 300


class OpeningStockTable(Table):
    name = "stock"
    title = "Opening stock"
    about = (
        "What lies there when the records begin. Rows of one item with the same heat, or with the "
        "same lot number, are one lot. Each lot is entered once: later, receive or count. "
        "Items come first."
    )
    columns = (
        Column("item", Text(30), "code of the item", "BAR-4X40", needed=True, also=("code",)),
        Column(
            "contents",
            Quantity(),
            "250, 1.5 kg, or pieces: 3 of 914 mm + 560 mm, 4 of 610 x 305 mm",
            "3 of 914 mm",
            needed=True,
            also=("quantity", "qty"),
        ),
        Column("place", Text(60), "where it lies; empty: the item's place", "Rack 1"),
        Column("lot", Text(20), "number on its label, if it has one; empty: the next one"),
        Column("piece", Text(20), "label of a single piece, if it has one"),
        Column("offcut", YesNo(), "yes for what is left of earlier work"),
        *OF_THE_LOT,
    )

    def records(self) -> Iterator[dict[str, Any]]:
        balances = Balance.objects.select_related("lot__supplier", "item", "piece", "place")
        for balance in balances.order_by("item__code", "lot", "place", "piece"):
            piece = balance.piece
            yield {
                "item": balance.item.code,
                "contents": contents_as_typed(balance.qty, _size(piece)),
                "place": balance.place.name,
                "lot": balance.lot.number,
                "piece": piece.label if piece else "",
                "offcut": piece.is_offcut if piece else None,
                **{column.name: of_lot(balance.lot, column) for column in OF_THE_LOT},
            }

    def compare(self, rows: Sequence[Row], found: Found, tell: Tell) -> None:
        suppliers = ByCode(Supplier.objects.all())
        groups = groups_of([_spelled(row, suppliers) for row in rows], found)
        known = KnownLots()
        for group in groups:
            stored = known.of(group)
            first = group.rows[0]
            with refusing(found, first):
                if stored is not None:
                    self._refuse_different(group, stored, known)
                    state, wanted = "unchanged", None
                else:
                    wanted = self._opening_lot(group, suppliers)
                    refuse_impossible_lot(wanted)
                    known.refuse_taken_labels(group)
                    state = "new"
                found.changes += _changes(group, state, wanted)
        new = {row["place"] for row in rows if row.get("place")} - known.places
        if new:
            found.remarks.append(f"New places are made: {', '.join(sorted(new))}.")

    def enter(self, changes: Sequence[Change], by: User | None, tell: Tell) -> None:
        lots = [change.wanted for change in changes if change.wanted is not None]
        for start in range(0, len(lots), CHUNK):
            tell(start, len(lots))
            record_opening_stock(lots=lots[start : start + CHUNK], by=by)

    def _opening_lot(self, group: Group, suppliers: ByCode) -> OpeningLot:
        given = group.of_the_lot()
        code = given.pop("supplier", "")
        supplier = suppliers.get(code)
        if code and supplier is None:
            raise Refused(f"There is no supplier {code}.")
        return OpeningLot(
            item=group.item,
            day=given.pop("received_on", None) or timezone.localdate(),
            parts=tuple(group.parts),
            number=group.number,
            supplier=supplier,
            **given,
        )

    def _refuse_different(self, group: Group, lot: Lot, known: KnownLots) -> None:
        """A lot that is there is only ever shown as it is."""
        if lot.item_id != group.item.pk:
            raise Refused(f"Lot {lot.number} is of {lot.item.code}. Check the lot number.")
        if group.contents() != known.contents(lot):
            raise Refused(
                f"Lot {lot.number} of {lot.item.code} was entered before and holds something else "
                "now. Leave the row out; count the lot if the shelf says otherwise."
            )
        for column in OF_THE_LOT:
            if column.name in group.rows[0].values:
                before = column.kind.write(of_lot(lot, column))
                if before != column.kind.write(group.rows[0][column.name]):
                    raise Refused(
                        f"Lot {lot.number} was entered before with another {column.name}: "
                        f"{before or 'none'}. Leave the row out."
                    )


def _changes(group: Group, state: State, wanted: OpeningLot | None) -> Iterator[Change]:
    """One for each row; the first carries the whole lot."""
    for row in group.rows:
        shown = ("", "", as_understood(row, group.item)) if state == "new" else ()
        what = f"{group.item.code}{f', {group.heat}' if group.heat else ''}"
        yield Change(row.number, what, state, (shown,) if shown else (), wanted)
        wanted = None


def _spelled(row: Row, suppliers: ByCode) -> Row:
    """The row with its supplier's code in the capitals in which the shop has it."""
    known = suppliers.get(row.get("supplier"))
    return row if known is None else Row(row.number, {**row.values, "supplier": known.code})


def _size(piece: Piece | None) -> tuple[int, int | None] | None:
    return piece and (piece.length_um, piece.width_um)
