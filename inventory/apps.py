"""The app and its start-up wiring."""

from django.apps import AppConfig
from django.db.models.signals import post_migrate


class InventoryConfig(AppConfig):
    name = "inventory"
    verbose_name = "Bevelbook"

    def ready(self) -> None:
        from inventory.guards import install_after_migrate

        post_migrate.connect(install_after_migrate, sender=self)
