"""Files kept with a record: certificates and data sheets, known by their content."""

from pathlib import Path
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.db.models.fields.files import FieldFile
from django.http import FileResponse

LARGEST_FILE = 10 * 1024 * 1024
BEGINNINGS = {b"%PDF-": ".pdf", b"\x89PNG\r\n\x1a\n": ".png", b"\xff\xd8\xff": ".jpg"}
ACCEPTED = "application/pdf,image/png,image/jpeg"


class AttachmentField(forms.FileField):
    """A PDF or a picture; its ending becomes that of its content, whatever it was called."""

    def __init__(self, **kwargs: Any) -> None:
        widget = forms.FileInput({"accept": ACCEPTED})
        super().__init__(**{"widget": widget, "required": False, **kwargs})

    def clean(self, data: Any, initial: Any = None) -> Any:
        attached = super().clean(data, initial)
        if isinstance(attached, UploadedFile):
            attached.name = f"{Path(attached.name).stem}{_ending(attached)}"
        return attached


def download(attached: FieldFile, name: str) -> FileResponse:
    """An attached file, always as a download."""
    ending = attached.name.rpartition(".")[2]
    return FileResponse(attached.open("rb"), as_attachment=True, filename=f"{name}.{ending}")


def _ending(attached: UploadedFile) -> str:
    if attached.size > LARGEST_FILE:
        raise forms.ValidationError("A PDF or a picture of at most 10 MB is kept here.")
    beginning = attached.read(16)
    attached.seek(0)
    for mark, ending in BEGINNINGS.items():
        if beginning.startswith(mark):
            return ending
    raise forms.ValidationError(
        "A PDF or a picture (PNG, JPEG) is kept here, and this file holds neither. Scan or "
        "photograph the paper and attach that."
    )
