"""Why the money changed: the parts add up exactly, do not hang on an order, and go to the right names."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reconcile.house import Bill, ChargeLine, House
from reconcile.house.tariff import Block, Charge, Tariff
from reconcile.money import account, bridge, cost_of
from reconcile.money.account import compared
from reconcile.money.bridge import PARTS, Bridge, Side, split, to_the_cent
from reconcile.money.recompute import use_of
from reconcile.money.tariff_curve import Curve, Drawn
from reconcile.money.tariff_lines import price_bill, total
from reconcile.paper import examine
from reconcile.say import Voice
from reconcile.texts.money import bridge_sentence

D = Decimal
US = Voice()


def tariff(since, service="0.30", low="0.08", high="0.12", tax="5"):
    return Tariff(
        since,
        (
            Charge("Service", "per_day", D(service), kind="fixed"),
            Charge("Energy", "blocks", blocks=(Block(D(low), D(20)), Block(D(high))), blocks_per="day"),
            Charge("Tax", "percent", D(tax), kind="tax"),
        ),
    )


def house_of(rows, tariffs=(), start=date(2023, 1, 1)):
    """Bills of (days, kwh, amount or None for the tariff's own)."""
    bills = []
    day = start
    for days, kwh, amount in rows:
        bill = Bill(day, day + timedelta(days), kwh=float(kwh), amount=amount)
        if amount is None:
            bare = House("x", (bill,), tariffs=tariffs)
            bill = replace(bill, amount=total(price_bill(tariffs, use_of(bare, bill, bill.kwh))))
        bills.append(bill)
        day = bill.end
    return House("x", tuple(bills), tariffs=tariffs)


def made(house, a, b, weather=None):
    return bridge(house, examine(house), a, b, weather)


OLD = tariff(date(2020, 1, 1))


def test_only_the_price_changes():
    house = house_of([(30, 900, None), (30, 900, None)], (OLD, tariff(date(2023, 1, 31), low="0.09", high="0.15")))
    found = made(house, [0], [1])
    assert found.parts == {**dict.fromkeys(PARTS, D(0)), "price": found.total}
    assert found.total == D("15.75")  # 600 x .01 + 300 x .03, and 5 % tax
    assert bridge_sentence(found, US) == (
        "The bill of Jan 31 – Mar 2, 2023 asks for $15.75 more than that of Jan 1 – Jan 31, 2023: all of it for price."
    )


def test_only_the_fixed_charge_changes():
    house = house_of([(30, 900, None), (30, 900, None)], (OLD, tariff(date(2023, 1, 31), service="0.50")))
    found = made(house, [0], [1])
    assert found.parts == {**dict.fromkeys(PARTS, D(0)), "fixed": D("6.30")}


def test_only_the_days_change():
    house = house_of([(30, 900, None), (33, 990, None)], (OLD,))
    found = made(house, [0], [1])
    assert found.parts == {**dict.fromkeys(PARTS, D(0)), "days": found.total}


def test_only_use_changes_and_weather_is_told_apart():
    house = house_of([(30, 600, None), (30, 900, None)], (OLD,))
    without = made(house, [0], [1])
    assert without.parts == {**dict.fromkeys(PARTS, D(0)), "use": D("37.80")}
    assert "use, weather included" in bridge_sentence(without, US)
    apart = made(house, [0], [1], np.array([100.0, 300.0]))
    assert apart.total == without.total
    assert apart.parts["weather"] + apart.parts["use"] == D("37.80")
    assert apart.parts["weather"] == 2 * apart.parts["use"]  # 200 and 100 kWh, all in the upper block


def test_price_and_use_together():
    """10 to 20 cents and 100 to 200 kWh: price and use add 20 each, and share the 10 that both make."""
    house = house_of([(30, 100, D("10.00")), (30, 200, D("40.00"))])
    found = made(house, [0], [1])
    assert found.parts == {**dict.fromkeys(PARTS, D(0)), "price": D("15.00"), "use": D("15.00")}
    assert not found.by_tariff


def test_printed_fixed_lines_are_fixed_without_a_tariff():
    house = house_of([(30, 100, D("18.00")), (30, 100, D("20.00"))])
    lines = tuple(ChargeLine(b.start, "Customer charge", D(8) + 2 * k) for k, b in enumerate(house.bills))
    found = made(replace(house, charges=lines), [0], [1])
    assert found.parts == {**dict.fromkeys(PARTS, D(0)), "fixed": D("2.00")}


def test_what_a_bill_asks_beyond_the_tariff_is_no_price():
    house = house_of([(30, 600, None), (30, 600, None)], (OLD,))
    house = replace(house, bills=(house.bills[0], replace(house.bills[1], amount=house.bills[1].amount + 5)))
    parts = made(house, [0], [1]).parts
    assert (parts["beyond"], parts["price"]) == (D("5.00"), D("0.00"))


def test_two_years():
    rows = [(30 if k % 2 else 31, 500 + 40 * (k % 12), None) for k in range(24)]
    house = house_of(rows, (OLD, tariff(date(2024, 1, 1), low="0.10", high="0.14")))
    facts = examine(house)
    assert compared(house, facts) == (list(range(12)), list(range(12, 24)))
    found = account(house, facts).bridge
    assert found.parts["use"] == 0
    assert found.parts["days"] == 0
    assert found.parts["price"] == found.total


def test_a_group_against_a_group_of_another_size():
    house = house_of([(30, 600, None)] * 5, (OLD,))
    found = made(house, [0, 1], [2, 3, 4])
    assert found.parts["days"] == found.total == house.bills[0].amount
    assert sum(found.parts.values()) == found.total


def test_the_bill_that_stands_out_is_compared_with_the_same_one_a_year_before():
    house = house_of([(30, 600, None)] * 16, (OLD,))
    facts = examine(house)
    excess = np.zeros(16)
    excess[14] = 100.0
    assert compared(house, facts, excess) == ([2], [14])
    assert compared(house_of([(30, 600, None)] * 5, (OLD,)), facts, None) == ([3], [4])


def test_no_money_no_bridge():
    house = house_of([(30, 600, D(1)), (30, 700, D(2))])
    bare = replace(house, bills=tuple(replace(b, amount=None) for b in house.bills))
    assert account(bare, examine(bare)) is None
    one = replace(house, bills=house.bills[:1])
    assert account(one, examine(one)).bridge is None
    with pytest.raises(ValueError, match="at least one bill"):
        bridge(house, examine(house), [], [1])


amounts = st.integers(-50_000, 500_000).map(lambda n: D(n) / 100)


@st.composite
def two_groups(draw):
    n = draw(st.integers(2, 8))
    rows = [(draw(st.integers(1, 95)), draw(st.integers(0, 5000)), draw(amounts)) for _ in range(n)]
    listed = draw(st.sampled_from(((), (OLD,), (OLD, tariff(date(2023, 2, 10), "0.9", "0.3", "0.01", "19")))))
    house = house_of(rows, listed)
    cut = draw(st.integers(1, n - 1))
    weather = draw(st.none() | st.lists(st.floats(0, 3000), min_size=n, max_size=n).map(np.array))
    return house, list(range(cut)), list(range(cut, n)), weather


@settings(max_examples=80, deadline=None)
@given(two_groups())
def test_the_parts_add_up_to_the_cent_whatever_goes_in(groups):
    house, a, b, weather = groups
    found = made(house, a, b, weather)
    assert sum(found.parts.values()) == found.total
    assert found.total == sum(house.bills[i].amount for i in b) - sum(house.bills[i].amount for i in a)
    assert all(part == part.quantize(D("0.01")) for part in found.parts.values())
    told = found.to_dict()
    np.testing.assert_allclose(sum(told["parts"].values()), told["total"], rtol=0, atol=1e-6)


@settings(max_examples=40, deadline=None)
@given(two_groups())
def test_back_is_the_opposite_of_forth(groups):
    house, a, b, weather = groups
    forth, back = made(house, a, b, weather), made(house, b, a, weather)
    assert back.total == -forth.total
    for part in PARTS:
        assert back.parts[part] == -forth.parts[part]


curves = st.builds(Curve, amounts, amounts, st.integers(-100, 900).map(lambda n: D(n) / 1000))
sides = st.builds(
    Side,
    curves,
    amounts,
    st.integers(1, 99).map(D),
    st.integers(0, 99).map(D),
    st.builds(Drawn, st.just(D(1)), st.integers(0, 99).map(D)),
)


@settings(max_examples=40, deadline=None)
@given(sides, sides)
def test_the_split_is_the_mean_over_all_orders(a, b):
    """All 120 orders walked one by one."""

    def bill(state):
        price, fixed, days, weather, use = state
        drawn = Drawn(days.days, days.days * (weather.weather + use.other.kwh))
        return fixed.curve.fixed(days.days) + price.curve.energy(drawn) + price.beyond

    sums = dict.fromkeys(PARTS, D(0))
    for order in permutations(range(5)):
        state = [a] * 5
        before = bill(state)
        for k in order:
            state[k] = b
            after = bill(state)
            sums[PARTS[k]] += after - before
            before = after
    ours = split(a, b)
    for part in PARTS:
        assert abs(ours[part] - sums[part] / 120) < D("1e-12")


@settings(deadline=None)
@given(st.dictionaries(st.sampled_from(PARTS[:-1]), st.decimals(-1000, 1000, places=6), min_size=1), amounts)
def test_rounding_moves_only_the_largest_part(parts, whole):
    made_up = to_the_cent(parts, whole)
    assert sum(made_up.values()) == whole
    moved = [name for name in parts if abs(made_up[name] - parts[name]) > D("0.005")]
    assert len(moved) <= 1
    if moved:
        assert abs(parts[moved[0]]) == max(abs(v) for v in parts.values())


def told(total, **parts):
    dates = (date(2024, 1, 1), date(2024, 1, 31)), (date(2024, 1, 31), date(2024, 3, 1))
    every = {**dict.fromkeys(PARTS, D(0)), **parts}
    return bridge_sentence(Bridge((0,), (1,), *dates, D(0), D(total), every, True, True), US)


def test_the_sentence():
    start = "The bill of Jan 31 – Mar 1, 2024 asks for"
    than = "than that of Jan 1 – Jan 31, 2024"
    assert told(63, price=D(41), weather=D(22)) == (
        f"{start} $63 more {than}: $41 more for price and $22 more for weather."
    )
    assert told(-63, price=D(-41), weather=D(-30), days=D(8)) == (
        f"{start} $63 less {than}: $41 less for price, $30 less for weather and $8 more for the length of the bills."
    )
    assert told(63, weather=D(2), excess=D(61)) == (
        f"{start} $63 more {than}: $61 more for use over or under the usual and $2 more for weather."
    )
    assert told(0, weather=D(5), use=D(-5)) == (
        f"{start} the same as that of Jan 1 – Jan 31, 2024: $5 more for weather and $5 less for the "
        "rest of the household's use."
    )
    assert told(0) == f"{start} the same as that of Jan 1 – Jan 31, 2024."


def test_what_is_over_usual_has_the_same_money_as_in_the_table_of_bills():
    """A bill called $61 over is never told as weather."""
    house = house_of([(30, 600, None), (30, 1100, None)], (OLD,))
    facts = examine(house)
    excess, weather = np.array([0.0, 480.0]), np.array([200.0, 490.0])
    found = bridge(house, facts, [0], [1], weather, excess)
    assert found.parts["excess"] == cost_of(house, facts, 1, 480.0)
    assert found.parts["weather"] + found.parts["use"] == found.total - found.parts["excess"]
    assert found.parts["excess"] > D("0.9") * found.total


def test_fixed_money_spread_over_more_kwh_is_no_cheaper_price():
    """Without a tariff: $12 a month and 10 cents. 900 kWh more change the use alone, not the price."""
    house = house_of([(30, k, D(12) + D(k) / 10) for k in (500, 700, 650, 480, 900, 560, 1460)])
    found = made(house, [5], [6])
    assert found.parts == {**dict.fromkeys(PARTS, D(0)), "use": D("90.00")}
    assert not found.price_is_average
    two = replace(house, bills=house.bills[5:])
    alone = made(two, [0], [1])
    assert alone.parts["price"] < 0
    assert "less for the average price of a kWh, fixed charges in it" in bridge_sentence(alone, US)


def test_bills_that_the_tariff_cannot_price_go_by_their_average_price():
    late = tariff(date(2023, 1, 31))
    house = house_of([(30, 100, D("10.00")), (30, 200, D("40.00"))], (late,))
    found = made(house, [0], [1])
    assert not found.by_tariff
    assert sum(found.parts.values()) == found.total == D("30.00")
