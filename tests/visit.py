"""What a person reads and sends on the pages of the shop, without a browser."""

import re
import uuid
from typing import Any

from django.http import HttpResponse
from django.test import Client
from django.urls import reverse


def words(answer: HttpResponse) -> str:
    """What a page says, tags and runs of space taken out."""
    text = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", text).replace("\u202f", " ")


def read(client: Client, address: str, status: int = 200) -> str:
    """What the page at an address says, which must answer with that status."""
    answer = client.get(address)
    assert answer.status_code == status
    return words(answer)


def send(client: Client, address: str, **values: Any) -> HttpResponse:
    """Send the form of a page, as one tap would."""
    return client.post(address, {"key": uuid.uuid4(), **values})


def send_to(client: Client, page: str, /, *args: Any, **values: Any) -> HttpResponse:
    """The same by the page's name and what its address holds."""
    return send(client, reverse(page, args=args), **values)
