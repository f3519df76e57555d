"""A heat pump in the coldest month is no event of its own; another cause there still is."""

from dataclasses import replace

import numpy as np
import pytest
from weigh_houses import house

from reconcile.house import House, Load
from reconcile.kinds import KINDS
from reconcile.loads.energy import load_energy
from reconcile.paper import examine
from reconcile.weigh.deep_cold import deep_cold
from reconcile.weigh.model import build
from reconcile.weigh.patterns import BY_PEOPLE, LEAST_THINGS
from reconcile.weigh.weighing import weigh_house


def heated(name: str) -> House:
    home = house()
    heater = Load(name, watts=4000.0, follows="heating", hours_per_degree_day=0.9)
    return replace(home, loads=(*home.loads, heater))


def billed(home: House, fall: float, *, more_in: int | None = None) -> House:
    """Bills of what the list expects, the heat pump taking so much more a degree-day for each kelvin colder."""
    energy = load_energy(home.bills, home)
    days = np.array([bill.days for bill in home.bills], dtype=float)
    depth = energy.degree_days[:, 0] / days
    heat = energy.kwh[:, -1]
    usual = float(depth @ heat / heat.sum())
    kwh = build(home, examine(home)).mean + heat * fall * (depth - usual)
    if more_in is not None:
        kwh[more_in] *= 1.6
    bills = tuple(
        replace(b, kwh=float(k), reading_start=None, reading_end=None) for b, k in zip(home.bills, kwh, strict=True)
    )
    return replace(home, bills=bills)


def test_output_that_falls_in_the_cold_is_no_event_of_the_coldest_month():
    home = billed(heated("Heat pump"), 0.04)
    weighing = weigh_house(home, examine(home))
    assert weighing.none > 0.8
    assert weighing.chance("single-high") < 0.03


def test_an_event_in_a_mild_month_is_found_beside_it():
    home = heated("Heat pump")
    mild = int(np.argmin(np.abs(load_energy(home.bills, home).degree_days[:, 0] - 60.0)))
    home = billed(home, 0.02, more_in=mild)
    weighing = weigh_house(home, examine(home))
    assert weighing.chance("single-high") > 0.8


@pytest.mark.parametrize(("name", "times"), [("Heat pump", 1.0), ("Baseboard heaters", 0.2)])
def test_the_column_is_of_the_heating_alone_and_leaves_its_sum(name, times):
    home, pump = (replace(house(), loads=heated(each).loads[-1:]) for each in (name, "Heat pump"))
    energy = load_energy(home.bills, home)
    days = np.array([bill.days for bill in home.bills], dtype=float)
    column = deep_cold(home.loads, energy, days)[:, 0]
    whole = deep_cold(pump.loads, load_energy(pump.bills, pump), days)[:, 0]
    np.testing.assert_allclose(column, times * whole, rtol=1e-9, atol=1e-9)
    coldest = int(np.argmax(energy.degree_days[:, 0] / days))
    assert column[coldest] > 0.0
    assert abs(column.sum()) < 1e-9 * np.abs(column).sum() + 1e-9


def test_a_house_that_heats_with_something_else_has_no_column():
    home = house()
    others = tuple(load for load in home.loads if load.follows != "heating")
    days = np.array([bill.days for bill in home.bills], dtype=float)
    home = replace(home, loads=others)
    assert deep_cold(others, load_energy(home.bills, home), days).shape == (len(days), 0)


def with_tub(*, outside: bool) -> House:
    """A home with a hot tub from a third of its bills on, listed, that takes half again as much."""
    home = house()
    day = home.bills[len(home.bills) // 3].start
    tub = Load("Hot tub", watts=4000.0, share_on=0.06, follows="always", source="guessed", arrives=day)
    home = replace(home, loads=(*home.loads, tub))
    energy = load_energy(home.bills, home)
    days = np.array([bill.days for bill in home.bills], dtype=float)
    heating, cooling = (energy.degree_days / days[:, None]).T
    outdoors_c = 16.0 - heating + cooling
    part = 1.5 * (38.0 - outdoors_c) / 25.0 if outside else 1.5 * np.ones(len(days))
    kwh = build(home, examine(home)).mean + energy.kwh[:, -1] * (part - 1.0)
    bills = tuple(
        replace(b, kwh=float(k), reading_start=None, reading_end=None) for b, k in zip(home.bills, kwh, strict=True)
    )
    return replace(home, bills=bills)


@pytest.mark.parametrize("outside", [True, False])
def test_a_listed_tub_out_of_doors_or_in_is_no_rise_of_the_heating(outside):
    home = with_tub(outside=outside)
    weighing = weigh_house(home, examine(home))
    assert weighing.none > 0.7
    assert weighing.chance("heating-rise") < 0.1


def test_heating_that_hardly_ran_before_is_not_said_to_have_risen():
    home = billed(heated("Heat pump"), 0.0)
    energy = load_energy(home.bills, home)
    heat = energy.kwh[:, -1]
    begins = int(np.argmin(np.where(np.arange(len(heat)) < 12, heat, np.inf)))
    kwh = np.array([bill.kwh for bill in home.bills]) + 1.2 * heat
    bills = tuple(replace(b, kwh=float(k)) for b, k in zip(home.bills, kwh, strict=True))[begins:]
    short = replace(home, bills=bills)
    weighing = weigh_house(short, examine(short))
    rises = weighing.kinds("heating-rise")
    before = np.array([heat[begins:][weighing.model.starts < day].sum() for day in weighing.found.start[rises]])
    assert before.size
    assert before.min() >= 0.04 * heat[begins:].sum()
    assert weighing.chance("heating-rise", "heating-setting") < 0.5


def test_what_leaves_is_no_larger_where_a_house_is_heated_by_electricity():
    home = billed(heated("Baseboard heaters"), 0.0)
    weighing = weigh_house(home, examine(home))
    gone, shape = weighing.kinds("load-gone"), weighing.shape
    things = 1.0 - (shape.heating + shape.cooling).sum() / shape.all.sum()
    assert things < 0.7
    assert np.allclose(
        weighing.found.size_mean[gone], KINDS["load-gone"].size_mean * max(things, LEAST_THINGS), rtol=1e-9
    )


def test_guests_and_an_empty_house_move_what_people_use():
    home = billed(heated("Heat pump"), 0.02)
    weighing = weigh_house(home, examine(home))
    shape, found = weighing.shape, weighing.found
    beside = shape.all - (1.0 - BY_PEOPLE) * (shape.heating + shape.cooling)
    assert (beside / shape.all).min() < 0.5
    for name in ("single-high", "single-low"):
        mine = np.flatnonzero(weighing.kinds(name))
        assert mine.size > 10
        at = found.opens[mine]
        assert np.allclose(found.effect[at, mine], beside[at])
