"""The chosen number of packs against the plainest second way: try every number."""

from decimal import Decimal

from hypothesis import given, settings
from hypothesis import strategies as st

from forecasting.order_quantity import Limit, Pack, packs_to_order, yearly_cost

MONEY = st.integers(1, 5000).map(lambda cents: Decimal(cents) / 100)


@st.composite
def packs(draw):
    starts = sorted(draw(st.sets(st.integers(2, 60), max_size=3)))
    prices = [draw(MONEY) for _ in range(len(starts) + 1)]
    useful = draw(st.one_of(st.none(), st.integers(1, 20000).map(Decimal)))
    return Pack(
        qty=Decimal(draw(st.integers(1, 200))),
        minimum_packs=draw(st.integers(1, 5)),
        price_breaks=tuple(zip([1, *starts], prices, strict=True)),
        order_fee=draw(st.one_of(st.just(Decimal(0)), MONEY)),
        limits=() if useful is None else (Limit("shelf life", useful, "can be used in time"),),
    )


def cost_of_a_year(number, use, pack, rate):
    price = float(pack.price(number) / pack.qty)
    return yearly_cost(
        number * float(pack.qty),
        use_per_year=use,
        order_fee=float(pack.order_fee),
        holding_per_unit_year=rate * price,
        unit_price=price,
    )


@settings(max_examples=150, deadline=None)
@given(packs(), st.integers(1, 3000), st.integers(0, 20000), st.floats(0.01, 0.6))
def test_no_other_allowed_number_of_packs_makes_a_cheaper_year(pack, shortfall, use, rate):
    choice = packs_to_order(Decimal(shortfall), use, pack, holding_rate=rate)
    needed = -(-shortfall // int(pack.qty))
    years_use = use // int(pack.qty)
    shelf = 10**9 if pack.most is None else pack.most
    least = max(pack.minimum_packs, min(needed, shelf), 1)
    most = max(least, min(years_use, shelf))
    cheapest = min(cost_of_a_year(number, use, pack, rate) for number in range(least, most + 1))
    assert least <= choice.packs <= most
    assert cost_of_a_year(choice.packs, use, pack, rate) <= cheapest * (1 + 1e-9)
    assert choice.qty == choice.packs * pack.qty
    assert choice.cost == choice.packs * pack.price(choice.packs)


@settings(max_examples=60, deadline=None)
@given(packs(), st.integers(1, 3000), st.integers(1, 3000), st.integers(0, 20000))
def test_a_larger_shortfall_never_orders_less(pack, shortfall, more, use):
    small, large = (
        packs_to_order(Decimal(qty), use, pack, holding_rate=0.2)
        for qty in (shortfall, shortfall + more)
    )
    assert small.packs <= large.packs or small.cost >= large.cost
