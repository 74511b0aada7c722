"""What a count found: differences with their value, counted again, posted or dropped."""

from typing import Any

from django import forms
from django.forms.utils import flatatt
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from inventory.actions import ask_recount, drop_count, post_count
from inventory.models import CountLine, StockCount
from inventory.pages.access import check_role
from inventory.pages.counts import state_mark
from inventory.pages.forms import ActionForm, ActionPage
from inventory.pages.lot import COUNT_REASONS
from inventory.queries.stock_count import review

REASONS = [reason for reason in COUNT_REASONS if reason[0]]
AS_FOR_ALL = ("", "as for all")
SELECTED = SafeString(" selected")


class QuickSelect(forms.Select):
    """A select written in one go: a template for every option takes most of a long review's time."""

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        options = format_html_join(
            "",
            '<option value="{}"{}>{}</option>',
            (
                (choice, SELECTED if choice == (value or "") else "", words)
                for choice, words in self.choices
            ),
        )
        shown = flatatt({"name": name, **self.build_attrs(self.attrs, attrs)})
        return format_html("<select{}>{}</select>", shown, options)


class PostForm(ActionForm):
    """One reason for all lines, and a field `reason_<line>` for each that differs."""

    reason = forms.ChoiceField(label="Why, for all lines", choices=REASONS, required=False)
    note = forms.CharField(max_length=120, required=False)
    seen = forms.IntegerField(required=False, min_value=0)

    def ask_about(self, line: CountLine) -> None:
        words = f"Why {line.lot.item.code} {line.piece or line.lot} differs"
        self.fields[f"reason_{line.pk}"] = forms.ChoiceField(
            choices=[AS_FOR_ALL, *REASONS],
            required=False,
            widget=QuickSelect({"aria-label": words}),  # its column is the label to the eye
        )

    @property
    def reasons(self) -> dict[int, str]:
        return {
            int(name.removeprefix("reason_")): value
            for name, value in self.cleaned_data.items()
            if name.startswith("reason_")
        }


class ReviewCount(ActionPage):
    role = "viewer"
    template_name = "counts/review.html"
    form_class = PostForm
    submit_label = "Post the differences"

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.count = get_object_or_404(StockCount, number=kwargs["number"])
        self.heading = f"What count {self.count.number} found"
        self.sub = self.count.what

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        check_role(request.user, "maker")
        return super().post(request, *args, **kwargs)

    def get_form(self, form_class: Any = None) -> PostForm:
        form = super().get_form(form_class)
        self.review = review(self.count, timezone.localdate())
        for each in self.review.differences:
            form.ask_about(each.line)
        return form

    def act(self, form: PostForm) -> StockCount:
        data = form.cleaned_data
        return post_count(
            count=self.count,
            reason=data["reason"],
            reasons=form.reasons,
            note=data["note"],
            seen=data["seen"],
            by=self.request.user,
            key=data["key"],
        )

    def message_for(self, result: StockCount) -> str:
        return f"Count {result.number} is posted; the record follows what was counted."

    def done_url(self, result: StockCount) -> str:
        return reverse("count-review", args=[result.number])

    def back_url(self) -> str:
        return self.count.get_absolute_url()

    def get_context_data(self, **kwargs: Any) -> dict:
        shown = super().get_context_data(**kwargs)
        word, mark = state_mark(self.count)
        form = shown["form"]
        differences = [(each, form[f"reason_{each.line.pk}"]) for each in self.review.differences]
        return shown | {
            "count": self.count,
            "review": self.review,
            "differences": differences,
            "is_open": self.count.state == StockCount.State.OPEN,
            "word": word,
            "mark": mark,
        }


class RecountForm(ActionForm):
    again = forms.BooleanField(label="It is to be counted again", required=False)


class AskRecount(ActionPage):
    form_class = RecountForm
    submit_label = "Save"

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        lines = CountLine.objects.select_related("count", "lot__item", "piece")
        self.line = get_object_or_404(lines, count__number=kwargs["number"], pk=kwargs["pk"])
        self.heading = f"Count {self.line.lot.item.code} again"
        self.sub = f"{self.line.piece or self.line.lot}, count {self.line.count.number}"

    def get_initial(self) -> dict:
        return {"again": not self.line.recount}

    def act(self, form: RecountForm) -> CountLine:
        return ask_recount(line=self.line, **form.asked)

    def message_for(self, result: CountLine) -> str:
        if result.recount:
            return f"{self.line.lot.item.code} is on the walk again; the first figure is kept."
        return f"{self.line.lot.item.code} stays as it was counted."

    def done_url(self, result: CountLine) -> str:
        return self.back_url()

    def back_url(self) -> str:
        return reverse("count-review", args=[self.line.count.number])


class DropCount(ActionPage):
    submit_label = "Drop it"

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.count = get_object_or_404(StockCount, number=kwargs["number"])
        self.heading = f"Drop count {self.count.number}"
        self.sub = "Nothing is posted; the stock stays as it is recorded."

    def act(self, form: ActionForm) -> StockCount:
        return drop_count(count=self.count, **form.asked)

    def message_for(self, result: StockCount) -> str:
        return f"Count {result.number} is dropped. Nothing was changed."

    def done_url(self, result: StockCount) -> str:
        return reverse("counts")

    def back_url(self) -> str:
        return self.count.get_absolute_url()
