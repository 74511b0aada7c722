"""What a page may import must not load the heavy libraries."""

import subprocess
import sys

import pytest

WEEKLY_LEVELS = """
import pandas as pd
from forecasting.point_forecast import weekly_levels
weeks = pd.date_range("2024-01-01", periods=60, freq="7D")
levels = weekly_levels(pd.DataFrame({"item": "rag", "week": weeks, "qty": [0.0, 4.0] * 30}), "item")
assert levels["rag"].scores
"""


def loaded(module, *libraries, after=""):
    asked = f"import sys, {module}"
    told = f"print([name for name in {libraries} if name in sys.modules])"
    code = "\n".join([asked, after, told])
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


def test_forecast_of_a_shop_does_without_django_and_the_slow_import_of_statsforecast():
    heavy = "statsforecast", "django"
    assert loaded("forecasting.plan", *heavy, after=WEEKLY_LEVELS) == "[]"
