"""Lists brought in and taken along by the owner."""

import io
import time
import uuid
import zipfile
from typing import Any

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from inventory.exchange import uploads
from inventory.models import Item, PastBuild
from tests import factories as make

pytestmark = pytest.mark.django_db
ITEMS = "code,name,kind\nBOLT,Bolt,fastener\nSCREW-M4,Long screw,fastener\n"


def upload(client: Any, name: str, text: str | bytes) -> str:
    content = text.encode() if isinstance(text, str) else text
    file = SimpleUploadedFile("list.csv", content)
    answer = client.post(reverse("list-in", args=[name]), {"file": file, "key": uuid.uuid4()})
    assert answer.status_code == 302, answer.content.decode()
    return answer.url


def page(client: Any, url: str) -> str:
    return client.get(url).content.decode()


def test_what_a_list_changes_is_shown_before_it_is_saved(owner_client):
    make.screws()
    url = upload(owner_client, "items", ITEMS)
    shown = page(owner_client, url)
    assert "1 new, 1 changed, 0 unchanged, 0 refused." in shown
    assert "name: screw-m4 → Long screw" in shown
    assert Item.objects.count() == 1
    assert owner_client.post(url).url == url
    assert "Saved: 1 new and 1 changed." in page(owner_client, url)
    assert Item.objects.get(code="SCREW-M4").name == "Long screw"


def test_saving_twice_enters_it_once(owner_client):
    make.product("TRAIL")
    url = upload(owner_client, "builds", "product,day,started\nTRAIL,2024-03-05,4\n")
    for _ in range(2):
        owner_client.post(url)
    assert PastBuild.objects.count() == 1


def test_same_list_again_says_that_nothing_is_to_save(owner_client):
    owner_client.post(upload(owner_client, "items", ITEMS))
    shown = page(owner_client, upload(owner_client, "items", ITEMS))
    assert "0 new, 0 changed, 2 unchanged" in shown
    assert "There is nothing to save" in shown
    assert "Save all of it" not in shown


def test_refused_row_is_named_and_nothing_can_be_saved(owner_client):
    url = upload(owner_client, "items", ITEMS + "NUT,Nut,nonsense\n")
    shown = page(owner_client, url)
    assert "“nonsense” is not one of" in shown
    assert "Save all of it" not in shown
    owner_client.post(url)
    assert not Item.objects.exists()


def test_order_of_day_and_month_is_asked_once_for_the_file(owner_client):
    make.product("TRAIL")
    text = "product,day,started\nTRAIL,05/03/2024,4\nTRAIL,06/03/2024,4\n"
    url = upload(owner_client, "builds", text)
    assert "the month comes first" in page(owner_client, url)
    assert owner_client.post(url, {"days": ""}).status_code == 422
    owner_client.post(url, {"days": "day"})
    owner_client.post(url)
    assert [str(build.day) for build in PastBuild.objects.all()] == ["2024-03-05", "2024-03-06"]


def test_shop_that_changed_in_between_is_looked_at_again(owner_client):
    url = upload(owner_client, "items", ITEMS)
    make.screws()
    owner_client.post(url)
    assert "The shop has changed since this was shown" in page(owner_client, url)
    assert Item.objects.count() == 1


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("name,kind\nBolt,fastener\n", "Items need the column code, but the first row reads"),
        ("", "The submitted file is empty"),
        (b"\x00\x01\x02\x03" * 9, "neither CSV text nor an XLSX workbook"),
        (b"PK\x05\x06" + b"\x00" * 18, "workbook can&#x27;t be read"),
    ],
    ids=["column missing", "nothing", "no text", "empty archive"],
)
def test_file_that_is_no_such_list_is_refused_in_words(owner_client, content, said):
    raw = content.encode() if isinstance(content, str) else content
    file = SimpleUploadedFile("list.csv", raw)
    answer = owner_client.post(
        reverse("list-in", args=["items"]), {"file": file, "key": uuid.uuid4()}, follow=True
    )
    assert said in answer.content.decode()
    assert not Item.objects.exists()


def test_upload_of_another_person_is_not_shown(owner_client, client):
    url = upload(owner_client, "items", ITEMS)
    other = make_owner("second")
    client.force_login(other)
    assert client.get(url).url == reverse("lists")


def make_owner(name: str) -> Any:
    from inventory.models import User

    return User.objects.create_user(username=name, role="owner")


@pytest.mark.parametrize("name", ["list-blank", "list-out"])
def test_lists_and_blank_forms_come_as_csv_and_workbook(owner_client, name):
    text = owner_client.get(reverse(name, args=["items", "csv"]))
    assert text.headers["Content-Disposition"].endswith('.csv"')
    assert text.content.startswith(b"\xef\xbb\xbfcode,name,kind")
    book = owner_client.get(reverse(name, args=["items", "xlsx"])).content
    assert openpyxl.load_workbook(io.BytesIO(book)).worksheets[0]["A1"].value == "code"


def test_whole_shop_comes_as_a_zip(owner_client):
    answer = owner_client.get(reverse("whole-shop"))
    content = b"".join(answer.streaming_content)
    assert "inventory_movement.csv" in zipfile.ZipFile(io.BytesIO(content)).namelist()


def test_list_or_form_that_does_not_exist_is_not_found(owner_client):
    assert owner_client.get("/settings/lists/nonsense/").status_code == 404
    assert owner_client.get("/settings/lists/items/out/ods/").status_code == 404


@pytest.mark.django_db(transaction=True)
def test_long_list_is_worked_on_beside_the_page(owner_client, monkeypatch):
    monkeypatch.setattr(uploads, "AT_ONCE_BYTES", 0)
    monkeypatch.setattr(uploads, "AT_ONCE_RECORDS", 0)
    url = upload(owner_client, "items", ITEMS)
    wait_for(owner_client, url, "Save all of it")
    owner_client.post(url)
    wait_for(owner_client, url, "Saved: 2 new")
    assert Item.objects.count() == 2


def wait_for(client: Any, url: str, words: str) -> None:
    for _ in range(100):
        if words in page(client, url):
            return
        assert client.get(url, headers={"HX-Request": "true"}).status_code == 200
        time.sleep(0.05)
    raise AssertionError(f"“{words}” never stood there")


def test_workbook_with_more_sheets_says_which_was_read(owner_client):
    book = openpyxl.Workbook()
    book.active.title = "Bolts"
    for row in (["code", "name", "kind"], ["BOLT", "Bolt", "fastener"]):
        book.active.append(row)
    book.create_sheet("Nuts").append(["code", "name", "kind"])
    file = io.BytesIO()
    book.save(file)
    shown = page(owner_client, upload(owner_client, "items", file.getvalue()))
    assert "Only the first sheet, Bolts, is read; not Nuts." in shown


def test_order_in_which_a_new_shop_brings_its_lists_is_said(owner_client):
    shown = page(owner_client, reverse("lists")).replace("&nbsp;", " ")
    assert (
        "1. Suppliers, 2. Items, 3. Opening stock, 4. Products, 5. Choices of products, 6. Offers, "
        "7. Bills" in shown
    )
    assert "may serve Items, Opening stock and Offers" in shown
