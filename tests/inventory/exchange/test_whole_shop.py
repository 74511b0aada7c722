"""A whole shop goes out as one ZIP and comes in again: same balances, same audit, same forecast."""

import csv
import io
import json
import zipfile
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import connection, models
from django.utils import timezone

from inventory import actions
from inventory.actions.past_builds import PastRow
from inventory.actions.update_forecast import update_forecast
from inventory.errors import Refused
from inventory.exchange.whole_shop import _models, read_whole_shop, write_whole_shop
from inventory.guards import drop_guards, install_guards
from inventory.models import Balance, ForecastRun, Item, ItemForecast, Lot, Movement, Posting, User
from inventory.queries.audit import audit
from tests import factories as make
from tests.factories import D, days

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(owner: Any) -> make.KnifeShop:
    knives = make.knife_shop()
    batch = make.reserved(knives.knife, 4)
    actions.start_batch(batch=batch, day=make.DAY, by=owner)
    entry = actions.issue_stock(item=knives.screws, qty=D(2), day=make.DAY, reason="repair")
    actions.reverse_posting(posting=entry, day=days(1))
    piece = Balance.objects.filter(item=knives.bar, qty=1000).last().piece
    actions.cut_piece(
        piece=piece, parts=[(300_000, None, 1)], remnants=[(500_000, None)], day=days(2)
    )
    make.order(make.offer(knives.screws, pack_qty=D(100)))
    actions.record_past_builds(
        rows=[PastRow(knives.knife, days(-7 * n), 6, 5, "=odd\r\nnote ø") for n in range(1, 60)]
    )
    lot = knives.bar.lots.get()
    lot.certificate.save("heat.pdf", ContentFile(b"%PDF certificate"))
    return knives


def zipped() -> bytes:
    file = io.BytesIO()
    write_whole_shop(file)
    return file.getvalue()


def empty_the_database() -> None:
    drop_guards(connection)
    with connection.constraint_checks_disabled(), connection.cursor() as cursor:
        for model in _models():
            cursor.execute(f"DELETE FROM {model._meta.db_table}")
    install_guards(connection)


def content(model: type[models.Model]) -> list[tuple[Any, ...]]:
    names = [field.attname for field in model._meta.concrete_fields if field.name != "password"]
    return list(model._base_manager.order_by("pk").values_list(*names))


def forecast_figures() -> list[tuple[Any, ...]]:
    run = update_forecast(as_of=days(20), seed=7)
    figures = ItemForecast.objects.filter(run=run).order_by("item__code")
    return list(figures.values_list("item__code", "reorder_point", "order_up_to", "weeks"))


def test_shop_comes_back_as_it_was_and_forecasts_the_same(shop):
    expected = forecast_figures()
    ForecastRun.objects.all().delete()
    before, whole = {model: content(model) for model in _models()}, zipped()
    certificate = Lot.objects.exclude(certificate="").get().certificate.name
    default_storage.delete(certificate)
    empty_the_database()
    counts = read_whole_shop(whole)
    assert {model: content(model) for model in _models()} == before
    assert sum(counts.values()) == sum(map(len, before.values())) > 150
    assert audit() == []
    with default_storage.open(certificate) as file:
        assert file.read() == b"%PDF certificate"
    assert forecast_figures() == expected


def test_records_go_on_from_the_last_number(shop):
    whole = zipped()
    last = Posting.objects.latest("pk").pk
    default_storage.delete(Lot.objects.exclude(certificate="").get().certificate.name)
    empty_the_database()
    read_whole_shop(whole)
    lot = make.stock(Item.objects.get(code="SCREW-M4"), 5)
    assert lot.movements.get().posting_id > last


def test_nobody_signs_in_with_a_password_of_the_old_place(shop, owner):
    owner.set_password("bracken-and-ember")
    owner.save()
    whole = zipped()
    assert b"md5$" not in zipfile.ZipFile(io.BytesIO(whole)).read("inventory_user.csv")
    default_storage.delete(Lot.objects.exclude(certificate="").get().certificate.name)
    empty_the_database()
    read_whole_shop(whole)
    assert not User.objects.get(username="owner").has_usable_password()


def test_whole_shop_does_not_go_into_one_that_is_there(shop):
    with pytest.raises(Refused, match="There are records in this database already"):
        read_whole_shop(zipped())


