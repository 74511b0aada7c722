"""Quantities as people write them, converted exactly to the unit an item is kept in.

Factors come from Pint's registry with Decimal numbers: inch, foot, yard, pound, ounce and US fluid
ounce are the exact NIST values (checked in tests/published/test_nist_units.py).
"""

import re
import unicodedata
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction
from functools import cache
from typing import Any

from inventory.errors import WrongUnit
from inventory.unit_names import COUNTS, KINDS, KNOWN, PINT_NAMES, SHOWN, SPELLINGS

__all__ = [
    "convert",
    "in_millionths",
    "parse_length",
    "parse_number",
    "parse_quantity",
    "parse_size",
    "readers_unit",
    "show_exactly",
    "show_length",
    "show_number",
    "show_quantity",
    "show_size",
]

MILLIONTH = Decimal("0.000001")
LARGEST = 10**9
WITHOUT_ROUNDING_ERRORS = Context(prec=24)  # Pint multiplies its way to a factor in 28 digits
LENGTH_OF_AREA = {"in2": "in"}
NUMBER = r"(?:\d+(?:\s+|-)\d+/\d+|\d+/\d+|\d[\d.,]*|[.,]\d+)"
QUANTITY = re.compile(rf"^\s*(?P<sign>[-+]?)\s*(?P<number>{NUMBER})\s*(?P<unit>\D*?[²2]?)\s*$")
IN_TWO_UNITS = re.compile(
    rf"^\s*(?P<large>{NUMBER}\s*[^\d\s.,/x×-][^\d.,/x×-]*?)\s*(?P<small>{NUMBER}\s*[^\d\s].*)$"
)
SIZE = re.compile(
    rf"^\s*(?P<a>{NUMBER})\s*(?P<ua>[^\dx×]*?)\s*[x×]\s*(?P<b>{NUMBER})\s*(?P<ub>\D*?)\s*$", re.I
)


def parse_number(text: str) -> Fraction:
    """Read "3/16", "1 1/2", "1-1/2", "1½", "12.5" or "12,5" exactly.

    Raises: WrongUnit, when it is no number or a comma could mean thousands.
    """
    text = _plain_fractions(text).strip()
    if "," in text:
        text = _decimal_comma(text)
    try:
        whole, _, part = text.replace("-", " ").partition(" ")
        return Fraction(whole) + Fraction(part or 0)
    except (ValueError, ZeroDivisionError) as error:
        raise WrongUnit(f"“{text}” is not a number. Write 12.5, 3/16 or 1 1/2.") from error


def _plain_fractions(text: str) -> str:
    """A phone writes ½ for 1/2: "1½" becomes "1 1/2"."""
    spelled = "".join(
        f" {unicodedata.normalize('NFKC', sign)}"
        if unicodedata.decomposition(sign).startswith("<fraction>")
        else sign
        for sign in text
    )
    return spelled.replace("\N{FRACTION SLASH}", "/")


def _decimal_comma(text: str) -> str:
    if text.count(",") > 1 or "." in text or re.search(r",\d{3}$", text):
        raise WrongUnit(
            f"“{text}” could be read two ways. Write it without thousands marks, "
            "with a point for decimals."
        )
    return text.replace(",", ".")


def parse_quantity(
    text: str, unit: str, *, density_g_per_ml: Decimal | None = None, default: str = ""
) -> Decimal:
    """Return what was typed in the item's stock unit, to a millionth.

    Args:
        text: "48 in", "4 ft 6 in", "2.5 lb", "8 fl oz", "12 x 24 in" (an area), or a bare number.
        unit: stock unit of the item: each, mm, mm2, g or mL.
        density_g_per_ml: lets a mass be typed for a volume and the other way round.
        default: unit of a bare number; empty: the stock unit.
    Raises: WrongUnit naming the dimension that was expected.
    """
    text = _plain_fractions(text)
    if unit == "mm2" and SIZE.match(text):
        length, width = parse_size(text, default=LENGTH_OF_AREA.get(default, "mm"))
        return Decimal(length * (width or 0)).scaleb(-6)
    if in_two := IN_TWO_UNITS.match(text):
        return in_millionths(_in_two_units(in_two, unit, density_g_per_ml))
    match = QUANTITY.match(text)
    if not match:
        raise WrongUnit(f"“{text.strip()}” is not a quantity. Write a number and a unit: 48 in.")
    number = parse_number(match["number"])
    if match["sign"] == "-":
        number = -number
    spelled = match["unit"].strip().rstrip(".") or default
    if spelled in COUNTS and (unit == "each" or not spelled):
        return in_millionths(number)
    return in_millionths(number * _factor(spelled, unit, density_g_per_ml))


