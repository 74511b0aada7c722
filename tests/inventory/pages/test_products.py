"""Products, their bills and what a knife costs."""

import pytest
from django.urls import reverse

from inventory.models import BillOfMaterials, Product
from tests import factories as make
from tests.visit import send_to

pytestmark = pytest.mark.django_db


@pytest.fixture
def knives(db):
    return make.knife_shop()


def bill_form(client, page, /, *args):
    """What a browser would send back of the form as it stands."""
    form = client.get(reverse(page, args=args)).context["form"]
    sent = {name: form[name].value() for name in form.fields}
    for _, rows, _ in form.rowsets:
        sent |= {
            f"{rows.prefix}-{name}": rows.management_form[name].value()
            for name in rows.management_form.fields
        }
        for row in rows:
            sent |= {field.html_name: field.value() for field in row}
    return {name: value for name, value in sent.items() if value is not None and value is not False}


def test_product_list_counts_what_was_made(viewer_client, knives):
    make.plan(knives.knife, 6)
    row = viewer_client.get("/products/").context["table"].rows[0]
    assert (row.record.code, row.record.coming, row.record.revision) == ("TRAIL", 6, 1)


def test_product_page_shows_operations_cuts_waits_and_made_parts(viewer_client, knives):
    page = viewer_client.get("/products/TRAIL/").content.decode()
    assert "1 × 240 mm" in page
    assert "yield 90" in page
    assert "Then 1 day of waiting" in page
    assert reverse("part-bill", args=["SHEATH"]) in page


def test_cost_follows_the_batch_size_asked_for(viewer_client, knives):
    make.offer(knives.harden, price=8, lot_charge=make.D(60))
    costs = [
        viewer_client.get(f"/products/TRAIL/?knives={count}").context["cost"] for count in (1, 100)
    ]
    assert [cost.wanted for cost in costs] == [1, 100]
    assert costs[0].total - costs[1].total > 50  # the load's charge, spread over one or a hundred


@pytest.mark.parametrize("asked", ["0", "-3", "x", "9999999"])
def test_odd_batch_size_is_brought_within_reason(viewer_client, knives, asked):
    assert 1 <= viewer_client.get(f"/products/TRAIL/?knives={asked}").context["knives"] <= 1000


def test_product_without_a_bill_says_what_comes_next(viewer_client):
    make.shop()
    make.product("NEW")
    assert "No bill yet" in viewer_client.get("/products/NEW/").content.decode()


def test_new_product_gets_its_choices_the_usual_one_first(owner_client):
    make.shop()
    typed = {"code": "FIELD", "name": "Field", "active": "on"}
    send_to(owner_client, "product-new", **typed, choices="Handle colour: black, orange")
    product = Product.objects.get()
    assert {(o.choice, o.is_default) for o in product.options.all()} == {
        ("black", True),
        ("orange", False),
    }


@pytest.mark.parametrize("code", ["A/B", "A B", "new", ".", "..", "=1+1", "A?"])
def test_code_that_would_break_an_address_is_refused(owner_client, code):
    response = send_to(owner_client, "product-new", code=code, name="x")
    assert response.status_code == 422
    assert not Product.objects.exists()


def test_bill_sent_back_as_it_stands_is_the_same_bill_in_a_new_revision(owner_client, knives):
    sent = bill_form(owner_client, "product-bill-edit", "TRAIL")
    response = send_to(owner_client, "product-bill-edit", "TRAIL", **sent)
    assert response.url == "/products/TRAIL/"
    old, new = (said(bill) for bill in BillOfMaterials.objects.filter(product__code="TRAIL"))
    assert old == new


def test_wear_line_says_its_pocket_and_its_work_and_keeps_them(owner_client, knives):
    sent = bill_form(owner_client, "product-bill-edit", "TRAIL")
    work = {"machine": "Mill", "pocket": "3", "work_material": "440C", "cutting_data": "60 m/min"}
    sent |= {f"wear-0-{name}": value for name, value in work.items()}
    send_to(owner_client, "product-bill-edit", "TRAIL", **sent)
    bill = BillOfMaterials.objects.get(product__code="TRAIL", status="active")
    wear = bill.operations.first().wear_lines.get()
    assert (wear.machine.name, wear.pocket, wear.cutting_data) == ("Mill", "3", "60 m/min")
    page = owner_client.get("/products/TRAIL/").content.decode()
    assert "Mill pocket 3, cuts 440C, 60 m/min" in page
    again = bill_form(owner_client, "product-bill-edit", "TRAIL")
    assert again["wear-0-pocket"] == "3"


def test_machine_that_is_not_there_is_refused_in_its_row(owner_client, knives):
    sent = bill_form(owner_client, "product-bill-edit", "TRAIL")
    response = send_to(
        owner_client, "product-bill-edit", "TRAIL", **(sent | {"wear-0-machine": "Lathe"})
    )
    assert response.status_code == 422
    assert "No machine is called “Lathe”" in response.content.decode()


