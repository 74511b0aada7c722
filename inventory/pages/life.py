"""Words for the life of cutters: amounts in the life unit, and whether they will last."""

from decimal import Decimal

from inventory.models import Fitting
from inventory.queries.cutter_outlook import Ahead, CutterOutlook, StationOutlook
from inventory.units import show_length, show_number

Mark = tuple[str, str]
EVEN = 0.5


def number(amount: float | Decimal) -> str:
    """A life to a tenth, or to three figures below 1."""
    value = Decimal(str(amount))
    if 0 < abs(value) < Decimal("0.001"):
        return "less than 0.001"
    return show_number(value, 1 if abs(value) >= 1 else 3) or "0"


def life_text(amount: float | Decimal, unit: str) -> str:
    """31.5 min, 40 pieces, 12 m."""
    return f"{number(amount)} {unit}"


def percent(chance: float) -> str:
    """A chance in whole per cent, never quite 0 or 100: nobody can be so sure of a cutter."""
    if chance >= 0.995:
        return "over 99\u202f%"
    return "under 1\u202f%" if chance < 0.005 else f"{100 * chance:.0f}\u202f%"


def offset_words(fitting: Fitting, unit: str) -> str:
    """What to do about its diameter before it cuts; empty for a new one that wasn't measured."""
    if fitting.diameter_um:
        measured = show_length(fitting.diameter_um, unit)
        return f" Set its offset to the measured diameter of {measured}."
    if fitting.regrinds:
        return " It was reground: measure its diameter and set its offset before it cuts."
    return ""


def lasting(outlook: CutterOutlook, station: StationOutlook, fitting: Fitting | None) -> Mark:
    """Whether the one fitted there will last the batches ahead, as (word, mark)."""
    if fitting is not None and fitting != station.fitted[0]:
        return "next in line", ""
    if outlook.model is None:
        return "life not known", "watch"
    if not station.ahead:
        return ("no batch ahead uses it" if fitting else "not fitted"), ""
    is_short = outlook.next_batch is not None and outlook.next_batch.short
    if fitting is None:
        return "not fitted", "stop" if is_short else "watch"
    if station.first_doubt is None:
        return "will last", "good"
    if station.last_sure is None:
        word = "may not last" if station.ahead[0].chance >= EVEN else "will not last"
        return word, "stop" if is_short else "watch"
    return f"lasts {station.last_sure.batch}, not {station.first_doubt.batch}", "work"


def chance_words(step: Ahead) -> str:
    """98 % for B-0012."""
    return f"{percent(step.chance)} for {step.batch}"


def spares_words(outlook: CutterOutlook) -> str:
    """What is there beside the fitted one, and what the next batch wants laid out."""
    there = f"{outlook.in_stock} in stock" if outlook.in_stock else "none in stock"
    if outlook.reground:
        there += f", {outlook.reground} reground"
    check = outlook.next_batch
    if check is None or not check.spares_wanted:
        return there
    words = f"{there}, lay out {check.spares_wanted} for {outlook.first_batch}"
    return f"{words}: {check.short} short" if check.short else words
