"""Commands before there is any data of the shop."""

import pytest
from django.core.management import CommandError, call_command
from django.db.migrations.executor import MigrationExecutor

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    "words",
    [["audit_stock"], ["reorder"], ["forecast"], ["wear", "list"], ["batch_check", "TRAIL", "4"]],
    ids=" ".join,
)
def test_command_without_a_database_says_how_to_make_one(monkeypatch, words):
    monkeypatch.setattr(MigrationExecutor, "migration_plan", lambda self, targets: ["the first"])
    with pytest.raises(CommandError, match="Run python3 manage.py start once"):
        call_command(*words)


def test_forecast_of_a_shop_without_a_name_is_refused():
    with pytest.raises(CommandError, match="There is no shop yet"):
        call_command("forecast")


@pytest.mark.parametrize(
    "knives", ["²", "9" * 5000, "-1", "1.5", "12 x"], ids=lambda text: text[:5]
)
def test_check_of_no_number_of_knives_is_refused(knives):
    with pytest.raises(CommandError, match="is not a number of knives"):
        call_command("batch_check", "--", "TRAIL", knives)
