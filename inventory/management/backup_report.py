"""What the commands say about a backup."""

from collections.abc import Sequence

from inventory.exchange.backup import Manifest


def contents_report(manifest: Manifest) -> str:
    rows, tables, files = sum(manifest.rows.values()), len(manifest.rows), len(manifest.files)
    attached = "1 attached file" if files == 1 else f"{files} attached files"
    return f"{rows} rows of {tables} tables, {attached}, each counted and compared."


def mismatch_report(mismatches: Sequence[str] | None) -> str:
    """What the stock audit found, a line each; None stands for data of another version."""
    if mismatches is None:
        return "It is of another version: its stock is added up when it is restored."
    if not mismatches:
        return "The stock in it adds up."
    return "\n".join(["The stock in it doesn't add up, as it didn't in the shop:", *mismatches])
