"""manage.py forecast"""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import CommandError
from django.utils import timezone

from inventory.actions.update_forecast import update_forecast, work_out_run
from inventory.errors import Refused
from inventory.management.demand_forecast import (
    add_demand_options,
    as_json,
    demand_forecast,
    in_words,
)
from inventory.management.shop_command import ShopCommand
from inventory.models import ForecastRun
from inventory.queries.forecast_accuracy import runs_kept


class Command(ShopCommand):
    help = "Forecast builds and use from the records; the reorder list rests on the newest run."
    requires_migrations_checks = False  # a table of one's own needs no shop
    requires_system_checks = ()  # they load every page, which a nightly run doesn't need

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--seed", type=int, default=1, help="of the simulated futures")
        parser.add_argument("--run", type=int, help="work out the run that a page has queued")
        add_demand_options(parser)

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            if options["demand"] is not None:
                self._forecast_table(options)
                return
            self.check_migrations()
            run = self._work_out(options["run"], options["seed"])
        except Refused as refusal:
            raise CommandError(str(refusal)) from refusal
        self.stdout.write(
            f"Forecast of {run.as_of}: {run.products.count()} products, {run.items.count()} items, "
            f"{run.seconds:.1f} s. {runs_kept()} run(s) kept."
        )

    def _forecast_table(self, options: dict[str, Any]) -> None:
        result = demand_forecast(options)
        if options["json"]:
            self.stdout.write(as_json(result, options))
            return
        self.stdout.write(result.to_csv(index=False, float_format="%.6g"), ending="")
        self.stderr.write(in_words(result), style_func=str)

    def _work_out(self, queued: int | None, seed: int) -> ForecastRun:
        if queued is None:
            return update_forecast(as_of=timezone.localdate(), seed=seed)
        run = ForecastRun.objects.filter(pk=queued).first()
        if run is None:
            raise CommandError(f"There is no run {queued}. Leave --run out to start a new one.")
        return work_out_run(run=run)
