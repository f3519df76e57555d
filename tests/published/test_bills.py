"""Bills, readings, refunds and charges against published figures, to the cent.

Where a figure was read by us it names the page; "from memory" and "calculated" say so beside it.
"""

from datetime import date, timedelta
from decimal import Decimal

import numpy as np
import pytest

from reconcile.house import Bill, House, Meter
from reconcile.house.registers import difference
from reconcile.house.tariff import Block, Charge, Tariff
from reconcile.money.refund import MeterError, refund, rules
from reconcile.money.tariff_lines import Use, price_bill, total
from reconcile.paper import examine
from reconcile.paper.date_checks import CYCLES
from reconcile.say import Voice
from reconcile.texts.money import refund_text

D = Decimal


def seymour(season):
    """City of Seymour, residential electricity, cityofseymour.org/departments/utilities/residential-electricity/
    bill-comparison/ (both sample bills and their lines read there)."""
    blocks = {
        "winter": (Block(D(".064"), D(250)), Block(D(".049"), D(700)), Block(D(".0446"))),
        "summer": (Block(D(".064"), D(250)), Block(D(".049"), D(700)), Block(D(".0475"), D(1250)), Block(D(".0446"))),
    }
    return Tariff(
        date(2000, 1, 1),
        (
            Charge("Energy", "blocks", blocks=blocks[season]),
            Charge("Power cost", "per_kwh", D(".085")),
            Charge("Base", "per_bill", D("7.50"), kind="fixed"),
            Charge("Tax", "percent", D(1), kind="tax"),
        ),
    )


SEYMOUR = {
    ("winter", 1200): (["16.00", "22.05", "22.30", "102.00", "7.50", "1.70"], "171.55"),
    ("summer", 2000): (["16.00", "22.05", "26.13", "33.45", "170.00", "7.50", "2.75"], "277.88"),
}


def month(kwh):
    return Use(date(2025, 7, 1), date(2025, 7, 31), D(kwh))


@pytest.mark.parametrize(("season", "kwh"), list(SEYMOUR))
def test_seymour_sample_bills_line_by_line(season, kwh):
    lines, whole = SEYMOUR[season, kwh]
    ours = price_bill([seymour(season)], month(kwh))
    assert [str(line.amount) for line in ours] == lines
    assert total(ours) == D(whole)


def test_the_half_cent_of_the_summer_bill_goes_up():
    """550 x .0475 = 26.125: binary floats and half-to-even give 26.12, and 277.87 in all (calculated)."""
    line = next(line for line in price_bill([seymour("summer")], month(2000)) if line.rate == D(".0475"))
    assert (line.quantity, line.amount) == (D(550), D("26.13"))
    assert round(550 * 0.0475, 2) == 26.12


def test_simple_bill():
    """1000 kWh at 8.5 cents, $8 service, 7.25 % tax: $99.74 (creditanddebtmanagement.blogspot.com, 2007)."""
    tariff = Tariff(
        date(2000, 1, 1),
        (
            Charge("Energy", "per_kwh", D(".085")),
            Charge("Service", "per_bill", D(8), kind="fixed"),
            Charge("Tax", "percent", D("7.25"), kind="tax"),
        ),
    )
    assert [line.amount for line in price_bill([tariff], month(1000))] == [D(85), D(8), D("6.74")]
    assert total(price_bill([tariff], month(1000))) == D("99.74")


def test_bill_of_1110_kwh():
    """1110 kWh at 9.51 cents and $18.48 availability (jcpb.com/yourHome/meters/calcBill.asp); the total is
    calculated."""
    tariff = Tariff(
        date(2000, 1, 1),
        (Charge("Energy", "per_kwh", D(".0951")), Charge("Availability", "per_bill", D("18.48"), kind="fixed")),
    )
    lines = price_bill([tariff], month(1110))
    assert [line.amount for line in lines] == [D("105.56"), D("18.48")]
    assert total(lines) == D("124.04")


def test_reading_arithmetic():
    """9846 - 9201 = 645 (yumpu.com 41621493) and 9975 - 8865 = 1110 kWh (jcpb.com)."""
    assert difference(9201, 9846) == 645
    assert difference(8865, 9975) == 1110


def test_rollover_puts_a_1_before_the_new_reading():
    """A five-dial meter begins again at 100,000 (cirroenergy.com/services/meter.asp)."""
    assert difference(99_640, 310, digits=5) == 100_310 - 99_640
    bills = [
        Bill(
            date(2025, 1, 1) + timedelta(30 * k), date(2025, 1, 31) + timedelta(30 * k), reading_start=a, reading_end=b
        )
        for k, (a, b) in enumerate([(98_200, 98_900), (98_900, 99_640), (99_640, 310), (310, 1_000)])
    ]
    facts = examine(House("x", tuple(bills), meters=(Meter(digits=5),)))
    assert facts.billed_kwh.tolist() == [700, 740, 670, 690]
    assert [f.code for f in facts.findings] == ["rollover"]


def test_a_billing_month_is_26_to_35_days():
    """52 Pa. Code 56.2 (2019), pacodeandbulletin.gov, 49 Pa.B. 2815."""
    assert CYCLES[0] == ("monthly", 26, 35)


