"""What the commands about the shop's data share."""

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.db.migrations.executor import MigrationExecutor


class ShopCommand(BaseCommand):
    """A command that reads the shop's data; refused in words while there is none of this version."""

    requires_migrations_checks = True

    def check_migrations(self) -> None:
        executor = MigrationExecutor(connection)
        if executor.migration_plan(executor.loader.graph.leaf_nodes()):
            raise CommandError(
                f"The data in {settings.DATA_DIR} isn't there yet or is of an earlier version. "
                "Run python3 manage.py start once; it makes the database or brings it up to date."
            )
