"""Counting a shelf on its pages: blind, one line after the other, then reviewed and posted."""

import re
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory import actions
from inventory.models import Lot, StockCount
from tests import factories as make

pytestmark = pytest.mark.django_db

RANDOM = r'name="(key|csrfmiddlewaretoken)" value="[^"]+"'
"""Holds any digits by chance."""


@pytest.fixture
def shelf(maker):
    make.shop()
    return make.place("Rack A")


@pytest.fixture
def screws(shelf):
    return make.stock(make.screws(), 137, place=shelf, unit_cost=make.D("0.05"))


@pytest.fixture
def bars(shelf):
    return make.rack(make.bar(), 913, 500, place=shelf, unit_cost=make.D("0.02"))


def started(**scope):
    return actions.start_count(day=make.DAY, **scope)


def send(client, name, args, **values):
    return client.post(reverse(name, args=args), {"key": uuid.uuid4(), **values}, follow=True)


def text(answer):
    return answer.content.decode()


def test_list_is_started_at_a_place_and_leads_to_its_first_line(maker_client, shelf, screws):
    answer = send(maker_client, "count-new", [], place=shelf.pk)
    count = StockCount.objects.get()
    assert answer.redirect_chain[-1][0] == reverse(
        "count-line", args=["C-0001", count.lines.get().pk]
    )
    assert count.by.username == "maker"


def with_what_it_calls_in(client, url):
    """A page and the parts that it loads once it stands."""
    page = text(client.get(url))
    parts = re.findall(r'hx-get="([^"]+)" hx-trigger="load"', page)
    return page + "".join(text(client.get(part)) for part in parts)


def test_nothing_to_count_is_said_in_the_form(maker_client, shelf):
    answer = send(maker_client, "count-new", [], place=shelf.pk)
    assert answer.status_code == 422
    assert "Nothing is there to count: Rack A" in text(answer)


@pytest.mark.parametrize("page", ["count", "count-line", "count-paper"])
def test_expected_figure_is_not_shown_where_it_is_counted(maker_client, screws, bars, page):
    count = started()
    for line in count.lines.all():
        args = [count.number, line.pk] if page == "count-line" else [count.number]
        answer = maker_client.get(reverse(page, args=args))
        shown = re.sub(RANDOM, "", text(answer))
        assert "137" not in shown
        assert "913" not in shown


def test_list_as_csv_is_blind_too(maker_client, screws, bars):
    rows = maker_client.get(reverse("count", args=[started().number]), {"format": "csv"})
    content = b"".join(rows.streaming_content).decode()
    assert "SCREW-M4,screw-m4,Rack A,L-0001" in content
    assert "137" not in content
    assert "913" not in content


def test_counted_line_leads_to_the_next_and_the_last_to_what_was_found(maker_client, screws, shelf):
    other = make.stock(make.screws("Z-SCREW"), 5, place=shelf)
    count = started()
    first, second = count.lines.get(lot=screws), count.lines.get(lot=other)
    answer = send(maker_client, "count-line", [count.number, first.pk], counted="130")
    assert answer.redirect_chain[-1][0] == reverse("count-line", args=[count.number, second.pk])
    assert "SCREW-M4 L-0001: 130 counted." in text(answer)
    answer = send(maker_client, "count-line", [count.number, second.pk], counted="5")
    assert answer.redirect_chain[-1][0] == reverse("count-review", args=[count.number])


def test_what_can_not_be_counted_stays_in_the_form(maker_client, screws):
    count = started()
    answer = send(maker_client, "count-line", [count.number, count.lines.get().pk], counted="2.5")
    assert answer.status_code == 422
    assert "counted in whole pieces" in text(answer)


@pytest.mark.parametrize(
    ("sent", "length_mm"),
    [({"there": "whole"}, 913), ({"there": "gone"}, 0), ({"there": "size", "size": "80 cm"}, 800)],
    ids=["same as its label", "not here", "shorter"],
)
def test_piece_is_counted_with_one_tap_or_its_size(maker_client, bars, sent, length_mm):
    count = started()
    line = count.lines.get(piece=bars[0])
    send(maker_client, "count-line", [count.number, line.pk], **sent)
    line.refresh_from_db()
    assert (line.counted_length_um, line.counted) == (length_mm * make.MM, length_mm)


def test_measured_size_must_be_entered(maker_client, bars):
    count = started()
    line = count.lines.get(piece=bars[0])
    answer = send(maker_client, "count-line", [count.number, line.pk], there="size")
    assert "Enter the size that you measured." in text(answer)


