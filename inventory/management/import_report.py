"""What a file of a list would do, for the terminal."""

from inventory.exchange.tables.table import Change, Found, Table
from inventory.management.terminal import heading, paragraph, table

MOST_SHOWN = 50


def found_report(of: Table, found: Found) -> str:
    """Counts, remarks, then changes and refusals row by row, the first of each."""
    counts = [f"{len(found.of(state))} {state}" for state in ("new", "changed", "unchanged")]
    parts = [heading(of.title), f"{', '.join(counts)}, {len(found.refusals)} refused."]
    parts += [paragraph(remark) for remark in found.remarks]
    changed = [[str(each.row), each.what, each.state, _in_words(each)] for each in found.to_save]
    parts += _some(["row", "what", "", "from, to"], changed)
    refused = [[str(each.row), each.column, each.reason] for each in found.refusals]
    parts += _some(["row", "column", "refused because"], refused)
    return "\n".join(parts)


def _some(head: list[str], rows: list[list[str]]) -> list[str]:
    if not rows:
        return []
    more = len(rows) - MOST_SHOWN
    shown = ["", table(head, rows[:MOST_SHOWN], right=[0])]
    return [*shown, f"... and {more} more."] if more > 0 else shown


def _in_words(change: Change) -> str:
    if change.state == "new":
        return ""
    return "; ".join(
        f"{name}: {before or 'nothing'} -> {after or 'nothing'}"
        for name, before, after in change.differences
    )
