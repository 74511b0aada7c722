from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from django.utils import timezone

from inventory.errors import Refused
from inventory.exchange.workshop import load_workshop
from inventory.models import Batch, Fitting, Item, Lot, PastBuild, Piece, Shop
from inventory.queries.availability import stock_by_item
from inventory.queries.history import direct_use

pytestmark = pytest.mark.django_db

ITEM_COLUMNS = (
    "code,name,kind,unit,grade,colour,place,thickness,width,kerf,trim,keep,grain,lot_match,density,"
    "shelf_life_days,opened_life_days,grit,grit_um,life,shape,wear_limit_um,hazards,caution,note"
)
SMALL = {
    "shop.yaml": """
        shop: {name: Small bench, currency: EUR, hour_cost: 40}
        people:
          - {username: ida, role: owner}
          - {username: oren, first_name: Oren, role: maker}
        places: [Rack]
        machines: [Saw]
        suppliers:
          - {code: STEEL, name: Steel seller, order_fee: 5}
        mixed:
          - {item: RESIN, with: HARDENER, share: 0.5}
    """,
    "items.csv": f"""
        {ITEM_COLUMNS}
        BAR,Flat bar,bar,mm,,,Rack,4 mm,50 mm,1 mm,4 mm,100 mm,,none,,,,,,,,,,,
        GLUE,Glue,adhesive,g,,,Rack,,,,,,,none,,100,,,,,,,,,
        RESIN,Resin,adhesive,g,,,Rack,,,,,,,none,,,,,,,,,,,
        HARDENER,Hardener,adhesive,g,,,Rack,,,,,,,none,,,,,,,,,,,
        BLADE,Saw blade,cutter,each,,,Rack,,,,,,,none,,,,,,50 pieces,2.0,,,,
    """,
    "cutters.csv": """
        item,DC,APMX,LU,OAL,RE,NOF,coating,regrinds,smallest
        BLADE,200,,,,,80,diamond,2,198
    """,
    "offers.csv": """
        item,supplier,their_code,pack,contents,minimum,lead_days,prices,lot_charge,preferred,from
        BAR,STEEL,,bar,1000 mm,1,7,20; 10: 18,,yes,-99
    """,
    "products/plain.yaml": """
        code: PLAIN
        name: Plain knife
        bills:
          - from: -90
            operations:
              - number: 10
                name: Saw
                takes: [{item: BAR, qty: 1, cut: 236 mm, allowance: 2 mm}]
                wears: [{item: BLADE, life: 1, machine: Saw, pocket: blade, cuts: steel, data: slow}]
              - {number: 20, name: Glue, takes: [{item: GLUE, qty: 10 g}]}
    """,
    "opening.csv": """
        day,item,contents,offcuts,made,heat,status,unit_cost,note
        -80,BLADE,3,,,,,12,
        -80,GLUE,0.5 kg,,-80,B7,,0.1,
    """,
    "past_builds.csv": """
        day,product,started,good,note
        -200,PLAIN,6,5,
    """,
    "orders.csv": """
        order,sent,supplier,item,packs,received,came,made,heat,status,note
        first,-70,STEEL,BAR,2,-60,,,H1,,
        second,-9,STEEL,BAR,10,,,,,,
    """,
    "decisions.csv": "day,item,heat,decision,until,note",
    "made.csv": "day,item,good,started,note",
    "cutter_changes.csv": """
        day,machine,pocket,item,reason,next,note
        -75,Saw,blade,BLADE,fitted,,
        -40,Saw,blade,BLADE,worn,,before a large batch
        -25,Saw,blade,BLADE,removed early,reground,
    """,
    "regrinds.csv": """
        sent,machine,pocket,taken_out,vendor,back,diameter,usable,note
        -38,Saw,blade,-40,STEEL,-28,199 mm,yes,
    """,
    "readings.csv": "day,machine,pocket,vb_um",
    "batches.csv": """
        batch,product,choice,wanted,start,start_on,planned,reserved,started,finished,cancelled,scrap,note
        one,PLAIN,,4,5,-55,-58,-56,-55,-50,,10: 1 short blank,
        two,PLAIN,,6,7,9,-3,,,,,,
    """,
    "stages.csv": "day,batch,line,through,scrap",
    "other_use.csv": """
        day,item,amount,cut,left,reason,note,not_again
        -45,GLUE,20 g,,,repair,,
        -44,BAR,700 mm,2 of 240 mm,200 mm,one-off,,yes
    """,
    "forecasts.csv": """
        day
        -50
    """,
    "counts.csv": """
        day,item,difference,reason
        -30,GLUE,-5 g,weighed in
    """,
}


