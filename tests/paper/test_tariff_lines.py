"""Bills built by hand, line by line, and what the tariff engine makes of the same."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reconcile.clock import local_seconds
from reconcile.house import Bill, House, Interval, Load, RegisterReading
from reconcile.house.tariff import Block, Charge, Tariff, Window
from reconcile.money import account, cost_of
from reconcile.money.recompute import use_of
from reconcile.money.tariff_curve import Drawn, curve_of
from reconcile.money.tariff_lines import CannotPrice, Use, price_bill, total
from reconcile.paper import examine
from reconcile.texts.money import notes

D = Decimal
DAY = date(2025, 1, 1)


def bill_of(charges, start, end, kwh, **use):
    """Lines as (name, amount)."""
    tariffs = charges if isinstance(charges[0], Tariff) else [Tariff(date(2000, 1, 1), tuple(charges))]
    return [(line.name, line.amount) for line in price_bill(tariffs, Use(start, end, D(str(kwh)), **use))]


def test_two_blocks_a_day_rider_levy_and_tax_on_part():
    """31 days, 1000 kWh: the limit is 22.1918 x 31 = 687.9458, rounded to 688 kWh.

    688 x .0690 = 47.472 -> 47.47; 312 x .1034 = 32.2608 -> 32.26; rider 4.35 % of 79.73 = 3.468255 -> 3.47; levy
    31 x .0713 = 2.2103 -> 2.21; service 31 x .3105 = 9.6255 -> 9.63; tax 6 % of energy and rider, 83.20, =
    4.992 -> 4.99; sum 100.03.
    """
    charges = [
        Charge("Energy", "blocks", blocks=(Block(D(".0690"), D("22.1918")), Block(D(".1034"))), blocks_per="day"),
        Charge("Fuel", "percent", D("4.35"), on=("Energy",), kind="rider"),
        Charge("Public benefits", "per_day", D(".0713"), kind="levy"),
        Charge("Service", "per_day", D(".3105"), kind="fixed"),
        Charge("Tax", "percent", D(6), on=("Energy", "Fuel"), kind="tax"),
    ]
    assert bill_of(charges, DAY, date(2025, 2, 1), 1000) == [
        ("Energy, up to 688 kWh", D("47.47")),
        ("Energy, over 688 kWh", D("32.26")),
        ("Fuel", D("3.47")),
        ("Public benefits", D("2.21")),
        ("Service", D("9.63")),
        ("Tax", D("4.99")),
    ]
    assert total(price_bill([Tariff(DAY, tuple(charges))], Use(DAY, date(2025, 2, 1), D(1000)))) == D("100.03")


def test_a_price_change_splits_days_and_kwh_by_days():
    """30 days, 900 kWh, new prices on the 13th day: 12 days and 360 kWh at the old, 18 days and 540 kWh at the new.

    Service 10 x 12/30 = 4.00 and 11 x 18/30 = 6.60; limits 20 x 12 = 240 and 20 x 18 = 360 kWh: 240 x .10 = 24.00,
    120 x .12 = 14.40; 360 x .11 = 39.60, 180 x .13 = 23.40; tax 5 % once of 112.00 = 5.60.
    """

    def tariff(since, fixed, low, high):
        return Tariff(
            since,
            (
                Charge("Service", "per_bill", D(fixed), kind="fixed"),
                Charge("Energy", "blocks", blocks=(Block(D(low), D(20)), Block(D(high))), blocks_per="day"),
                Charge("Tax", "percent", D(5), kind="tax"),
            ),
        )

    tariffs = [tariff(date(2024, 1, 1), "10", ".10", ".12"), tariff(date(2025, 1, 13), "11", ".11", ".13")]
    assert bill_of(tariffs, DAY, date(2025, 1, 31), 900) == [
        ("Service, 12 of 30 days", D("4.00")),
        ("Service, 18 of 30 days", D("6.60")),
        ("Energy, up to 240 kWh, 12 of 30 days", D("24.00")),
        ("Energy, over 240 kWh, 12 of 30 days", D("14.40")),
        ("Energy, up to 360 kWh, 18 of 30 days", D("39.60")),
        ("Energy, over 360 kWh, 18 of 30 days", D("23.40")),
        ("Tax", D("5.60")),
    ]


def test_a_tax_that_changes_is_taken_of_its_own_days():
    """300 kWh at .10 over 30 days: 3 % of 10.00 and 6 % of 20.00 where the rate changes after 10 days."""
    energy = Charge("Energy", "per_kwh", D(".10"))
    tariffs = [
        Tariff(date(2024, 1, 1), (energy, Charge("Tax", "percent", D(3), kind="tax"))),
        Tariff(date(2025, 1, 11), (energy, Charge("Tax", "percent", D(6), kind="tax"))),
    ]
    assert [amount for name, amount in bill_of(tariffs, DAY, date(2025, 1, 31), 300) if name.startswith("Tax")] == [
        D("0.30"),
        D("1.20"),
    ]


def test_a_block_limit_a_bill_is_shared_by_days():
    old = Tariff(date(2024, 1, 1), (Charge("Energy", "blocks", blocks=(Block(D(".1"), D(500)), Block(D(".2")))),))
    new = replace(old, valid_from=date(2025, 1, 11))
    dearer = replace(new, charges=(replace(new.charges[0], blocks=(Block(D(".11"), D(500)), Block(D(".22")))),))
    assert bill_of([old, dearer], DAY, date(2025, 1, 31), 900) == [
        ("Energy, up to 167 kWh, 10 of 30 days", D("16.70")),  # 500 x 10/30 = 166.67, to whole kWh
        ("Energy, over 167 kWh, 10 of 30 days", D("26.60")),
        ("Energy, up to 333 kWh, 20 of 30 days", D("36.63")),
        ("Energy, over 333 kWh, 20 of 30 days", D("58.74")),
    ]


def test_seasons_split_by_days():
    charges = [
        Charge("Energy", "per_kwh", D(".10"), months=frozenset({1, 2, 3, 4, 5, 10, 11, 12})),
        Charge("Energy", "per_kwh", D(".20"), months=frozenset({6, 7, 8, 9})),
    ]
    assert bill_of(charges, date(2025, 5, 22), date(2025, 6, 21), 300) == [
        ("Energy, 10 of 30 days", D("10.00")),
        ("Energy, 20 of 30 days", D("40.00")),
    ]
    whole = bill_of(charges, date(2025, 7, 1), date(2025, 7, 31), 300)
    assert whole == [("Energy", D("60.00"))]


@pytest.mark.parametrize(
    ("applies", "price"), [("read_date", D("60.00")), ("bill_date", D("90.00")), ("service", D("47.50"))]
)
def test_a_value_by_days_by_the_reading_or_by_the_bill(applies, price):
    """.10 from May, .20 from 16 June, .30 from July; 6 to 30 June, 300 kWh, the bill made in July.

    By days: 10 of 24 days at .10, 125 kWh, and 14 at .20, 175 kWh: 12.50 and 35.00.
    """
    values = ((date(2025, 5, 1), D(".10")), (date(2025, 6, 16), D(".20")), (date(2025, 7, 1), D(".30")))
    charge = Charge("Fuel", "per_kwh", values=values, applies=applies)
    lines = bill_of([charge], date(2025, 6, 6), date(2025, 6, 30), 300, bill_date=date(2025, 7, 3))
    assert sum(amount for _, amount in lines) == price


def test_a_season_by_the_reading_date():
    charges = [
        Charge("Energy", "per_kwh", D(".10"), months=frozenset({1, 2, 3, 4, 5}), applies="read_date"),
        Charge("Energy", "per_kwh", D(".20"), months=frozenset({6, 7, 8, 9}), applies="read_date"),
    ]
    assert bill_of(charges, date(2025, 5, 8), date(2025, 6, 7), 300) == [("Energy", D("60.00"))]
    assert bill_of(charges, date(2025, 4, 8), date(2025, 5, 8), 300) == [("Energy", D("30.00"))]


def test_no_use_and_use_below_nothing_are_billed_in_the_first_block():
    charge = Charge("Energy", "blocks", blocks=(Block(D(".10"), D(500)), Block(D(".20"))))
    assert bill_of([charge], DAY, date(2025, 1, 31), 0) == [("Energy, up to 500 kWh", D("0.00"))]
    assert bill_of([charge], DAY, date(2025, 1, 31), -50) == [("Energy, up to 500 kWh", D("-5.00"))]


def test_demand_and_export():
    charges = [
        Charge("Demand", "per_kw", D("8.10")),
        Charge("Energy", "per_kwh", D(".15")),
        Charge("Sent out", "export_credit_per_kwh", D(".06")),
    ]
    lines = bill_of(charges, DAY, date(2025, 1, 31), 400, demand_kw=D("5.4"), exported_kwh=D(250))
    assert lines == [("Demand", D("43.74")), ("Energy", D("60.00")), ("Sent out", D("-15.00"))]


def test_what_came_in_is_charged_where_what_went_out_is_credited():
    credit = Tariff(DAY, (Charge("Energy", "per_kwh", D(".15")), Charge("Out", "export_credit_per_kwh", D(".06"))))
    bill = Bill(DAY, date(2025, 1, 31), kwh=150.0, delivered_kwh=400.0, received_kwh=250.0, amount=D("45.00"))
    house = House("x", (bill,), generation=True, tariffs=(credit,))
    assert total(price_bill(house.tariffs, use_of(house, bill, 150.0))) == D("45.00")
    assert examine(house).findings == ()


def test_minimum_bill_comes_before_tax():
    """20 kWh at .10 is 2.00; the minimum of 9.00 adds 7.00; tax 10 % of 9.00."""
    tariff = Tariff(
        DAY,
        (Charge("Energy", "per_kwh", D(".10")), Charge("Tax", "percent", D(10), kind="tax")),
        minimum_per_bill=D(9),
    )
    assert bill_of([tariff], DAY, date(2025, 1, 31), 20) == [
        ("Energy", D("2.00")),
        ("Minimum bill", D("7.00")),
        ("Tax", D("0.90")),
    ]
    assert bill_of([tariff], DAY, date(2025, 1, 31), 200)[1][0] == "Tax"


def test_rounding_stated_by_line():
    charge = Charge("Fuel", "per_kwh", D("0.012345"), places=4)
    assert bill_of([charge], DAY, date(2025, 1, 31), 10) == [("Fuel", D("0.1235"))]


@pytest.mark.parametrize(
    ("charge", "missing"),
    [
        (Charge("Demand", "per_kw", D(8)), "demand in kW"),
        (Charge("Out", "export_credit_per_kwh", D(8)), "sent out"),
        (Charge("Energy", "windows", windows=(Window("peak", D(1)),)), "neither registers named peak nor interval"),
    ],
)
def test_what_is_missing_is_said(charge, missing):
    tariff = Tariff(DAY, (charge,))
    with pytest.raises(CannotPrice):
        price_bill([tariff], Use(DAY, date(2025, 1, 31), D(10)))
    house = House("x", (Bill(DAY, date(2025, 1, 31), kwh=10.0, amount=D(5)),), tariffs=(tariff,))
    facts = examine(house)
    assert facts.findings == ()
    assert missing in notes(account(house, facts).recomputed)[0]
    assert cost_of(house, facts, 0, 4.0) == D("2.00")  # by the bill's own average


def test_no_tariff_before_its_first_day():
    with pytest.raises(CannotPrice, match="no-tariff"):
        price_bill([Tariff(date(2025, 1, 2), ())], Use(DAY, date(2025, 1, 31), D(10)))


# Time of use ---------------------------------------------------------------------------------------------------------

TOU = Tariff(
    date(2000, 1, 1),
    (
        Charge(
            "Energy",
            "windows",
            windows=(
                Window(
                    "peak", D(".38"), weekdays=frozenset(range(5)), hours=(16.0, 21.0), months=frozenset({6, 7, 8, 9})
                ),
                Window("night", D(".12"), hours=(22.0, 6.0)),
                Window("rest", D(".21")),
            ),
        ),
    ),
)


def hourly(start, days, kwh_at):
    """UTC starts and energies of a Chicago summer, ``kwh_at(weekday, hour)`` by the local clock (UTC - 5 h)."""
    first = datetime(start.year, start.month, start.day, 5, tzinfo=UTC)
    starts = np.array([np.datetime64((first + timedelta(hours=n)).replace(tzinfo=None), "s") for n in range(days * 24)])
    local = [first + timedelta(hours=n - 5) for n in range(days * 24)]
    return Interval(starts, np.array([kwh_at(t.weekday(), t.hour) for t in local], dtype=float), 3600)


def test_time_of_use_from_interval_data():
    """July 2025, 31 days: 23 weekdays with 5 peak hours of 2 kWh, 8 night hours of 0.5 kWh, all other hours 1 kWh.

    Peak 23 x 10 = 230; night 31 x 4 = 124; rest 31 x 16 - 23 x 5 = 381 kWh: 735 kWh billed.
    """

    def use(weekday, hour):
        return 2.0 if weekday < 5 and 16 <= hour < 21 else 0.5 if hour >= 22 or hour < 6 else 1.0

    bill = Bill(date(2025, 7, 1), date(2025, 8, 1), kwh=735.0, amount=D("182.29"))
    house = House("x", (bill,), tariffs=(TOU,), interval=hourly(bill.start, 31, use))
    lines = price_bill(house.tariffs, use_of(house, bill, 735.0))
    assert [(line.name, line.quantity, line.amount) for line in lines] == [
        ("Energy, peak", D(230), D("87.40")),
        ("Energy, night", D(124), D("14.88")),
        ("Energy, rest", D(381), D("80.01")),
    ]
    assert examine(house).findings == ()
    assert cost_of(house, examine(house), 0, 73.5) == D("18.23")  # a tenth of every window


def test_time_of_use_from_printed_registers():
    rows = tuple(
        RegisterReading(day, value, register=name)
        for name, a, b in (("Peak", 1000.0, 1230.0), ("Night", 50.0, 174.0), ("Rest", 9900.0, 281.0))
        for day, value in ((date(2025, 7, 1), a), (date(2025, 8, 1), b))
    )
    bill = Bill(date(2025, 7, 1), date(2025, 8, 1), amount=D("182.29"))
    house = House("x", (bill,), tariffs=(TOU,), readings=rows)
    facts = examine(house)
    assert facts.billed_kwh.tolist() == [735.0]
    assert facts.findings == ()
    assert facts.recomputed[0].ours == D("182.29")


def test_interval_data_that_miss_days_do_not_price_a_bill():
    bill = Bill(date(2025, 7, 1), date(2025, 8, 1), kwh=735.0, amount=D("182.29"))
    house = House("x", (bill,), tariffs=(TOU,), interval=hourly(bill.start, 29, lambda *_: 1.0))
    assert examine(house).recomputed[0].why_not.code == "no-windows"


def test_the_local_clock_through_both_changes():
    """US rule: second Sunday of March and first of November, 2 a.m."""
    utc = np.array(
        ["2025-03-09T07:59", "2025-03-09T08:00", "2025-11-02T06:59", "2025-11-02T07:00", "2025-01-05T12:30"],
        "datetime64[s]",
    )
    hours = local_seconds(utc, ZoneInfo("America/Chicago")) % 86400 / 3600
    np.testing.assert_allclose(hours, [1 + 59 / 60, 3.0, 1 + 59 / 60, 1.0, 6.5], rtol=0, atol=1e-9)


# The curve says the same as the lines --------------------------------------------------------------------------------

prices = st.integers(0, 5000).map(lambda n: D(n) / 10000)


@st.composite
def tariffs(draw):
    per = draw(st.sampled_from(("day", "bill")))
    limit = D(draw(st.integers(1, 40))) if per == "day" else D(draw(st.integers(1, 1200)))
    charges = [
        Charge("Service", draw(st.sampled_from(("per_day", "per_bill"))), draw(prices) * 10, kind="fixed"),
        Charge("Energy", "blocks", blocks=(Block(draw(prices), limit), Block(draw(prices))), blocks_per=per),
        Charge("Rider", "percent", draw(prices) * 20, on=draw(st.sampled_from((None, ("Energy",)))), kind="rider"),
        Charge("Extra", "per_kwh", draw(prices)),
        Charge("Tax", "percent", draw(prices) * 20, kind="tax"),
    ]
    kept = [c for c in charges if c.basis == "blocks" or draw(st.booleans())]
    return Tariff(date(2020, 1, 1), tuple(kept), block_places=6)


@settings(max_examples=60, deadline=None)
@given(tariffs(), st.integers(1, 90), st.integers(0, 4000), st.data())
def test_curve_and_lines_agree_but_for_rounding(tariff, days, kwh, data):
    change = data.draw(st.none() | st.integers(1, days))
    listed = [tariff]
    if change is not None and change < days:
        charges = tuple(
            replace(c, price=c.price * 2) if c.basis in ("per_kwh", "per_day") else c for c in tariff.charges
        )
        listed.append(replace(tariff, valid_from=DAY + timedelta(change), charges=charges))
    use = Use(DAY, DAY + timedelta(days), D(kwh))
    lines = price_bill(listed, use)
    curve = curve_of(listed, use)
    smooth = curve.fixed(D(days)) + curve.energy(Drawn(D(days), D(kwh)))
    assert abs(smooth - total(lines)) <= D("0.011") * len(lines)


@settings(max_examples=40, deadline=None)
@given(tariffs(), st.integers(27, 34), st.integers(1, 3000), st.integers(-500, 3000))
def test_cost_of_energy_is_the_bill_less_the_bill_without_it(tariff, days, kwh, part):
    bill = Bill(DAY, DAY + timedelta(days), kwh=float(kwh))
    house = House("x", (bill,), tariffs=(tariff,), loads=(Load("a", watts=1.0),))
    cost = cost_of(house, examine(house), 0, float(part))
    full, rest = (total(price_bill([tariff], Use(bill.start, bill.end, D(k)))) for k in (kwh, kwh - part))
    assert cost == full - rest
