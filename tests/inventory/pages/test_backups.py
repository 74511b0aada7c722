"""The owner's backup at a button, to take along, and the reminder on Today."""

import uuid
import zipfile
from datetime import timedelta

import pytest
from django.utils import timezone

from inventory.queries.backups import LAST, newest_backup
from tests import factories as make

pytestmark = pytest.mark.django_db
BACK_UP, NEWEST = "/settings/backup/", "/settings/backup/newest/"


@pytest.fixture(autouse=True)
def folder(settings, tmp_path):
    settings.BACKUP_DIR = tmp_path / "backups"
    settings.MEDIA_ROOT = tmp_path / "files"
    return settings.BACKUP_DIR


@pytest.fixture
def shop():
    """The factories' shop with something to buy, so that the first steps are done."""
    make.offer(make.knife_shop().screws)


def back_up(client):
    return client.post(BACK_UP, {"key": uuid.uuid4()}, follow=True)


def noted(folder, days):
    folder.mkdir()
    (folder / LAST).write_text((timezone.now() - timedelta(days=days)).isoformat())


@pytest.mark.django_db(transaction=True)
def test_owner_makes_a_backup_and_takes_it_along(owner_client, tmp_path):
    page = back_up(owner_client)
    assert page.redirect_chain == [("/settings/", 302)]
    assert "Backup made and checked" in page.content.decode()
    assert f'href="{NEWEST}"' in page.content.decode()
    answer = owner_client.get(NEWEST)
    name = newest_backup().path.name
    assert answer.headers["Content-Disposition"] == f'attachment; filename="{name}"'
    taken = tmp_path / "taken.zip"
    taken.write_bytes(b"".join(answer.streaming_content))
    answer.close()
    assert zipfile.ZipFile(taken).testzip() is None


def test_settings_of_a_shop_without_a_backup_say_so(owner_client):
    page = owner_client.get("/settings/").content.decode()
    assert "There is none on this computer yet" in page
    assert NEWEST not in page
    assert owner_client.get(NEWEST).status_code == 404


def test_backup_that_is_refused_is_a_sentence_on_the_page(owner_client, folder):
    folder.touch()  # where a folder should be
    answer = back_up(owner_client)
    assert answer.status_code == 422
    assert "The backup wasn&#x27;t made" in answer.content.decode()


@pytest.mark.parametrize("who", ["maker", "viewer"])
def test_only_the_owner_backs_up(request, folder, who):
    client = request.getfixturevalue(f"{who}_client")
    assert back_up(client).status_code == 403
    assert client.get(NEWEST).status_code == 403
    assert "Backups" not in client.get("/settings/").content.decode()
    assert not folder.exists()


def test_shop_never_backed_up_is_told_to_the_owner(owner_client, shop):
    page = owner_client.get("/").content.decode()
    assert "No backup was made yet" in page
    assert f'action="{BACK_UP}"' in page


def test_old_backup_is_named_with_its_age(owner_client, shop, folder):
    noted(folder, 12)
    assert "The last backup was made 12 days ago" in owner_client.get("/").content.decode()


def test_young_backup_is_no_matter_for_today(owner_client, shop, folder):
    noted(folder, 6)
    assert BACK_UP not in owner_client.get("/").content.decode()


@pytest.mark.parametrize("who", ["maker", "viewer"])
def test_others_are_not_reminded(request, shop, who):
    page = request.getfixturevalue(f"{who}_client").get("/").content.decode()
    assert "backup" not in page.lower()
