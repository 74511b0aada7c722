"""What every page knows."""

from django.http import HttpRequest

from inventory.models import Shop


def shop(request: HttpRequest) -> dict:
    """The shop's name and currency for the header and for amounts."""
    return {"shop": Shop.objects.first()}
