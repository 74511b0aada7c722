"""Records and situations of an invented shop, made through the actions wherever one exists.

Every function has a usable default for everything; a test names only what it is about.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from inventory import actions
from inventory.actions import NewLine, NewOperation
from inventory.models import (
    Balance,
    Batch,
    BatchLine,
    BillOfMaterials,
    Fitting,
    ForecastRun,
    Item,
    ItemForecast,
    Lot,
    Machine,
    Offer,
    Operation,
    OrderLine,
    Piece,
    Place,
    Product,
    ProductOption,
    PurchaseOrder,
    Shop,
    Supplier,
)
from inventory.queries.availability import stock_by_item
from inventory.queries.batch_needs import Wanted
from inventory.queries.forecast_inputs import plan_digest

DAY = date(2025, 3, 3)
"""A Monday well in the past: nothing may be posted in the future."""

LAST_YEAR = DAY - timedelta(days=365)

MM = 1000
"""µm in a mm."""


def days(count: int) -> date:
    """So many days after DAY, or before it."""
    return DAY + timedelta(days=count)


def D(text: str | int) -> Decimal:
    return Decimal(text)


def shop(**values: Any) -> Shop:
    settings = {"name": "Thornwick Knives", **values}
    return Shop.objects.update_or_create(pk=1, defaults=settings)[0]


def place(name: str = "Shelf 1", supplier: Supplier | None = None) -> Place:
    return actions.save_place(name=name, supplier=supplier)


def supplier(code: str = "BRACKEN", **values: Any) -> Supplier:
    known = Supplier.objects.filter(code=code).first()
    return known or actions.save_supplier(
        values={"code": code, "name": f"{code.title()} Supply", **values}
    )


def vendor(code: str = "EMBER") -> Supplier:
    return supplier(code, is_vendor=True)


def item(code: str, kind: str, stock_unit: str = "each", **values: Any) -> Item:
    values = {"code": code, "name": code.lower(), "kind": kind, "stock_unit": stock_unit, **values}
    return actions.save_item(values=values)


def screws(code: str = "SCREW-M4", **values: Any) -> Item:
    return item(code, "fastener", **values)


def epoxy(code: str = "EPOXY", **values: Any) -> Item:
    return item(code, "adhesive", "g", **values)


def bar(code: str = "BAR-4X40", **values: Any) -> Item:
    return item(code, "bar", "mm", **{"kerf_um": 1500, "keep_length_um": 100 * MM, **values})


def sheet(code: str = "SHEET-6", **values: Any) -> Item:
    kept = {"kerf_um": 2000, "keep_length_um": 50 * MM, "keep_width_um": 50 * MM}
    return item(code, "sheet", "mm2", **{**kept, **values})


def cutter(code: str = "MILL-6", **values: Any) -> Item:
    life = {"life_unit": "min", "rated_life": D(120), "rated_shape": D(3)}
    return item(code, "cutter", **{**life, **values})


def made_part(code: str = "SHEATH", **values: Any) -> Item:
    return item(code, "made", **values)


def service(code: str = "HARDEN", **values: Any) -> Item:
    return item(code, "service", **values)


def stock(of: Item, qty: str | int = 100, day: date = DAY, **values: Any) -> Lot:
    """A lot of an item that isn't kept in pieces."""
    return actions.receive_delivery(item=of, qty=D(qty), day=day, **values)


def rack(of: Item, *sizes_mm: Any, day: date = DAY, **values: Any) -> list[Piece]:
    """One lot of pieces: lengths of bars in mm, or (length, width) of sheets."""
    pairs = [size if isinstance(size, tuple) else (size, None) for size in sizes_mm]
    pieces = [(int(D(str(a)) * MM), b and int(D(str(b)) * MM), 1) for a, b in pairs]
    lot = actions.receive_delivery(item=of, pieces=pieces, day=day, **values)
    return list(lot.pieces.order_by("pk"))


def on_hand(of: Item | Lot | Piece) -> Decimal:
    field = {Item: "item", Lot: "lot", Piece: "piece"}[type(of)]
    rows = Balance.objects.filter(**{field: of}).values_list("qty", flat=True)
    return sum(rows, Decimal(0))


