"""A demand table from a file: what is read, and what is refused with its line."""

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.queries.demand_file import replay_file

MONTHS = [f"2026-{month:02d}" for month in range(1, 13)]


@pytest.fixture
def written(tmp_path):
    """Write a file and give its path."""

    def write(content, name="spares.csv"):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    return write


def lines(separator=",", heading="series_id,period,qty", end="\n"):
    rows = [heading, *(f"{name},{month},2" for name in ("pin", "nut") for month in MONTHS)]
    return end.join(row.replace(",", separator) for row in rows) + end


@pytest.mark.parametrize(
    "content",
    [
        lines(),
        lines(";"),
        lines("\t"),
        lines(end="\r\n"),
        "\ufeff" + lines(),
        lines() + "\n\n",
        lines(heading=" Series_ID ,PERIOD, qty"),
        lines(heading="series_id,month,qty"),
    ],
    ids=["comma", "semicolon", "tab", "CRLF", "byte order mark", "empty end", "spelling", "month"],
)
def test_table_is_read_in_every_usual_spelling(written, content):
    data = replay_file(written(content), lead_time=1)
    assert (data["series"], data["periods"], data["known"], data["played"]) == (2, 12, 8, 4)
    assert data["demand"] == 4


def test_answer_has_the_keys_that_are_promised(written):
    data = replay_file(written(lines()), lead_time=2, review=1, known=6)
    terms = ("series", "left_out", "periods", "known", "played", "lead_time", "review")
    assert set(data) == {*terms, "stock_in", "demand", "rules", "saved", "seconds"}
    assert (data["known"], data["lead_time"], data["stock_in"]) == (6, 2, "units")
    for rule in data["rules"]:
        assert set(rule) == {"rule", "knob", "points", "stock_at_fill"}
        assert list(rule["stock_at_fill"]) == ["0.80", "0.85", "0.90", "0.95", "0.97"]
        assert set(rule["points"][0]) == {"knob", "fill", "stock", "expected_fill"}
    assert [row["against"] for row in data["saved"]] == [rule["rule"] for rule in data["rules"][1:]]


def test_steady_demand_is_served_in_full_and_costs_a_period_of_stock(written):
    data = replay_file(written(lines()), lead_time=1)
    normal = data["rules"][3]
    assert normal["points"][-1]["fill"] == 1
    assert normal["points"][-1]["stock"] == 0  # two a month come the moment two are asked for


def test_with_unit_costs_stock_is_in_money(written):
    rows = ["series_id,period,qty,unit_cost", *(f"pin,{month},2,0.5" for month in MONTHS)]
    assert replay_file(written("\n".join(rows)), lead_time=1)["stock_in"] == "money"


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("", "holds no table. Write a first line"),
        ("\n\n", "holds no table"),
        (b"\x89PNG\x00\x00", "no text in UTF-8|holds no table"),
        ("série,périod".encode("latin-1"), "no text in UTF-8"),
        ("series_id,period,qty", "spares.csv: The table has no rows"),
        ("series_id,period,qty\npin,2026-01", "line 2: it has 2 cells, the first line has 3"),
        ("series_id,period,qty\npin,2026-01,2,9", "line 2: it has 4 cells"),
        ("series_id,period,qty\n\npin,2026-01,2", "line 2: it has 0 cells"),
        ("series_id,period,qty\npin,2026-01,two", "spares.csv: Line 2: qty must be a number"),
        ('series_id,period,qty\n"pin"x,2026-01,2', "is no CSV"),
        ("period,qty\n2026-01,2", "no column series_id"),
        ("qty,qty,series_id,period\n1,2,a,2026-01", "A column stands twice"),
        ("series_id,period,qty\npin,2026-01,2\npin,2026-02,2", "spans 2 period"),
    ],
)
def test_nonsense_is_refused_with_its_place_and_what_to_do(written, content, message):
    with pytest.raises(Refused, match=message):
        replay_file(written(content), lead_time=1)


def test_file_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(Refused, match="can't be read: No such file.*Check its name"):
        replay_file(tmp_path / "gone.csv", lead_time=1)
    with pytest.raises(Refused, match="can't be read: Is a directory"):
        replay_file(tmp_path, lead_time=1)


def test_impossible_terms_are_refused(written):
    with pytest.raises(Refused, match="lead time must be 0 periods or more, but got -2"):
        replay_file(written(lines()), lead_time=-2)


CELLS = st.sampled_from(
    ["pin", "nut", "", " ", "0", "1", "2.5", "-1", "1e999", "nan", "2026-01", "2026-W09", "2026-13"]
    + ["2026-02-29", "2024-02-29", "99999999", "½", '"', "'", "\x00", "a;b", "٣", "0x1F", "TRUE"]
)
ROWS = st.lists(st.lists(CELLS, min_size=2, max_size=4).map(",".join), max_size=8)


@given(ROWS)
def test_no_table_however_odd_ends_in_anything_but_an_answer_or_a_sentence(tmp_path_factory, rows):
    path = tmp_path_factory.mktemp("odd") / "odd.csv"
    path.write_text("\n".join(["series_id,period,qty", *rows]), encoding="utf-8")
    with contextlib.suppress(Refused):
        data = replay_file(path, lead_time=1)
        assert all(0 <= point["fill"] <= 1 for rule in data["rules"] for point in rule["points"])


@given(st.binary(max_size=60))
def test_no_file_however_odd_ends_in_anything_but_a_sentence(tmp_path_factory, content):
    path = tmp_path_factory.mktemp("odd") / "odd.csv"
    path.write_bytes(content)
    with pytest.raises(Refused):
        replay_file(path, lead_time=1)