def said(bill):
    """Everything of a bill but its revision."""
    return [
        (
            *(step.number, step.name, step.good_share, step.setup_size, step.wait_days),
            [
                (line.item.code, line.qty, line.per, line.loss_share, *line_cut(line))
                for line in step.lines.all()
            ],
            [
                (wear.item.code, wear.life_per_knife, wear.machine, wear.pocket)
                + (wear.work_material, wear.cutting_data)
                for wear in step.wear_lines.all()
            ],
            step.service,
        )
        for step in bill.operations.all()
    ]


def line_cut(line):
    return line.cut_length_um, line.cut_width_um, line.allowance_um, line.may_turn


def test_inch_reader_sends_the_same_bill_back(owner_client, owner, knives):
    owner.length_unit = "in"
    owner.save()
    sent = bill_form(owner_client, "product-bill-edit", "TRAIL")
    assert sent["line-0-cut"].endswith("in")
    send_to(owner_client, "product-bill-edit", "TRAIL", **sent)
    cuts = [
        bill.operations.first().lines.first().cut_length_um
        for bill in BillOfMaterials.objects.filter(product__code="TRAIL")
    ]
    assert abs(cuts[0] - cuts[1]) <= 25  # three decimals of an inch


def test_new_line_is_added_and_another_taken_out(owner_client, knives):
    make.item("OIL", "chemical", "mL")
    sent = bill_form(owner_client, "product-bill-edit", "TRAIL")
    sent |= {"line-0-DELETE": "on"}
    sent |= {"line-5-number": "20", "line-5-item": "OIL", "line-5-qty": "2 mL"}
    send_to(owner_client, "product-bill-edit", "TRAIL", **sent)
    steps = BillOfMaterials.objects.get(revision=2).operations.all()
    taken = [line.item.code for step in steps for line in step.lines.all()]
    assert taken == ["OIL", "BLOCK", "SCREW-M4", "EPOXY", "SHEATH"]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"line-1-number": "35"}, "operation 35, which isn"),
        ({"op-1-number": "10"}, "there twice"),
        ({"line-1-item": "NOTHING"}, "No item has the code"),
        ({"line-3-qty": "3 in"}, "measures a length"),
        ({"op-0-good_percent": "120"}, "less than or equal to 100"),
    ],
    ids=[
        "line of no operation",
        "number twice",
        "unknown item",
        "wrong dimension",
        "yield above 100 %",
    ],
)
def test_bill_that_can_not_be_is_refused_whole(owner_client, knives, change, message):
    sent = bill_form(owner_client, "product-bill-edit", "TRAIL") | change
    response = send_to(owner_client, "product-bill-edit", "TRAIL", **sent)
    assert response.status_code == 422
    assert message in response.content.decode().replace("&#x27;", "'")
    assert BillOfMaterials.objects.filter(product=knives.knife).count() == 1


def test_part_that_would_contain_itself_is_refused(owner_client, knives):
    sent = bill_form(owner_client, "part-bill-edit", "BLOCK")
    sent |= {"line-1-number": "10", "line-1-item": "BLOCK", "line-1-qty": "1"}
    response = send_to(owner_client, "part-bill-edit", "BLOCK", **sent)
    assert "contains itself" in response.content.decode()
    assert BillOfMaterials.objects.filter(made_item=knives.block).count() == 1


def test_more_rows_keep_what_was_typed(owner_client, knives):
    sent = bill_form(owner_client, "product-bill-edit", "TRAIL") | {"op-0-name": "Mill twice"}
    before = int(sent["line-TOTAL_FORMS"])
    response = send_to(owner_client, "product-bill-edit", "TRAIL", **sent, more="line")
    form = response.context["form"]
    assert response.status_code == 200
    assert len(form.lines.forms) == before + 4
    assert form.operations.forms[0]["name"].value() == "Mill twice"


def test_earlier_revision_stays_readable(owner_client, knives):
    sent = bill_form(owner_client, "product-bill-edit", "TRAIL") | {"op-0-name": "Mill in one go"}
    send_to(owner_client, "product-bill-edit", "TRAIL", **sent)
    assert "Mill in one go" in owner_client.get("/products/TRAIL/").content.decode()
    earlier = owner_client.get("/products/TRAIL/bill/1/").content.decode()
    assert "Mill in one go" not in earlier
    assert "retired" in earlier


def test_product_page_takes_few_queries(viewer_client, knives, django_assert_max_num_queries):
    with django_assert_max_num_queries(34):
        viewer_client.get("/products/TRAIL/")


@pytest.mark.parametrize("page", ["product-bill-edit", "product-edit"])
def test_maker_may_not_change_a_product(maker_client, knives, page):
    assert maker_client.get(reverse(page, args=["TRAIL"])).status_code == 403
