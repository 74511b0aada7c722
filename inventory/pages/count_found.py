"""Found while counting: a label that isn't on the list, or stock without a label."""

from typing import Any

from django import forms
from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.urls import reverse

from inventory.actions import add_to_count, count_unlabelled
from inventory.errors import NotFound
from inventory.models import CountLine, Item, Lot, Piece, Place, StockCount
from inventory.pages.forms import ActionForm, ActionPage, PiecesField, QuantityFormField


class FoundPage(ActionPage):
    """Something found during one count, at its place unless another is chosen."""

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.count = get_object_or_404(StockCount, number=kwargs["number"])

    def get_initial(self) -> dict:
        newest = self.count.lines.filter(counted_at__isnull=False).order_by("-counted_at")
        line = newest.first() or self.count.lines.first()
        return {"place": line.place_id if line else None}

    def back_url(self) -> str:
        return self.count.get_absolute_url()


class FoundForm(ActionForm):
    label = forms.CharField(
        label="Number on the label",
        max_length=20,
        help_text="Of the lot or the piece: L-0042, P-0117.",
        widget=forms.TextInput({"autocomplete": "off", "autocapitalize": "characters"}),
    )
    place = forms.ModelChoiceField(Place.objects.all(), label="It lies at", empty_label=None)


class AddFound(FoundPage):
    template_name = "counts/found.html"
    form_class = FoundForm
    heading = "Found, not on the list"
    sub = "It joins the list at the place where it lies, to be counted next."
    submit_label = "Count it"
    done_message = ""

    def act(self, form: FoundForm) -> CountLine:
        asked = form.asked
        lot, piece = labelled(asked.pop("label"))
        return add_to_count(count=self.count, lot=lot, piece=piece, **asked)

    def done_url(self, result: CountLine) -> str:
        return reverse("count-line", args=[self.count.number, result.pk])

    def get_context_data(self, **kwargs: Any) -> dict:
        return super().get_context_data(count=self.count, **kwargs)


def labelled(label: str) -> tuple[Lot, Piece | None]:
    """The lot, and the piece if it is one, that carries a label."""
    piece = Piece.objects.select_related("lot__item").filter(label__iexact=label).first()
    if piece:
        return piece.lot, piece
    lot = Lot.objects.select_related("item").filter(number__iexact=label).first()
    if lot is None:
        raise NotFound(
            f"No lot or piece carries “{label}”. Check the label, or enter it as found without one."
        )
    return lot, None


class UnlabelledForm(ActionForm):
    item = forms.ModelChoiceField(
        Item.objects.exclude(kind=Item.Kind.SERVICE), label="What it seems to be"
    )
    amount = forms.CharField(
        label="How much, or the sizes",
        max_length=2000,
        widget=forms.Textarea({"rows": 2, "autocomplete": "off"}),
        help_text="40, 250 g; bars and sheets a size a line with its count: 2 of 914 mm.",
    )
    place = forms.ModelChoiceField(Place.objects.all(), label="It lies at", empty_label=None)
    why = forms.CharField(
        label="Where it was, or how it came there",
        max_length=120,
        help_text="It stays with the lot.",
    )
    usable = forms.BooleanField(
        label="I know what it is: it may be used",
        required=False,
        help_text="Otherwise it is for practice only until that is known.",
    )

    def clean(self) -> dict[str, Any]:
        """`amount` becomes qty or pieces, as the item is kept."""
        asked = super().clean()
        item, text = asked.get("item"), asked.pop("amount", "")
        if item is None or not text:
            return asked
        field = PiecesField() if item.in_pieces else QuantityFormField()
        field.of(item)
        field.read_for(self.user)
        try:
            asked["pieces" if item.in_pieces else "qty"] = field.clean(text)
        except forms.ValidationError as error:
            self.add_error("amount", error)
        return asked


class AddUnlabelled(FoundPage):
    form_class = UnlabelledForm
    heading = "Found without a label"
    sub = "It becomes a lot of its own when the count is posted."
    submit_label = "Write it down"

    def act(self, form: UnlabelledForm) -> CountLine:
        return count_unlabelled(count=self.count, **form.asked)

    def message_for(self, result: CountLine) -> str:
        labels = [
            line.piece.label for line in result.count.lines.filter(lot=result.lot) if line.piece
        ]
        return f"Label it {', '.join(labels) or result.lot.number}."

    def done_url(self, result: CountLine) -> str:
        return self.count.get_absolute_url()
