"""The tables of a batch check; the need is also what its CSV holds."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.http import HttpRequest
from django.urls import reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe

from inventory.models import Item, Piece
from inventory.pages import display, life
from inventory.pages.batch_words import covered_words, need_words, wear_words
from inventory.pages.columns import CountColumn, MoneyColumn, QuantityColumn, TextColumn
from inventory.pages.cut_sheets import CutSheet, cut_sheet
from inventory.queries.availability import Stock
from inventory.queries.batch_check import BatchCheck, MadeCheck, MaterialCheck, ServiceCheck
from inventory.queries.rack import too_small
from inventory.queries.wear_check import StationCheck, WearCheck
from inventory.templatetags.shop import percent
from inventory.units import show_number, show_size


@dataclass(frozen=True)
class NeedRow:
    """One material in its stock unit, with the sentences behind its need."""

    item: Item
    need: Decimal
    stock: Stock
    short: Decimal
    pieces_short: int
    split: bool
    how: list[str]
    covered: str

    @property
    def unusable(self) -> str:
        return ", ".join(self.stock.unusable)

    @property
    def is_noteworthy(self) -> bool:
        """Something is short, or part of what lies there doesn't count."""
        return bool(self.short or self.stock.unusable)


@dataclass(frozen=True)
class PieceNeed:
    """An item kept in pieces: parts to cut, and what the rack gives."""

    item: Item
    parts: list[tuple[int, str]]
    yields: list[tuple[str, int, int]]
    to_buy: int
    buy_of: str
    too_small: list[Piece]
    cuts: CutSheet


