"""An item entered or changed, and its safety data sheet."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest
from django.shortcuts import get_object_or_404
from django.urls import reverse

from inventory.actions import save_item
from inventory.models import Item
from inventory.pages.attachments import AttachmentField, download
from inventory.pages.forms import ActionPage, DayField, LengthField
from inventory.pages.item_words import alike_words
from inventory.pages.ratio_field import RatioField
from inventory.pages.record_form import RecordForm
from inventory.queries.record_check import CODE

UNIT_OF_KIND = {
    Item.Kind.BAR: Item.Unit.MM,
    Item.Kind.WEBBING: Item.Unit.MM,
    Item.Kind.SHEET: Item.Unit.MM2,
}


class ItemForm(RecordForm):
    code = forms.CharField(max_length=30, validators=[CODE], help_text="Short, for labels.")
    thickness_um = LengthField(label="Thickness", required=False)
    thickness_off_um = LengthField(
        label="Thickness may be off by",
        required=False,
        help_text="Empty: the usual tolerance of such material.",
    )
    width_um = LengthField(label="Width of the bar", required=False)
    diameter_um = LengthField(label="Cutting diameter DC", required=False)
    cut_depth_um = LengthField(label="Depth of cut APMX", required=False)
    usable_length_um = LengthField(label="Usable length LU", required=False)
    overall_length_um = LengthField(label="Overall length OAL", required=False)
    corner_radius_um = LengthField(label="Corner radius RE", required=False)
    smallest_diameter_um = LengthField(
        label="Smallest diameter still used", required=False, help_text="After regrinding."
    )
    kerf_um = LengthField(label="Kerf of the saw", required=False, nothing=0)
    trim_um = LengthField(label="Squaring trim, first edge", required=False, nothing=0)
    keep_length_um = LengthField(label="Shortest remnant kept", required=False, nothing=0)
    keep_width_um = LengthField(label="Narrowest remnant kept", required=False, nothing=0)
    mixed_with = forms.ModelChoiceField(
        Item.objects.filter(stock_unit__in=[Item.Unit.GRAM, Item.Unit.ML]),
        required=False,
        empty_label="nothing",
        help_text="The other part of a two-part system; say it at one of them.",
    )
    mix_share = RatioField(
        label="Ratio, this to the other part", help_text="In their stock units: 100 : 43."
    )
    data_sheet = AttachmentField(label="Safety data sheet")
    data_sheet_dated = DayField(label="Date on the data sheet", required=False, initial=None)
    needed_until = DayField(
        label="Needed until",
        required=False,
        initial=None,
        help_text="The last order covers the use until then. Empty: no end in sight.",
    )
    sections = [
        (
            "What it is",
            ["code", "name", "kind", "stock_unit", "grade", "colour", "place", "status", "note"],
        ),
        (
            "Bars, sheets and rolls",
            ["thickness_um", "thickness_off_um", "width_um", "kerf_um", "trim_um"]
            + ["keep_length_um", "keep_width_um", "has_grain"],
        ),
        (
            "Ageing and mixing",
            ["shelf_life_days", "opened_life_days", "density_g_per_ml", "mixed_with", "mix_share"],
        ),
        ("Grit", ["grit_system", "grit_number", "grit_um"]),
        (
            "Cutter, by the symbols of ISO 13399",
            ["diameter_um", "cut_depth_um", "usable_length_um", "overall_length_um", "flutes"]
            + ["corner_radius_um", "coating", "most_regrinds", "smallest_diameter_um"],
        ),
        (
            "Wear",
            ["life_unit", "rated_life", "rated_shape", "wear_limit_um", "revision"]
            + ["change_cost", "failure_cost"],
        ),
        ("Lots and ordering", ["lot_match", "service_level", "most_stored", "needed_until"]),
        ("Cautions", ["hazard_codes", "caution", "data_sheet", "data_sheet_dated"]),
    ]

    class Meta:
        model = Item
        fields = [
            *["code", "name", "kind", "stock_unit", "status", "colour", "grade", "place", "note"],
            *["thickness_um", "thickness_off_um", "width_um", "kerf_um", "trim_um"],
            *["keep_length_um", "keep_width_um", "has_grain", "lot_match", "density_g_per_ml"],
            *["shelf_life_days", "opened_life_days", "mixed_with", "mix_share", "grit_system"],
            *["grit_number", "grit_um", "diameter_um", "cut_depth_um", "usable_length_um"],
            *[
                "overall_length_um",
                "flutes",
                "corner_radius_um",
                "coating",
                "most_regrinds",
                "smallest_diameter_um",
            ],
            *["life_unit", "change_cost", "failure_cost"],
            *["rated_life", "rated_shape", "wear_limit_um", "revision", "service_level"],
            *["most_stored", "needed_until"],
            *["hazard_codes", "caution", "data_sheet", "data_sheet_dated"],
        ]
        help_texts = {"stock_unit": "Bars and webbing are kept in mm, sheets in mm²."}
        widgets = {"note": forms.Textarea({"rows": 2})}

    def clean(self) -> dict[str, Any]:
        """A bar left at “each” is kept in mm: no other unit goes with it."""
        cleaned = super().clean()
        own = UNIT_OF_KIND.get(cleaned.get("kind"))
        if own and cleaned.get("stock_unit") == Item.Unit.EACH:
            cleaned["stock_unit"] = own
        return cleaned


class NewItem(ActionPage):
    role = "owner"
    template_name = "stock/edit_item.html"
    form_class = ItemForm
    heading = "New item"
    sub = "Anything kept in stock, and services bought by the piece."
    submit_label = "Save the item"

    def act(self, form: ItemForm) -> Item:
        asked = form.asked
        saved = save_item(values=form.values, by=asked["by"], key=asked["key"])
        self.warn_of_look_alikes(form, saved)
        return saved

    def warn_of_look_alikes(self, form: ItemForm, saved: Item) -> None:
        """A note when the size is new: near sizes are told apart now or at the scrap bin."""
        resized = {"thickness_um", "width_um"} & set(form.changed_data) & form.values.keys()
        if resized and (told := alike_words(saved)):
            messages.warning(self.request, told)

    def message_for(self, result: Item) -> str:
        return f"{result.code} is saved."

    def back_url(self) -> str:
        return reverse("stock")


class EditItem(NewItem):
    sub = ""

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.item = get_object_or_404(Item, code=kwargs["code"])
        self.heading = f"Change {self.item.code}"

    def get_form_kwargs(self) -> dict:
        # A copy: what a refused form asks for mustn't show up as the item's own.
        return {**super().get_form_kwargs(), "instance": Item.objects.get(pk=self.item.pk)}

    def act(self, form: ItemForm) -> Item:
        asked = form.asked
        saved = save_item(item=self.item, values=form.values, by=asked["by"], key=asked["key"])
        self.warn_of_look_alikes(form, saved)
        return saved

    def back_url(self) -> str:
        return reverse("item", args=[self.item.code])


def data_sheet(request: HttpRequest, code: str) -> FileResponse:
    """The safety data sheet, always as a download."""
    item = get_object_or_404(Item, code=code)
    if not item.data_sheet:
        raise Http404("No data sheet is attached.")
    return download(item.data_sheet, f"data sheet {item.code}")