def changed(whole: bytes, name: str, change: Any) -> bytes:
    """The same ZIP with one member changed."""
    file = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(whole)) as old, zipfile.ZipFile(file, "w") as new:
        for each in old.namelist():
            member = old.read(each)
            new.writestr(each, change(member) if each == name else member)
    return file.getvalue()


def without_last_row(member: bytes) -> bytes:
    return member[: member.rstrip().rindex(b"\r\n") + 2]


def one_file_more(member: bytes) -> bytes:
    said = json.loads(member)
    return json.dumps({**said, "files": [*said["files"], "certificates/more.pdf"]}).encode()


def other(key: str, value: Any) -> Any:
    return lambda member: json.dumps({**json.loads(member), key: value}).encode()


@pytest.mark.parametrize(
    ("name", "change", "match"),
    [
        ("inventory_movement.csv", without_last_row, "don't agree with the ledger"),
        ("inventory_runningnumber.csv", without_last_row, "Records are missing"),
        ("inventory_pastbuild.csv", without_last_row, "damaged: unexpected end of data"),
        ("inventory_item.csv", without_last_row, "names one that isn't there"),
        (
            "inventory_item.csv",
            lambda m: m.replace(b"code", b"cipher", 1),
            "columns of inventory_item",
        ),
        ("inventory_lot.csv", lambda m: m.replace(b"2025", b"2O25", 1), "can't stand in"),
        ("manifest.json", other("schema", "0000_older"), "of the version with 0000_older"),
        ("manifest.json", other("kind", "else"), "holds no whole shop"),
        ("manifest.json", lambda m: m[:-2], "no whole shop, or it is damaged"),
        ("manifest.json", lambda m: b"[]", "holds no whole shop"),
        ("manifest.json", other("files", ["../../evil"]), "No record names the file"),
        ("manifest.json", one_file_more, "No record names the file certificates/more.pdf"),
        ("manifest.json", other("files", 5), "manifest.json of this ZIP has been changed"),
        ("manifest.json", other("tables", [1]), "manifest.json of this ZIP has been changed"),
    ],
    ids=[
        *[
            "ledger cut short",
            "numbers cut short",
            "text cut short",
            "item missing",
            "other columns",
        ],
        *[
            "no day",
            "other version",
            "other kind",
            "half a manifest",
            "no manifest",
            "file nobody names",
            "one file too many",
            "no files",
            "no counts",
        ],
    ],
)
def test_zip_that_was_changed_is_refused_and_nothing_is_loaded(shop, name, change, match):
    whole = zipped()
    certificate = Lot.objects.exclude(certificate="").get().certificate.name
    default_storage.delete(certificate)
    empty_the_database()
    with pytest.raises(Refused, match=match):
        read_whole_shop(changed(whole, name, change))
    assert not any(model._base_manager.exists() for model in _models())
    assert not default_storage.exists(certificate)


def test_no_zip_at_all_is_refused():
    with pytest.raises(Refused, match="no whole shop, or it is damaged"):
        read_whole_shop(b"code,name\r\n")
    nothing = io.BytesIO()
    zipfile.ZipFile(nothing, "w").close()
    with pytest.raises(Refused, match="no whole shop, or it is damaged"):
        read_whole_shop(nothing.getvalue())


def test_endless_note_comes_back_whole(shop):
    note = "worn " * 40_000
    actions.save_item(values={"note": note}, item=shop.bar)
    whole = zipped()
    empty_the_database()
    default_storage.delete("certificates/heat.pdf")
    read_whole_shop(whole)
    assert Item.objects.get(code=shop.bar.code).note == note


def test_checking_a_zip_loads_nothing(shop):
    whole = zipped()
    empty_the_database()
    assert read_whole_shop(whole, only_check=True)["inventory_movement"] > 0
    assert not Movement.objects.exists()


def test_tables_of_the_zip_open_in_a_spreadsheet(shop):
    with zipfile.ZipFile(io.BytesIO(zipped())) as archive:
        text = archive.read("inventory_balance.csv").decode("utf-8-sig")
        manifest = json.loads(archive.read("manifest.json"))
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == manifest["tables"]["inventory_balance"] == Balance.objects.count()
    assert sum(D(row["qty"]) for row in rows) == sum(Balance.objects.values_list("qty", flat=True))
    assert timezone.datetime.fromisoformat(manifest["made_at"]) - timezone.now() < timedelta(
        hours=1
    )
