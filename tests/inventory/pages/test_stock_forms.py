"""Stock received, used, counted, moved, cut and undone through the forms."""

import uuid

import pytest
from django.urls import reverse

from inventory import actions
from inventory.models import Balance, Item, Lot, Movement, Piece, Posting
from tests import factories as make

pytestmark = pytest.mark.django_db
DAY = "2025-03-10"


@pytest.fixture(autouse=True)
def of_a_shop(db):
    make.shop()


@pytest.fixture
def screws():
    return make.screws()


@pytest.fixture
def bar():
    return make.bar()


def send(client, page, /, *args, **values):
    return client.post(reverse(page, args=args), {"key": uuid.uuid4(), "day": DAY, **values})


def refusal(response):
    assert response.status_code == 422
    return " ".join(response.context["form"].non_field_errors())


def test_delivery_is_booked_in_the_unit_that_was_typed(maker_client):
    epoxy = make.epoxy()
    send(maker_client, "receive", "EPOXY", qty="2 lb", status="released", paid="45.36")
    assert make.on_hand(epoxy) == make.D("907.18474")
    assert round(Lot.objects.get().unit_cost, 4) == make.D("0.05")


def test_delivery_of_pieces_gives_each_a_label(maker_client, bar):
    typed = "2 of 914 mm\n600 mm"
    response = send(maker_client, "receive", bar.code, pieces=typed, status="released")
    lot = Lot.objects.get()
    assert response.url == lot.get_absolute_url()
    assert sorted(lot.pieces.values_list("length_um", flat=True)) == [600_000, 914_000, 914_000]


def test_form_sent_twice_books_once(maker_client, screws):
    key = uuid.uuid4()
    for _ in range(2):
        response = send(maker_client, "receive", screws.code, key=key, qty="100", status="released")
        assert response.status_code == 302
    assert make.on_hand(screws) == 100


def test_form_sent_twice_is_told_once(maker_client, screws):
    make.stock(screws, 10)
    key = uuid.uuid4()
    for _ in range(2):
        response = send(maker_client, "use", screws.code, key=key, qty="1", reason="one-off")
    told = maker_client.get(response.url).context["messages"]
    assert len(told) == 1


def test_two_uses_are_told_apart(maker_client, screws):
    make.stock(screws, 10)
    for _ in range(2):
        response = send(maker_client, "use", screws.code, qty="1", reason="one-off")
    assert len(maker_client.get(response.url).context["messages"]) == 2


def test_same_key_with_other_content_is_refused(maker_client, screws):
    key = uuid.uuid4()
    send(maker_client, "receive", screws.code, key=key, qty="100", status="released")
    response = send(maker_client, "receive", screws.code, key=key, qty="90", status="released")
    assert "sent before" in refusal(response)
    assert make.on_hand(screws) == 100


def test_open_order_is_offered_before_a_delivery_without_one(maker_client, screws):
    line = make.order_line(make.offer(screws, pack_qty=make.D(100)), 3)
    page = maker_client.get(reverse("receive", args=[screws.code])).content.decode()
    assert reverse("order-receive", args=[line.order.number, line.pk]) in page


def test_one_is_used_in_three_taps(maker_client, screws):
    make.stock(screws, 10)
    form = maker_client.get(reverse("use", args=[screws.code])).context["form"]
    assert form["qty"].value() == "1"
    send(maker_client, "use", screws.code, qty="1", reason="one-off")
    assert make.on_hand(screws) == 9


def test_more_than_is_there_is_refused_with_what_to_do(maker_client, screws):
    make.stock(screws, 10)
    response = send(maker_client, "use", screws.code, qty="11", reason="repair")
    assert "Receive or count more" in refusal(response)
    assert response.context["form"]["qty"].value() == "11"
    assert make.on_hand(screws) == 10


def test_extra_use_for_a_batch_in_work_is_booked_for_it(maker_client, screws):
    make.stock(screws, 10)
    batch = make.in_work(make.simple_knife("TRAIL", make.line(screws, 1)), 4)
    page = maker_client.get(reverse("use", args=[screws.code])).content.decode()
    assert f"batch {batch.number}, extra" in page
    send(maker_client, "use", screws.code, qty="1", reason=f"batch {batch.number}")
    extra = Posting.objects.first()
    assert (extra.reason, extra.batch) == ("batch", batch)


def test_use_for_a_batch_that_is_not_in_work_is_refused(maker_client, screws):
    make.stock(screws, 10)
    response = send(maker_client, "use", screws.code, qty="1", reason="batch B-0001")
    assert response.status_code == 422
    assert make.on_hand(screws) == 10


