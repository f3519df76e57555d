"""Two methods somebody would use by hand: the list plus 25 %, and a degree-day line through the bills.

Their outcomes are given decisions by a stated and generous rule: a hand method is let off a single odd
month, gets an estimate or a swap between neighbours right where its own flags touch one, and at stage two
reads the known load and the night's watts as well as anybody.
"""

from __future__ import annotations

import warnings

import numpy as np
from acceptance import ASKS_FOR_CHECKS, Answer
from climate import Floats
from numpy.typing import NDArray

from reconcile.house import Bill, House, Load
from reconcile.house.site import Registered

BASE_C = 18.0
OVER = 1.25
FAMILY = 0.05


def daily_means(house: House, bill: Bill) -> Floats:
    """Daily means of a period, its own average standing in for missing days."""
    if house.weather is None:
        return np.full(bill.days, np.nan)
    seen = house.weather.between(bill.start, bill.closes)
    return np.where(np.isnan(seen), np.nanmean(seen), seen)


def degree_days(house: House, sign: float, base_c: float) -> Floats:
    """Heating (+1) or cooling (-1) degree-days of each period about a base [K d]."""
    return np.array([np.maximum(sign * (base_c - daily_means(house, bill)), 0).sum() for bill in house.bills])


def listed_kwh(house: House, load: Load) -> Floats:
    """Energy of one line of the list in each period by plain multiplication [kWh]."""
    days = np.array([_days_on(load, bill) for bill in house.bills], dtype=float)
    if load.kwh_per_year is not None:
        return load.count * load.kwh_per_year / 365 * days
    if load.kwh_per_cycle is not None:
        return load.count * load.kwh_per_cycle * (load.cycles_per_week or 0) / 7 * days
    watts = (load.watts or 0.0) * load.share_on * load.count
    if load.follows == "always":
        return watts * 24 / 1000 * days
    if load.follows in ("heating", "cooling"):
        sign = 1.0 if load.follows == "heating" else -1.0
        base = load.balance_c if load.balance_c is not None else BASE_C
        hours = load.hours_per_degree_day
        if hours is None:  # two thirds of the hour on the hardest day
            means = np.concatenate([daily_means(house, bill) for bill in house.bills])
            hardest = max(sign * (base - float(np.percentile(means, 1 if sign > 0 else 99))), 3.0)
            hours = 24 * 0.65 / hardest
        return np.minimum(watts / 1000 * hours * degree_days(house, sign, base), watts * 24 / 1000 * days)
    run = load.run_hours or 0.0
    return (watts * run + load.count * load.standby_watts * (24 - run)) / 1000 * days


def _days_on(load: Load, bill: Bill) -> int:
    if load.months is None:
        return bill.days
    ordinals = range(bill.start.toordinal(), bill.closes.toordinal())
    return sum(type(bill.start).fromordinal(o).month in load.months for o in ordinals)


def inventory_plus(house: House) -> Answer:
    """The list plus 25 %: a month over it is over."""
    billed = np.array([bill.kwh or 0.0 for bill in house.bills])
    days = np.array([bill.days for bill in house.bills], dtype=float)
    expected = np.asarray(sum((listed_kwh(house, load) for load in house.loads), np.zeros(len(days))))
    expected = expected + (house.band.unlisted_kwh_per_day or 2.0) * days
    over = billed > OVER * expected
    if not over.any():
        return Answer("explained")
    loose = _estimates(house)
    if over[loose].any() and not over[~loose].any():
        return Answer("paperwork")
    if over.mean() >= 0.8:
        return Answer("inventory")
    under = billed < expected / OVER
    if np.any(over[1:] & under[:-1]) or np.any(over[:-1] & under[1:]):
        return Answer("paperwork")
    pairs = over[1:] & over[:-1]
    return Answer("outside-check" if pairs.any() else "explained")


def _estimates(house: House) -> NDArray[np.bool_]:
    """Periods that end in an estimate, and the ones after them."""
    estimated = np.array([bill.read_type == "estimated" for bill in house.bills])
    after = np.concatenate([[False], estimated[:-1]])
    return np.asarray(estimated | after)


def regression(house: House) -> Answer:
    """A line through kWh on degree-days, each month against all the others, 95 % for the whole family."""
    import statsmodels.api as sm  # type: ignore[import-untyped]
    from scipy.stats import t as student

    billed = np.array([bill.kwh or 0.0 for bill in house.bills])
    days = np.array([bill.days for bill in house.bills], dtype=float)
    columns = [np.ones(len(days))]
    for sign, base in ((1.0, BASE_C), (-1.0, BASE_C)):
        per_day = degree_days(house, sign, base) / days
        if np.isfinite(per_day).all() and per_day.std() > 0.05:
            columns.append(per_day)
    design = np.column_stack(columns)
    n, p = design.shape
    if n - p - 1 < 2:
        return Answer("not-enough-data")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fit = sm.OLS(billed / days, design).fit()
        # a residual divided by the spread of the fit without it: the same as leaving it out and predicting it
        t = np.asarray(fit.get_influence().resid_studentized_external)
    limit = float(student.ppf(1 - FAMILY / (2 * n), n - p - 1))
    over, under = t > limit, t < -limit
    if not over.any() and not under.any():
        return Answer("explained")
    flagged = over | under
    loose = _estimates(house)
    if flagged[loose].any() and not flagged[~loose].any():
        return Answer("paperwork")
    for i in range(n - 1):
        if (flagged[i] or flagged[i + 1]) and t[i] * t[i + 1] < 0 and min(abs(t[i]), abs(t[i + 1])) > 2:
            return Answer("paperwork")
    return Answer("outside-check" if over.any() else "explained")


def after_checks(first: Answer, house: House) -> Answer:
    """Stage two by hand: is the known load registered within 4 %, is the night as the list says?"""
    test = house.field_test
    if first.decision not in ASKS_FOR_CHECKS or test is None:
        return first
    ratios = []
    for run in test.runs:
        background = ((run.background_w_before or 0.0) + (run.background_w_after or 0.0)) / 2
        ratios.append((meter_watts(run.registered) - background) / (run.reference_watts or 1.0))
    if ratios and abs(float(np.mean(ratios)) - 1) > 0.04:
        return Answer("field-test", warranted=True)
    listed = 0.0
    for load in house.loads:
        if load.name in test.quiet[0].on:
            kwh_a_day = (load.kwh_per_year or 0.0) / 365
            listed += 1000 * kwh_a_day / 24 if kwh_a_day else (load.watts or 0.0) * load.share_on
    night = float(np.mean([meter_watts(quiet.registered) for quiet in test.quiet]))
    if night - listed > 150:
        return Answer("outside-check")
    return Answer("inventory")  # what is left is to measure the loads one by one


def meter_watts(registered: Registered) -> float:
    """Watts a meter shows, from 1 Wh pulses and a watch, its own display, or its register."""
    if registered.meter_kw is not None:
        return 1000 * registered.meter_kw
    if registered.pulses is not None and registered.seconds:
        return 3600 * registered.pulses / registered.seconds
    if registered.register_start is not None and registered.register_end is not None and registered.seconds:
        return 3.6e6 * (registered.register_end - registered.register_start) / registered.seconds
    raise ValueError("no reading of power")


METHODS = {"inventory + 25 %": inventory_plus, "degree-day line": regression}
