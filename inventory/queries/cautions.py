"""The usual cautions for what is about to be used; the data sheet always overrides them."""

from collections.abc import Iterable
from dataclasses import dataclass

from inventory.models import BillOfMaterials, Item

DEFER = (
    "These are reminders, not a safety assessment. Follow the safety data sheets of your own "
    "products, local codes and the advice of licensed practitioners."
)

# Texts of hazard statements: UN GHS Rev. 9 (2021), Annex 3; H225 to H228, H304, H336, H350 and
# H372 from memory, the others read.
STATEMENTS = {
    "H222": "Extremely flammable aerosol",
    "H225": "Highly flammable liquid and vapour",
    "H226": "Flammable liquid and vapour",
    "H228": "Flammable solid",
    "H302": "Harmful if swallowed",
    "H304": "May be fatal if swallowed and enters airways",
    "H312": "Harmful in contact with skin",
    "H314": "Causes severe skin burns and eye damage",
    "H315": "Causes skin irritation",
    "H317": "May cause an allergic skin reaction",
    "H318": "Causes serious eye damage",
    "H319": "Causes serious eye irritation",
    "H332": "Harmful if inhaled",
    "H334": "May cause allergy or asthma symptoms or breathing difficulties if inhaled",
    "H335": "May cause respiratory irritation",
    "H336": "May cause drowsiness or dizziness",
    "H350": "May cause cancer",
    "H351": "Suspected of causing cancer",
    "H372": "Causes damage to organs through prolonged or repeated exposure",
    "H411": "Toxic to aquatic life with long lasting effects",
    "H412": "Harmful to aquatic life with long lasting effects",
}


@dataclass(frozen=True)
class Caution:
    """What to mind, and what it is about: an item or an operation."""

    about: str
    text: str


def hazard_texts(item: Item) -> list[str]:
    """Each GHS statement of an item as “H317 May cause an allergic skin reaction”."""
    codes = item.hazard_codes.replace(",", " ").split()
    return [f"{code} {STATEMENTS.get(code, '(see the data sheet)')}" for code in codes]


def cautions_for(items: Iterable[Item], bills: Iterable[BillOfMaterials]) -> list[Caution]:
    """Cautions of everything used and of every operation done, each once."""
    found = {}
    for bill in bills:
        for operation in bill.operations.all():
            if operation.caution:
                found.setdefault(operation.caution, Caution(operation.name, operation.caution))
    for item in sorted(items, key=lambda item: item.code):
        text = " ".join(filter(None, [item.caution.strip(), "; ".join(hazard_texts(item))]))
        if text:
            found.setdefault(text, Caution(item.name, text))
    return list(found.values())
