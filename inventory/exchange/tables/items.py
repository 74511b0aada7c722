"""Items: anything stocked, and outside services."""

from collections.abc import Sequence
from typing import Any

from django.db.models import QuerySet

from inventory.actions.catalogue import refuse_new_meaning, save_place
from inventory.actions.many_records import RecordEntry
from inventory.actions.save_items import save_items
from inventory.errors import Refused
from inventory.exchange.tables.cells import Choice, Day, Length, Number, Text, Whole, YesNo
from inventory.exchange.tables.records import RecordTable
from inventory.exchange.tables.table import Change, Column, Found, Row, Tell
from inventory.models import Item, Place, User

__all__ = ["ItemTable"]

CHUNK = 500
REFERENCES = ("place", "mixed with", "mix share")
OWN_UNIT = {
    Item.Kind.BAR: Item.Unit.MM,
    Item.Kind.WEBBING: Item.Unit.MM,
    Item.Kind.SHEET: Item.Unit.MM2,
}
BY_WEIGHT_TOO = (Item.Kind.ADHESIVE, Item.Kind.CHEMICAL, Item.Kind.MEDIA)
"""Kept in g, in mL or by the can: a guess would make 250 g of epoxy 250 cans."""
ORDER_FIELDS = (
    Column("service level", Number(3), "chance of no shortage; empty: the shop's own", "0.98"),
    Column("status", Choice(Item.Status), "active, last buy or discontinued", "active"),
    Column("most stored", Number(), "in stock units, when room is short"),
    Column("needed until", Day(), "day until which it is still used"),
)
PIECE_FIELDS = (
    Column("thickness", Length(), "nominal; a bare number is in mm", field="thickness_um"),
    Column("thickness off", Length(), "how far it may be off", field="thickness_off_um"),
    Column("width", Length(), "of a bar", field="width_um"),
    Column("kerf", Length(), "of the saw used on it", field="kerf_um"),
    Column("trim", Length(), "squaring trim at the first edge", field="trim_um"),
    Column("shortest kept", Length(), "remnants below it go to the bin", field="keep_length_um"),
    Column("narrowest kept", Length(), "the same across", field="keep_width_um"),
    Column("has grain", YesNo(), "grain or weave runs along the length"),
    Column(
        "lots together",
        Choice(Item.LotMatch),
        "what one knife, or a batch, is made from",
        field="lot_match",
    ),
)
AGEING_FIELDS = (
    Column("density", Number(), "in g/mL", field="density_g_per_ml"),
    Column("shelf life days", Whole(), "unopened, from manufacture"),
    Column("opened life days", Whole(), "once it is open"),
    Column("mixed with", Text(30), "code of the other part of a two-part system"),
    Column("mix share", Number(), "of the other part for one of this, in stock units"),
)
COUNT_FIELDS = (
    Column("weight of one", Number(), "in g, to count by weight", field="weight_of_one_g"),
    Column("weighed sample", Whole(), "how many were weighed for it"),
    Column("grit system", Choice(Item.GritSystem), "P, F or CAMI"),
    Column("grit number", Whole(), "e.g. 400"),
    Column("grit size", Number(), "mean grain in µm", field="grit_um"),
)
CUTTER_FIELDS = (
    Column("cutting diameter", Length(), "DC of ISO 13399", field="diameter_um"),
    Column("depth of cut", Length(), "APMX, the most", field="cut_depth_um"),
    Column("usable length", Length(), "LU, how deep it reaches", field="usable_length_um"),
    Column("overall length", Length(), "OAL", field="overall_length_um"),
    Column("flutes", Whole(), "NOF"),
    Column("corner radius", Length(), "RE", field="corner_radius_um"),
    Column("coating", Text(40), "of a cutter"),
    Column("most regrinds", Whole(), "how often it may be reground"),
    Column(
        "smallest diameter", Length(), "still used after regrinding", field="smallest_diameter_um"
    ),
)
WEAR_FIELDS = (
    Column("life unit", Choice(Item.LifeUnit), "of what wears: minutes, pieces or metres"),
    Column("usual life", Number(), "in that unit, the shop's own figure", field="rated_life"),
    Column(
        "usual shape", Number(), "Weibull shape: about 1 breaks, 2 to 4 wears", field="rated_shape"
    ),
    Column("wear limit", Whole(), "wear land in µm", field="wear_limit_um"),
    Column("revision", Whole(), "raised when geometry or coating changes"),
    Column("change cost", Number(5), "of a change made in time"),
    Column("failure cost", Number(5), "of a change after a failure"),
)
CAUTION_FIELDS = (
    Column("hazard codes", Text(120), "GHS hazard statements from its safety data sheet"),
    Column("caution", Text(), "what is shown before it is used"),
    Column("data sheet dated", Day(), "date on its safety data sheet"),
)


