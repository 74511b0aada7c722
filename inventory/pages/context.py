"""What every page knows."""

from django.http import HttpRequest

from inventory.models import Shop


def shop(request: HttpRequest) -> dict:
    """The shop's name and currency for the header and for amounts.

    Kept with the request: every table of a page is a template of its own and asks again.
    """
    if not hasattr(request, "shop"):
        request.shop = Shop.objects.first()
    return {"shop": request.shop}