def available(item: Item, day: date = DAY) -> Decimal:
    """What may be promised of an item on a day."""
    return stock_by_item(day, [item.pk])[item.pk].available


def where(lot: Lot) -> Place:
    return lot.balances.get().place


def offer(
    of: Item,
    from_: Supplier | None = None,
    price: str | int = 10,
    day: date = LAST_YEAR,
    price_breaks: Iterable[tuple[int, Decimal]] = (),
    **values: Any,
) -> Offer:
    pack = {"pack_qty": D(1), "lead_days": 14, **values}
    return actions.save_offer(
        supplier=from_ or supplier(),
        item=of,
        values=pack,
        price_breaks=list(price_breaks) or [(1, D(price))],
        valid_from=day,
    )


def order(of: Offer, packs: int = 1, day: date = DAY) -> PurchaseOrder:
    """A sent order of one line."""
    draft = actions.draft_order(supplier=of.supplier, lines=[(of, packs)], day=day)
    return actions.send_order(order=draft, day=day)


def order_line(of: Offer, packs: int = 1, day: date = DAY) -> OrderLine:
    return order(of, packs, day).lines.get()


def machine(name: str = "Mill") -> Machine:
    return Machine.objects.filter(name=name).first() or actions.save_machine(name=name)


def fitted(of: Item, pocket: str = "1", day: date = DAY, **values: Any) -> Fitting:
    """One cutter in the machine, out of stock if there is any, else out of a new lot of one."""
    if "continues" not in values and not on_hand(of):
        stock(of, 1, day)
    return actions.fit(item=of, machine=machine(), pocket=pocket, day=day, **values)


def product(code: str = "TRAIL", options: Iterable[tuple[str, str, bool]] = ()) -> Product:
    return actions.save_product(values={"code": code, "name": code.title()}, options=list(options))


def option(of: Product, choice: str) -> ProductOption:
    return of.options.get(choice=choice)


def bill(of: Product | Item, *operations: NewOperation, day: date = LAST_YEAR) -> BillOfMaterials:
    owner = {"product": of} if isinstance(of, Product) else {"made_item": of}
    return actions.save_bill(operations=operations, valid_from=day, **owner)


def step(number: int, name: str = "", *lines: NewLine, **values: Any) -> NewOperation:
    return NewOperation(number, name or f"Step {number}", lines=lines, **values)


def line(of: Item, qty: str | int = 1, **values: Any) -> NewLine:
    return NewLine(of, D(qty), **values)


def plan(of: Product, wanted: int = 4, day: date = DAY, **values: Any) -> Batch:
    shop()
    return actions.plan_batch(lines=[Wanted(of, wanted, **values)], start_on=day)


def reserved(of: Product, wanted: int = 4, day: date = DAY, **values: Any) -> Batch:
    return actions.reserve_batch(batch=plan(of, wanted, day, **values), day=day)


def in_work(of: Product, wanted: int = 4, day: date = DAY, **values: Any) -> Batch:
    return actions.start_batch(batch=reserved(of, wanted, day, **values), day=day)


def only_line(batch: Batch) -> BatchLine:
    """The line of a batch of one product."""
    return batch.lines.get()


def operation(batch: Batch, name: str) -> Operation:
    """An operation of its bill by name."""
    return only_line(batch).bill.operations.get(name=name)


def forecast_run(day: date = DAY) -> ForecastRun:
    """A run as if it had been worked out and stored that day."""
    shop()
    return ForecastRun.objects.create(
        as_of=day, horizon_weeks=26, paths=2000, seed=1, plan_digest=plan_digest()
    )


