"""Replays as text for a terminal."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from inventory.days import show_day
from inventory.management.terminal import heading, paragraph, table
from inventory.models import ReplayRun
from inventory.queries.replay_words import replay_words

NOT_REACHED = "–"


def table_replay_report(data: dict[str, Any], name: str) -> str:
    """A table's replay (keys as in table_replay_data): stock at equal fill, then our settings."""
    left_out = "; ".join(f"{count} left out: {why}" for why, count in data["left_out"].items())
    unit = data["stock_in"]
    return "\n".join(
        [
            heading(f"Replay of {name}"),
            paragraph(
                f"{data['series']} series{f' ({left_out})' if left_out else ''}; "
                f"{data['known']} of {data['periods']} periods known, {data['played']} played; lead "
                f"time {data['lead_time']}, a look every {data['review']}; what is short waits. "
                f"Demand a period: {_figure(data['demand'])} {unit}."
            ),
            *_curves(data, unit),
            f"\n{data['seconds']:.1f} s.",
        ]
    )


def shop_replay_report(run: ReplayRun) -> str:
    """The shop's own past (keys as in shop_replay_data)."""
    data = run.result
    parts = [
        heading(f"Replay of {_day(data['first_day'])} to {_day(data['last_day'])}"),
        f"{data['items']} items; {data['unused']} were not used in these weeks.",
    ]
    if data["without_cost"]:
        codes = ", ".join(data["without_cost"])
        parts.append(paragraph(f"Left out, because no cost is known: {codes}."))
    if data["rules"]:
        parts += _curves(data, data["currency"])
    parts.append("")
    parts += [paragraph(sentence) for sentence in replay_words(data)]
    return "\n".join([*parts, f"\n{run.seconds:.1f} s."])


def _curves(data: dict[str, Any], unit: str) -> Iterable[str]:
    fills = list(data["rules"][0]["stock_at_fill"])
    yield f"\nStock on the shelf, {unit}, at the same share of demand served at once:"
    rows = [
        [*(_figure(stock) for stock in rule["stock_at_fill"].values()), rule["rule"]]
        for rule in data["rules"]
    ]
    yield table([*(f"{float(fill):.0%}" for fill in fills), "rule"], rows, range(len(fills)))
    yield "\nLess than the others by:"
    rows = [
        [*(_share(share) for share in row["at_fill"].values()), row["against"]]
        for row in data["saved"]
    ]
    yield table([*(f"{float(fill):.0%}" for fill in fills), "than"], rows, range(len(fills)))
    for rule in data["rules"]:
        if rule["points"][0]["expected_fill"] is not None:
            yield from _settings(rule, unit)


def _settings(rule: dict[str, Any], unit: str) -> Iterable[str]:
    yield f"\n{rule['rule'].capitalize()}, at each setting:"
    rows = [
        [
            f"{point['knob']:g}",
            f"{point['expected_fill']:.1%}",
            f"{point['fill']:.1%}",
            _figure(point["stock"]),
        ]
        for point in rule["points"]
    ]
    yield table([rule["knob"], "expected", "served", f"stock, {unit}"], rows, range(4))


def _figure(amount: float | None) -> str:
    if amount is None:
        return NOT_REACHED
    return f"{amount:,.0f}" if amount >= 100 else f"{amount:,.2f}"


def _share(share: float | None) -> str:
    return NOT_REACHED if share is None else f"{share:.1%}"


def _day(text: str) -> str:
    return show_day(date.fromisoformat(text))
