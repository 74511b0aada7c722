"""A batch check in sentences that a maker can check."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from inventory.errors import Refused
from inventory.models import Batch, ProductOption
from inventory.pages import display, life
from inventory.pages.life import EVEN
from inventory.queries.batch_answer import BatchAnswer, CutterDoubt
from inventory.queries.batch_check import BatchCheck, MaterialCheck
from inventory.queries.batch_needs import Started
from inventory.templatetags.shop import percent
from inventory.units import show_length, show_number

STATE_MARKS = {
    Batch.State.PLANNED: "",
    Batch.State.RESERVED: "good",
    Batch.State.IN_WORK: "work",
    Batch.State.FINISHED: "good",
    Batch.State.CANCELLED: "",
}


@dataclass(frozen=True)
class Verdict:
    """The answer in a few words, its mark, and the sentences that go with it."""

    headline: str
    mark: str
    sentences: list[str]


def state_mark(batch: Batch) -> tuple[str, str]:
    """A batch's state as (word, mark)."""
    return batch.get_state_display(), STATE_MARKS[batch.state]


def batch_words(batch: Batch) -> str:
    """What a batch builds: “12 FIELD (orange), 10 NECK”."""
    return ", ".join(
        knives(line.wanted, line.product.code, line.options.all()) for line in batch.lines.all()
    )


def knives(count: int, code: str, options: Iterable[ProductOption]) -> str:
    choices = ", ".join(option.choice for option in options)
    return f"{count} {code} ({choices})" if choices else f"{count} {code}"


def verdict(check: BatchCheck) -> Verdict:
    """The whole answer of a check in words."""
    ahead = [part for part in check.made if part.ahead]
    sentences = [*_stopped_by(check), *_make_first(check), *_when(check)]
    if check.short:
        return Verdict(f"Not yet. {_can_make(check)} from what is here.", "stop", sentences)
    if check.wear_short:
        likely = f"{_can_make(check)}, more likely than not, with the cutters that are here."
        return Verdict("The material is here, but not every cutter.", "watch", [likely, *sentences])
    if ahead:
        return Verdict("Yes, once the parts that cure are made.", "work", sentences)
    return Verdict(f"Yes. {_can_make(check)} from what is here.", "good", sentences)


def short_verdict(answer: BatchAnswer) -> Verdict:
    """The same for a list, from the answer that is kept."""
    bare = [cutter for cutter in answer.cutters if cutter.spares < cutter.spares_wanted]
    if answer.short:
        headline, mark = f"Not yet: short of {_listed(answer.short)}.", "stop"
    elif answer.make_first:
        headline, mark = "Can start once the parts that cure are made.", "work"
    elif bare:
        headline, mark = "The material is here, but not every cutter.", "watch"
    else:
        headline, mark = "Can start: everything is here.", "good"
    sentences = [f"Make {count} {code} first; they cure." for code, count in answer.make_first]
    sentences += [_doubt(cutter) for cutter in bare]
    if answer.short or bare:
        sentences.append(f"From what is here {_of_all(answer)} can be made.")
        sentences += _dates(answer.start_on, answer.ready_on)
    return Verdict(headline, mark, sentences)


def no_verdict(refusal: Refused) -> Verdict:
    """What stands in place of an answer that can't be worked out."""
    return Verdict("This can't be checked yet.", "stop", [str(refusal)])


def start_words(line: Started) -> str:
    """Why that many are started."""
    start = line.start
    if start.start == line.wanted.qty and start.chance_enough >= 1:
        return f"Start {start.start}: no step of the bill scraps any."
    return (
        f"Start {start.start} so that {line.wanted.qty} finish with "
        f"{percent(round(start.chance_enough, 2))} chance; "
        f"{show_number(round(start.expected_good, 1), 1)} good ones on average."
    )


def need_words(check: BatchCheck, code: str, unit: str, user: Any) -> list[str]:
    """How a need came about, a sentence a step that takes the item."""
    return [
        f"{need.owner} {need.step} {need.step_name}: "
        + (
            f"{show_number(need.each)} of {_blank(need.cut, user)} per {need.per}, "
            f"{show_number(need.qty)} in all"
            if need.cut is not None
            else f"{display.quantity_text(need.each, unit, user)} per {need.per}, "
            f"{display.quantity_text(need.qty, unit, user)} in all"
        )
        for need in check.exploded.needs
        if need.item == code
    ]


def wear_words(check: BatchCheck, code: str) -> list[str]:
    """Which steps use the life of a wearing item."""
    return [
        f"{need.owner} {need.step} {need.step_name}: {show_number(need.per_knife)} a knife, "
        f"{show_number(need.life, 1)} in all"
        for need in check.exploded.wear
        if need.item == code
    ]


def covered_words(material: MaterialCheck) -> str:
    """When a shortage could be covered, and by what."""
    if not material.is_short:
        return ""
    if material.covered is None:
        return material.covered_by
    return f"{display.day(material.covered)} by {material.covered_by}"


def _can_make(check: BatchCheck) -> str:
    parts = [
        f"{count} of {knives(line.wanted.qty, line.wanted.product.code, line.wanted.options)}"
        for line, count in zip(check.lines, check.can_make, strict=True)
    ]
    return f"{_listed(parts)} can be made now"


def _of_all(answer: BatchAnswer) -> str:
    return _listed(
        [f"{made} of {wanted}" for made, wanted in zip(answer.can_make, answer.wanted, strict=True)]
    )


def _stopped_by(check: BatchCheck) -> list[str]:
    if not check.limited_by:
        return []
    return [f"The next knife is stopped by {_listed([str(item) for item in check.limited_by])}."]


def _make_first(check: BatchCheck) -> list[str]:
    return [
        f"Make {part.made.to_make} {part.item.code} first: "
        f"{'they are' if part.made.to_make > 1 else 'it is'} ready "
        f"{part.made.wait_days} day{'s' if part.made.wait_days > 1 else ''} later."
        for part in check.made
        if part.ahead
    ]


def _when(check: BatchCheck) -> list[str]:
    if check.start_on is None:
        nobody = [material.item.code for material in check.short if material.covered is None]
        return [
            f"No day can be named: nobody sells {_listed(nobody) or 'something that is short'}."
        ]
    return [
        *_dates(check.start_on, check.ready_on),
        "Waits and outside services are counted in, bench time is not.",
    ]


def _dates(start_on: date | None, ready_on: date | None) -> list[str]:
    if start_on is None:
        return ["No day can be named: nobody sells something that is short."]
    return [f"Could start on {display.day(start_on)}, ready about {display.day(ready_on)}."]


def _doubt(cutter: CutterDoubt) -> str:
    here = f"{cutter.spares} here" if cutter.spares else "none here"
    if not cutter.is_fitted:
        return f"{cutter.code} is not fitted: {cutter.spares_wanted} wanted, {here}."
    word = "may" if cutter.chance >= EVEN else "will"
    return (
        f"{cutter.code} {word} not last ({life.percent(cutter.chance)} chance that it does): "
        f"lay out {cutter.spares_wanted}, {here}."
    )


def _blank(size: Any, user: Any) -> str:
    length = show_length(size.length_um, user.length_unit)
    return f"{length} × {show_length(size.width_um, user.length_unit)}" if size.width_um else length


def _listed(parts: Iterable[str]) -> str:
    *first, last = list(parts) or [""]
    return f"{', '.join(first)} and {last}" if first else last
