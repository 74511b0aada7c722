"""What a page may import must not load the heavy libraries."""

import subprocess
import sys

import pytest


def loaded(module, *libraries):
    code = f"import sys, {module}; print([name for name in {libraries} if name in sys.modules])"
    result = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    return result.stdout.strip()


@pytest.mark.parametrize(
    "name",
    [
        *("order_quantity", "reorder_point", "rejects", "netting", "lot_sizing", "joint_orders"),
        "use_ahead",
    ],
)
def test_module_asked_on_every_page_loads_only_the_standard_library(name):
    assert loaded(f"forecasting.{name}", "numpy", "pandas", "scipy", "statsforecast") == "[]"


def test_forecast_loads_statsforecast_only_when_it_is_used():
    assert loaded("forecasting.plan", "statsforecast", "django") == "[]"
