"""Messages of a page: what still waits to be read is not said again."""

from django.contrib.messages.storage.base import Message
from django.contrib.messages.storage.fallback import FallbackStorage
from django.utils.functional import Promise


class SaidOnce(FallbackStorage):
    """A double tap is booked once, so it is also told once."""

    def add(self, level: int, message: str | Promise, extra_tags: str = "") -> None:
        if Message(level, str(message)) not in self:
            super().add(level, message, extra_tags)