def parse_length(text: str, *, default: str = "mm", up: bool = False) -> int:
    """Return a length in whole µm; 1/16 in = 1587.5 µm rounds down, or up for a part to be cut.

    Raises: WrongUnit.
    """
    text = _plain_fractions(text)
    rounding = ROUND_CEILING if up else ROUND_FLOOR
    if in_two := IN_TWO_UNITS.match(text):
        return _whole(_in_two_units(in_two, "mm", None) * 1000, rounding)
    match = QUANTITY.match(text)
    if not match or match["sign"] == "-":
        raise WrongUnit(f"“{text.strip()}” is not a length. Write a number and a unit: 240 mm.")
    spelled = match["unit"].strip() or default
    micrometres = parse_number(match["number"]) * _factor(spelled, "mm", None) * 1000
    return _whole(micrometres, rounding)


def parse_size(text: str, *, default: str = "mm", up: bool = False) -> tuple[int, int | None]:
    """Read "305 x 610 mm" (along the grain first) or "914 mm" as µm; the width is None for a bar.

    Raises: WrongUnit.
    """
    match = SIZE.match(_plain_fractions(text))
    if not match:
        return parse_length(text, default=default, up=up), None
    last = match["ub"].strip() or default
    first = match["ua"].strip() or last
    return (
        parse_length(f"{match['a']} {first}", up=up),
        parse_length(f"{match['b']} {last}", up=up),
    )


def convert(qty: Decimal, unit: str, to: str) -> Decimal:
    """Exact conversion between two spelled units of one dimension, e.g. 1 "lb" to "g".

    Raises: WrongUnit.
    """
    factor = _pint_factor(_spelled(unit), _spelled(to))
    return _decimal(Fraction(qty) * factor)


def in_millionths(number: Fraction) -> Decimal:
    """A quantity as fine as it is kept. Raises: WrongUnit, when no shop holds so much."""
    _refuse_enormous(number, LARGEST)
    return _decimal(number).quantize(MILLIONTH, ROUND_HALF_EVEN)


