"""Fields people type quantities, lengths, sizes and pieces into, and what they are read as."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.utils import timezone

from inventory.errors import WrongUnit
from inventory.models import Item, User
from inventory.models.piece import size_in_stock_unit
from inventory.packs import (
    Named,
    Pack,
    could_be_a_pack,
    pieces_of,
    quantity_of,
    read_named,
    singular,
)
from inventory.queries.packs import pack_of
from inventory.units import (
    parse_length,
    parse_quantity,
    parse_size,
    readers_unit,
    show_exactly,
    show_length,
    show_quantity,
    show_size,
)


class TypedField(forms.CharField):
    """Text as people write it.

    item: what it is an amount of, set by of(); beside: name of the field in which a person chooses
    it; pack: a certain pack, else the item's current offer.
    reader: the person whose units are meant by a bare number and shown; None: mm and g.
    """

    kind = ""
    item: Item | None = None
    beside = ""
    pack: Pack | None = None
    reader: User | None = None

    def of(self, item: Item) -> None:
        """Say what the field is an amount of."""
        self.item = item

    def read_for(self, reader: User) -> None:
        self.reader = reader

    def understood(self, text: str) -> str:
        """What the text is read as, in words; empty when that says nothing new.

        Raises: ValidationError with the refusal.
        """
        value = self.clean(text)
        words = "" if value in (None, []) or not text.strip() else self.in_words(value)
        return "" if _bare(words) == _bare(text) else words

    def in_words(self, value: Any) -> str:
        raise NotImplementedError(f"{type(self).__name__} must say what it has read.")

    @property
    def question(self) -> str:
        """The field as a query of the page that says what is understood; empty: it can't be asked."""
        asked = {"as": self.kind, "beside": self.beside, "of": self.item.code if self.item else ""}
        return urlencode({name: value for name, value in asked.items() if value})

    def known_pack(self) -> Pack | None:
        return self.pack or pack_of(self.item, timezone.localdate())

    @property
    def length_unit(self) -> str:
        return self.reader.length_unit if self.reader else "mm"

    @property
    def mass_unit(self) -> str:
        return self.reader.mass_unit if self.reader else "g"


class QuantityFormField(TypedField):
    """A quantity ("48 in", "2.5 lb", "2 bags"), cleaned to the stock unit's Decimal.

    Args:
        unit: stock unit, when there is no item to take it from.
        density_g_per_ml: lets a mass be typed for a volume; an item brings its own.
    """

    kind = "quantity"

    def __init__(
        self, *, unit: str = "each", density_g_per_ml: Decimal | None = None, **kwargs: Any
    ) -> None:
        super().__init__(max_length=40, **kwargs)
        self.unit, self.density = unit, density_g_per_ml
        self.widget.attrs.update(autocomplete="off")

    def of(self, item: Item) -> None:
        super().of(item)
        self.unit, self.density = item.stock_unit, item.density_g_per_ml

    def clean(self, value: Any) -> Decimal | None:
        text = super().clean(value)
        return _typed(self._read, text) if text else None

    def in_words(self, value: Decimal) -> str:
        exact = show_exactly(value, self.unit)
        shown = show_quantity(value, self.unit, self.length_unit, self.mass_unit)
        if readers_unit(self.unit, self.length_unit, self.mass_unit):
            return f"{shown} ({exact})"
        return exact

    @property
    def question(self) -> str:
        if self.item or self.beside:
            return super().question
        return urlencode({"as": self.kind, "unit": self.unit}) if self.unit != "each" else ""

    def _read(self, text: str) -> Decimal:
        own = readers_unit(self.unit, self.length_unit, self.mass_unit)
        try:
            return parse_quantity(text, self.unit, density_g_per_ml=self.density, default=own)
        except WrongUnit:
            named = read_named(text) if self.item else None
            if named is None or not (could_be_a_pack(named) or self._is_sold_as(named)):
                raise
        return quantity_of(named, self.known_pack(), self.item.code)

    def _is_sold_as(self, named: Named) -> bool:
        pack = self.known_pack()
        return pack is not None and pack.name.lower().startswith(named.word)


