"""Records found by their code as people type it: bar-4x50 is BAR-4X50."""

from collections.abc import Iterable
from typing import Any

__all__ = ["ByCode"]


class ByCode:
    """Records of one kind, found whatever the case of the code."""

    def __init__(self, records: Iterable[Any]) -> None:
        self._records = {record.code.casefold(): record for record in records}

    def get(self, code: str | None) -> Any:
        """The record, or None."""
        return self._records.get((code or "").casefold())
