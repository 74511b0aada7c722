"""Spellings of units that a person may type, and what the units library calls them."""

PINT_NAMES = {"each": "", "mm": "mm", "mm2": "mm**2", "g": "g", "mL": "mL"}
SHOWN = {"each": "", "mm": "mm", "mm2": "mm²", "g": "g", "mL": "mL"}
KINDS = {
    "each": "a count",
    "mm": "a length",
    "mm2": "an area",
    "g": "a mass",
    "mL": "a volume",
}
SPELLINGS = {
    '"': "inch",
    "”": "inch",
    "'": "foot",
    "in": "inch",
    "mil": "thou",  # a plain “mil” is an angle to Pint
    "mils": "thou",
    "ft": "foot",
    "yd": "yard",
    "fl oz": "fluid_ounce",
    "floz": "fluid_ounce",
    "us fl oz": "fluid_ounce",
    "gal": "gallon",
    "qt": "quart",
    "pt": "pint",
    "lbs": "pound",
    "oz": "ounce",
    "l": "L",
    "ml": "mL",
    "cc": "mL",
    "mm²": "mm**2",
    "cm²": "cm**2",
    "m²": "m**2",
    "in²": "inch**2",
    "ft²": "foot**2",
    "mm2": "mm**2",
    "cm2": "cm**2",
    "m2": "m**2",
    "in2": "inch**2",
    "ft2": "foot**2",
    "yd²": "yard**2",
    "yd2": "yard**2",
    "sq in": "inch**2",
    "sq ft": "foot**2",
    "sq yd": "yard**2",
}
COUNTS = {"", "each", "pc", "pcs", "piece", "pieces", "off"}
KNOWN = frozenset(
    ["mm", "cm", "m", "km", "µm", "um", "inch", "inches", "foot", "feet", "yard", "yards", "thou"]
    + ["mm**2", "cm**2", "m**2", "inch**2", "foot**2", "yard**2"]
    + ["g", "kg", "mg", "gram", "grams", "kilogram", "ounce", "ounces", "lb", "pound", "pounds"]
    + ["mL", "L", "litre", "liter", "litres", "liters", "fluid_ounce", "gallon", "gallons"]
    + ["quart", "quarts", "pint", "pints"]
)