def test_expired_lot_may_only_be_thrown_away(maker_client):
    epoxy = make.epoxy()
    lot = make.stock(epoxy, 100, expires_on=make.DAY)
    response = send(maker_client, "use", "EPOXY", qty="5", reason="repair", lot=lot.pk)
    assert "expired" in refusal(response)
    send(maker_client, "use", "EPOXY", qty="100", reason="scrap", lot=lot.pk)
    assert make.on_hand(epoxy) == 0


def test_part_made_in_house_takes_its_materials(maker_client):
    knives = make.knife_shop()
    send(maker_client, "make_part", "BLOCK", qty="2")
    assert make.on_hand(knives.block) == 14


def test_count_books_the_difference_with_its_reason(maker_client, screws):
    lot = make.stock(screws, 100)
    place = make.where(lot).pk
    without = send(maker_client, "lot-count", lot.number, place=place, counted="97")
    assert "Say why" in refusal(without)
    send(maker_client, "lot-count", lot.number, place=place, counted="97", reason="short pack")
    assert make.on_hand(screws) == 97
    assert Posting.objects.first().reason == "short pack"


def test_part_of_a_lot_is_moved(maker_client, screws):
    lot, drawer = make.stock(screws, 100), make.place("Drawer 7")
    places = {"place_from": make.where(lot).pk, "place_to": drawer.pk}
    send(maker_client, "lot-move", lot.number, qty="40", **places)
    assert Balance.objects.get(place=drawer).qty == 40


def test_lot_is_held_back_only_with_a_reason(maker_client, screws):
    lot = make.stock(screws, 100)
    assert "why" in refusal(send(maker_client, "lot-status", lot.number, status="quarantine"))
    send(maker_client, "lot-status", lot.number, status="quarantine", note="thread gauge")
    lot.refresh_from_db()
    assert lot.status == "quarantine"


def test_opened_container_gets_the_shorter_date(maker_client):
    lot = make.stock(make.epoxy(shelf_life_days=365, opened_life_days=30), 100)
    send(maker_client, "lot-open", lot.number)
    lot.refresh_from_db()
    assert lot.expires_on == make.days(7 + 30)


def test_lot_is_extended_after_a_test(maker_client):
    lot = make.stock(make.epoxy(), 100, expires_on=make.days(10))
    send(maker_client, "lot-extend", lot.number, expires_on="2025-06-01", note="test mix hard")
    lot.refresh_from_db()
    assert "test mix hard" in lot.note


def test_cut_keeps_the_remnant_and_says_its_label(maker_client, bar):
    piece = make.rack(bar, 1000)[0]
    cut = {"parts": "2 of 240 mm", "remnants": "515 mm", "reason": "one-off"}
    response = send(maker_client, "piece-cut", piece.label, **cut)
    remnant = Piece.objects.get(parent=piece)
    assert make.on_hand(bar) == 515
    page = maker_client.get(response.url).content.decode()
    assert f"Labels for {remnant.label}" in page


def test_part_longer_than_the_piece_is_refused(maker_client, bar):
    piece = make.rack(bar, 180)[0]
    response = send(maker_client, "piece-cut", piece.label, parts="240 mm", reason="sample")
    assert "doesn" in refusal(response)
    assert make.on_hand(piece) == 180


def test_piece_measured_shorter_goes_on_under_a_new_label(maker_client, bar):
    piece = make.rack(bar, 1000)[0]
    found = {"there": "yes", "size": "990 mm", "reason": "counted"}
    send(maker_client, "piece-count", piece.label, **found)
    assert make.on_hand(bar) == 990
    assert Piece.objects.get(parent=piece).length_um == 990_000


def test_piece_that_is_gone_leaves_the_stock(maker_client, bar):
    piece = make.rack(bar, 1000)[0]
    gone = {"there": "no", "size": "1000 mm", "reason": "dropped or lost"}
    send(maker_client, "piece-count", piece.label, **gone)
    assert make.on_hand(bar) == 0


def test_piece_is_moved_and_used_up(maker_client, bar):
    piece, saw = make.rack(bar, 1000)[0], make.place("At the saw")
    send(maker_client, "piece-move", piece.label, place_to=saw.pk)
    assert Balance.objects.get(piece=piece).place == saw
    send(maker_client, "piece-use", piece.label, reason="sample")
    assert make.on_hand(bar) == 0


