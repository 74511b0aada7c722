"""The certificate of a lot: attached, replaced, downloaded."""

from django.http import FileResponse, Http404, HttpRequest
from django.shortcuts import get_object_or_404

from inventory.actions import attach_certificate
from inventory.models import Lot
from inventory.pages.attachments import AttachmentField, download
from inventory.pages.forms import ActionForm
from inventory.pages.lot import LotPage


class CertificateForm(ActionForm):
    certificate = AttachmentField(
        required=True, help_text="A PDF or a picture, at most 10 MB. Another one takes its place."
    )


class AttachCertificate(LotPage):
    what = "Certificate of"
    form_class = CertificateForm
    submit_label = "Attach it"

    def act(self, form: CertificateForm) -> Lot:
        return attach_certificate(lot=self.lot, **form.asked)

    def message_for(self, result: Lot) -> str:
        return f"The certificate is kept with lot {result.number}."


def certificate(request: HttpRequest, number: str) -> FileResponse:
    """The certificate, always as a download."""
    lot = get_object_or_404(Lot, number=number)
    if not lot.certificate:
        raise Http404("No certificate is attached.")
    return download(lot.certificate, f"certificate {lot.number}")
