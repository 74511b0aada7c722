"""A forecast run started in the background, and how far it is."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from inventory.actions.forecast_runs import settle_open_run
from inventory.actions.start_forecast import start_forecast
from inventory.models import ForecastRun
from inventory.pages.forms import ActionForm, ActionPage
from inventory.queries.forecast_inputs import latest_run
from inventory.queries.forecast_runs import failed_since


class UpdateForecast(ActionPage):
    """Work the forecast out again, in the background."""

    form_class = ActionForm
    heading = "Work the forecast out again"
    sub = (
        "From the builds on record, the batches planned and the bills in force today. It is worked "
        "out in the background; the list stays as it is until the new one is whole."
    )
    submit_label = "Recalculate"

    def act(self, form: ActionForm) -> ForecastRun:
        return start_forecast(as_of=timezone.localdate(), **form.asked)

    def message_for(self, result: ForecastRun) -> str:
        return ""  # the bar on the page says it

    def done_url(self, result: ForecastRun | None) -> str:
        return reverse("forecast" if self.request.GET.get("to") == "forecast" else "reorder")

    def back_url(self) -> str:
        return self.done_url(None)


def run_part(request: HttpRequest) -> HttpResponse:
    """The bar alone, asked for again and again by a page that shows it."""
    whole = latest_run()
    shown = run_news(whole)
    waited_for = request.GET.get("run", "")
    shown["is_new"] = whole is not None and waited_for.isdecimal() and int(waited_for) <= whole.pk
    shown["here"] = request.htmx.current_url_abs_path or reverse("reorder")
    return render(request, "forecast/run.html", shown)


def run_news(whole: ForecastRun | None) -> dict[str, Any]:
    """What forecast/run.html shows on a page that rests on that run."""
    under_way = settle_open_run()
    return {
        "under_way": under_way,
        "failed": None if under_way else failed_since(whole),
        "whole": whole,
    }
