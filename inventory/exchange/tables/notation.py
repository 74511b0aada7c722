"""How a file writes its numbers and days, and reading them that way.

1,234 may be a little more than one or over a thousand, 05/03/2026 may be in March or in May: what
can't be told from the file itself is asked once.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from inventory.errors import Refused

__all__ = ["Ambiguous", "Notation", "decimal_mark_of", "plain_numbers", "read_day"]

NUMBERS, DAYS = "numbers", "days"
GROUP_MARKS = "'’ \u00a0\u2009\u202f"
NUMBER = re.compile(rf"\d(?:[\d.,]|(?<=\d)[{GROUP_MARKS}](?=\d{{3}}(?:\D|$)))*")
THOUSANDS = re.compile(r"\d{1,3}([.,])\d{3}(?:\1\d{3})*")
COULD_BE_THOUSANDS = re.compile(r"[1-9]\d{0,2}[.,]\d{3}")
YEAR_FIRST = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})(?:[ T]00:00(?::00)?)?")
YEAR_LAST = re.compile(r"(\d{1,2})([-/.])\s?(\d{1,2})\2\s?(\d{4})")
WITH_MONTH_NAMES = ("%d %b %Y", "%d %B %Y", "%d. %B %Y", "%b %d %Y", "%B %d %Y", "%d-%b-%Y")


class Ambiguous(Exception):
    """A cell that can be read two ways; about: "numbers" or "days"."""

    def __init__(self, about: str) -> None:
        super().__init__(about)
        self.about = about


@dataclass(frozen=True)
class Notation:
    """What was told, or seen in the file; None while it isn't known."""

    decimal_mark: str | None = None
    day_first: bool | None = None


def decimal_mark_of(texts: Iterable[str]) -> str | None:
    """The one mark that numbers of a file certainly use for decimals; None if both or neither."""
    marks = {_certain_mark(token) for text in texts for token in NUMBER.findall(text)} - {""}
    return marks.pop() if len(marks) == 1 else None


def plain_numbers(text: str, notation: Notation) -> str:
    """Write every number of a text with a decimal point and without thousands marks.

    Raises: Ambiguous.
    """
    return NUMBER.sub(lambda found: _plain(found[0], notation), text)


def read_day(text: str, notation: Notation) -> date:
    """Read 2026-03-05, 5.3.2026, 05/03/2026, 5 Mar 2026 or Mar 5, 2026.

    Dots mean that the day comes first. Raises: Ambiguous; Refused.
    """
    text = " ".join(text.replace(",", " ").split())
    if found := YEAR_FIRST.fullmatch(text):
        return _day(text, int(found[1]), int(found[3]), int(found[4]))
    if found := YEAR_LAST.fullmatch(text):
        day, month = _in_order(int(found[1]), int(found[3]), found[2], notation)
        return _day(text, int(found[4]), month, day)
    for form in WITH_MONTH_NAMES:
        try:
            return datetime.strptime(text, form).date()
        except ValueError:
            continue
    raise Refused(f"“{text}” is no day. Write 2026-03-05 or 5.3.2026, the year in four figures.")


def _certain_mark(token: str) -> str:
    marks = [mark for mark in token if mark in ".,"]
    if len(set(marks)) == 2:
        return marks[-1]
    if len(marks) == 1 and not COULD_BE_THOUSANDS.fullmatch(token):
        return marks[0]
    return ""


def _plain(token: str, notation: Notation) -> str:
    token, tail = _without_closing_mark(token)
    bare = "".join(mark for mark in token if mark not in GROUP_MARKS)
    whole, mark, part = _split_at_last_mark(bare)
    if not mark:
        return bare + tail
    if mark in whole:
        is_grouped = THOUSANDS.fullmatch(bare)
        return (bare.replace(mark, "") if is_grouped else bare) + tail
    if other := re.search(r"[.,]", whole):
        is_grouped = THOUSANDS.fullmatch(whole)
        return (f"{whole.replace(other[0], '')}.{part}" if is_grouped else bare) + tail
    if bare == token and COULD_BE_THOUSANDS.fullmatch(bare):
        if notation.decimal_mark is None:
            raise Ambiguous(NUMBERS)
        return (f"{whole}.{part}" if mark == notation.decimal_mark else whole + part) + tail
    return f"{whole}.{part}{tail}"


def _without_closing_mark(token: str) -> tuple[str, str]:
    """A comma after a number belongs to the sentence, not to the number."""
    kept = token.rstrip(".,")
    return kept, token[len(kept) :]


def _split_at_last_mark(bare: str) -> tuple[str, str, str]:
    place = max(bare.rfind("."), bare.rfind(","))
    return (bare, "", "") if place < 0 else (bare[:place], bare[place], bare[place + 1 :])


def _in_order(first: int, second: int, mark: str, notation: Notation) -> tuple[int, int]:
    """Day and month of two numbers."""
    if mark == "." or first > 12 or first == second:
        return first, second
    if second > 12:
        return second, first
    if notation.day_first is None:
        raise Ambiguous(DAYS)
    return (first, second) if notation.day_first else (second, first)


def _day(text: str, year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError as error:
        raise Refused(f"“{text}” is no day of the calendar. Check day and month.") from error
