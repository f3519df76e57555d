"""Loads of one season: when they may have run, and that bills tell them."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from weigh_houses import house

import reconcile
from reconcile.house import House, Weather
from reconcile.paper import examine
from reconcile.weigh.model import build
from reconcile.weigh.seasons import ASIDE_DAYS, LONGEST_DAYS, SHORTEST_DAYS, season_windows


def edges(home: House) -> tuple[np.ndarray, np.ndarray]:
    opens = np.array([bill.start.toordinal() for bill in home.bills], dtype=float)
    return opens, opens + np.array([bill.days for bill in home.bills])


def middles(home: House, *, warm: bool) -> np.ndarray:
    """Day of the year about which each window lies."""
    opens, closes = edges(home)
    mask, _ = season_windows(home, opens, closes)[warm]
    assert len(mask)
    assert ((mask >= 0.0) & (mask <= 1.0)).all()
    length = mask @ (closes - opens)
    assert (length >= SHORTEST_DAYS).all()
    assert (length <= LONGEST_DAYS).all()
    centre = (mask * (closes - opens)) @ (0.5 * (opens + closes)) / length
    return np.array([date.fromordinal(round(day)).timetuple().tm_yday for day in centre])


@pytest.mark.parametrize(("zone", "warm", "peak"), [("", False, 20), ("", True, 203), ("Australia/Sydney", False, 203)])
def test_windows_lie_about_the_cold_and_the_warm_of_the_year(zone, warm, peak):
    home = replace(house(), weather=None, timezone=zone)
    aside = np.abs((middles(home, warm=warm) - peak + 182) % 365 - 182)
    # a part of a bill counts as in its middle
    assert aside.max() <= ASIDE_DAYS + 12


def test_the_record_says_when_it_is_cold():
    home = house()
    assert home.weather is not None
    turned = replace(home, weather=Weather(home.weather.first, -home.weather.mean_c))
    winter, summer = middles(home, warm=False), middles(home, warm=True)
    assert sorted(winter) == sorted(middles(turned, warm=True))
    assert sorted(summer) == sorted(middles(turned, warm=False))
    even = replace(home, weather=Weather(home.weather.first, np.full(len(home.weather.mean_c), 26.0)))
    opens, closes = edges(even)
    assert not any(len(start) for _, start in season_windows(even, opens, closes))


def with_heater(home: House, begin: date, days: int, kwh_per_day: float) -> House:
    """Bills of exactly what the list expects, and a heater between two dates."""
    expected = build(home, examine(home)).mean
    end = begin + timedelta(days=days)
    on = [max((min(end, b.closes) - max(begin, b.start)).days, 0) for b in home.bills]
    bills = tuple(
        replace(bill, kwh=float(kwh) + kwh_per_day * ran)
        for bill, kwh, ran in zip(home.bills, expected, on, strict=True)
    )
    return replace(home, bills=bills)


@pytest.mark.parametrize("late", [0, 8, 16, 24])
@pytest.mark.parametrize("days", [62, 80, 98])
def test_a_heater_of_one_winter_is_no_odd_bill_beside_another(late: int, days: int):
    home = house()
    winter = next(bill.start for bill in home.bills[2:] if bill.start.month == 12)
    begin = winter + timedelta(days=late)
    causes = {cause.code: cause for cause in reconcile.reconcile(with_heater(home, begin, days, 9.0)).causes}
    heater = causes["timed-load"]
    assert heater.probability > 0.6
    assert abs((heater.since - begin).days) <= 16
    assert abs((heater.until - begin).days - days) <= 16
    assert heater.size_low < 375.0 < heater.size_high
    assert causes.get("single-period") is None or causes["single-period"].probability < 0.25