def item_forecast(
    run: ForecastRun, of: Item, per_week: float = 10.0, reorder_point: float = 50, **values: Any
) -> ItemForecast:
    """So many a week, a fifth more or less nine times in ten; lead time two weeks."""
    monday = run.as_of - timedelta(days=run.as_of.weekday())
    weeks = [
        [
            (monday + timedelta(weeks=number)).isoformat(),
            *(per_week * (number + 1) * share for share in (1, 0.8, 1, 1.1, 1.2)),
        ]
        for number in range(26)
    ]
    stored = {
        "demand_class": "lumpy",
        "model": "batches of its products",
        "service_level": 0.95,
        "lead_mean_days": 14,
        "lead_low_days": 10,
        "lead_high_days": 20,
        "lead_seen": 6,
        "use_per_week": per_week,
        "lead_demand_mean": 3 * per_week,
        "lead_demand_q05": 2 * per_week,
        "lead_demand_q95": reorder_point,
        "reorder_point": reorder_point,
        "safety_stock": reorder_point - 3 * per_week,
        "order_up_to": 2 * reorder_point,
        "per_knife": {"TRAIL": 2.0},
        "weeks": weeks,
    }
    return ItemForecast.objects.create(run=run, item=of, **{**stored, **values})


def simple_knife(code: str = "TRAIL", *lines: NewLine, **values: Any) -> Product:
    """A product of one operation that takes these lines."""
    made = product(code)
    bill(made, step(10, "Assemble", *lines, **values))
    return made


@dataclass(frozen=True)
class KnifeShop:
    """A small shop that can build TRAIL: blades from bar, a cured block, a sheath, screws, epoxy."""

    bar: Item
    screws: Item
    epoxy: Item
    block: Item
    sheet: Item
    sheath: Item
    thermoplastic: Item
    cutter: Item
    harden: Item
    knife: Product


def knife_shop(*, stocked: bool = True) -> KnifeShop:
    """TRAIL per knife: one 240 mm blank, a block, a sheath, 3 screws; 40 g epoxy per 4 knives.

    Mill 0.9 good and 5 min of cutter life; glue 0.95 good. A block is cut from sheet and cures a
    day; a sheath takes one 200 x 150 mm blank and is made within the batch.
    Stocked: enough for about 20 knives, with 12 blocks and a fitted cutter.
    """
    shop()
    trail = KnifeShop(
        bar=bar(),
        screws=screws(),
        epoxy=epoxy(shelf_life_days=365),
        block=made_part("BLOCK"),
        sheet=sheet(),
        sheath=made_part("SHEATH"),
        thermoplastic=sheet("PLASTIC-2"),
        cutter=cutter(),
        harden=service(),
        knife=product(),
    )
    blank = {"cut": (120 * MM, 40 * MM)}
    bill(trail.block, step(10, "Laminate", line(trail.sheet, 2, **blank), wait_days=1))
    wrap = {"cut": (200 * MM, 150 * MM), "may_turn": True}
    bill(trail.sheath, step(10, "Form", line(trail.thermoplastic, 1, **wrap)))
    bill(
        trail.knife,
        step(
            10,
            "Mill",
            line(trail.bar, 1, cut=(240 * MM, None)),
            good_share=D("0.9"),
            wear=((trail.cutter, D(5)),),
        ),
        step(20, "Harden", service=trail.harden),
        step(
            30,
            "Glue",
            line(trail.block),
            line(trail.screws, 3),
            line(trail.epoxy, 40, per="setup"),
            good_share=D("0.95"),
            setup_size=4,
            wait_days=1,
        ),
        step(40, "Sheath", line(trail.sheath)),
    )
    if stocked:
        _fill(trail)
    return trail


def _fill(trail: KnifeShop) -> None:
    rack(trail.bar, *[1000] * 6, day=days(-30), unit_cost=D("0.02"))
    stock(trail.screws, 200, days(-30), unit_cost=D("0.05"))
    stock(trail.epoxy, 500, days(-30), unit_cost=D("0.04"))
    rack(trail.sheet, *[(600, 300)] * 3, day=days(-30))
    rack(trail.thermoplastic, *[(1200, 600)] * 2, day=days(-30))
    stock(trail.cutter, 4, days(-30), unit_cost=D(18))
    fitted(trail.cutter, day=days(-30))
    actions.make_part(item=trail.block, qty=12, day=days(-10))