@pytest.fixture
def today() -> date:
    return timezone.localdate()


@pytest.fixture
def small(tmp_path: Path) -> Callable[..., Path]:
    """Write the small workshop; `changed` replaces text in one of its files."""

    def write(changed: tuple[str, str, str] | None = None) -> Path:
        for name, text in SMALL.items():
            path = tmp_path / name
            path.parent.mkdir(exist_ok=True)
            if changed and changed[0] == name:
                assert changed[1] in text
                text = text.replace(*changed[1:])
            lines = text.strip("\n").splitlines()
            indent = len(lines[0]) - len(lines[0].lstrip())
            path.write_text("\n".join(line[indent:] for line in lines).rstrip() + "\n")
        (tmp_path / "parts").mkdir(exist_ok=True)
        return tmp_path

    return write


def test_small_workshop_ends_with_the_stock_its_files_add_up_to(
    small: Callable[..., Path], today: date
) -> None:
    load_workshop(small(), today=today)
    glue = Item.objects.get(code="GLUE")
    # 500 g, less 4 knives that got as far as the glue, a repair and what the scale found missing
    assert stock_by_item(today)[glue.pk].on_hand == Decimal(500 - 4 * 10 - 20 - 5)
    # four blanks of 240 mm and a kerf each fill one bar; the fifth leaves 755 mm of the other, and
    # the one-off is cut from that
    [left] = Piece.objects.filter(balances__isnull=False)
    assert left.length_um == 200_000
    assert left.parent.length_um == 755_000


def test_use_that_wont_come_again_is_left_out_of_forecasts(
    small: Callable[..., Path], today: date
) -> None:
    load_workshop(small(), today=today)
    assert direct_use(today, {"GLUE", "BAR"})["item"].tolist() == ["GLUE"]


def test_two_part_system_is_tied(small: Callable[..., Path], today: date) -> None:
    load_workshop(small(), today=today)
    resin = Item.objects.get(code="RESIN")
    assert (resin.mixed_with.code, resin.mix_share) == ("HARDENER", Decimal("0.5"))


def test_files_days_count_from_today(small: Callable[..., Path], today: date) -> None:
    load_workshop(small(), today=today)
    batch = Batch.objects.get(state=Batch.State.FINISHED)
    assert batch.finished_on == today - timedelta(days=50)
    assert Lot.objects.get(maker_number="B7").expires_on == today + timedelta(days=20)


def test_worn_cutter_is_followed_by_the_next_and_then_goes_in_reground(
    small: Callable[..., Path], today: date
) -> None:
    load_workshop(small(), today=today)
    first, second, again = Fitting.objects.order_by("pk")
    assert (first.end_reason, first.life_used) == (Fitting.EndReason.WORN, 5)
    assert (second.end_reason, second.life_used) == (Fitting.EndReason.REMOVED_EARLY, 0)
    assert (again.is_fitted, again.label) == (True, f"{first.label}-R1")
    assert (again.diameter_um, again.item.diameter_um) == (199_000, 200_000)


