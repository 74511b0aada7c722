"""manage.py start"""

import webbrowser
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand

from inventory.management.serving import add_address, serve
from inventory.models import User


class Command(BaseCommand):
    help = "The shop's own data: bring the database up to date and serve the pages."

    def add_arguments(self, parser: ArgumentParser) -> None:
        add_address(parser)
        parser.add_argument("--open", action="store_true", help="open the browser")

    def handle(self, *args: Any, **options: Any) -> None:
        call_command("migrate", verbosity=0, interactive=False)
        address = f"http://{options['host']}:{options['port']}/"
        self.stdout.write(f"Data: {settings.DATA_DIR}")
        if not User.objects.exists():
            self.stdout.write("First start: open the address, name the shop, make its owner.")
        if options["open"]:
            webbrowser.open(address)
        serve(options["host"], options["port"], self.stdout.write)