def test_entry_is_undone_by_its_opposite(maker_client, screws):
    make.stock(screws, 100)
    posting = actions.issue_stock(item=screws, qty=make.D(30), day=make.DAY, reason="repair")
    response = send(maker_client, "entry-undo", posting.pk, note="wrong box")
    assert make.on_hand(screws) == 100
    assert "Undone by" in maker_client.get(reverse("entry", args=[posting.pk])).content.decode()
    page = maker_client.get(response.url).content.decode()
    assert f"entry {posting.pk}" in page
    again = send(maker_client, "entry-undo", posting.pk)
    assert "reversed before" in refusal(again)


@pytest.mark.parametrize("page", ["receive", "use"])
def test_viewer_may_not_post(viewer_client, screws, page):
    assert send(viewer_client, page, screws.code, qty="1").status_code == 403
    assert not Movement.objects.exists()


def test_lot_page_tells_where_it_came_from(viewer_client, screws):
    lot = make.stock(screws, 10, maker_number="HEAT-77", supplier=make.supplier())
    page = viewer_client.get(lot.get_absolute_url()).content.decode()
    assert "HEAT-77" in page
    assert "Bracken Supply" in page


def test_piece_page_tells_its_line(viewer_client, bar):
    piece = make.rack(bar, 1000)[0]
    half = [(500 * make.MM, None)]
    actions.cut_piece(piece=piece, parts=[(240 * make.MM, None, 1)], remnants=half, day=make.DAY)
    remnant = Piece.objects.get(parent=piece)
    assert piece.label in viewer_client.get(remnant.get_absolute_url()).content.decode()
    assert "not in stock" in viewer_client.get(piece.get_absolute_url()).content.decode()


def test_movement_list_finds_a_lot_and_exports_signed_quantities(viewer_client, screws):
    lot = make.stock(screws, 100)
    make.stock(make.epoxy(), 5)
    actions.issue_stock(item=screws, qty=make.D(30), day=make.DAY, reason="repair")
    found = viewer_client.get(f"/movements/?q={lot.number}")
    assert [row.record.qty for row in found.context["table"].rows] == [-30, 100]
    export = viewer_client.get(f"/movements/?q={lot.number}&format=csv")
    assert ",-30,each," in b"".join(export.streaming_content).decode()


def test_movement_list_takes_few_queries(viewer_client, screws, django_assert_max_num_queries):
    for _ in range(30):
        make.stock(screws, 5)
    with django_assert_max_num_queries(7):
        viewer_client.get("/movements/")


@pytest.mark.parametrize(("kind", "unit"), [("bar", "mm"), ("webbing", "mm"), ("sheet", "mm2")])
def test_item_of_a_kind_with_one_unit_gets_that_unit(owner_client, kind, unit):
    values = {"lot_match": "none", "status": "active", "revision": 1}
    send(owner_client, "item-new", code="X", name="X", kind=kind, stock_unit="each", **values)
    assert Item.objects.get().stock_unit == unit


def test_unit_that_does_not_go_with_the_kind_is_refused_in_words(owner_client):
    values = {"lot_match": "none", "status": "active", "revision": 1}
    response = send(
        owner_client, "item-new", code="X", name="X", kind="bar", stock_unit="g", **values
    )
    assert refusal(response).startswith("Bars and webbing are kept in mm")


def test_movement_list_says_whether_there_is_more(viewer_client, screws):
    for _ in range(51):
        make.stock(screws, 5)
    assert "1–50 and more" in viewer_client.get("/movements/").content.decode()
    assert "51–51 of 51" in viewer_client.get("/movements/?page=2").content.decode()


def test_movement_list_past_its_end_shows_the_newest(viewer_client, screws):
    make.stock(screws, 5)
    found = viewer_client.get("/movements/?page=99")
    assert len(found.context["table"].paginated_rows) == 1


def test_movements_of_an_item_are_narrowed_to_a_kind(viewer_client, screws):
    make.stock(screws, 5)
    make.stock(make.epoxy(), 5)
    actions.issue_stock(item=screws, qty=make.D(2), day=make.DAY, reason="repair")
    found = viewer_client.get(f"/movements/?q={screws.code}&kind=issue")
    assert [row.record.qty for row in found.context["table"].paginated_rows] == [-2]


def test_piece_measured_as_shown_agrees_though_its_inches_are_rounded(maker_client, maker, bar):
    maker.length_unit = "in"
    maker.save()
    (piece,) = make.rack(bar, 305)
    page = maker_client.get(reverse("piece-count", args=[piece.label]))
    shown = page.context["form"].initial["size"]
    answer = send(maker_client, "piece-count", piece.label, there="yes", size=shown)
    assert (shown, answer.status_code) == ("12.008 in", 302)
    assert make.on_hand(piece) == 305
