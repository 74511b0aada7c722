"""Certificates, thickness and doubt about a lot, through the forms."""

import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from inventory.models import Lot, Piece
from tests import factories as make

pytestmark = pytest.mark.django_db
DAY = "2025-03-10"
PDF = b"%PDF-1.4 heat 4711"


@pytest.fixture(autouse=True)
def of_a_shop(db):
    make.shop()


@pytest.fixture
def lot():
    (piece,) = make.rack(make.bar(thickness_um=4 * make.MM), 1000)
    return piece.lot


def send(client, page, /, *args, **values):
    return client.post(reverse(page, args=args), {"key": uuid.uuid4(), "day": DAY, **values})


def page_of(client, record):
    return client.get(record.get_absolute_url()).content.decode()


def kept():
    with Lot.objects.get().certificate.open() as attached:
        return attached.read()


def paper(content=PDF, name="scan from phone.pdf"):
    return SimpleUploadedFile(name, content)


def test_certificate_is_kept_with_its_lot_and_handed_out_as_a_download(
    maker_client, viewer_client, lot
):
    assert "none is attached" in page_of(viewer_client, lot)
    send(maker_client, "lot-certificate", lot.number, certificate=paper())
    assert reverse("certificate", args=[lot.number]) in page_of(viewer_client, lot)
    answer = viewer_client.get(reverse("certificate", args=[lot.number]))
    assert answer.headers["Content-Disposition"] == (
        f'attachment; filename="certificate {lot.number}.pdf"'
    )
    assert b"".join(answer.streaming_content) == PDF
    assert lot.number in Lot.objects.get().certificate.name


def test_another_certificate_takes_its_place_and_the_notes_say_so(maker_client, lot):
    for content in (PDF, b"\x89PNG\r\n\x1a\n a photograph"):
        send(maker_client, "lot-certificate", lot.number, certificate=paper(content))
    lot.refresh_from_db()
    assert lot.certificate.name.endswith(".png")
    assert "another certificate in place of the earlier one" in lot.note


@pytest.mark.parametrize(
    ("content", "name"),
    [(b"<script>alert(1)</script>", "page.pdf"), (b"MZ\x90", "setup.exe"), (b"", "empty.pdf")],
    ids=["page called pdf", "program", "empty"],
)
def test_file_is_known_by_its_content_not_its_name(maker_client, lot, content, name):
    response = send(maker_client, "lot-certificate", lot.number, certificate=paper(content, name))
    assert response.status_code == 422
    assert not Lot.objects.get().certificate


def test_file_of_more_than_ten_megabytes_is_refused(maker_client, lot):
    large = paper(PDF + b" " * 10 * 1024 * 1024)
    response = send(maker_client, "lot-certificate", lot.number, certificate=large)
    assert "at most 10 MB" in response.content.decode()


def test_stranger_is_not_handed_a_certificate(client, maker_client, lot):
    send(maker_client, "lot-certificate", lot.number, certificate=paper())
    client.logout()
    assert client.get(reverse("certificate", args=[lot.number])).status_code == 302


def test_certificate_comes_in_with_a_delivery(maker_client):
    steel = make.bar()
    values = {"pieces": "914 mm", "status": "released", "certificate": paper()}
    send(maker_client, "receive", steel.code, **values)
    assert kept() == PDF


def test_certificate_comes_in_with_the_second_send_of_an_order_line(maker_client):
    line = make.order_line(make.offer(make.screws(), pack_qty=make.D(100)), 1)
    values = {"packs": 1, "status": "released"}
    first = send(maker_client, "order-receive", line.order.number, line.pk, **values)
    assert "certificate" in first.context["form"].fields
    confirmed = first.context["understood"]
    values |= {"confirmed": confirmed, "certificate": paper()}
    send(maker_client, "order-receive", line.order.number, line.pk, **values)
    assert kept() == PDF


def test_thickness_off_nominal_is_flagged_with_what_to_check(maker_client, lot):
    send(maker_client, "lot-thickness", lot.number, thickness_um="4.3 mm")
    piece = lot.pieces.get()
    assert "0.3 mm above the nominal 4 mm" in page_of(maker_client, lot)
    assert "off by more than 0.2 mm. Check the slots of the fixture" in page_of(maker_client, piece)
    send(maker_client, "piece-thickness", piece.label, thickness_um="4.1 mm")
    page = page_of(maker_client, piece)
    assert "0.1 mm above the nominal 4 mm" in page
    assert "Check the slots" not in page


def test_delivery_that_measures_off_says_so_at_once(maker_client):
    steel = make.bar(thickness_um=4 * make.MM)
    values = {"pieces": "914 mm", "status": "released", "thickness_um": "4.3"}
    url = send(maker_client, "receive", steel.code, **values).url
    assert "It measures 0.3 mm above the nominal 4 mm" in maker_client.get(url).content.decode()


def test_piece_whose_lot_is_unknown_goes_on_under_another_label(maker_client, lot):
    piece = lot.pieces.get()
    response = send(maker_client, "piece-doubt", piece.label, note="stamp cut off")
    found = Piece.objects.exclude(pk=piece.pk).get()
    assert response.url == found.get_absolute_url()
    page = page_of(maker_client, found)
    assert "lot unknown, for practice only" in page
    assert reverse("piece-doubt", args=[found.label]) not in page


def test_piece_says_what_it_still_makes_or_that_it_makes_nothing(viewer_client, lot):
    steel, mm = lot.item, make.MM
    piece = lot.pieces.get()
    assert "No active bill cuts anything from BAR-4X40" in page_of(viewer_client, piece)
    make.simple_knife("LONG", make.line(steel, 1, cut=(240 * mm, None)))
    assert "What it still makes" in page_of(viewer_client, piece)
    (short,) = make.rack(steel, 180)
    assert "No blank of any bill fits on it: the smallest is 240 mm" in page_of(
        viewer_client, short
    )


def test_cut_says_from_which_size_a_remnant_is_worth_keeping(maker_client, lot):
    page = maker_client.get(reverse("piece-cut", args=[lot.pieces.get().label])).content.decode()
    assert "Worth keeping from 100 mm on." in page


def test_unknown_piece_is_cut_for_practice_through_the_form(maker_client, lot):
    send(maker_client, "piece-doubt", lot.pieces.get().label, note="stamp cut off")
    found = Piece.objects.get(lot__status="unknown")
    values = {"parts": "200 mm", "remnants": "700 mm", "reason": "practice"}
    response = send(maker_client, "piece-cut", found.label, **values)
    assert response.status_code == 302
    assert found.remnants.get().lot.status == "unknown"