# Refunds -------------------------------------------------------------------------------------------------------------


def thousand_a_month(months=40, price="0.10"):
    """A house that is billed 1000 kWh for every calendar month, ten cents each."""
    bills = []
    for k in range(months):
        start = date(2022 + k // 12, k % 12 + 1, 1)
        end = date(2022 + (k + 1) // 12, (k + 1) % 12 + 1, 1)
        bills.append(Bill(start, end, kwh=1000.0, amount=D(1000) * D(price)))
    house = House("Refund Row", tuple(bills))
    return house, examine(house)


FOUND = date(2025, 1, 1)


def test_pennsylvania_averages_light_and_four_heavy():
    """52 Pa. Code 57.24: (light + 4 heavy) / 5, law.cornell.edu/regulations/pennsylvania/52-Pa-Code-SS-57-24."""
    rule = rules()["PA"]
    np.testing.assert_allclose(rule.average(98.0, 101.0), 100.4, rtol=1e-12, atol=0)
    assert rule.tolerance_percent == 2.0


def test_pennsylvania_fast_meter():
    """Half the time since the last test, at most 12 months (52 Pa. Code 57.24); kWh x (1 - 100 / 104) is calculated."""
    house, facts = thousand_a_month()
    ten_months = refund(house, facts, rules()["PA"], MeterError(104.0, FOUND, date(2024, 3, 1)))
    assert ten_months.start == FOUND - timedelta(round(306 / 2))
    five = refund(house, facts, rules()["PA"], MeterError(104.0, FOUND, date(2022, 7, 1)))
    assert five.start == date(2024, 1, 1)  # 30 months: half would be 15, so 12
    np.testing.assert_allclose(five.kwh, 12_000 * (1 - 100 / 104), rtol=1e-12, atol=0)
    assert five.amount == 12 * D("3.85")  # 38.46 kWh at ten cents a bill, to the cent
    assert "Check your local rule" in refund_text(five, Voice())


def test_pennsylvania_slow_meter():
    """Half the time, at most 3 months (52 Pa. Code 57.24)."""
    house, facts = thousand_a_month()
    slow = refund(house, facts, rules()["PA"], MeterError(96.0, FOUND, date(2022, 7, 1)))
    assert slow.start == date(2024, 10, 1)
    np.testing.assert_allclose(slow.kwh, 3_000 * (1 - 100 / 96), rtol=1e-12, atol=0)
    assert slow.amount == -3 * D("4.17")
    assert "by the customer" in refund_text(slow, Voice())


def test_pennsylvania_known_period():
    house, facts = thousand_a_month()
    known = refund(house, facts, rules()["PA"], MeterError(104.0, FOUND, date(2022, 7, 1), since=date(2023, 7, 1)))
    np.testing.assert_allclose(known.kwh, 18_000 * (1 - 100 / 104), rtol=1e-12, atol=0)


@pytest.mark.parametrize("registration", [98.0, 100.0, 101.9, 102.0])
def test_nothing_is_owed_within_two_percent(registration):
    house, facts = thousand_a_month()
    assert refund(house, facts, rules()["PA"], MeterError(registration, FOUND, date(2022, 7, 1))).kwh == 0.0


def test_wisconsin_drift_since_the_last_test():
    """PSC 113.0924: as if the meter were right, the error grown evenly since the last test
    (regulations.justia.com/states/wisconsin/psc). Calculated: 1 - ln(1.04) / 0.04 of the energy is error."""
    house, facts = thousand_a_month()
    owed = refund(house, facts, rules()["WI"], MeterError(104.0, FOUND, date(2023, 1, 1)))
    last_test = date(2023, 1, 1)
    days = (FOUND - last_test).days
    by_day = 0.0
    for n in range(days):
        day = last_test + timedelta(n)
        in_month = (day.replace(day=28) + timedelta(4)).replace(day=1) - timedelta(1)
        error = 0.04 * (n + 0.5) / days
        by_day += 1000 / in_month.day * error / (1 + error)
    np.testing.assert_allclose(owed.kwh, by_day, rtol=1e-6, atol=0)
    even = House("even", (Bill(date(2023, 1, 1), FOUND, kwh=24_000.0),))
    exact = refund(even, examine(even), rules()["WI"], MeterError(104.0, FOUND, date(2023, 1, 1)))
    np.testing.assert_allclose(exact.kwh, 24_000 * (1 - np.log(1.04) / 0.04), rtol=1e-12, atol=0)


def test_wisconsin_refund_of_a_dollar_or_less_is_not_made():
    """ "Refund if > $1 (current customer)", PSC 113.0924."""
    house, facts = thousand_a_month(price="0.001")
    assert refund(house, facts, rules()["WI"], MeterError(102.5, FOUND, date(2024, 10, 1))).amount == 0


def test_florida_correction_factor():
    """25-6.103: 1 / (1 + P) (lawserver.com/law/state/florida/regulations); +2.5 % gives 1 - 0.97561 (calculated)."""
    house, facts = thousand_a_month()
    owed = refund(house, facts, rules()["FL"], MeterError(102.5, FOUND, date(2022, 7, 1)))
    np.testing.assert_allclose(owed.kwh, 12_000 * (1 - 0.97561), rtol=0, atol=0.06)
