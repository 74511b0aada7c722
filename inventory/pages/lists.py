"""Lists in and out: blank forms, exports, and what an uploaded list would change before it does."""

import io
import uuid
from typing import Any

import django_tables2 as tables
from django import forms
from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django_htmx.http import HttpResponseClientRefresh

from inventory.errors import NotFound
from inventory.exchange.tables import TABLES, table_named
from inventory.exchange.tables.files_out import FORMATS, blank_form, exported, meaning_of
from inventory.exchange.tables.notation import Notation
from inventory.exchange.tables.table import Change, Table
from inventory.exchange.uploads import (
    Upload,
    known_upload,
    read_again,
    save_upload,
    start_upload,
)
from inventory.exchange.whole_shop import write_whole_shop
from inventory.pages.access import role_required
from inventory.pages.columns import LEAD, CountColumn, TextColumn
from inventory.pages.forms import ActionForm
from inventory.pages.shop import OwnersPage

LARGEST_FILE = 20 * 1024 * 1024
MOST_SHOWN = 200
FORGOTTEN = "That upload isn't kept any more. Upload the file again; nothing is entered twice."


@role_required("owner")
def lists_page(request: HttpRequest) -> HttpResponse:
    shown = {
        "heading": "Lists in and out",
        "sub": "Bring in what you have as a spreadsheet, or take the shop's lists along.",
        "tables": TABLES,
        "forms": FORMATS,
    }
    return render(request, "lists/overview.html", shown)


class TakeInForm(ActionForm):
    file = forms.FileField(
        help_text="CSV or XLSX, at most 20 MB.",
        widget=forms.FileInput({"accept": ".csv,.tsv,.txt,.xlsx"}),
    )

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > LARGEST_FILE:
            raise forms.ValidationError("This file is larger than 20 MB. Take the list in parts.")
        return file


class TakeIn(OwnersPage):
    """A file of one list; what it would change is shown before anything is written."""

    template_name = "lists/take_in.html"
    form_class = TakeInForm
    submit_label = "See what it changes"
    done_message = ""

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.table = _table_or_404(kwargs["name"])
        self.heading, self.sub = f"Bring in: {self.table.title}", self.table.about

    def act(self, form: TakeInForm) -> Upload:
        file = form.cleaned_data["file"]
        return start_upload(self.table, file.name, file.read(), form.user)

    def done_url(self, result: Upload) -> str:
        return reverse("list-upload", args=[result.key])

    def back_url(self) -> str:
        return reverse("lists")

    def get_context_data(self, **kwargs: Any) -> dict:
        columns = [
            {"name": column.name, "meaning": meaning_of(column), "example": column.example}
            for column in self.table.columns
        ]
        shown = {"table": self.table, "forms": FORMATS, "columns": ColumnTable(columns)}
        return super().get_context_data(**shown, **kwargs)


@role_required("owner")
def blank_list(request: HttpRequest, name: str, form: str) -> HttpResponse:
    """A blank form to fill in."""
    return _download(blank_form(_table_or_404(name), _form_or_404(form)), f"{name}-blank", form)


@role_required("owner")
def list_out(request: HttpRequest, name: str, form: str) -> HttpResponse:
    """A list as it is now."""
    day = timezone.localdate()
    return _download(exported(_table_or_404(name), _form_or_404(form)), f"{name}-{day}", form)


@role_required("owner")
def whole_shop(request: HttpRequest) -> FileResponse:
    """Every table and attached file as one ZIP."""
    file = io.BytesIO()
    write_whole_shop(file)
    file.seek(0)
    return FileResponse(file, as_attachment=True, filename=f"shop-{timezone.localdate()}.zip")


class NotationForm(forms.Form):
    """What can't be told from the file itself."""

    numbers = forms.ChoiceField(
        label="Numbers like 1,234 or 1.234",
        choices=[("", "choose"), (",", "a comma stands before decimals"), (".", "a point does")],
    )
    days = forms.ChoiceField(
        label="Days like 05/03/2026",
        choices=[
            ("", "choose"),
            ("day", "the day comes first"),
            ("month", "the month comes first"),
        ],
    )

    def __init__(self, questions: set[str], data: Any = None) -> None:
        super().__init__(data, label_suffix="")
        for name in set(self.fields) - questions:
            del self.fields[name]

    @property
    def notation(self) -> Notation:
        told = self.cleaned_data
        return Notation(told.get("numbers"), told["days"] == "day" if "days" in told else None)


@role_required("owner")
def upload_page(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    """How far an upload is, what it would change, and its saving."""
    upload = known_upload(key, request.user)
    if upload is None:
        messages.error(request, FORGOTTEN)
        return _refresh_or_go(request, reverse("lists"))
    if request.method == "POST":
        return _step_on(request, upload)
    if request.htmx:
        if not upload.is_running:
            return HttpResponseClientRefresh()
        return render(request, "lists/progress.html", {"upload": upload})
    return _shown(request, upload)


def _step_on(request: HttpRequest, upload: Upload) -> HttpResponse:
    if upload.found is not None and upload.found.questions:
        form = NotationForm(upload.found.questions, request.POST)
        if not form.is_valid():
            return _shown(request, upload, form, status=422)
        read_again(upload, form.notation)
    else:
        save_upload(upload)
    return HttpResponseRedirect(request.path)


def _shown(
    request: HttpRequest, upload: Upload, form: NotationForm | None = None, status: int = 200
) -> HttpResponse:
    found = upload.found
    shown = {"upload": upload, "heading": upload.table.title, "sub": upload.file_name}
    if found is not None and not upload.is_running:
        shown |= {
            "found": found,
            "form": form or NotationForm(found.questions),
            "new": len(found.of("new")),
            "changed": len(found.of("changed")),
            "unchanged": len(found.of("unchanged")),
            "changes": ChangeTable(found.to_save[:MOST_SHOWN], request=request),
            "refusals": RefusalTable(found.refusals[:MOST_SHOWN], request=request),
            "most": MOST_SHOWN,
        }
    return render(request, "lists/upload.html", shown, status=status)


class ColumnTable(tables.Table):
    name = TextColumn(verbose_name="Column")
    meaning = TextColumn(verbose_name="What it means")
    example = TextColumn()

    class Meta:
        orderable = False


class ChangeTable(tables.Table):
    what = TextColumn(attrs=LEAD)
    row = CountColumn()
    state = TextColumn(verbose_name="State")
    differences = TextColumn(verbose_name="What changes")

    class Meta:
        orderable = False

    def render_differences(self, record: Change) -> str:
        return "; ".join(map(_in_words, record.differences))


class RefusalTable(tables.Table):
    row = CountColumn()
    column = TextColumn(default="")
    reason = TextColumn(verbose_name="Refused because")

    class Meta:
        orderable = False


def _in_words(difference: tuple[str, str, str]) -> str:
    name, before, after = difference
    change = f"{before} → {after or 'nothing'}" if before else after
    return f"{name}: {change}" if name else change


def _table_or_404(name: str) -> Table:
    try:
        return table_named(name)
    except NotFound as error:
        raise Http404(str(error)) from error


def _form_or_404(form: str) -> str:
    if form not in FORMATS:
        raise Http404(f"Files are written as {' or '.join(FORMATS)}.")
    return form


def _download(content: bytes, name: str, form: str) -> HttpResponse:
    headers = {"Content-Disposition": f'attachment; filename="{name}.{form}"'}
    return HttpResponse(content, content_type=FORMATS[form], headers=headers)


def _refresh_or_go(request: HttpRequest, url: str) -> HttpResponse:
    return HttpResponseClientRefresh() if request.htmx else HttpResponseRedirect(url)
