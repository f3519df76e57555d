"""Houses that are empty for a part of the year: their meters are right, and nothing in their bills says otherwise."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest
from weigh_houses import house

from reconcile import kinds
from reconcile.house import Bill, House, Load, Weather
from reconcile.interval.found import Evidence
from reconcile.paper import examine
from reconcile.weigh.weighed import Weighing
from reconcile.weigh.weighing import weigh_house

FAST = ("meter-step", "meter-drift", "meter-always")
SLOW = ("meter-low", "meter-slowing")


def weighed(home: House, *evidence: Evidence) -> Weighing:
    return weigh_house(home, examine(home), evidence=evidence)


def by_the_lake(seed: int = 76916, months: int = 46) -> House:
    """People from April to September, a little heat against frost in the winter; hours listed as a mean of the year."""
    loads = (
        Load("refrigerator", watts=150.0, run_hours=7.0),
        Load("lights", watts=260.0, run_hours=2.0),
        Load("oven", watts=2400.0, run_hours=0.4),
        Load("water heater", watts=4500.0, run_hours=0.6),
        Load("router", watts=12.0, follows="always"),
        Load("baseboard heaters", watts=9000.0, follows="heating"),
    )
    rng, first, count = np.random.default_rng(seed), date(2022, 11, 27), int(30.44 * months) + 1
    days = [first + timedelta(days=day) for day in range(count)]
    swing = np.cos(2.0 * np.pi * (np.array([day.timetuple().tm_yday for day in days]) - 15) / 365.0)
    mean_c = 11.0 - 11.0 * swing + 3.0 * rng.standard_normal(count)
    lived_in = np.array([4 <= day.month <= 9 for day in days])
    people = 16.0 * (1.0 + 0.15 * rng.standard_normal(count)) + 0.44 * np.maximum(18.0 - mean_c, 0.0)
    kwh = 3.5 + np.where(lived_in, people, 0.2 * np.maximum(5.0 - mean_c, 0.0))
    edges = [0]
    while edges[-1] + 32 < count:
        edges.append(edges[-1] + int(rng.integers(28, 34)))
    bills = (Bill(days[a], days[b], kwh=float(round(kwh[a:b].sum()))) for a, b in pairwise(edges))
    return House("By the lake", tuple(bills), loads, weather=Weather(first, mean_c), heating_fuel="electric")


def test_a_meter_is_no_farther_from_right_where_bills_scatter() -> None:
    """It was .51 fast: bills that scatter four times as far as modelled let a meter count four times what it should."""
    assert weighed(by_the_lake()).chance(*FAST) < 0.2


def test_sizes_are_as_stated_whatever_the_scatter() -> None:
    rng = np.random.default_rng(4)
    weighing = weighed(house(factor=np.exp(0.5 * rng.standard_normal(18))))
    scatter = weighing.data.scale
    assert scatter > 4.0
    mine = weighing.kinds("meter-low")
    size_sd = np.sqrt(scatter) * weighing.found.size_sd[mine]
    assert size_sd.max() < 1.5 * kinds.KINDS["meter-low"].size_sd


@pytest.mark.parametrize("part", [0.7, 0.85])
def test_a_list_that_bills_do_not_reach_says_of_no_meter_that_it_was_always_fast(part: float) -> None:
    assert weighed(house(factor=np.full(18, part))).chance("meter-always") < 1e-9


def test_a_house_that_is_left_has_no_slow_meter() -> None:
    """People went in autumn, and their air conditioner with them: it was .56 that the meter had slowed by 58 %."""
    loads = (
        Load("refrigerator", watts=190.0, run_hours=6.4),
        Load("lights", watts=290.0, run_hours=3.1),
        Load("television", watts=120.0, run_hours=3.5),
        Load("computers", watts=170.0, run_hours=7.0),
        Load("oven", watts=2400.0, run_hours=0.7),
        Load("chest freezer", watts=120.0, run_hours=14.0),
        Load("well pump", watts=1130.0, run_hours=0.6),
        Load("clothes dryer", watts=5000.0, run_hours=0.2),
        Load("air conditioner", watts=3800.0, follows="cooling"),
    )
    use = (700, 760, 800, 790, 720, 600, 300, 205, 195, 190, 180, 185)
    days = [date(2023 + (k + 11) // 12, (k + 11) % 12 + 1, 5) for k in range(len(use) + 1)]
    bills = tuple(Bill(a, b, kwh=float(kwh)) for (a, b), kwh in zip(pairwise(days), use, strict=True))
    day = np.arange(400)
    mean_c = 26.5 + 1.5 * np.sin(2.0 * np.pi * day / 365.0) + 0.8 * np.sin(1.7 * day)
    weighing = weighed(House("Left", bills, loads, weather=Weather(days[0] - timedelta(days=10), mean_c)))
    assert weighing.chance(*SLOW) < 0.2
    assert weighing.chance("house-left") > 0.5


def test_people_of_one_season_lift_what_runs_round_the_clock() -> None:
    """The hours of their evenings come and go by the data, and the base load with them: that is no meter."""
    months, came, went = 12, 4, 9
    there = (np.arange(months) >= came) & (np.arange(months) < went)
    days = [date(2023 + (k + 11) // 12, (k + 11) % 12 + 1, 5) for k in range(months + 1)]
    use = [(5.0 + 13.0 * here) * (b - a).days for (a, b), here in zip(pairwise(days), there, strict=True)]
    bills = tuple(Bill(a, b, kwh=round(kwh)) for (a, b), kwh in zip(pairwise(days), use, strict=True))

    def signal(kind: str, lift: float, sd: float, **more: object) -> Evidence:
        value = lift * (there - there.mean())
        covariance = np.eye(months) * sd**2 + 9.0
        return Evidence(kind, tuple(days[:-1]), tuple(days[1:]), value, covariance, **more)  # type: ignore[arg-type]

    base = signal("base-load", 2.0, 0.3, base_kwh_per_day=3.5)
    clock = signal("clock", 7.5, 0.6, onset=days[came], until=days[went], steady_share=0.35)
    weighing = weighed(House("A season", bills), base, clock)
    assert weighing.chance(*FAST, *SLOW) < 0.2
    assert weighing.chance("clock-load") > 0.9
