"""Degree-days against the weather service's examples, and against a year of hourly weather carried by pvlib."""

from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
import pvlib
import pytest
from numpy.testing import assert_allclose

from reconcile.house import Bill, House, Weather
from reconcile.loads.energy import COOLING_BALANCE_C, HEATING_BALANCE_C, degree_days, load_energy

NWS_EXAMPLES = [
    # high F, low F, heating, cooling degree-days about 65 F
    (75.0, 65.0, 0.0, 5.0),  # ljworld.com 2003-08-03, quoting the NWS (read)
    (90.0, 70.0, 0.0, 15.0),  # burlingtonnc.gov/FAQ.aspx?QID=57 (read)
    (45.0, 35.0, 25.0, 0.0),  # mean 40, wgntv.com 2017-10-29 (read; high and low are ours)
]


@pytest.mark.parametrize(("high", "low", "heating", "cooling"), NWS_EXAMPLES)
def test_nws_examples(high, low, heating, cooling):
    mean = np.array([(high + low) / 2.0])
    assert degree_days(mean, 65.0) == [heating]
    assert degree_days(mean, 65.0, cooling=True) == [cooling]


@pytest.mark.parametrize(("high", "low", "heating", "cooling"), NWS_EXAMPLES)
def test_nws_examples_in_kelvin_days(high, low, heating, cooling):
    mean_c = np.array([((high + low) / 2.0 - 32.0) / 1.8])
    base_c = (65.0 - 32.0) / 1.8
    assert_allclose(degree_days(mean_c, base_c) * 1.8, [heating], rtol=0, atol=1e-10)
    assert_allclose(degree_days(mean_c, base_c, cooling=True) * 1.8, [cooling], rtol=0, atol=1e-10)


@pytest.fixture(scope="module")
def greensboro():
    """TMY3 of Greensboro, North Carolina (723170), a file that pvlib carries (BSD-3), read by pvlib."""
    path = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
    hourly, _ = pvlib.iotools.read_tmy3(path, coerce_year=2023, map_variables=True)
    hourly.index = hourly.index - np.timedelta64(1, "h")  # stamps are at the hour's end
    return hourly["temp_air"]


def test_tmy_degree_days_by_billing_month(greensboro):
    daily = greensboro.resample("D").mean()
    assert len(daily) == 365
    first = date(2023, 1, 1)
    edges = [date(2023, month, 1) for month in range(1, 13)] + [date(2024, 1, 1)]
    bills = [Bill(a, b, 1.0) for a, b in pairwise(edges)]
    house = House("Greensboro", tuple(bills), weather=Weather(first, daily.to_numpy()))
    ours = load_energy(bills, house).degree_days
    heating = (HEATING_BALANCE_C - daily).clip(lower=0.0).groupby(daily.index.month).sum()
    cooling = (daily - COOLING_BALANCE_C).clip(lower=0.0).groupby(daily.index.month).sum()
    assert_allclose(ours[:, 0], heating, rtol=1e-9, atol=1e-9)
    assert_allclose(ours[:, 1], cooling, rtol=1e-9, atol=1e-9)
    assert ours[:, 0].argmax() in (0, 11)
    assert ours[:, 1].argmax() in (6, 7)


def test_tmy_by_high_and_low_is_near_the_hourly_mean(greensboro):
    """The weather service's mean of high and low against the mean of 24 hours: within 6 % over a year."""
    by_day = greensboro.resample("D")
    middle = ((by_day.max() + by_day.min()) / 2.0).to_numpy()
    mean = by_day.mean().to_numpy()
    for cooling in (False, True):
        assert_allclose(
            degree_days(middle, 18.0, cooling=cooling).sum(),
            degree_days(mean, 18.0, cooling=cooling).sum(),
            rtol=0.06,
        )


def test_tmy_periods_that_end_inside_a_month_add_up_to_the_year(greensboro):
    daily = greensboro.resample("D").mean().to_numpy()
    house = House("Greensboro", (), weather=Weather(date(2023, 1, 1), daily))
    edges = [date(2023, 1, 1) + timedelta(days=d) for d in (0, 29, 61, 92, 122, 154, 183, 365)]
    bills = [Bill(a, b, 1.0) for a, b in pairwise(edges)]
    ours = load_energy(bills, house).degree_days.sum(axis=0)
    whole = degree_days(daily, HEATING_BALANCE_C).sum(), degree_days(daily, COOLING_BALANCE_C, cooling=True).sum()
    assert_allclose(ours, whole, rtol=1e-9)
