"""The owner, reminded on Today, makes a backup and takes it along."""

import zipfile

import pytest
from playwright.sync_api import expect

from tests import factories as make

pytestmark = pytest.mark.django_db(transaction=True)


def test_reminder_leads_to_a_backup_in_hand(laptop, settings, tmp_path, axe):
    settings.BACKUP_DIR = tmp_path / "backups"
    make.offer(make.knife_shop().screws)
    laptop.goto("/")
    expect(laptop.get_by_text("No backup was made yet")).to_be_visible()
    axe(laptop)
    laptop.get_by_role("button", name="Back up now").click()
    expect(laptop.get_by_text("Backup made and checked")).to_be_visible()
    axe(laptop)
    with laptop.expect_download() as download:
        laptop.get_by_role("link", name="Download the newest").click()
    assert zipfile.ZipFile(download.value.path()).testzip() is None
    laptop.goto("/")
    expect(laptop.get_by_role("button", name="Back up now")).to_have_count(0)
