"""Cutting drawings to scale, and the same cuts as a plain table.

The SVG carries no style of its own: shapes have presentation attributes that print black on
white and follow the text colour on dark pages, and a stylesheet may refine the classes

    cut-drawing   the whole drawing        cut-piece     outline of the raw piece
    cut-part      a part                   cut-part-n    the n-th kind of part, n = 0 ... 5
    cut-trim      squared off              cut-kerf      what the saw takes
    cut-remnant   worth keeping, hatched   cut-order     number of a cut
    cut-label     name and size

and the variable --cut-paper, the ground behind the numbers.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal
from xml.etree import ElementTree as ET

from .plan import Bar, Cut, PiecePlan, Placed, Sheet

Unit = Literal["mm", "in"]
WIDTH = 720.0
BAR_HEIGHT = 44.0
MARGIN = 22.0
LETTER = 6.4
LINE = 13.0
ORDER_RADIUS = 7.0
ORDER_INSET = 14.0
PAPER = "var(--cut-paper, Canvas)"
KINDS = 6
PER_UNIT = {"mm": 1000, "in": 25400}
ACTIONS = {
    "square": "square the edge",
    "rip": "rip",
    "cross": "cut off",
    "split": "split",
    "trim": "trim to width",
}


@dataclass(frozen=True)
class CutRow:
    """One line of the bench table; sizes are text with their unit."""

    number: int
    action: str
    measure: str
    stop: str
    length: str
    releases: str


def size_text(um: int, unit: Unit = "mm") -> str:
    """A length for people: 198.8 mm, 7.827 in."""
    places = 1 if unit == "mm" else 3
    text = f"{um / PER_UNIT[unit]:.{places}f}"
    return f"{text.rstrip('0').rstrip('.')} {unit}"


def cut_table(
    piece: PiecePlan, names: Mapping[str, str] | None = None, unit: Unit = "mm"
) -> list[CutRow]:
    """Cuts in order: where the near side of the kerf lies, from the raw first edge."""
    return [
        CutRow(
            number=number,
            action=ACTIONS[cut.kind],
            measure=f"along {_direction(cut)}",
            stop=size_text(cut.at, unit),
            length=size_text(cut.end - cut.start, unit) if cut.end > cut.start else "",
            releases=_name(cut.releases, names),
        )
        for number, cut in enumerate(piece.cuts, start=1)
    ]


def draw_piece(
    piece: PiecePlan,
    stock: Bar | Sheet,
    names: Mapping[str, str] | None = None,
    unit: Unit = "mm",
    longest_um: int | None = None,
    labels: Sequence[str] = (),
) -> str:
    """SVG of one piece, x to the right, y downwards, everything to one scale.

    Args:
        names: what parts are called, by part id.
        longest_um: length that fills the width; give the longest of several pieces to draw
            them all to the same scale. Default: this piece fills it.
        labels: what to write on the remnants, in their order.
    A bar has no width of its own here and is drawn as a band.
    """
    return _Drawing(piece, stock, names or {}, unit, longest_um, labels).svg()


class _Drawing:
    def __init__(
        self,
        piece: PiecePlan,
        stock: Bar | Sheet,
        names: Mapping[str, str],
        unit: Unit,
        longest_um: int | None,
        labels: Sequence[str],
    ) -> None:
        self.piece, self.stock, self.names, self.unit = piece, stock, names, unit
        self.labels = [*labels, *["remnant"] * (len(piece.remnants) - len(labels))]
        self.is_bar = isinstance(stock, Bar)
        self.x_um = stock.length if isinstance(stock, Bar) else stock.x
        self.y_um = 0 if isinstance(stock, Bar) else stock.y
        self.scale = WIDTH / max(longest_um or self.x_um, 1)
        self.height = BAR_HEIGHT if self.is_bar else self.y_um * self.scale
        self.key = re.sub(r"\W+", "-", f"cut-{piece.piece}")
        kinds = sorted({placed.item for placed in piece.placed})
        self.kind = {item: n % KINDS for n, item in enumerate(kinds)}

    def svg(self) -> str:
        width, height = self.x_um * self.scale + 2 * MARGIN, self.height + 2 * MARGIN
        root = ET.Element(
            "svg",
            {
                "xmlns": "http://www.w3.org/2000/svg",
                "class": "cut-drawing",
                "role": "img",
                "width": _number(width),
                "height": _number(height),
                "viewBox": f"0 0 {_number(width)} {_number(height)}",
                "aria-labelledby": f"{self.key}-title {self.key}-desc",
                "font-size": "11",
                "fill": "none",
                "stroke": "currentColor",
            },
        )
        ET.SubElement(root, "title", id=f"{self.key}-title").text = self._title()
        ET.SubElement(root, "desc", id=f"{self.key}-desc").text = self._description()
        self._hatch(root)
        self._rect(root, "cut-piece", (0, 0, self.x_um, self.y_um))
        for box in self._trims():
            self._rect(root, "cut-trim", box, **{"stroke-dasharray": "2 2"})
        for box, label in zip(self.piece.remnants, self.labels, strict=True):
            self._rect(root, "cut-remnant", box, fill=f"url(#{self.key}-hatch)")
            self._label(root, box, [label, self._sizes(box)])
        for placed in self.piece.placed:
            self._part(root, placed)
        for number, cut in enumerate(self.piece.cuts, start=1):
            self._cut(root, cut, number)
        return ET.tostring(root, encoding="unicode")

    def _title(self) -> str:
        sizes = size_text(self.x_um, self.unit)
        if not self.is_bar:
            sizes += f" x {size_text(self.y_um, self.unit)}"
        lot = f", lot {self.piece.lot}" if self.piece.lot else ""
        return f"{self.piece.piece}{lot}: {sizes}"

    def _description(self) -> str:
        counts: dict[str, int] = {}
        for placed in self.piece.placed:
            name = f"{_name(placed.item, self.names)} ({self._sizes_of(placed)})"
            counts[name] = counts.get(name, 0) + 1
        parts = ", ".join(f"{number} x {name}" for name, number in counts.items())
        left = ", ".join(self._sizes(box) for box in self.piece.remnants) or "none"
        return f"Cut: {parts}. {len(self.piece.cuts)} cuts. Remnant to keep: {left}."

    def _hatch(self, root: ET.Element) -> None:
        defs = ET.SubElement(root, "defs")
        pattern = ET.SubElement(
            defs,
            "pattern",
            id=f"{self.key}-hatch",
            width="8",
            height="8",
            patternUnits="userSpaceOnUse",
            patternTransform="rotate(45)",
        )
        ET.SubElement(
            pattern, "line", {"x1": "0", "y1": "0", "x2": "0", "y2": "8", "opacity": ".5"}
        )

    def _trims(self) -> list[tuple[int, int, int, int]]:
        if isinstance(self.stock, Bar):
            edges = [(0, 0, self.stock.trim_first, 0)]
        else:
            edges = [
                (0, 0, self.stock.trim_x, self.stock.y),
                (0, 0, self.stock.x, self.stock.trim_y),
            ]
        return [box for box in edges if box[2] and (self.is_bar or box[3])]

    def _part(self, root: ET.Element, placed: Placed) -> None:
        box = (placed.x, placed.y, placed.w, placed.h)
        group = ET.SubElement(root, "g", {"class": f"cut-part cut-part-{self.kind[placed.item]}"})
        name = _name(placed.item, self.names)
        ET.SubElement(group, "title").text = f"{name}, {self._sizes_of(placed)}, {placed.kit}"
        self._rect(group, "cut-outline", box)
        self._label(group, box, [name, self._sizes_of(placed)])

    def _cut(self, root: ET.Element, cut: Cut, number: int) -> None:
        start, end = cut.start, cut.end
        if cut.axis == "x":
            box = (cut.at, start, cut.width, end - start)
        else:
            box = (start, cut.at, end - start, cut.width)
        x, y, w, h = self._pixels(box)
        w, h = max(w, 0.75), max(h, 0.75)
        self._shape(root, "cut-kerf", x, y, w, h, fill="currentColor", stroke="none")
        self._order(root, *self._place_of_order(cut, (x, y, w, h)), str(number))

    def _place_of_order(
        self, cut: Cut, box: tuple[float, float, float, float]
    ) -> tuple[float, float]:
        """Above a bar; on a sheet where the saw starts, squaring cuts at their far end."""
        x, y, w, h = box
        if self.is_bar:
            return x + w / 2, y - 10
        length = h if cut.axis == "x" else w
        along = min(ORDER_INSET, length / 2)
        along = length - along if cut.kind == "square" else along
        return (x + w / 2, y + along) if cut.axis == "x" else (x + along, y + h / 2)

    def _order(self, root: ET.Element, x: float, y: float, number: str) -> None:
        centre = {"cx": _number(x), "cy": _number(y), "r": _number(ORDER_RADIUS)}
        ET.SubElement(root, "circle", {"class": "cut-order", **centre, "fill": PAPER})
        self._text(root, "cut-order", x, y + 3, number, 8, "middle")

    def _label(self, parent: ET.Element, box: tuple[int, int, int, int], lines: list[str]) -> None:
        """As many lines as the box has room for, upright unless only turning shows more."""
        x, y, w, h = self._pixels(box)
        upright, turned = _fitting(lines, w, h), _fitting(lines, h, w)
        shown = turned if len(turned) > len(upright) else upright
        self._lines(parent, x + w / 2, y + h / 2, shown, turned=shown is turned)

    def _lines(
        self, parent: ET.Element, x: float, y: float, lines: list[str], turned: bool
    ) -> None:
        first = -(len(lines) - 1) * LINE / 2 + 4
        turn = {"transform": f"rotate(-90 {_number(x)} {_number(y)})"} if turned else {}
        for n, line in enumerate(lines):
            self._text(parent, "cut-label", x, y + first + n * LINE, line, 11, "middle", **turn)

    def _sizes_of(self, placed: Placed) -> str:
        return self._sizes((placed.x, placed.y, placed.w, placed.h))

    def _sizes(self, box: tuple[int, int, int, int]) -> str:
        if self.is_bar:
            return size_text(box[2], self.unit)
        first = size_text(box[2], self.unit).split()[0]
        return f"{first} x {size_text(box[3], self.unit)}"

    def _pixels(self, box: tuple[int, int, int, int]) -> tuple[float, float, float, float]:
        x, y, w, h = (side * self.scale for side in box)
        return MARGIN + x, MARGIN + y, w, BAR_HEIGHT if self.is_bar else h

    def _rect(
        self, parent: ET.Element, css: str, box: tuple[int, int, int, int], **extra: str
    ) -> None:
        self._shape(parent, css, *self._pixels(box), **extra)

    @staticmethod
    def _shape(
        parent: ET.Element, css: str, x: float, y: float, w: float, h: float, **extra: str
    ) -> None:
        sides = {"x": _number(x), "y": _number(y), "width": _number(w), "height": _number(h)}
        ET.SubElement(parent, "rect", {"class": css, **sides, **extra})

    @staticmethod
    def _text(
        parent: ET.Element,
        css: str,
        x: float,
        y: float,
        text: str,
        points: int,
        anchor: str,
        **extra: str,
    ) -> None:
        place = {"x": _number(x), "y": _number(y), "text-anchor": anchor, "stroke": "none"}
        look = {"fill": "currentColor", "font-size": str(points)}
        ET.SubElement(parent, "text", {"class": css, **place, **look, **extra}).text = text


def _fitting(lines: list[str], room: float, depth: float) -> list[str]:
    """The first lines that fit, none if the very first is too long."""
    shown = lines[: int(depth // LINE)]
    while shown and max(len(line) for line in shown) * LETTER > room:
        shown = shown[:-1]
    return shown


def _direction(cut: Cut) -> str:
    return "the length" if cut.axis == "x" else "the width"


def _name(item: str, names: Mapping[str, str] | None) -> str:
    return (names or {}).get(item, item)


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")
