"""What tests of several rooms of the site share."""

from collections.abc import Iterator

import pytest
from django.db import connection

from tests.workers import Workers


@pytest.fixture(scope="session")
def workers(django_db_setup: None, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Workers]:
    """Other processes in the tests' database; the test has to be one that commits."""
    workers = Workers(connection.settings_dict["NAME"], tmp_path_factory.mktemp("workers"))
    yield workers
    workers.close()