class ItemColumn(tables.Column):
    """Code with its link, and the name under it."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"accessor": "item", "orderable": False, **kwargs})

    def render(self, value: Item) -> SafeString:
        return format_html(
            '<a class="code" href="{}">{}</a> <small>{}</small>',
            value.get_absolute_url(),
            value.code,
            value.name,
        )

    def value(self, value: Item) -> str:
        return value.code


class NeedTable(tables.Table):
    item = ItemColumn()
    name = TextColumn(accessor="item__name", visible=False)
    unit = TextColumn(accessor="item__stock_unit", visible=False)
    need = QuantityColumn(unit="item__stock_unit")
    on_hand = QuantityColumn(accessor="stock__on_hand", unit="item__stock_unit")
    held = QuantityColumn(accessor="stock__held", unit="item__stock_unit", verbose_name="Held")
    unusable = TextColumn(verbose_name="Not usable")
    available = QuantityColumn(accessor="stock__available", unit="item__stock_unit")
    short = QuantityColumn(unit="item__stock_unit")
    covered = TextColumn(verbose_name="Could be here")

    class Meta:
        orderable = False
        empty_text = "Nothing is short, and all that lies here may be used."

    def render_need(self, value: Decimal, record: NeedRow) -> SafeString:
        shown = display.quantity(value, record.item.stock_unit, self.request.user)
        return how(shown, record.how)

    def value_need(self, value: Decimal) -> Decimal:
        return value

    def value_short(self, value: Decimal) -> Decimal:
        return value

    def value_unusable(self, value: str) -> str:
        return value

    def render_unusable(self, record: NeedRow) -> SafeString:
        unit, user = record.item.stock_unit, self.request.user
        listed = format_html_join(
            mark_safe("<br>"),
            "{} {}",
            (
                (display.quantity(qty, unit, user), why)
                for why, qty in record.stock.unusable.items()
            ),
        )
        return format_html("<span>{}</span>", listed)

    def render_short(self, value: Decimal, record: NeedRow) -> SafeString | str:
        if not value:
            return ""
        if record.pieces_short:
            many = "pieces" if record.pieces_short > 1 else "piece"
            return stop(f"{record.pieces_short} full {many}")
        if record.split:
            shown = display.quantity_text(value, record.item.stock_unit, self.request.user)
            return stop(f"{shown}: enough in total, not in one lot")
        return stop(display.quantity_text(value, record.item.stock_unit, self.request.user))


class MadeTable(tables.Table):
    item = ItemColumn(verbose_name="Part")
    needed = CountColumn(accessor="made__needed", verbose_name="Need")
    from_stock = CountColumn(accessor="made__from_stock", verbose_name="From stock")
    to_make = CountColumn(accessor="made__to_make", verbose_name="To make")
    remark = TextColumn(empty_values=())

    class Meta:
        orderable = False

    def render_needed(self, value: Decimal) -> str:
        return show_number(value)

    def render_from_stock(self, value: Decimal) -> str:
        return show_number(value)

    def render_remark(self, record: MadeCheck) -> SafeString | str:
        made = record.made
        if not made.to_make:
            return "Enough is here."
        many = f", start {made.start}" if made.start > made.to_make else ""
        if not record.ahead:
            return f"Made along with the batch{many}."
        return format_html(
            '<a href="{}">Make {} first</a>{}; ready {} day(s) later.',
            reverse("make_part", args=[record.item.code]),
            made.to_make,
            many,
            made.wait_days,
        )


class WearTable(tables.Table):
    item = ItemColumn(verbose_name="Cutter or abrasive")
    fitted = TextColumn(empty_values=())
    job = CountColumn(verbose_name="This batch")
    chance = CountColumn(verbose_name="Chance to last")
    spares = CountColumn(verbose_name="Spares here")
    spares_wanted = CountColumn(verbose_name="Lay out")
    answer = TextColumn(empty_values=())

    class Meta:
        orderable = False
        empty_text = "What is fitted will last."

    def __init__(self, *args: Any, check: BatchCheck, **kwargs: Any) -> None:
        self.check = check
        super().__init__(*args, **kwargs)

    def render_fitted(self, record: WearCheck) -> SafeString:
        return format_html_join(
            "",
            "<div>{}</div>",
            (
                (_fitted_words(station, record.item.life_unit, len(record.stations) > 1),)
                for station in record.stations
            ),
        )

    def render_job(self, value: Decimal, record: WearCheck) -> SafeString:
        steps = wear_words(self.check, record.item.code)
        return how(f"{show_number(value, 1)} {record.item.life_unit}", steps)

    def render_chance(self, value: float, record: WearCheck) -> SafeString:
        words = [
            *_ahead_words(record),
            f"{show_number(record.changes_expected, 1)} changes on average, at most "
            f"{record.changes_95} in 19 batches of 20.",
            f"To be {percent(record.confidence)} sure, lay out {record.spares_wanted}.",
            record.model.words,
        ]
        if record.reground:
            words.append(
                f"{record.reground} of the spares reground: they go in first, each with the life "
                "that reground ones had here."
            )
        return how(life.percent(value), words)

    def render_answer(self, record: WearCheck) -> SafeString:
        if record.short:
            return stop(f"{record.status}, {record.short} short")
        return mark(record.status, "good" if record.lasts else "watch")


def _ahead_words(check: WearCheck) -> list[str]:
    """What the batches ahead use first of the one that is fitted, and of the spares."""
    if not (check.ahead or check.elsewhere):
        return []
    used = f"{show_number(check.ahead, 1)} {check.item.life_unit}"
    return [
        f"The batches ahead use {used} first, so this is the chance that what is fitted now is still "
        "good after them and this one; the spares they take are counted too."
    ]


def _fitted_words(station: StationCheck, unit: str, is_one_of_several: bool) -> str:
    """Where it is and how worn; of several places also the job and the chance of each."""
    usual = f"about {show_number(station.line[0].model.weibull.mean, 0)} {unit}"
    here = f"none; lasts {usual}"
    if station.first is not None:
        place = f"{station.first.machine} {station.first.pocket}"
        here = f"{place}: {show_number(station.first.life_used, 1)} used of {usual}"
    if len(station.fitted) > 1:
        here += f", then {len(station.fitted) - 1} more there"
    if not is_one_of_several:
        return here
    return f"{here}; {show_number(station.job, 1)} here, {life.percent(station.chance)} to last"


class ServiceTable(tables.Table):
    item = ItemColumn(verbose_name="Outside service")
    vendor = TextColumn(accessor="offer__supplier__name")
    days = CountColumn(accessor="offer__lead_days", verbose_name="Days")
    qty = CountColumn(verbose_name="Knives")
    minimum = CountColumn()
    charge = MoneyColumn(accessor="offer__lot_charge", verbose_name="Lot charge")
    cost = MoneyColumn()
    cost_each = MoneyColumn(verbose_name="A knife")
    remark = TextColumn(empty_values=())

    class Meta:
        orderable = False

    def render_minimum(self, value: Decimal) -> str:
        return show_number(value)

    def render_cost_each(self, value: Decimal) -> str:
        return display.money(round(value, 2), "")

    def render_remark(self, record: ServiceCheck) -> SafeString | str:
        if record.offer is None:
            return stop("nobody offers it")
        if record.below_minimum:
            return mark(f"below the minimum of {show_number(record.minimum)}", "watch")
        return ""


def need_rows(check: BatchCheck, user: Any) -> list[NeedRow]:
    """Materials, what runs short first."""
    rows = [
        NeedRow(
            item=material.item,
            need=material.need,
            stock=material.stock,
            short=material.short,
            pieces_short=material.pieces_short if material.is_short else 0,
            split=material.split,
            how=need_words(check, material.item.code, material.item.stock_unit, user),
            covered=covered_words(material),
        )
        for material in check.materials
    ]
    return sorted(rows, key=lambda row: (not row.short, row.item.code))


def piece_needs(check: BatchCheck, user: Any) -> list[PieceNeed]:
    """What is cut from which kind of piece, and what the rack gives of it."""
    return [_piece_need(each, user) for each in check.materials if each.material]


def check_tables(check: BatchCheck, request: HttpRequest) -> dict[str, Any]:
    """Every table of the check page, by its name in the template."""
    rows = need_rows(check, request.user)
    wear = sorted(check.wear, key=lambda each: (-each.short, each.chance))
    doubtful = [each for each in wear if not each.lasts]
    return {
        "needs": NeedTable([row for row in rows if row.is_noteworthy], request=request),
        "enough": [row for row in rows if not row.is_noteworthy],
        "piece_needs": piece_needs(check, request.user),
        "made": MadeTable(check.made, request=request) if check.made else None,
        "wear": WearTable(doubtful, check=check, request=request),
        "lasting": [each for each in wear if each.lasts],
        "services": ServiceTable(check.services, request=request) if check.services else None,
    }


def how(shown: str, sentences: list[str]) -> SafeString:
    """A computed number that opens to the sum behind it."""
    if not sentences:
        return format_html("{}", shown)
    listed = format_html_join("", "<li>{}</li>", ((sentence,) for sentence in sentences))
    return format_html(
        '<details class="how"><summary>{}</summary><ul>{}</ul></details>', shown, listed
    )


def stop(words: str) -> SafeString:
    return mark(words, "stop")


def mark(words: str, kind: str) -> SafeString:
    return format_html('<span class="status {}">{}</span>', kind, words)


def _piece_need(check: MaterialCheck, user: Any) -> PieceNeed:
    material = check.material
    sizes = [
        (count, show_size(blank.length_um, blank.width_um or None, user.length_unit))
        for blank, count in check.parts.items()
    ]
    return PieceNeed(
        item=check.item,
        parts=sizes,
        yields=[(kit, material.can_make.get(kit, 0), qty) for kit, qty in material.kits.items()],
        to_buy=check.pieces_short if check.is_short else 0,
        buy_of=covered_words(check),
        too_small=too_small(material),
        cuts=cut_sheet(material, user),
    )
