"""Numbers for the eye, in the units the reader chose."""

from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.html import format_html
from django.utils.safestring import SafeString

from inventory import units
from inventory.days import show_day


def quantity(qty: Decimal | float | None, unit: str, user: Any) -> SafeString:
    """Number and unit as one unbroken span; a plain faded 0 for nothing, empty for None.

    A float is a forecast's; it is shown to three figures, or whole from 1000 on.
    """
    if qty is None:
        return SafeString("")
    if isinstance(qty, float):
        qty = Decimal(f"{qty:.0f}" if abs(qty) >= 1000 else f"{qty:.3g}")
    if not qty:
        return format_html('<span class="quantity faded">{}</span>', "0")
    number, _, shown = quantity_text(qty, unit, user).partition(" ")
    return format_html(
        '<span class="quantity">{} <span class="unit">{}</span></span>'
        if shown
        else '<span class="quantity">{}{}</span>',
        number,
        shown,
    )


def quantity_text(qty: Decimal, unit: str, user: Any) -> str:
    """The same in plain text, for messages and drawings."""
    return units.show_quantity(qty, unit, user.length_unit, user.mass_unit)


def signed(qty: Decimal, unit: str, user: Any) -> SafeString:
    """A movement: +40, −12 mm."""
    sign = "+" if qty > 0 else "−"
    return format_html('<span class="quantity">{}{}</span>', sign, quantity(abs(qty), unit, user))


def life(amount: Decimal, unit: str) -> str:
    """Life of a wearing item: 8 min, 1 piece, 12.5 m."""
    return f"{units.show_number(amount, 3)} {'piece' if (amount, unit) == (1, 'pieces') else unit}"


def status(word: str, mark: str = "") -> SafeString:
    """A status word with its mark: good, work, watch, stop, or none for a plain one."""
    return format_html('<span class="status {}">{}</span>', mark, word)


def size(piece: Any, user: Any) -> str:
    """Length of a bar or length × width of a sheet, of anything with length_um and width_um."""
    return units.show_size(piece.length_um, piece.width_um, user.length_unit)


def money(amount: Decimal | None, currency: str) -> str:
    """Two decimals, or four for less than a tenth: 12.50 EUR, 0.0345 EUR."""
    if amount is None:
        return ""
    text = f"{amount:,.2f}".replace(",", "\u202f")
    if amount and abs(amount) < Decimal("0.1"):
        exact = f"{amount.quantize(Decimal('0.0001')).normalize():f}"
        text = exact if len(exact) > len(text) else text
    return f"{text.replace('-', '−')} {currency}".strip()


def day(value: date | None) -> str:
    return show_day(value)
