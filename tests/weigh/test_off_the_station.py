"""A house that feels another weather than its station, or heats from another warmth on, has no new load."""

from dataclasses import replace

import numpy as np
import pytest
from weigh_houses import house

from reconcile.house import House, Load
from reconcile.loads.energy import load_energy
from reconcile.paper import examine
from reconcile.weigh.balance import laid_out
from reconcile.weigh.model import build
from reconcile.weigh.unknown_weather import off_the_station
from reconcile.weigh.weighing import weigh_house


def conditioned(balance_c: float | None = None, cooled_c: float | None = None) -> House:
    home = house()
    heater = Load("Baseboard heaters", watts=6000.0, follows="heating", hours_per_degree_day=0.7, balance_c=balance_c)
    cooler = Load("Air conditioner", watts=4000.0, follows="cooling", hours_per_degree_day=1.2, balance_c=cooled_c)
    others = tuple(load for load in home.loads if load.follows not in ("heating", "cooling"))
    return replace(home, loads=(*others, heater, cooler))


def billed_as(home: House, true: House) -> House:
    """The list of one house and the bills of another."""
    kwh = build(true, examine(true)).mean
    bills = tuple(
        replace(b, kwh=float(k), reading_start=None, reading_end=None) for b, k in zip(home.bills, kwh, strict=True)
    )
    return replace(home, bills=bills)


def shifted(home: House, kelvin: float, turn: float) -> House:
    """The same with weather that swings so far about that of the station."""
    weather = home.weather
    assert weather is not None
    day = weather.first.timetuple().tm_yday + np.arange(len(weather.mean_c))
    wave = kelvin * np.cos(2.0 * np.pi * day / 365.25 - turn)
    return replace(home, weather=replace(weather, mean_c=weather.mean_c + wave))


def chances(home: House) -> tuple[float, float]:
    weighing = weigh_house(home, examine(home))
    return weighing.none, max(weighing.chance(kind) for kind in ("timed-load", "winter-load", "summer-load"))


@pytest.mark.parametrize("turn", [0.0, 0.5 * np.pi, np.pi, 1.5 * np.pi])
def test_a_fall_that_feels_warmer_than_its_spring_is_no_load(turn):
    home = conditioned()
    none, load = chances(billed_as(home, shifted(home, 1.0, turn)))
    assert none > 0.8
    assert load < 0.05


@pytest.mark.parametrize("kwh_a_day", [6.0, 9.0])
def test_a_load_beside_it_is_found(kwh_a_day):
    home = conditioned()
    home = billed_as(home, shifted(home, 1.0, 0.5 * np.pi))
    more = [kwh_a_day * b.days * (6 <= i < 9) for i, b in enumerate(home.bills)]
    bills = tuple(replace(b, kwh=(b.kwh or 0.0) + extra) for b, extra in zip(home.bills, more, strict=True))
    _, load = chances(replace(home, bills=bills))
    assert load > 0.5


@pytest.mark.parametrize(("heats", "cools"), [(20.0, None), (12.0, None), (None, 16.0), (None, 24.0)])
def test_a_balance_temperature_off_by_four_kelvin_is_no_cause(heats, cools):
    """Off by so much the energy is no straight line in it: *none* was .25 with cooling from 16 degC on."""
    none, load = chances(billed_as(conditioned(), conditioned(heats, cools)))
    assert none > 0.8
    assert load < 0.05


def test_the_chord_meets_the_energy_where_the_bills_put_the_balance():
    """Here as far off as it is taken at the most: two standard uncertainties of 2 K."""
    home = billed_as(conditioned(), conditioned(None, 13.0))
    layout, _ = laid_out(home, examine(home), 0.0, np.ones(len(home.bills), dtype=bool))
    there, usual = (load_energy(h.bills, h).kwh[:, -1] for h in (conditioned(None, 16.0), conditioned()))
    np.testing.assert_allclose(usual - 2.0 * layout.model.energy.balance_slope[:, -1], there, rtol=1e-9, atol=1e-9)


def test_the_bend_is_what_the_slope_leaves_out():
    warmer, usual, colder = (load_energy(h.bills, h) for h in (conditioned(18.0), conditioned(), conditioned(14.0)))
    bend = warmer.kwh[:, -2] + colder.kwh[:, -2] - 2.0 * usual.kwh[:, -2]
    np.testing.assert_allclose(usual.balance_bend[:, -2], bend, rtol=1e-9, atol=1e-9)
    assert bend.max() > 0.1 * np.abs(usual.balance_slope[:, -2]).max()
    assert not usual.balance_bend[:, :-2].any()


def test_without_weather_there_is_no_station():
    home = replace(conditioned(), weather=None)
    middle = np.array([bill.start.toordinal() for bill in home.bills], dtype=float)
    assert off_the_station(home.loads, load_energy(home.bills, home), middle).shape == (len(middle), 0)
