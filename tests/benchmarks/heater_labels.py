"""A yearly label on a heater, and a record of weather that is no whole year: how near the use told for it comes.

``python tests/benchmarks/heater_labels.py --houses 60 --start 5100``. A label states the kWh of a *normal year* of the
site. Each house has 25 years of simulated weather (:mod:`climate`; their mean is the normal year). The program is given
two winters, two summers, October to April, or a year of it, alone or beside the site's coldest and warmest month. The
truth is the label times the degree-days of the billed days over those of a normal year; by hand it is spread by days.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
from climate import CLIMATES, Sky, make_sky
from tables import share

from reconcile.house import Bill, House, Load, Weather
from reconcile.loads.energy import load_energy

LABEL_KWH = 4000.0
BALANCE_C = 16.0
YEARS = 25
FIRST = date(1999, 1, 1)
RECORDS = {
    "two winters": (date(2021, 11, 1), 515),
    "two summers": (date(2021, 4, 15), 535),
    "October to April": (date(2021, 10, 1), 212),
    "a year": (date(2021, 3, 1), 365),
}


def months(sky: Sky) -> tuple[float, float]:
    """Return the mean temperatures of the coldest and the warmest month of all years [degC]."""
    month = np.array([(FIRST + timedelta(days=int(i))).month for i in range(len(sky.daily_c))])
    means = [float(sky.daily_c[month == one].mean()) for one in range(1, 13)]
    return min(means), max(means)


def told_over_true(sky: Sky, record: tuple[date, int], *, site: bool) -> tuple[float, float]:
    """Return the heater's kWh over the truth, as the program tells it and by days alone."""
    first, days = record
    begin = (first - FIRST).days
    here = sky.daily_c[begin : begin + days]
    bills = tuple(
        Bill(first + timedelta(days=at), first + timedelta(days=at + 30), 400.0) for at in range(0, days - 29, 30)
    )
    load = Load("Heater", kwh_per_year=LABEL_KWH, follows="heating", source="label")
    home = House("a", bills, (load,), weather=Weather(first, here))
    if site:
        coldest, warmest = months(sky)
        home = replace(home, coldest_month_c=coldest, warmest_month_c=warmest)
    degree_days = np.maximum(BALANCE_C - sky.daily_c, 0.0)
    billed = degree_days[begin : begin + 30 * len(bills)].sum()
    true = LABEL_KWH * billed / (degree_days.sum() * 365.25 / len(degree_days))
    by_days = LABEL_KWH * 30 * len(bills) / 365.25
    return float(load_energy(bills, home).kwh.sum() / true), float(by_days / true)


def main() -> None:
    """Print how many houses are within 5 % of the truth, for each record."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--houses", type=int, default=60)
    parser.add_argument("--start", type=int, default=0)
    args = parser.parse_args()
    cold = [climate for climate in CLIMATES if climate.mean_c < 15.0]
    skies = [
        make_sky(np.random.default_rng(args.start + i), cold[i % len(cold)], FIRST.toordinal(), int(YEARS * 365.25))
        for i in range(args.houses)
    ]
    for name, record in RECORDS.items():
        for site in (True, False):
            told, by_days = np.array([told_over_true(sky, record, site=site) for sky in skies]).T
            beside = "beside the site's months" if site else "the record alone"
            spread = ", ".join(f"{100 * (q - 1):+.0f}" for q in np.quantile(told, (0.025, 0.5, 0.975)))
            print(
                f"{name}, {beside}: within 5 % {share(int((abs(told - 1) <= 0.05).sum()), len(told))}"
                f" ({spread} % at .025, .5, .975); by days {int((abs(by_days - 1) <= 0.05).sum())}"
            )


if __name__ == "__main__":
    main()
