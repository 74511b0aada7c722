"""What a field would read from what is typed so far, before anything is sent."""

from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from inventory.models import Item
from inventory.pages.typed_fields import (
    LengthField,
    PiecesField,
    QuantityFormField,
    SizeField,
    TypedField,
)

FIELDS = {kind.kind: kind for kind in (QuantityFormField, LengthField, SizeField, PiecesField)}


def understood(request: HttpRequest) -> HttpResponse:
    """One line beside the field `field`: "= 1 219.2 mm", or why it can't be read."""
    asked = request.GET
    field = _field(request)
    try:
        words, refused = field.understood(asked.get(asked.get("field", ""), "")), False
    except ValidationError as refusal:
        words, refused = " ".join(refusal.messages), True
    return render(request, "parts/understood.html", {"words": words, "refused": refused})


def _field(request: HttpRequest) -> TypedField:
    asked = request.GET
    kind = FIELDS.get(asked.get("as", ""))
    if kind is None:
        raise Http404("A field is a quantity, a length, a size or pieces.")
    field = kind(required=False)
    if code := asked.get("of"):
        field.of(get_object_or_404(Item, code=code))
    elif chosen := asked.get(asked.get("beside", "")):
        _measure_in(field, _chosen(chosen))
    elif asked.get("unit") in Item.Unit.values:
        field.unit = asked["unit"]
    field.read_for(request.user)
    return field


def _chosen(pk: str) -> Item:
    return get_object_or_404(Item, pk=int(pk) if pk.isdecimal() and len(pk) < 19 else 0)


def _measure_in(field: TypedField, item: Item) -> None:
    """In the item's unit, but not in packs: what a pack holds is what is being said."""
    field.unit, field.density = item.stock_unit, item.density_g_per_ml
