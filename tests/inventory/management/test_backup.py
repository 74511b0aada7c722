"""Backup and restore on the command line: what they say and how they end."""

import pytest
from django.core.management import CommandError, call_command

from inventory import actions
from inventory.models import Balance
from tests import factories as make

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def shop(settings, tmp_path, transactional_db):
    settings.BACKUP_DIR = tmp_path / "backups"
    settings.MEDIA_ROOT = tmp_path / "files"
    actions.set_up_shop(
        name="Thornwick Knives", currency="EUR", username="wren", password="grind-7-bevels"
    )
    make.stock(make.screws(), 100)


def test_backup_and_restore_say_what_was_done(capsys, settings):
    call_command("backup")
    path, counted, stock, advice = capsys.readouterr().out.splitlines()
    assert path.startswith(f"Backup made: {settings.BACKUP_DIR}")
    assert "tables, 0 attached files, each counted and compared." in counted
    assert stock == "The stock in it adds up."
    assert "copy it to another one" in advice
    call_command("restore", path.removeprefix("Backup made: "), "--replace")
    said = capsys.readouterr().out
    assert said.startswith("Thornwick Knives is back as of ")
    assert f"What was here before: {settings.BACKUP_DIR}" in said


def test_backup_onto_a_stick_needs_no_advice(capsys, tmp_path):
    (tmp_path / "stick").mkdir()
    call_command("backup", "--to", tmp_path / "stick")
    assert "copy it to another one" not in capsys.readouterr().out


def test_backup_of_stock_that_does_not_add_up_is_made_and_ends_with_1(capsys, settings):
    Balance.objects.update(qty=7)
    with pytest.raises(SystemExit, match="1"):
        call_command("backup")
    assert "SCREW-M4 lot L-0001" in capsys.readouterr().out
    file = next(settings.BACKUP_DIR.glob("*.zip"))
    with pytest.raises(SystemExit, match="1"):
        call_command("restore", file, "--replace")


def test_refusals_are_one_line(tmp_path):
    with pytest.raises(CommandError, match="There is no folder"):
        call_command("backup", "--to", tmp_path / "stick")
    with pytest.raises(CommandError, match="There is no file"):
        call_command("restore", tmp_path / "none.zip")
