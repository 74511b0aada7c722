"""Where a bill says that cutters wear, and which of the fitted ones are meant by it."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from inventory.models import Fitting, WearLine


@dataclass(frozen=True)
class WearPlace:
    """A pocket, any pocket of a machine, or anywhere."""

    machine: int | None = None
    pocket: str = ""

    def holds(self, fitting: Fitting) -> bool:
        return self.machine in (None, fitting.machine_id) and self.pocket in ("", fitting.pocket)

    @property
    def narrowness(self) -> int:
        return (self.machine is not None) + bool(self.pocket)


ANYWHERE = WearPlace()


@dataclass(frozen=True)
class Station:
    """Places served by the same fitted ones; fitted: in the order in which they are worn out."""

    places: frozenset[WearPlace]
    fitted: tuple[Fitting, ...]


def place_of_line(line: WearLine) -> WearPlace:
    return WearPlace(line.machine_id, line.pocket)


def stations_of(places: Collection[WearPlace], fitted: Iterable[Fitting]) -> list[Station]:
    """Share out what is fitted of one item among the places where bills wear it.

    A fitted one belongs to the narrowest place that names it. One that no place names serves the
    first place that has none, else it stands behind the others. Work that may be done anywhere goes
    to the most worn one where every one has a place of its own. Of several at one place the most
    worn goes first.
    """
    narrow_first = sorted(places or [ANYWHERE], key=_turn)
    held: dict[WearPlace, list[Fitting]] = {place: [] for place in narrow_first}
    loose = []
    for one in sorted(fitted, key=lambda one: (-one.life_used, one.pk)):
        home = next((place for place in narrow_first if place.holds(one)), None)
        (loose if home is None else held[home]).append(one)
    for one in loose:
        empty = [place for place in narrow_first if not held[place]]
        held[(empty or narrow_first)[0]].append(one)
    return _merged(held)


def _merged(held: dict[WearPlace, list[Fitting]]) -> list[Station]:
    served = {place: {place} for place in held}
    if ANYWHERE in held and not held[ANYWHERE] and any(held.values()):
        del served[ANYWHERE]
        most_worn = max(
            (place for place in held if held[place]), key=lambda place: held[place][0].life_used
        )
        served[most_worn].add(ANYWHERE)
    return [Station(frozenset(of), tuple(held[place])) for place, of in served.items()]


def _turn(place: WearPlace) -> tuple[int, int, str]:
    return -place.narrowness, place.machine or 0, place.pocket
