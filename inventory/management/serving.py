"""The pages served by one process, from this machine alone unless told otherwise."""

import socket
from argparse import ArgumentParser
from collections.abc import Callable
from threading import Thread

from django.core.management.base import CommandError

from inventory.cutting.program import load_solver


def add_address(parser: ArgumentParser) -> None:
    parser.add_argument("--host", default="127.0.0.1", help="0.0.0.0 lets phones in the shop in")
    parser.add_argument("--port", type=int, default=8000)


def serve(host: str, port: int, say: Callable[[str], object]) -> None:
    """Serve until interrupted. Raises: CommandError when the port is taken."""
    import waitress

    from inventory.wsgi import application

    with socket.socket() as probe:
        if probe.connect_ex(("127.0.0.1" if host == "0.0.0.0" else host, port)) == 0:
            raise CommandError(f"Port {port} is in use. Choose another: --port {port + 1}")
    Thread(target=load_solver, daemon=True).start()  # before the first batch check asks for it
    say(f"Serving on http://{host}:{port}/ (stop with Ctrl+C)")
    waitress.serve(application, host=host, port=port, threads=8, ident=None)