class LengthField(TypedField):
    """A length ("240 mm", "9 1/2 in"), cleaned to whole µm.

    Args:
        up: round up, for a part to be cut; a piece that lies there rounds down.
        default: unit of a bare number until the reader's own is known.
        nothing: what an empty field means, None or 0.
    """

    kind = "length"

    def __init__(
        self, *, up: bool = False, default: str = "mm", nothing: int | None = None, **kwargs: Any
    ) -> None:
        super().__init__(max_length=40, **kwargs)
        self.up, self.default, self.nothing = up, default, nothing
        self.widget.attrs.update(autocomplete="off")

    def read_for(self, reader: User) -> None:
        super().read_for(reader)
        self.default = reader.length_unit

    def prepare_value(self, value: Any) -> Any:
        """Show a stored length as it may be typed."""
        if not isinstance(value, int):
            return value
        return show_length(value, self.default).replace("\u202f", "") if value else ""

    def has_changed(self, initial: Any, data: Any) -> bool:
        """The same length in other words is no change."""
        try:
            return (initial or None) != (self.clean(data) or None)
        except forms.ValidationError:
            return True

    def clean(self, value: Any) -> int | None:
        text = super().clean(value)
        if not text:
            return self.nothing
        return _typed(parse_length, text, default=self.default, up=self.up)

    def in_words(self, value: int) -> str:
        return _with_mm(show_length(value, self.default), show_length(value), self.default)


class SizeField(TypedField):
    """ "305 x 610 mm" or "914 mm", cleaned to (length µm, width µm or None)."""

    kind = "size"

    def __init__(self, *, up: bool = False, default: str = "mm", **kwargs: Any) -> None:
        super().__init__(max_length=60, **kwargs)
        self.up, self.default = up, default
        self.widget.attrs.update(autocomplete="off")

    def read_for(self, reader: User) -> None:
        super().read_for(reader)
        self.default = reader.length_unit

    def clean(self, value: Any) -> tuple[int, int | None] | None:
        text = super().clean(value)
        if not text:
            return None
        return _typed(parse_size, text, default=self.default, up=self.up)

    def in_words(self, value: tuple[int, int | None]) -> str:
        return _with_mm(show_size(*value, self.default), show_size(*value), self.default)


class PiecesField(TypedField):
    """Pieces, one size a line with an optional count: "4 of 305 x 610 mm", "914 mm", "3 bars".

    Cleaned to [(length µm, width µm or None, count), ...]. Full pieces and packs are those of the
    item's offer.
    """

    kind = "pieces"
    widget = forms.Textarea(attrs={"rows": 3, "autocomplete": "off"})

    def __init__(self, *, up: bool = False, default: str = "mm", **kwargs: Any) -> None:
        super().__init__(max_length=2000, **kwargs)
        self.up, self.default = up, default

    def read_for(self, reader: User) -> None:
        super().read_for(reader)
        self.default = reader.length_unit

    def clean(self, value: Any) -> list[tuple[int, int | None, int]]:
        lines = [line.strip() for line in super().clean(value).splitlines() if line.strip()]
        return [self._read(line) for line in lines]

    def in_words(self, value: list[tuple[int, int | None, int]]) -> str:
        sizes = [
            (f"{count} of " if count > 1 else "")
            + _with_mm(show_size(a, b, self.default), show_size(a, b), self.default)
            for a, b, count in value
        ]
        if sum(count for _, _, count in value) == 1:
            return sizes[0]
        unit = "mm" if value[0][1] is None else "mm2"
        total = sum((size_in_stock_unit(a, b) * count for a, b, count in value), Decimal(0))
        return f"{'; '.join(sizes)}: {show_quantity(total, unit, self.length_unit)} in all"

    def _read(self, line: str) -> tuple[int, int | None, int]:
        named = _typed(read_named, line) if self.item else None
        if named is not None and could_be_a_pack(named):
            return _typed(pieces_of, named, self.known_pack(), self.item.code)
        count, of, size = line.partition(" of ")
        if not of:
            count, size = "1", line
        number, _, word = count.strip().partition(" ")
        as_told = number.isdecimal() and len(number) < 5 and 1 <= int(number) <= 1000
        if not as_told or (word and not could_be_a_pack(Named(int(number), singular(word)))):
            raise forms.ValidationError(f"“{line}”: write the count first, as in 4 of 914 mm.")
        length, width = _typed(parse_size, size.strip(), default=self.default, up=self.up)
        return length, width, int(number)


def _typed(parse: Callable, text: Any, *args: Any, **kwargs: Any) -> Any:
    try:
        return parse(text, *args, **kwargs)
    except WrongUnit as error:
        raise forms.ValidationError(str(error)) from error


def _with_mm(shown: str, in_mm: str, unit: str) -> str:
    return shown if unit == "mm" else f"{shown} ({in_mm})"


def _bare(text: str) -> str:
    return text.replace("\u202f", "").replace(" ", "").replace("×", "x").lower()
