"""One bar, sheet or roll: its size, what it was cut from, what was cut from it."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.html import format_html

from inventory.actions import count_piece, cut_piece, move_stock
from inventory.models import Balance, Piece, Place, Posting
from inventory.pages import display
from inventory.pages.at_hand import hand_of_piece
from inventory.pages.forms import ActionForm, PiecesField, RecordActionPage, SizeField
from inventory.pages.item import lot_mark
from inventory.pages.labels import labels_of_pieces
from inventory.pages.lot import COUNT_REASONS
from inventory.pages.movements import newest_movements, with_undo
from inventory.pages.reasons import DayOrToday, ReasonForm
from inventory.pages.thickness_words import said_of
from inventory.queries.still_make import still_made_from
from inventory.queries.stock import line_of
from inventory.units import show_size


def piece_page(request: HttpRequest, label: str) -> HttpResponse:
    piece = get_object_or_404(Piece.objects.select_related("lot__item", "parent"), label=label)
    word, mark = lot_mark(piece.lot)
    still = still_made_from(piece)
    balance = Balance.objects.filter(piece=piece).select_related("place").first()
    shown = {
        "piece": piece,
        "lot": piece.lot,
        "item": piece.lot.item,
        "heading": piece.label,
        "sub": f"{piece.lot.item}, {'remnant' if piece.is_remnant else 'whole piece'}",
        "word": word,
        "mark": mark,
        "balance": balance,
        "hand": hand_of_piece(piece, balance) if request.user.may_write else None,
        "held": piece.reservations.filter(is_open=True).select_related("batch").first(),
        "line": line_of(piece),
        "thickness": said_of(piece.lot, piece, request.user),
        "still": still if balance else None,
        "smallest": min((made.size for made in still), default=None),
        "remnants": piece.remnants.prefetch_related("balances"),
        "movements": newest_movements(request, piece=piece),
    }
    return render(request, "stock/piece.html", shown)


class PiecePage(RecordActionPage):
    """An action on one piece."""

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        pieces = Piece.objects.select_related("lot__item")
        self.piece = self.about = get_object_or_404(pieces, label=kwargs["label"])
        self.heading = f"{self.what} {self.piece.label}"
        self.sub = f"{self.piece.lot.item}, {display.size(self.piece, request.user)}"


class CutForm(ReasonForm):
    field_order = ["parts", "remnants", "reason", "day", "note"]
    parts = PiecesField(
        label="Parts cut",
        required=False,
        up=True,
        help_text="A size a line with its count, as in 3 of 240 mm; along the grain first.",
    )
    remnants = PiecesField(
        label="Remnants kept",
        required=False,
        help_text="What goes back to the shelf, a size a line. The rest is kerf and waste.",
    )


class CutPiece(PiecePage):
    what = "Cut"
    form_class = CutForm
    submit_label = "It is cut"

    def get_form(self, form_class: Any = None) -> CutForm:
        form = super().get_form(form_class)
        item = self.piece.lot.item
        if item.keep_length_um:
            kept = show_size(
                item.keep_length_um, item.keep_width_um or None, self.request.user.length_unit
            )
            form.fields["remnants"].help_text += f" Worth keeping from {kept} on."
        return form

    def act(self, form: CutForm) -> Posting:
        asked = form.asked
        asked["remnants"] = [
            (length, width) for length, width, count in asked["remnants"] for _ in range(count)
        ]
        return cut_piece(piece=self.piece, **asked)

    def message_for(self, result: Posting) -> str:
        said = with_undo(f"Piece {self.piece.label} is cut, entry {result.pk}.", result)
        lines = result.movements.filter(qty__gt=0).select_related("piece__lot__item")
        kept = [line.piece for line in lines.order_by("pk")]
        if not kept:
            return said
        numbers = ", ".join(piece.label for piece in kept)
        return format_html(
            '{} <a class="button" href="{}">Labels for {}</a>',
            said,
            labels_of_pieces(kept),
            numbers,
        )


class CountPieceForm(ActionForm):
    there = forms.ChoiceField(label="It is", choices=[("yes", "there"), ("no", "gone")])
    size = SizeField(label="Measured size", help_text="Length along the grain first.")
    reason = forms.ChoiceField(label="If it differs, why", choices=COUNT_REASONS, required=False)
    day = DayOrToday()
    note = forms.CharField(max_length=200, required=False)


class CountPiece(PiecePage):
    what = "Measure"
    form_class = CountPieceForm
    submit_label = "Enter it"

    def get_initial(self) -> dict:
        return {"size": display.size(self.piece, self.request.user).replace("\u202f", "")}

    def act(self, form: CountPieceForm) -> Posting | None:
        asked = form.asked
        length, width = asked.pop("size")
        if "size" not in form.changed_data:  # inches are shown rounded; it is whole all the same
            length, width = self.piece.length_um, self.piece.width_um
        if asked.pop("there") == "no":
            length = 0
        return count_piece(piece=self.piece, length_um=length, width_um=width, **asked)

    def message_for(self, result: Posting | None) -> str:
        if result is None:
            return "It agrees with the record."
        found = [
            line.piece.label for line in result.movements.select_related("piece") if line.qty > 0
        ]
        label = f" It goes on as {found[0]}." if found and found[0] != self.piece.label else ""
        return with_undo(f"Corrected, entry {result.pk}.{label}", result)


class MovePieceForm(ActionForm):
    place_to = forms.ModelChoiceField(Place.objects.all(), label="To")
    day = DayOrToday()
    note = forms.CharField(max_length=200, required=False)


class MovePiece(PiecePage):
    what = "Move"
    form_class = MovePieceForm
    submit_label = "Move"

    def act(self, form: MovePieceForm) -> Posting:
        return move_stock(lot=self.piece.lot, piece=self.piece, **form.asked)

    def message_for(self, result: Posting) -> str:
        return with_undo(f"{self.piece.label} is moved, entry {result.pk}.", result)