def test_sample_is_weighed_and_leads_back_to_the_line(maker_client, screws):
    count = started()
    line = count.lines.get()
    url = f"{reverse('item-weigh', args=['SCREW-M4'])}?line={line.pk}"
    sent = {"key": uuid.uuid4(), "sample": "50", "weight": "76 g", "step": "1"}
    answer = maker_client.post(url, sent, follow=True)
    assert answer.redirect_chain[-1][0] == reverse("count-line", args=[count.number, line.pk])
    assert "One SCREW-M4 weighs 1.52 g." in text(answer)
    screws.item.refresh_from_db()
    assert (screws.item.weight_of_one_g, screws.item.weighed_sample) == (make.D("1.52"), 50)


def readings(client, line, **values):
    return text(client.get(reverse("count-line", args=[line.count.number, line.pk]), values))


def test_readings_of_the_scale_fill_in_the_count_and_say_how_sure_it_is(maker_client, screws):
    actions.weigh_sample(item=screws.item, sample=5, weight=make.D(8))
    shown = readings(maker_client, started().lines.get(), gross="1540 g", tare="20 g", step="1")
    assert "1.52 kg net: about 950, at least 894 and at most 1\u202f014" in shown
    assert 'value="950"' in shown


def test_opened_can_is_weighed_full_and_empty(maker_client, shelf):
    make.stock(make.epoxy(), 900, place=shelf)
    shown = readings(maker_client, started().lines.get(), gross="0.5 kg", tare="120")
    assert "380 g net." in shown
    assert 'value="380 g"' in shown


def test_liquid_is_weighed_through_its_density(maker_client, shelf):
    oil = make.item("OIL", "chemical", "mL", density_g_per_ml=make.D("0.8"))
    make.stock(oil, 900, place=shelf)
    assert 'value="500 mL"' in readings(maker_client, started().lines.get(), gross="400")


def test_readings_that_can_not_be_are_refused_in_words(maker_client, shelf):
    make.stock(make.epoxy(), 900, place=shelf)
    shown = readings(maker_client, started().lines.get(), gross="100", tare="120")
    assert "empty container weighs more" in shown


def test_only_what_is_kept_by_count_has_a_weight_of_one(maker_client, shelf):
    make.epoxy()
    assert maker_client.get(reverse("item-weigh", args=["EPOXY"])).status_code == 404


@pytest.fixture
def counted(screws, bars):
    """One list on which nine screws and a bar of 913 mm are missing."""
    count = started()
    actions.enter_count(line=count.lines.get(lot=screws), counted=make.D(128))
    actions.enter_piece(line=count.lines.get(piece=bars[0]), length_um=0)
    actions.enter_piece(line=count.lines.get(piece=bars[1]), length_um=500 * make.MM)
    return count


def test_review_names_what_differs_with_its_value(maker_client, counted):
    shown = text(maker_client.get(reverse("count-review", args=[counted.number])))
    assert shown.index("BAR-4X40") < shown.index("SCREW-M4")
    assert "−18.26 EUR" in shown
    assert "−18.71 EUR" in shown


def test_differences_are_posted_each_for_its_reason(maker_client, counted, screws):
    line = counted.lines.get(lot=screws)
    sent = {"reason": "counted", f"reason_{line.pk}": "dropped or lost", "note": "spring"}
    answer = send(maker_client, "count-review", [counted.number], **sent)
    assert "Count C-0001 is posted" in text(answer)
    line.refresh_from_db()
    assert (line.posting.reason, line.posting.note) == ("dropped or lost", "count C-0001: spring")
    assert make.on_hand(screws) == 128
    assert f"entry {line.posting_id}" in text(answer)


def test_what_is_counted_while_the_review_is_read_is_looked_at_before_it_is_posted(
    maker_client, counted, screws
):
    review = reverse("count-review", args=[counted.number])
    seen = maker_client.get(review).context["review"].entered
    actions.enter_count(line=counted.lines.get(lot=screws), counted=make.D(1370))
    sent = {"reason": "counted", "seen": seen}
    answer = send(maker_client, "count-review", [counted.number], **sent)
    assert "somebody counted on while you looked" in text(answer)
    assert make.on_hand(screws) == 137
    assert f'name="seen" value="{seen + 1}"' in text(answer)
    send(maker_client, "count-review", [counted.number], **sent | {"seen": seen + 1})
    assert make.on_hand(screws) == 1370


