from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from inventory.models import Item, PastBuild
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def file(tmp_path: Path) -> Any:
    def write(text: str, name: str = "list.csv") -> Path:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_list_is_brought_in_and_said(file, capsys):
    call_command("import", "items", file("code;name;kind\nBOLT;Bolt;fastener\nNUT;Nut;fastener\n"))
    assert Item.objects.count() == 2
    said = capsys.readouterr().out
    assert "2 new, 0 changed, 0 unchanged, 0 refused." in said
    assert "Saved: 2." in said


def test_checking_a_list_writes_nothing(file, capsys):
    make.screws("BOLT")
    call_command("import", "items", file("code,name\nBOLT,Long bolt\n"), "--check")
    assert "name: bolt -> Long bolt" in capsys.readouterr().out
    assert Item.objects.get().name == "bolt"


def test_refused_row_is_named_and_nothing_is_written(file, capsys):
    path = file("code,name,kind\nBOLT,Bolt,fastener\nNUT,Nut,nonsense\n")
    with pytest.raises(CommandError, match="Nothing was written"):
        call_command("import", "items", path)
    assert "“nonsense” is not one of: bar, sheet" in " ".join(capsys.readouterr().out.split())
    assert not Item.objects.exists()


def test_order_of_day_and_month_is_asked_for_once(file):
    make.product("TRAIL")
    path = file("product,day,started\nTRAIL,05/03/2024,4\n")
    with pytest.raises(CommandError, match="Say --first day or month"):
        call_command("import", "builds", path)
    call_command("import", "builds", path, "--first", "month")
    assert str(PastBuild.objects.get().day) == "2024-05-03"


def test_what_was_exported_is_there_already(tmp_path, capsys):
    make.knife_shop()
    for name in ("items.xlsx", "stock.csv"):
        path = tmp_path / name
        call_command("export", path.stem, path)
        call_command("import", path.stem, path)
    said = capsys.readouterr().out
    assert said.count("0 new, 0 changed") == 2
    assert "Saved" not in said


def test_whole_shop_is_written_and_checked(tmp_path):
    make.knife_shop()
    path = tmp_path / "shop.zip"
    call_command("export", "--all", path)
    with pytest.raises(CommandError, match="There are records in this database already"):
        call_command("import", "--all", path)


@pytest.mark.parametrize(
    ("asked", "match"),
    [
        (["import", "screws", "x.csv"], "x.csv can't be read: No such file"),
        (["import", "items", "x.csv", "--all"], "Name one list"),
        (["export", "x.csv"], "Name one list"),
        (["export", "screws", "x.csv"], "There is no list “screws”. There are: suppliers, items"),
        (["export", "items", "x.ods"], "Files are written as csv or xlsx, not as “ods”"),
        (["export", "items", "none/x.csv"], "can't be written: No such file"),
    ],
    ids=["no file", "both", "neither", "no such list", "other kind of file", "no such folder"],
)
def test_command_that_cannot_be_done_says_why(asked, match, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(CommandError, match=match):
        call_command(*asked)
    assert not list(tmp_path.iterdir())
