"""What goes wrong in a calculation.

ValueError
└── BadInput         a value the calculation cannot use
    ├── BadTable     a table lacks a column, or a row holds an unusable value
    └── OutOfRange   a single number outside the range it may have
"""

__all__ = ["BadInput", "BadTable", "OutOfRange", "require"]


class BadInput(ValueError):
    """A value the calculation cannot use; the message names it and says what to write."""


class BadTable(BadInput):
    """A table lacks a column, or a row holds a value that cannot be used."""


class OutOfRange(BadInput):
    """A number outside the range it may have."""


def require(holds: bool, name: str, rule: str, value: object) -> None:
    """Raise OutOfRange, worded as name, rule and value received, unless the rule holds."""
    if not holds:
        raise OutOfRange(f"{name} must {rule}, but got {value}")