def test_cutter_knows_the_work_that_the_bill_says_of_its_pocket(
    small: Callable[..., Path], today: date
) -> None:
    load_workshop(small(), today=today)
    works = set(Fitting.objects.values_list("work_material", "cutting_data"))
    assert works == {("steel", "slow")}


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        (("regrinds.csv", "-40,", "-41,"), "Nothing used was taken out of Saw blade then"),
        (("regrinds.csv", "199 mm", "197 mm"), "used down to 198"),
        (("regrinds.csv", "-28", ""), "No BLADE is back from regrinding"),
    ],
    ids=["another day", "under size", "still out"],
)
def test_regrind_that_can_not_be_is_named_with_its_line(
    small: Callable[..., Path], today: date, changed: tuple[str, str, str], words: str
) -> None:
    with pytest.raises(Refused, match=words):
        load_workshop(small(changed), today=today)


def test_builds_of_the_notebook_are_history_without_movements(
    small: Callable[..., Path], today: date
) -> None:
    load_workshop(small(), today=today)
    [past] = PastBuild.objects.all()
    assert (past.day, past.started, past.good) == (today - timedelta(days=200), 6, 5)


def test_full_shop_is_not_loaded_over(small: Callable[..., Path], today: date) -> None:
    load_workshop(small(), today=today)
    with pytest.raises(Refused, match="Load into an empty one"):
        load_workshop(small(), today=today)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        (("orders.csv", "STEEL,BAR,2", "STEEL,BARR,2"), "orders.csv, line 2: .*BARR.*Correct it"),
        (("orders.csv", "-70", "soon"), "orders.csv, line 2: sent is “soon”; write a whole number"),
        (("orders.csv", "-60", "-71"), "orders.csv, line 2: It is received before it was sent"),
        (("opening.csv", "0.5 kg", "0.5 m"), "opening.csv, line 3: “m” measures a length"),
        (("opening.csv", "3,,,,,12,", "3,,,,,12,,"), "opening.csv, line 2: 10 cells under 9"),
        (("past_builds.csv", "6,5", "6,7"), "7 good of 6 started doesn't add up"),
        (("past_builds.csv", "PLAIN", "FANCY"), "past_builds.csv, line 2: .*“FANCY”"),
        (("items.csv", "Rack,4 mm", "Shelf,4 mm"), "items.csv, line 2: There is no place “Shelf”"),
        (("offers.csv", "20; 10: 18", "20 or 18"), "offers.csv, line 2: .*write 86; 5: 82"),
        (("batches.csv", "10: 1 short", "15: 1 short"), "batches.csv, line 2: .*operation .*“15”"),
        (("batches.csv", "10: 1 short", "10: one"), "batches.csv, line 2: scrap is “10: one"),
        (("counts.csv", "GLUE", "BAR"), "counts.csv, line 2: “g” measures a mass"),
        (("other_use.csv", "20 g", "5 kg"), "other_use.csv, line 2: GLUE: .* asked for"),
        (("cutter_changes.csv", "early", "late"), "cutter_changes.csv, line 4: .*say why"),
        (("products/plain.yaml", "item: GLUE", "item: GLU"), "plain.yaml: operation 20: .*“GLU”"),
        (("products/plain.yaml", "number: 10", "number: ["), "plain.yaml.*not readable as YAML"),
        (("shop.yaml", "machines: [Saw]", ""), "shop.yaml: machines is missing"),
    ],
    ids=lambda value: value[0] if isinstance(value, tuple) else "",
)
def test_mistake_in_a_file_is_named_and_nothing_is_loaded(
    changed: tuple[str, str, str], words: str, small: Callable[..., Path], today: date
) -> None:
    with pytest.raises(Refused, match=words):
        load_workshop(small(changed), today=today)
    assert not Shop.objects.exists()
    assert not Item.objects.exists()


def test_missing_file_is_named(small: Callable[..., Path], today: date) -> None:
    folder = small()
    (folder / "counts.csv").unlink()
    with pytest.raises(Refused, match="counts.csv is missing"):
        load_workshop(folder, today=today)


def test_progress_is_told_now_and_then(small: Callable[..., Path], today: date) -> None:
    told: list[str] = []
    load_workshop(small(), today=today, progress=told.append)
    assert told[0] == "5 items with their offers"
    assert told[-1].startswith("100 %")
