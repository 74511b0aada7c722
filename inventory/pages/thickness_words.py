"""A measured thickness in words."""

from inventory.models import Lot, Piece, User
from inventory.queries.thickness import Thickness, thickness_of
from inventory.units import show_length


def thickness_warning(lot: Lot, user: User) -> str:
    """What to mind about a lot whose measured thickness is off; empty when it isn't."""
    compared = thickness_of(lot)
    if compared is None or not compared.is_off:
        return ""
    return f"It measures {off_words(compared, user)}. {warning(compared, user)}"


def said_of(lot: Lot, piece: Piece | None, user: User) -> dict[str, str | bool]:
    """For stock/thickness.html: what was measured, how far off, and what to mind."""
    measured = (piece and piece.thickness_um) or lot.thickness_um
    compared = thickness_of(lot, piece)
    return {
        "measured": show_length(measured, user.length_unit),
        "of_lot": bool(piece and not piece.thickness_um),
        "off": off_words(compared, user) if compared else "",
        "warning": warning(compared, user) if compared and compared.is_off else "",
    }


def off_words(thickness: Thickness, user: User) -> str:
    """0.3 mm above the nominal 4 mm."""
    nominal = show_length(thickness.nominal_um, user.length_unit)
    if not thickness.off_um:
        return f"as the nominal {nominal}"
    side = "above" if thickness.off_um > 0 else "below"
    off = show_length(abs(thickness.off_um), user.length_unit)
    return f"{off} {side} the nominal {nominal}"


def warning(thickness: Thickness, user: User) -> str:
    """What a thickness beyond its tolerance means for the knife."""
    allowed = show_length(thickness.allowed_um, user.length_unit)
    return (
        f"That is off by more than {allowed}. Check the slots of the fixture and the length of the "
        "bolts before you cut it."
    )
