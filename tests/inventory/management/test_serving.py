"""The pages served by one process."""

import socket
from threading import Event

import pytest
import waitress
from django.core.management import CommandError

from inventory.management import serving


@pytest.fixture
def port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        return taken.getsockname()[1]


def test_solver_is_loaded_while_the_first_pages_are_served(monkeypatch, port):
    loaded, said = Event(), []
    monkeypatch.setattr(serving, "load_solver", loaded.set)
    monkeypatch.setattr(waitress, "serve", lambda application, **address: loaded.wait(5))
    serving.serve("127.0.0.1", port, said.append)
    assert loaded.is_set()
    assert said == [f"Serving on http://127.0.0.1:{port}/ (stop with Ctrl+C)"]


def test_taken_port_is_refused_with_another_to_try(monkeypatch):
    monkeypatch.setattr(waitress, "serve", None)
    with (
        socket.create_server(("127.0.0.1", 0)) as taken,
        pytest.raises(CommandError, match="is in use. Choose another"),
    ):
        serving.serve("127.0.0.1", taken.getsockname()[1], print)