def test_refused_posting_stands_on_top_of_the_review(maker_client, counted, screws):
    actions.issue_stock(
        item=screws.item, qty=make.D(135), day=timezone.localdate(), reason="repair"
    )
    answer = send(maker_client, "count-review", [counted.number], reason="counted")
    assert answer.status_code == 422
    assert "Count the line again." in text(answer)


def test_line_is_sent_back_to_be_counted_again_and_taken_back(maker_client, counted, screws):
    args = [counted.number, counted.lines.get(lot=screws).pk]
    answer = send(maker_client, "count-again", args, again="on")
    assert "SCREW-M4 is on the walk again" in text(answer)
    assert "Keep this figure" in text(answer)
    assert "stays as it was counted" in text(send(maker_client, "count-again", args))


def test_count_is_dropped_after_a_question(maker_client, counted, screws):
    answer = send(maker_client, "count-drop", [counted.number])
    assert "Count C-0001 is dropped. Nothing was changed." in text(answer)
    assert make.on_hand(screws) == 137


def test_label_found_on_the_shelf_is_counted_next(maker_client, counted):
    elsewhere = make.stock(make.epoxy(), 300, place=make.place("Rack B"))
    shelf = counted.lines.first().place
    answer = send(maker_client, "count-found", [counted.number], label="l-0003", place=shelf.pk)
    line = counted.lines.get(lot=elsewhere, place=shelf)
    assert answer.redirect_chain[-1][0] == reverse("count-line", args=[counted.number, line.pk])


def test_label_that_nobody_knows_is_refused(maker_client, counted):
    shelf = counted.lines.first().place
    answer = send(maker_client, "count-found", [counted.number], label="X-9", place=shelf.pk)
    assert "No lot or piece carries “X-9”" in text(answer)


@pytest.mark.parametrize(
    ("code", "amount", "labels"),
    [("SCREW-M4", "12", "L-0003"), ("BAR-4X40", "2 of 300 mm", "P-0003, P-0004")],
    ids=["a quantity", "pieces"],
)
def test_find_without_a_label_is_written_down_and_gets_one(
    maker_client, counted, code, amount, labels
):
    line = counted.lines.first()
    item = Lot.objects.filter(item__code=code).first().item
    sent = {"item": item.pk, "amount": amount, "place": line.place_id, "why": "under the bench"}
    answer = send(maker_client, "count-unlabelled", [counted.number], **sent)
    assert f"Label it {labels}." in text(answer)


def test_amount_of_a_find_is_read_in_the_unit_of_its_item(maker_client, counted, screws):
    sent = {"item": screws.item.pk, "amount": "3 kg", "place": counted.lines.first().place_id}
    answer = send(maker_client, "count-unlabelled", [counted.number], why="floor", **sent)
    assert answer.status_code == 422
    assert "This item is counted" in text(answer)


def test_viewer_reads_what_a_count_found_but_posts_nothing(viewer_client, counted):
    shown = viewer_client.get(reverse("count-review", args=[counted.number]))
    assert shown.status_code == 200
    assert "Post the differences" not in text(shown)
    assert send(viewer_client, "count-review", [counted.number]).status_code == 403


def test_history_tells_its_class_and_what_its_counts_found(maker_client, counted, screws):
    actions.post_count(count=counted, reason="short pack")
    type(screws.item).objects.update(value_class="C", use_class="Z")
    shown = with_what_it_calls_in(maker_client, screws.item.get_absolute_url())
    assert "Last counted 0 days ago" in shown
    assert "C, the many of little value; Z, now and then" in shown
    assert "short pack" in shown


def test_stock_list_is_narrowed_to_a_class(maker_client, screws, bars):
    type(screws.item).objects.filter(pk=screws.item_id).update(value_class="A", use_class="X")
    shown = text(maker_client.get(reverse("stock"), {"value_class": "A"}))
    assert "SCREW-M4" in shown
    assert "A X" in shown
    assert "BAR-4X40" not in shown


def test_list_of_which_nothing_is_counted_is_not_closed_as_agreeing(maker_client, screws):
    count = started()
    review = reverse("count-review", args=[count.number])
    assert "agrees" not in text(maker_client.get(review))
    actions.enter_count(line=count.lines.get(), counted=make.D(137))
    assert "What is counted agrees: close the count" in text(maker_client.get(review))
