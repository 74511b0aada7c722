"""What a replay of the shop's past suggests, in words; offered as information, not as a setting."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from inventory.units import show_number

CAVEAT = (
    "This is information, not a setting: a service level chosen so that the past comes out right "
    "has missed by several points afterwards, to either side. Plans of the past are not on record, "
    "so batches come unannounced here; bills are those of today, and orders are not rounded to packs."
)
NOTHING = "Nothing of known cost was used in the weeks played, so there is nothing to compare."
CLOSE = 0.005
"""Half a point of fill more or less is no difference worth a word."""


def replay_words(result: dict[str, Any]) -> list[str]:
    """Sentences on a stored result (keys as in shop_replay_data), the caveat last."""
    if not result["rules"]:
        return [NOTHING]
    return [*_as_it_stands(result), *_where_to_stand(result), *_against_rivals(result), CAVEAT]


def _as_it_stands(result: dict[str, Any]) -> Iterator[str]:
    stands = result["as_set"]
    yield (
        f"With each item at its own service level, {_of_100(stands['fill'])} would have been on the "
        f"shelf when asked for, with {_money(stands['stock'], result)} lying there on average. "
        f"Expected beforehand: {_of_100(stands['expected_fill'])}."
    )


def _where_to_stand(result: dict[str, Any]) -> Iterator[str]:
    bend, stands = result["bend"], result["as_set"]
    if bend is None:
        yield "The curve has no bend: each step of service costs about as much as the one before."
        return
    gained, spent = bend["fill"] - stands["fill"], bend["stock"] - stands["stock"]
    place = (
        f"The curve bends at a chance of {_percent(bend['chance'])} "
        f"({_of_100(bend['fill'])} for {_money(bend['stock'], result)}): up to there a little money "
        "serves much, beyond it much money serves little."
    )
    if abs(gained) < CLOSE:
        yield f"{place} You stand close to it."
    elif gained < 0:
        yield (
            f"{place} Standing there would free {_money(-spent, result)}, and {_of_100(gained)} "
            "fewer would be served."
        )
    else:
        yield (
            f"{place} Standing there would take {_money(spent, result)} more, and "
            f"{_of_100(gained)} more would be served."
        )


def _against_rivals(result: dict[str, Any]) -> Iterator[str]:
    for fill in ("0.95", "0.90"):
        shares = [(row["against"], row["at_fill"][fill]) for row in result["saved"]]
        known = [
            f"{more_or_less(share)} than {rule}" for rule, share in shares if share is not None
        ]
        if known:
            yield (
                f"For {_of_100(float(fill))} served at once, these reorder points held "
                f"{'; '.join(known)}."
            )
            return


def more_or_less(share: float) -> str:
    """A share saved against a rival, as 9.1 % less or 3 % more."""
    if abs(share) < CLOSE:
        return "no less"
    return f"{_percent(share)} {'less' if share > 0 else 'more'}"


def _of_100(share: float) -> str:
    return f"{_hundredths(share)} of 100"


def _percent(share: float) -> str:
    return f"{_hundredths(share)}\u202f%"


def _hundredths(share: float) -> str:
    return show_number(Decimal(str(round(abs(share) * 100, 1))), 1)


def _money(amount: float, result: dict[str, Any]) -> str:
    return f"{show_number(Decimal(round(amount)), 0)} {result['currency']}"