def show_number(qty: Decimal, places: int = 3) -> str:
    """A number without trailing zeros and with thin spaces between thousands."""
    rounded = round(qty, places) + 0  # no minus sign on a zero
    text = f"{rounded:,f}".replace(",", "\u202f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def show_length(um: int | None, unit: str = "mm") -> str:
    """A length for the eye, in mm or inches (nominal inch fractions stay decimal)."""
    if um is None:
        return ""
    if unit == "in":
        return f"{show_number(Decimal(um) / 25400)} in"
    return f"{show_number(Decimal(um) / 1000)} mm"


def show_size(length_um: int, width_um: int | None, unit: str = "mm") -> str:
    """Length of a bar, or length x width of a sheet."""
    if width_um is None:
        return show_length(length_um, unit)
    factor = 25400 if unit == "in" else 1000
    return f"{show_number(Decimal(length_um) / factor)} × {show_length(width_um, unit)}"


def show_quantity(qty: Decimal, unit: str, length_unit: str = "mm", mass_unit: str = "g") -> str:
    """A quantity of a stock unit in the reader's units, large ones in m, m², kg or L."""
    if unit == "each":
        return show_number(qty)
    if unit in ("mm", "mm2") and length_unit == "in":
        power = 1 if unit == "mm" else 2
        return f"{show_number(qty / Decimal('25.4') ** power, 2)} {'in' if power == 1 else 'in²'}"
    if unit == "g" and mass_unit == "oz":
        return f"{show_number(qty / Decimal('28.349523125'), 2)} oz"
    return _metric(qty, unit)


def show_exactly(qty: Decimal, unit: str) -> str:
    """A quantity in the stock unit itself, with its decimals: 1 219.2 mm."""
    places = 3 if abs(qty) >= 1 else 6
    return f"{show_number(qty, places)} {SHOWN[unit]}".strip()


def readers_unit(unit: str, length_unit: str, mass_unit: str) -> str:
    """Unit in which a reader thinks of a stock unit; empty where it is the stock unit itself."""
    if length_unit == "in" and unit in ("mm", "mm2"):
        return "in" if unit == "mm" else "in2"
    return "oz" if mass_unit == "oz" and unit == "g" else ""


LARGER = {"mm": ("m", 3), "mm2": ("m²", 6), "g": ("kg", 3), "mL": ("L", 3)}


def _metric(qty: Decimal, unit: str) -> str:
    name, power = LARGER[unit]
    if abs(qty) >= Decimal(10) ** (power if unit != "mm2" else 4):
        places = 4 if unit == "mm2" and abs(qty) < 10**5 else 3
        return f"{show_number(qty.scaleb(-power), places)} {name}"
    places = 3 if abs(qty) < 1 else 1
    return f"{show_number(qty, 0 if unit == 'mm2' else places)} {SHOWN[unit]}"


def _in_two_units(match: re.Match[str], unit: str, density: Decimal | None) -> Fraction:
    """The sum of "4 ft" and "6 in", the larger unit first."""
    total, last = Fraction(0), None
    for part in (match["large"], match["small"]):
        one = QUANTITY.match(part)
        if not one:
            raise WrongUnit(f"“{match[0].strip()}” is not a quantity. Write it in one unit: 48 in.")
        factor = _factor(one["unit"].strip().rstrip("."), unit, density)
        if last is not None and factor >= last:
            raise WrongUnit(f"“{match[0].strip()}”: write the larger unit first, as in 4 ft 6 in.")
        total, last = total + parse_number(one["number"]) * factor, factor
    return total


def _factor(spelled: str, unit: str, density: Decimal | None) -> Fraction:
    name = _spelled(spelled)
    if name not in KNOWN:
        raise WrongUnit(
            f"The unit “{spelled}” isn't known. This item is kept as {KINDS[unit]}"
            f"{f' in {SHOWN[unit]}' if SHOWN[unit] else ''}."
        )
    if unit == "each":
        raise WrongUnit(f"This item is counted; “{spelled}” is not a count. Write a number.")
    if density and {unit, _dimension(name)} == {"g", "mL"}:
        own = _pint_factor(name, PINT_NAMES[_dimension(name)])
        return own * Fraction(density) if unit == "g" else own / Fraction(density)
    if _dimension(name) != unit:
        raise WrongUnit(_mismatch(spelled, name, unit))
    return _pint_factor(name, PINT_NAMES[unit])


def _mismatch(spelled: str, name: str, unit: str) -> str:
    hint = ""
    if name == "ounce" and unit == "mL":
        hint = " An ounce is a weight; a fluid ounce is written “fl oz”."
    elif {unit, _dimension(name)} == {"g", "mL"}:
        hint = " State the item's density to convert between mass and volume."
    return (
        f"“{spelled}” measures {KINDS[_dimension(name)]}, but this item is kept as "
        f"{KINDS[unit]} in {SHOWN[unit]}.{hint}"
    )


def _spelled(text: str) -> str:
    plain = " ".join(text.split())
    lower = plain.lower().replace(".", "")
    if lower in SPELLINGS:
        return SPELLINGS[lower]
    return lower if lower in KNOWN else plain


@cache
def _registry() -> Any:
    from pint import UnitRegistry  # a quarter of a second: only when someone types a unit

    return UnitRegistry(non_int_type=Decimal)


@cache
def _pint_factor(name: str, to: str) -> Fraction:
    from pint.errors import DimensionalityError, UndefinedUnitError

    registry = _registry()
    try:
        factor = registry.Quantity(Decimal(1), name).to(to).magnitude
    except (DimensionalityError, UndefinedUnitError) as error:
        raise WrongUnit(f"“{name}” can't be converted to “{to}”.") from error
    return Fraction(WITHOUT_ROUNDING_ERRORS.plus(factor))


@cache
def _dimension(name: str) -> str:
    registry = _registry()
    dimensionality = registry.Quantity(Decimal(1), name).dimensionality
    for unit, pint_name in PINT_NAMES.items():
        if pint_name and registry.Quantity(Decimal(1), pint_name).dimensionality == dimensionality:
            return unit
    raise WrongUnit(f"“{name}” is neither a length, an area, a mass nor a volume.")


def _refuse_enormous(number: Fraction, largest: int) -> None:
    if abs(number) > largest:
        raise WrongUnit("That is more than any shop holds. Check the number.")


def _decimal(number: Fraction) -> Decimal:
    return Decimal(number.numerator) / Decimal(number.denominator)


def _whole(number: Fraction, rounding: str) -> int:
    _refuse_enormous(number, LARGEST)
    return int(_decimal(number).quantize(Decimal(1), rounding))
