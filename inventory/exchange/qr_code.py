"""QR codes as drawings within a page, made here: nothing is asked of another host."""

from functools import lru_cache

import segno
from django.utils.safestring import SafeString

QUIET_ZONE = 4
"""Modules of white around the code: ISO/IEC 18004 asks for four (from memory)."""
MASK = 3
"""Any of the eight masks makes a valid code; trying all of them takes five times as long a sheet."""


@lru_cache(maxsize=4096)
def qr_drawing(text: str) -> SafeString:
    """The text as an SVG that scales to its frame, correction level M (about 15 % may be lost)."""
    code = segno.make(text, error="m", mask=MASK, micro=False, boost_error=False)
    drawn = code.svg_inline(omitsize=True, border=QUIET_ZONE, svgclass="qr", lineclass=None)
    return SafeString(drawn)
