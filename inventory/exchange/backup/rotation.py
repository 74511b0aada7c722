"""Which backups of a folder are kept: many young ones, few old ones."""

from collections.abc import Iterable
from datetime import datetime

NEWEST = 7
LAST_OF_EACH = ((7, "%Y-%m-%d"), (5, "%G-%V"), (12, "%Y-%m"))
"""How many days, ISO 8601 weeks and months keep their last backup."""

KEPT = "the 7 newest, and the last of each of the latest 7 days, 5 weeks and 12 months"


def moments_to_keep(moments: Iterable[datetime]) -> set[datetime]:
    """The moments whose backups stay, at most 31.

    Only days, weeks and months with a backup count, so none is lost to a long pause. The rule is
    grandfather-father-son rotation: common practice, no source.
    """
    newest_first = sorted(moments, reverse=True)
    kept = set(newest_first[:NEWEST])
    for count, period in LAST_OF_EACH:
        last_of: dict[str, datetime] = {}
        for moment in newest_first:
            last_of.setdefault(moment.strftime(period), moment)
        kept.update(list(last_of.values())[:count])
    return kept
