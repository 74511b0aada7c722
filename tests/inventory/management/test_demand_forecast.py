"""manage.py forecast --demand: any table, no shop needed."""

import json
from io import StringIO

import pandas as pd
import pytest
from django.core.management import CommandError, call_command

MONTHS = [f"2024-{month:02d}" for month in range(1, 13)] + [f"2025-{m:02d}" for m in range(1, 13)]
STEADY = "".join(f"epoxy,{month},{20 + place % 3}\n" for place, month in enumerate(MONTHS))
RARE = "".join(f"rag,{month},2\n" for month in MONTHS[::6])


@pytest.fixture
def demand(tmp_path):
    def written(text, name="use.csv"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return written


def forecast(path, **options):
    out, err = StringIO(), StringIO()
    call_command("forecast", demand=path, stdout=out, stderr=err, **options)
    return pd.read_csv(StringIO(out.getvalue()), keep_default_na=False).set_index("series_id"), err


def test_table_is_forecast_without_any_shop(demand):
    result, words = forecast(demand("series_id,period,qty\n" + STEADY + RARE))
    assert result.loc["epoxy", "mean"] == pytest.approx(21, rel=0.05)
    assert 60 <= result.loc["epoxy", "q80"] < result.loc["epoxy", "q99"] < 80
    assert result.loc["rag", "demand_class"] == "intermittent"
    assert "smooth: 1 series by" in words.getvalue()


def test_spreadsheet_of_weeks_with_semicolons_is_read(demand):
    rows = "".join(f"rag;2026-W{week:02d};{week % 3}\n" for week in range(1, 41))
    result, _ = forecast(
        demand("\ufeffseries_id; period; qty\n" + rows + "\n\n"),
        period="week",
        periods_ahead=2,
        chances=[0.9],
    )
    assert result.loc["rag", "periods_known"] == 40
    assert "q90" in result.columns


def test_names_are_text_as_they_stand(demand):
    rows = "NA,2026-01,,3\n007 ,2026-01,,2\n007,2026-02,,NA\n"
    path = demand("Series_ID,Month,,Qty\n" + rows)
    out = StringIO()
    call_command("forecast", demand=path, stdout=out, stderr=StringIO())
    names = [line.partition(",")[0] for line in out.getvalue().splitlines()[1:]]
    assert names == ["007", "NA"]


def test_month_out_of_stock_is_given_in_a_file_of_its_own(demand):
    table = demand("series_id,month,qty\n" + STEADY.replace("2025-12,22", "2025-12,0"))
    outs = demand("series_id,period\nepoxy,2025-12\n", "outs.csv")
    result, _ = forecast(table, stock_outs=outs)
    assert result.loc["epoxy", "note"] == "1 period not known, passed over"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("series_id,period,qty\nrag,2026-01,1\nrag,2026-02,many\n", "column qty, line 3: .*many"),
        ("series_id,period,qty\nrag,soon,1\n", "column period, line 2: must be a date"),
        (
            "series_id,period,qty\nrag,2026-01,1\n\nrag,2026-02,1\n",
            "series_id, line 3: must be filled",
        ),
        ("series_id,period\nrag,2026-01\n", "has no column qty; it needs series_id, period, qty"),
        ("", "use.csv is no table in CSV"),
        ("series_id,period,month,qty\nrag,2026-01,2026-01,1\n", "has the column period twice"),
        ("series_id,period,qty,Qty\nrag,2026-01,1,2\n", "has the column qty twice"),
        (
            "series_id,period,qty\nrag,2026-01,1,5\n",
            "line 2: it has more cells than the first line",
        ),
    ],
    ids=[
        "text for a number",
        "no date",
        "gap",
        "no column",
        "empty",
        "two periods",
        "two amounts",
        "too many",
    ],
)
def test_table_that_cannot_be_read_is_refused_with_its_line(demand, text, words):
    with pytest.raises(CommandError, match=words):
        forecast(demand(text))


def test_missing_and_binary_files_are_refused(demand, tmp_path):
    with pytest.raises(CommandError, match="Check its name"):
        forecast(tmp_path / "none.csv")
    (tmp_path / "picture.csv").write_bytes(b"\x89PNG\r\n\xff\xfe")
    with pytest.raises(CommandError, match="is no text in UTF-8"):
        forecast(tmp_path / "picture.csv")


def test_table_with_a_heading_alone_has_no_series(demand):
    result, words = forecast(demand("series_id,period,qty\n"))
    assert result.empty
    assert words.getvalue().startswith("0 series.")


def test_scope_that_makes_no_sense_is_refused(demand):
    with pytest.raises(CommandError, match="periods_ahead must be 1 or more, but got 0"):
        forecast(demand("series_id,period,qty\nrag,2026-01,1\n"), periods_ahead=0)


def test_cluster_gives_the_same_table(demand):
    pytest.importorskip("dask.distributed")
    table = demand("series_id,period,qty\n" + STEADY + RARE)
    pd.testing.assert_frame_equal(forecast(table, cluster="here")[0], forecast(table)[0])


def test_one_json_object_holds_series_scores_and_terms(demand):
    out = StringIO()
    path = demand("series_id,period,qty\n" + STEADY + RARE)
    call_command("forecast", demand=path, json=True, chances=[0.9], stdout=out)
    told = json.loads(out.getvalue())
    assert (told["periods_ahead"], told["chances"]) == (3, [0.9])
    assert {series["series_id"] for series in told["series"]} == {"epoxy", "rag"}
    assert set(told["scores"]) <= {"smooth", "erratic", "intermittent", "lumpy"}
    assert all(series["q90"] >= 0 for series in told["series"])
