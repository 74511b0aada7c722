"""The whole shop in one file, and back: database, attached files, and the proof of both."""

from inventory.exchange.backup.archive import Manifest
from inventory.exchange.backup.make import Made, make_backup
from inventory.exchange.backup.restore import Restored, restore_backup
from inventory.exchange.backup.rotation import KEPT

__all__ = ["KEPT", "Made", "Manifest", "Restored", "make_backup", "restore_backup"]
