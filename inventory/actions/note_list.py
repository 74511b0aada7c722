"""How the reorder list stood when a run became whole, so that the next can say what changed."""

from inventory.actions.request import action
from inventory.models import ForecastRun, ItemForecast
from inventory.queries.reorder_list import reorder_lines

FIELDS = ["was_due", "position_then", "packs_then"]


@action
def note_list(*, run: ForecastRun) -> None:
    """Write to each item of the run whether it was due, its position and the packs to order."""
    noted = []
    for line in reorder_lines(run, run.as_of):
        forecast = line.forecast
        forecast.was_due = line.is_due
        forecast.position_then = float(line.position)
        forecast.packs_then = line.choice.packs if line.choice else None
        noted.append(forecast)
    ItemForecast.objects.bulk_update(noted, FIELDS)
