"""Facts that stand before any statistics: a register that stands still, units and columns exchanged, odd prices."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from honest_houses import honest_house

from reconcile import read_house, reconcile
from reconcile.facts import Aside
from reconcile.house import Bill, Event, House, Load
from reconcile.paper import examine
from reconcile.say import Voice
from reconcile.texts.findings import finding_do, finding_text

SAMPLES = Path(__file__).parents[2] / "sample_bills"
NAMES = sorted(p.name for p in SAMPLES.iterdir() if (p / "house.toml").exists())
US = Voice()
FIRST = ("stopped-register", "unit-mismatch", "unit-price", "multiplier")


@cache
def sample(name: str) -> House:
    return read_house(SAMPLES / name)


def every(house, change):
    return replace(house, bills=tuple(change(b) for b in house.bills))


def one(house, i, change):
    return replace(house, bills=tuple(change(b) if k == i else b for k, b in enumerate(house.bills)))


def without_readings(house):
    return every(house, lambda b: replace(b, reading_start=None, reading_end=None))


def times(factor):
    return lambda b: replace(b, kwh=b.kwh * factor)


def exchanged(b):
    return replace(b, kwh=float(b.amount), amount=Decimal(repr(b.kwh)))


def in_cents(b):
    return replace(b, amount=b.amount * 100)


CHANGES = {
    "ten": times(10.0),
    "tenth": times(0.1),
    "wh": times(1000.0),
    "mwh": times(0.001),
    "exchanged": exchanged,
    "cents": in_cents,
}


def new(house, changed):
    """Findings that a change brought and that settle."""
    before = {(f.key, f.periods) for f in examine(house).findings}
    return [f for f in examine(changed).findings if f.settles and (f.key, f.periods) not in before]


@pytest.mark.parametrize("bare", [False, True], ids=["as it is", "no tariff, no readings"])
@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("change", CHANGES)
def test_a_unit_or_a_column_taken_for_another_is_named(name, change, bare):
    house = sample(name)
    if bare:
        house = replace(without_readings(house), tariffs=())
    found = [f for f in new(house, every(house, CHANGES[change])) if f.code == "unit-mismatch"]
    assert [f.figures["meant"][0]["name"] for f in found] == [change]
    assert "which cannot be the price" in finding_text(found[0], US)
    assert "correct the unit" in finding_do(found[0], US)


def test_energy_in_another_unit_is_not_judged():
    facts = examine(every(sample("all_well"), times(10.0)))
    assert set(facts.set_aside.values()) == {Aside.UNIT}
    assert len(facts.set_aside) == len(facts.billed_kwh)
    assert not examine(every(sample("all_well"), in_cents)).set_aside
    assert [f.code for f in facts.findings] == ["unit-mismatch"]


@pytest.mark.parametrize("change", ["ten", "tenth", "exchanged", "wh"])
@pytest.mark.parametrize("i", [3, 7, 11])
@pytest.mark.parametrize("name", ["all_well", "bills_only", "cold_winter"])
def test_one_bill_in_another_unit_is_named(name, i, change):
    house = sample(name)
    found = [f for f in new(house, one(house, i, CHANGES[change])) if f.code == "unit-mismatch"]
    assert [f.periods for f in found] == [(i,)]
    assert found[0].figures["meant"][0]["name"] == change
    assert "one digit missing" in finding_text(found[0], US) or change != "tenth"


@pytest.mark.parametrize("bare", [False, True], ids=["tariff", "no tariff"])
def test_one_amount_in_cents_is_named(bare):
    house = sample("all_well")
    if bare:
        house = replace(without_readings(house), tariffs=())
    (found,) = new(house, one(house, 6, in_cents))
    assert (found.code, found.periods) == ("unit-mismatch", (6,))
    assert found.figures["meant"][0]["name"] == "cents"
    assert not examine(one(house, 6, in_cents)).set_aside


@pytest.mark.parametrize("i", [2, 5, 8, 12])
@pytest.mark.parametrize("bare", [False, True], ids=["tariff", "no tariff"])
def test_one_bill_doubled_does_not_fit_its_own_amount(i, bare):
    house = without_readings(sample("all_well"))
    if bare:
        house = replace(house, tariffs=())
    (found,) = new(house, one(house, i, times(2.0)))
    assert (found.key, found.periods) == ("unit-price/double", (i,))
    np.testing.assert_allclose(found.kwh, house.bills[i].kwh, rtol=1e-12, atol=0)
    said = finding_text(found, US)
    assert "pays for half of that" in said
    assert ("by the tariff as typed" in said) is not bare


def test_a_digit_that_the_amount_contradicts():
    """652 typed 952 in October: the amount and the season say 652."""
    house = replace(without_readings(sample("all_well")), tariffs=())
    (found,) = new(house, one(house, 3, lambda b: replace(b, kwh=b.kwh + 900.0)))
    assert found.key == "unit-price/kwh"
    np.testing.assert_allclose(found.figures["paid_kwh"], house.bills[3].kwh, rtol=0.02, atol=0)


def test_a_credit_in_the_amount_is_said_but_settles_nothing():
    house = replace(without_readings(sample("all_well")), tariffs=())
    changed = one(house, 8, lambda b: replace(b, amount=b.amount - 45))
    assert new(house, changed) == []
    (found,) = [f for f in examine(changed).findings if f.case == "off-line"]
    assert float(found.amount) == pytest.approx(-45.0, abs=0.02)
    assert "$45.00 less" in finding_text(found, US)
    assert "Most likely a credit or a correction" in finding_text(found, US)
    assert found.asks == ()


@pytest.mark.parametrize("last", [1, 4, 6, 8])
@pytest.mark.parametrize("name", NAMES)
def test_a_register_that_stands_still_to_the_end(name, last):
    house = sample(name)
    if name == "estimated_read" and last > 6:
        pytest.skip("its estimate is among them")
    still = house.bills[-last].reading_start
    bills = [
        replace(b, kwh=0.0, amount=None, reading_start=still, reading_end=still) if k >= len(house.bills) - last else b
        for k, b in enumerate(house.bills)
    ]
    facts = examine(replace(house, bills=tuple(bills)))
    (found,) = [f for f in facts.findings if f.code == "stopped-register"]
    assert found.periods == tuple(range(len(bills) - last, len(bills)))
    assert found.settles
    assert found.kwh < 0
    assert {facts.set_aside[i] for i in found.periods} == {Aside.STOPPED}
    assert "A stopped or disconnected meter is likely" in finding_text(found, US)
    assert "may be billed later" in finding_do(found, US)


def test_a_stopped_register_is_never_called_fine():
    house = sample("all_well")
    bills = [replace(b, kwh=0.0, amount=None, reading_start=None, reading_end=None) for b in house.bills[-6:]]
    verdict = reconcile(replace(house, bills=(*house.bills[:-6], *bills))).verdict
    assert verdict.decision == "paperwork"
    assert "Nothing needs to be done" not in verdict.headline


def test_bills_of_two_thousand_and_nothing_in_turn():
    house = sample("all_well")
    bills = [
        replace(b, kwh=2000.0 * (k % 2), amount=None, reading_start=None, reading_end=None)
        for k, b in enumerate(house.bills)
    ]
    for loads in (house.loads, ()):
        facts = examine(replace(house, bills=tuple(bills), loads=loads))
        (found,) = facts.findings
        assert found.key == "stopped-register/between"
        assert set(range(2, len(bills), 2)) <= set(found.periods)


def test_a_bill_of_nothing_before_one_of_both_was_not_read():
    house = sample("all_well")
    both = 2 * house.bills[8].kwh + house.bills[7].kwh
    changed = one(one(without_readings(house), 7, lambda b: replace(b, kwh=0.0)), 8, lambda b: replace(b, kwh=both))
    facts = examine(replace(changed, tariffs=()))
    (found,) = [f for f in facts.findings if f.code == "stopped-register"]
    assert (found.case, found.periods, facts.loose_edges) == ("not-read", (7, 8), {7})
    assert "Only their sum" in finding_text(found, US)


def bills_of(kwh):
    day = date(2023, 1, 1)
    return tuple(Bill(day + timedelta(30 * k), day + timedelta(30 * k + 30), kwh=float(x)) for k, x in enumerate(kwh))


@pytest.mark.parametrize(
    "house",
    [
        House("cottage", bills_of([0, 0, 0, 0, 0, 210, 400, 380, 190, 0, 0, 0, 0, 0, 0, 0, 0, 240, 350, 0])),
        House("away", bills_of([600] * 10 + [0, 0]), events=(Event(date(2023, 10, 20), "away"),)),
        House("sun", bills_of([500, 300, 0, 0, 0, 400, 600, 0, 0]), generation=True),
        House("empty", bills_of([600] * 10 + [40, 45]), loads=(Load("router", watts=15.0, follows="always"),)),
        House("all nothing", bills_of([0] * 8)),
    ],
    ids=lambda house: house.name,
)
def test_a_house_left_empty_is_no_stopped_register(house):
    assert not [f for f in examine(house).findings if f.code == "stopped-register"]


@pytest.mark.parametrize("factor", [10.0, 0.1, 40.0, 7.3, 1000.0, 0.95])
def test_every_reading_difference_off_by_one_factor(factor):
    values = np.cumsum([41_000, 900, 870, 760, 1020, 940, 880])
    bills = [
        replace(b, kwh=float(after - before) * factor, reading_start=float(before), reading_end=float(after))
        for b, (before, after) in zip(bills_of([0] * 6), pairwise(values), strict=True)
    ]
    facts = examine(House("x", tuple(bills)))
    (found,) = facts.findings
    assert (found.key, found.settles, found.kwh) == ("multiplier/every-bill", True, None)
    np.testing.assert_allclose(found.figures["used"], factor, rtol=1e-9, atol=0)
    assert f"Every bill charges {US.exact(factor)} times the difference of its readings" in finding_text(found, US)
    assert not facts.set_aside


def test_a_missing_multiplier_is_settled_before_the_list():
    house = sample("all_well")
    verdict = reconcile(replace(every(house, times(10.0)), tariffs=())).verdict
    assert verdict.decision == "paperwork"


@pytest.mark.parametrize("part", range(5))
def test_nothing_is_found_in_houses_in_order(part):
    """Generation, seasons, blocks, time of use, big fixed fees and tiny use: 0 of 500."""
    said = 0
    for seed in range(100 * part, 100 * part + 100):
        found = [f for f in examine(honest_house(seed)).findings if f.code in FIRST]
        assert [f.key for f in found if f.settles] == [], seed
        said += len(found)
    assert said <= 1


def test_the_sample_houses_are_in_order():
    for name in NAMES:
        assert not [f.key for f in examine(sample(name)).findings if f.code in FIRST], name


def test_a_fact_of_far_more_energy_is_told_before_the_bill_that_stands_out():
    """A bill of 300 kWh too little came first, and then 41,000 kWh that a lost multiplier charged too much."""
    house = replace(sample("all_well"), tariffs=())
    low = house.bills[4].kwh * 0.5
    bills = [
        replace(b, amount=None, kwh=b.kwh * (10.0 if k >= len(house.bills) - 6 else 1.0))
        for k, b in enumerate(house.bills)
    ]
    bills[4] = replace(bills[4], kwh=bills[4].kwh - low)
    moved = [
        replace(
            b,
            reading_start=b.reading_start - (low if k > 4 else 0.0),
            reading_end=b.reading_end - (low if k >= 4 else 0.0),
        )
        for k, b in enumerate(bills)
    ]
    headline = reconcile(replace(house, bills=tuple(moved))).verdict.headline
    assert "10 times" in headline
    assert headline.index("10 times") < headline.index("under what this house usually uses")
