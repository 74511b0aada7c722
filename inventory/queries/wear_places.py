"""Where a bill says that cutters wear, and which of the fitted ones are meant by it."""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q

from inventory.models import BillOfMaterials, Fitting, Item, Machine, WearLine


@dataclass(frozen=True)
class WearPlace:
    """A pocket, any pocket of a machine, or anywhere."""

    machine: int | None = None
    pocket: str = ""

    @property
    def narrowness(self) -> int:
        return (self.machine is not None) + bool(self.pocket)


ANYWHERE = WearPlace()


@dataclass(frozen=True)
class Station:
    """Places served by the same fitted ones; fitted: in the order in which they are worn out."""

    places: frozenset[WearPlace]
    fitted: tuple[Fitting, ...]

    def job_of(self, jobs: Mapping[WearPlace, Decimal]) -> Decimal:
        """Life used here of what is used at each place."""
        return sum((life for place, life in jobs.items() if place in self.places), Decimal(0))


def place_of_line(line: WearLine) -> WearPlace:
    return WearPlace(line.machine_id, line.pocket)


def narrowest(places: Iterable[WearPlace], pocket: WearPlace) -> WearPlace | None:
    """The place that names a pocket most closely; None where none does."""
    meant = [
        place
        for place in places
        if place.machine in (None, pocket.machine) and place.pocket in ("", pocket.pocket)
    ]
    return max(meant, key=lambda place: place.narrowness, default=None)


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
        home = narrowest(narrow_first, WearPlace(one.machine_id, one.pocket))
        (loose if home is None else held[home]).append(one)
    for one in loose:
        empty = [place for place in narrow_first if not held[place]]
        held[(empty or narrow_first)[0]].append(one)
    return _merged(held)


def usual_work(item: Item, machine: Machine, pocket: str) -> tuple[str, str]:
    """Work material and cutting data that most lines of active bills say of a pocket, or none."""
    lines = WearLine.objects.filter(
        Q(machine=None) | Q(machine=machine, pocket__in=["", pocket]),
        item=item,
        operation__bill__status=BillOfMaterials.Status.ACTIVE,
    ).exclude(work_material="", cutting_data="")
    told = Counter(lines.order_by("pk").values_list("work_material", "cutting_data"))
    return told.most_common(1)[0][0] if told else ("", "")


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
