"""What a lot or a pack holds, as it may be typed: 250, 914 mm, 4 of 610 x 305 mm."""

from decimal import Decimal

__all__ = ["contents_as_typed"]


def contents_as_typed(
    qty: Decimal, size: tuple[int, int | None] | None = None, count: int = 1
) -> Decimal | str:
    """A quantity in the stock unit, or so many pieces of a size in µm, without rounding."""
    if size is None:
        return qty
    length, width = size
    text = f"{_mm(length)} mm" if width is None else f"{_mm(length)} x {_mm(width)} mm"
    return f"{count} of {text}" if count > 1 else text


def _mm(um: int) -> str:
    """A fourth decimal follows three: 40.0050 is never taken for forty thousand and five."""
    mm = f"{Decimal(um).scaleb(-3).normalize():f}"
    return f"{mm}0" if um % 10 else mm
