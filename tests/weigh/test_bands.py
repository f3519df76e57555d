"""Ranges under several ways of the household: limits of mixtures against a root finder, and odd bills as scatter."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
from honest_houses import honest_house
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from reconcile.house import Bill, House, Load, Weather
from reconcile.kinds import KINDS, LATE, ODD
from reconcile.paper import examine
from reconcile.weigh import constants as k
from reconcile.weigh.bands import Mixture, TakenOut, usual_bands
from reconcile.weigh.late import MOST_LATE
from reconcile.weigh.model import build, lay_out
from reconcile.weigh.patterns import KINDS as KINDS_OF
from reconcile.weigh.regression import _designs, regressed
from reconcile.weigh.ways import Ways
from reconcile.weigh.weighed import Weighing
from reconcile.weigh.weighing import weigh_house


@given(st.integers(0, 10_000), st.integers(1, 5), st.floats(0.0, 0.3), st.sampled_from([0.0028, 0.05]))
def test_limits_of_a_mixture_leave_out_what_they_say(seed, ways, odd, chance):
    rng = np.random.default_rng(seed)
    parts = rng.normal(0.0, 1.0, (ways, 1)), rng.uniform(0.7, 3.0, (ways, 1))
    one = Mixture(rng.dirichlet(np.full(ways, 0.5)), *parts, np.array([23.0]), odd)
    low, high = one.limits(chance)
    for limit, below in ((low[0], chance / 2.0), (high[0], 1.0 - chance / 2.0)):
        exact = brentq(lambda x, p=below: float(one.below(np.array([x]))[0]) - p, -200.0, 200.0, xtol=1e-10)
        assert abs(limit - exact) < 0.002 * (high[0] - low[0])


def bands_under(house, *ways):
    """Range of each bill under some ways, as likely as one another."""
    facts = examine(house)
    n = len(house.bills)
    nothing = TakenOut(np.zeros(n), np.zeros(n), np.zeros(n), 0.0)
    under = [(1.0 / len(ways), build(house, facts, ways=one)) for one in ways]
    return usual_bands(under, facts, np.ones(n, dtype=bool), nothing, 0.997)


def test_a_range_under_two_ways_lies_between_theirs():
    house = honest_house(3)
    narrow, wide = Ways(), Ways.of(*k.WAYS[-1][1:])
    (_, low, high), (_, low_wide, high_wide) = bands_under(house, narrow), bands_under(house, wide)
    _, low_both, high_both = bands_under(house, narrow, wide)
    for one, other, both in ((low, low_wide, low_both), (high, high_wide, high_both)):
        slack = 0.002 * (high_both - low_both)
        assert (both >= np.minimum(one, other) - slack).all()
        assert (both <= np.maximum(one, other) + slack).all()
    assert (high_wide - low_wide > high - low).any()


def test_the_same_ways_twice_are_one():
    house = honest_house(4)
    for one, twice in zip(bands_under(house, Ways()), bands_under(house, Ways(), Ways()), strict=True):
        np.testing.assert_allclose(one, twice, rtol=1e-6)


def listed_house(times: float = 1.0) -> House:
    """Return eighteen bills of a listed house that scatter by 2 %, the ninth so many times as high as it would be."""
    rng = np.random.default_rng(8)
    kwh = 600.0 * (1.0 + 0.02 * rng.standard_normal(18))
    kwh[8] *= times
    start = date(2024, 1, 3)
    bills = tuple(
        Bill(start + timedelta(30 * i), start + timedelta(30 * i + 30), kwh=float(round(value)))
        for i, value in enumerate(kwh)
    )
    loads = (
        Load("Pump", watts=400.0, follows="always", source="measured"),
        Load("Kiln", watts=2000.0, run_hours=5.0, source="measured"),
    )
    return House(name="Listed", bills=bills, loads=loads)


def weighed(house: House) -> Weighing:
    return weigh_house(house, examine(house))


def test_a_bill_somewhat_off_is_scatter_and_one_far_off_is_a_cause():
    base, off, far = (weighed(listed_house(times)) for times in (1.0, 1.16, 1.6))
    assert off.chance(ODD.name) > 2.0 * base.chance(ODD.name)
    assert off.none > 0.5
    assert far.chance("single-high") > 0.8
    assert far.none < 0.1


def test_a_reading_some_days_off_is_scatter_and_one_far_off_is_a_cause():
    def moved(part: float) -> Weighing:
        home = listed_house(1.0 + part)
        after = replace(home.bills[9], kwh=home.bills[9].kwh - 600.0 * part)
        return weighed(replace(home, bills=(*home.bills[:9], after, *home.bills[10:])))

    near, far = moved(0.12), moved(0.3)
    assert near.none > near.chance("swap")
    assert near.chance(LATE.name) > 0.2
    assert far.chance("swap") > 0.95


def test_the_readings_that_may_be_late_are_few_and_no_likelier_for_it():
    found = weighed(listed_house(1.0)).found
    late = found.kind_index == KINDS_OF.index(LATE.name)
    assert late.sum() == MOST_LATE
    # all seventeen of them share the chance
    every = MOST_LATE / 17 * LATE.chance / (1.0 - LATE.chance)
    assert np.isclose(np.exp(found.log_prior[late]).sum(), every, rtol=1e-12)


def test_scatter_counts_as_no_cause():
    weighing = weighed(listed_house(1.2))
    assert weighing.none > weighing.posterior.none
    np.testing.assert_allclose(weighing.none, 1.0 - weighing.chance(*KINDS), rtol=1e-9)


def test_a_house_without_a_list_may_scatter_by_a_part_of_what_it_uses_in_each_month():
    house = cooled_house()
    used = np.array([bill.kwh / bill.days for bill in house.bills])
    assert used.max() > 3.0 * used.min()
    # a month of much use and one of little: as wide by parts of themselves, and not by kWh
    model = build(house, examine(house), ways=Ways(limits=1.0, habits=0.09**2))
    by_part = np.sqrt(np.diagonal(model.noise)) / (used * model.days)
    assert by_part[used.argmax()] > 0.7 * by_part[used.argmin()] > 0.0


def test_one_bill_far_off_says_nothing_of_how_far_it_may_be_off():
    house = cooled_house()
    high = house.bills[9]
    far = replace(house, bills=(*house.bills[:9], replace(high, kwh=3.0 * high.kwh), *house.bills[10:]))
    noise = [np.diagonal(build(one, examine(one), ways=Ways(habits=0.09**2)).noise)[9] for one in (house, far)]
    assert noise[1] < 1.2 * noise[0]


def cooled_house() -> House:
    """Return twelve bills of a house that is cooled and has no list, with the weather of its days."""
    first = date(2023, 1, 10)
    day = np.arange(366)
    mean_c = 15.0 - 12.0 * np.cos(2.0 * np.pi * (day - 10) / 365.25) + 3.0 * np.sin(1.7 * day)
    used = 12.0 + 5.0 * np.maximum(mean_c - 21.0, 0.0)
    edges = np.linspace(0, 366, 13).astype(int)
    bills = tuple(
        Bill(first + timedelta(days=int(a)), first + timedelta(days=int(b)), kwh=float(round(used[a:b].sum())))
        for a, b in pairwise(edges)
    )
    return House("A cooled house", bills, weather=Weather(first, mean_c))


def test_the_plain_line_foretells_each_bill_by_the_others_alone():
    house = honest_house(3)
    facts = examine(house)
    model = build(house, facts)
    kwh, heard = facts.billed_kwh.copy(), np.ones(len(house.bills), dtype=bool)
    line = regressed(model, kwh, heard)
    for i in (0, 7, 17):
        others = np.arange(len(kwh)) != i
        fits = []
        for design in _designs(model):
            slope, *_ = np.linalg.lstsq(design[others], (kwh / model.days)[others], rcond=1e-9)
            left = (kwh / model.days)[others] - design[others] @ slope
            fits.append((float(left @ left), float(design[i] @ slope) * model.days[i]))
        np.testing.assert_allclose(line.kwh[i], max(min(fits)[1], 0.0), rtol=1e-4)
    assert regressed(model, kwh, heard & (np.arange(len(kwh)) < 9)) is None


def test_the_plain_line_foretells_a_bill_unlike_the_others_as_badly_as_it_does():
    """Errors of bills left out, over what is said of them, are as wide for the one hot bill as for all others."""
    house = cooled_house()
    model, rng = build(house, examine(house)), np.random.default_rng(1)
    heard, used = np.ones(len(house.bills), dtype=bool), examine(house).billed_kwh
    errors = []
    for _ in range(200):
        kwh = used + rng.normal(0.0, 1.0, len(heard)) * model.days
        line = regressed(model, kwh, heard)
        errors.append((kwh - line.kwh) / line.scale)
    spread = np.median(np.abs(errors), axis=0)
    hot = int(np.argmax(used))
    assert spread[hot] < 1.3 * np.median(spread)


def test_the_plain_line_knows_of_days_with_nobody_at_home():
    house = honest_house(3)
    facts, heard = examine(house), np.ones(len(house.bills), dtype=bool)
    away = np.where(np.arange(len(heard)) == 7, 0.3, 0.0)
    kwh = facts.billed_kwh * (1.0 - away)
    home, less = (
        regressed(lay_out(house, facts, lacks=lacks).under(Ways()), some, heard)
        for lacks, some in ((0.0, facts.billed_kwh), (away, kwh))
    )
    np.testing.assert_allclose(less.kwh, home.kwh * (1.0 - away), rtol=1e-9)
    doubt = np.where(away > 0.0, k.AWAY_SD * away * home.kwh, 0.0)
    np.testing.assert_allclose(less.scale, np.hypot(home.scale * (1.0 - away), doubt), rtol=1e-9)


def test_a_range_is_no_further_off_than_a_plain_line_where_the_list_leads_astray():
    house = honest_house(3)
    heated = Load("Heater", watts=9000.0, hours_per_degree_day=0.3, follows="heating", balance_c=2.0, source="measured")
    astray = replace(house, loads=(*house.loads, heated))
    facts = examine(astray)
    model = build(astray, facts)
    usual, _, _ = bands_under(astray, Ways())
    line = regressed(model, facts.billed_kwh, np.ones(len(usual), dtype=bool))
    off, of_line = (np.sqrt(np.mean((each - facts.billed_kwh) ** 2)) for each in (usual, line.kwh))
    assert off < 1.02 * of_line
