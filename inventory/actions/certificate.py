"""The certificate that came with a lot."""

from pathlib import Path

from django.core.files.base import File

from inventory.actions.lots import add_note, read_again
from inventory.actions.request import action
from inventory.models import Lot, User


@action
def attach_certificate(*, lot: Lot, certificate: File, by: User | None = None) -> Lot:
    """Keep a certificate with its lot; another one takes its place, and a note says so."""
    read_again(lot)
    if lot.certificate:
        add_note(lot, "another certificate in place of the earlier one", by)
    lot.certificate = named_after(lot.number, certificate)
    lot.save(update_fields=["certificate", "note"])
    return lot


def named_after(number: str, certificate: File) -> File:
    """The file under the number of its lot: whatever it was called, the folder stays readable."""
    certificate.name = f"{number}{Path(certificate.name).suffix}"
    return certificate
