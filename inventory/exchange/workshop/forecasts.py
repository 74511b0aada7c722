"""Forecasts of earlier days, each from what the records held by then."""

from datetime import date

from inventory.actions.update_forecast import update_forecast
from inventory.exchange.workshop.days import DatedFiles, Deed
from inventory.exchange.workshop.files import Row

__all__ = ["ForecastFile"]


class ForecastFile(DatedFiles):
    def deeds(self) -> list[Deed]:
        return list(self.each_row("forecasts.csv", "forecast", self._forecast))

    def _forecast(self, row: Row, day: date) -> None:
        update_forecast(as_of=day)
