"""Codes on labels, read back by a decoder that shares nothing with the program that draws them."""

import re

import numpy as np
import pytest
import zxingcpp

from inventory.exchange.qr_code import QUIET_ZONE, qr_drawing

DOTS = 4
"""Pixels a module in the picture the decoder sees."""


def picture(drawing):
    """The drawing as the printer sees it: dark runs of rows, moved to (M, m) and drawn (h)."""
    size = int(re.search(r'viewBox="0 0 (\d+) \1"', drawing)[1])
    white = np.full((size, size), 255, dtype=np.uint8)
    x = y = 0.0
    for step, numbers in re.findall(r"([Mmh])([-.\d ]+)", re.search(r' d="([^"]+)"', drawing)[1]):
        values = [float(number) for number in numbers.split()]
        if step == "M":
            x, y = values
        elif step == "m":
            x, y = x + values[0], y + values[1]
        else:
            white[int(y), int(x) : int(x + values[0])] = 0
            x += values[0]
    return np.kron(white, np.ones((DOTS, DOTS), dtype=np.uint8))


def read(drawing):
    return [code.text for code in zxingcpp.read_barcodes(picture(drawing))]


# Independent reader: ZXing-C++ 3.1.1, an implementation of ISO/IEC 18004 of its own.
@pytest.mark.parametrize(
    "text",
    [
        "http://192.168.1.20:8000/l/P-0042",
        "https://shop.example/l/BLAST-GLASS-100",
        "https://workshop-tablet.local:8443/l/place-12",
        "http://shop.example/l/Gr%C3%BCn%204%2C0",
        f"https://shop.example/l/{'X' * 120}",
    ],
    ids=["piece", "item", "place", "letters beyond ASCII", "far longer than any label"],
)
def test_code_is_read_back_as_its_address(text):
    assert read(qr_drawing(text)) == [text]


def test_every_label_of_a_full_sheet_is_read_back():
    texts = [f"http://192.168.1.20:8000/l/P-{number:04}" for number in range(65)]
    assert [read(qr_drawing(text)) for text in texts] == [[text] for text in texts]


def test_white_stands_all_around_the_code():
    seen = picture(qr_drawing("http://shop.example/l/P-0042"))
    edge = QUIET_ZONE * DOTS
    for side in (seen[:edge], seen[-edge:], seen[:, :edge], seen[:, -edge:]):
        assert side.min() == 255
    assert seen[edge, edge] == 0


def test_code_carries_no_inline_style():
    assert "style=" not in qr_drawing("http://shop.example/l/P-0042")