class ItemTable(RecordTable):
    name = "items"
    title = "Items"
    about = "Everything that is kept in stock, and services that are bought by the piece."
    model = Item
    columns = (
        Column("code", Text(30), "short, for labels", "SCREW-M4X12", needed=True, also=("item",)),
        Column(
            "name", Text(120), "as people say it", "Countersunk screw M4 x 12", needed_when_new=True
        ),
        Column(
            "kind",
            Choice(Item.Kind),
            ", ".join(Item.Kind.labels),
            "fastener",
            needed_when_new=True,
        ),
        Column(
            "stock unit",
            Choice(Item.Unit),
            "each, g or mL, needed for adhesives, chemicals and media; bars and webbing are in mm, "
            "sheets in mm²; empty for the rest: each",
            "each",
            also=("unit",),
        ),
        Column("colour", Text(40), "where it matters", "black", also=("color",)),
        Column("grade", Text(60), "standard grade", "A2-70", also=("standard grade",)),
        Column("place", Text(60), "where it usually lies; a new place is made", "Drawer 3"),
        Column("note", Text(), "anything else", "stainless"),
        *ORDER_FIELDS,
        *PIECE_FIELDS,
        *AGEING_FIELDS,
        *COUNT_FIELDS,
        *CUTTER_FIELDS,
        *WEAR_FIELDS,
        *CAUTION_FIELDS,
    )

    def stored(self) -> QuerySet[Item]:
        return Item.objects.select_related("place", "mixed_with").order_by("code")

    def value_of(self, record: Item, column: str) -> Any:
        if column == "place":
            return record.place.name if record.place else ""
        if column == "mixed with":
            return record.mixed_with.code if record.mixed_with else ""
        return super().value_of(record, column)

    def fields_of(self, row: Row) -> dict[str, Any]:
        own = Row(row.number, {k: v for k, v in row.values.items() if k not in REFERENCES})
        fields = super().fields_of(own)
        if "stock_unit" not in fields and fields.get("kind") in OWN_UNIT:
            fields["stock_unit"] = OWN_UNIT[fields["kind"]]
        return fields

    def prepare(self, rows: Sequence[Row], found: Found) -> None:
        codes = [*(row["code"] for row in rows), *Item.objects.values_list("code", flat=True)]
        self.codes = {code.casefold(): code for code in codes}
        known = set(Place.objects.values_list("name", flat=True))
        new = sorted({row["place"] for row in rows if row.get("place")} - known)
        if new:
            found.remarks.append(f"New places are made: {', '.join(new)}.")

    def spelled(self, row: Row, record: Item | None) -> Row:
        row = super().spelled(row, record)
        other = row.get("mixed with", "")
        known = self.codes.get(other.casefold(), other)
        return Row(row.number, {**row.values, "mixed with": known}) if other else row

    def refuse_impossible(self, row: Row, record: Item | None) -> None:
        if record is not None:
            refuse_new_meaning(record, self.fields_of(row))
        elif row.get("kind") in BY_WEIGHT_TOO and "stock unit" not in row.values:
            raise Refused(
                f"A new {Item.Kind(row['kind']).label} needs its stock unit. Write g, mL or each."
            )
        other, share = row.get("mixed with"), row.get("mix share")
        if record is not None and record.mixed_with:
            other, share = other or record.mixed_with.code, share or record.mix_share
        if other and other.casefold() not in self.codes:
            raise Refused(f"There is no item {other} to mix it with.")
        if bool(other) != bool(share) or other == row["code"] or (share or 0) < 0:
            raise Refused("A two-part system needs the other part, and how much of it for one.")

    def enter(self, changes: Sequence[Change], by: User | None, tell: Tell) -> None:
        places = self._places(changes)
        for start in range(0, len(changes), CHUNK):
            tell(start, len(changes))
            chunk = changes[start : start + CHUNK]
            save_items(entries=[self._entry(change, places) for change in chunk], by=by)
        self._save_mixes(changes, by)

    def _places(self, changes: Sequence[Change]) -> dict[str, Place]:
        places = {place.name: place for place in Place.objects.all()}
        for change in changes:
            name = change.wanted[1].get("place")
            if name and name not in places:
                places[name] = save_place(name=name)
        return places

    def _entry(self, change: Change, places: dict[str, Place]) -> RecordEntry:
        record, row = change.wanted
        values = self.fields_of(row)
        if "place" in row.values:
            values["place"] = places[row["place"]]
        return RecordEntry(values, record)

    def _save_mixes(self, changes: Sequence[Change], by: User | None) -> None:
        """Two-part systems last: the other part may have been further down the list."""
        mixed = [
            change.wanted[1]
            for change in changes
            if {"mixed with", "mix share"}.intersection(change.wanted[1].values)
        ]
        named = {row["code"] for row in mixed} | {row.get("mixed with") for row in mixed}
        items = {item.code: item for item in Item.objects.filter(code__in=named - {None})}
        entries = []
        for row in mixed:
            values = {}
            if "mixed with" in row.values:
                values["mixed_with"] = items[row["mixed with"]]
            if "mix share" in row.values:
                values["mix_share"] = row["mix share"]
            entries.append(RecordEntry(values, items[row["code"]]))
        save_items(entries=entries, by=by)
