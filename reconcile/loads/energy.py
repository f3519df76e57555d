"""What each load should use in each billing period: nominal energy, its doubt, and its slope in balance temperature.

Clock loads: hours a day x eligible days. Always: 24 h. Heating and cooling: hours a degree-day x the period's
degree-days about a balance temperature, capped each day at 24 h of the load's watts; a heat pump and its strips share
the heating (:mod:`reconcile.loads.backup`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np

from reconcile.array_types import Flags, Floats, Ints
from reconcile.house import Bill, House, Load
from reconcile.house.outdoors import normal_year_degree_days, outdoors
from reconcile.loads import backup
from reconcile.loads.limits import limits
from reconcile.loads.unknown_climate import in_every_climate
from reconcile.records import dataclass

HEATING_BALANCE_C = 16.0
"""Balance temperature of heating where none is given [degC]: 18.3 degC (65 F) less what people, sun and
appliances give a house of today; common practice, which is why 2 degC of doubt stand beside it."""

COOLING_BALANCE_C = 20.0
"""Balance temperature of cooling where none is given [degC]; common practice, 2 degC of doubt beside it."""

BALANCE_SD_C = 2.0
"""Standard uncertainty of a balance temperature taken by default [K]."""

STATED_BALANCE_SD_C = 1.0
"""The same where the householder states one [K], our own judgement: a thermostat log or a habit stands behind it."""

_BEND = np.array([1.0, -2.0, 1.0])
"""Second difference of what three balance temperatures give."""

BALANCES_C = np.array([-4.6, -1.9, 0.0, 1.9, 4.6])
"""Balance temperatures that heating and cooling of no list may have, each as likely, from the default on [K]: the
middles of the fifths of a normal law with a standard uncertainty of 3.6 K, as much as a default one of a list errs."""

DESIGN_DUTY = 0.62
"""Part of the hour equipment runs on the site's design day: sized for it, and often oversized (50 to 80 %)."""

DESIGN_LOG_SD = 0.50
"""Standard uncertainty of the logarithm of hours a degree-day that come from sizing alone: a factor of nearly three at
95 %. Equipment is often twice the size that a house needs, serves one room of it, or stands beside another source of
heat (our own judgement)."""


@dataclass(frozen=True, slots=True, eq=False)
class LoadEnergy:
    """Energy of J loads in n periods."""

    kwh: Floats
    """Nominal energy [kWh], shape (n, J)."""
    balance_slope: Floats
    """Change of it for one standard uncertainty of balance temperature, heating and cooling loads only [kWh], shape
    (n, J)."""
    balance_bend: Floats
    """What that slope leaves out: the energy with the balance so much higher, and with it so much lower, beyond twice
    the usual [kWh], shape (n, J)."""
    balance_sd_c: Floats
    """Standard uncertainty of each load's balance temperature [K], shape (J,)."""
    log_sd: Floats
    """Standard uncertainty of the logarithm of the load's factor, shape (J,)."""
    hours_guessed: Flags
    """Loads whose hours are somebody's guess: guesses lean together, shape (J,)."""
    base_watts: Floats
    """What the load draws in a quiet night at the end of the bills [W]: round-the-clock loads and standby, shape
    (J,)."""
    degree_days: Floats
    """Heating and cooling degree-days about the default balance temperatures [K d], shape (n, 2)."""
    about_balances: Floats
    """The same about each of :data:`BALANCES_C` from them, or of a typical year in every kind of climate there is where
    nothing is known of the weather [K d], shape (n, 2, b)."""
    beyond: Floats
    """Days on which there are any: what a kelvin more adds to each [d], shape (n, 2, b)."""
    weather_gap: Floats
    """Part of each period's days without a temperature (filled from the course of the year), shape (n,)."""
    doubt_c: Floats
    """How far each period's mean temperature may be from the one taken, one standard deviation [K], shape (n,)."""
    climate: Floats
    """How far each kind of climate is from their mean, by the root of its share [kWh], shape (n, J, c); c is 0 where
    weather is known."""


def degree_days(mean_c: Floats, balance_c: float | Floats, *, cooling: bool = False) -> Floats:
    """Return degree-days of each day: how far its mean is beyond the balance temperature [K d].

    Parameters
    ----------
    mean_c : ndarray
        Daily mean outdoor temperature [degC].
    balance_c : float
        Balance temperature [degC].
    cooling : bool
        Count warmth above the balance temperature instead of cold below it.

    Returns
    -------
    ndarray
        Same shape [K d], never negative.

    Notes
    -----
    The U.S. National Weather Service takes the mean of the day's high and low about 65 degF.

    Examples
    --------
    >>> degree_days(np.array([10.0, 20.0]), 18.0)
    array([8., 0.])
    """
    return np.maximum(mean_c - balance_c if cooling else balance_c - mean_c, 0.0)


def daily_energy_kwh(load: Load) -> float:
    """Energy of one day in which the load may run, for clock and round-the-clock loads [kWh/d].

    Watts x hours a day x share on / 1000, and standby watts for the remaining hours (U.S. DOE appliance formula).

    Examples
    --------
    >>> round(daily_energy_kwh(Load("fans", watts=200.0, run_hours=4.0)) * 120, 6)
    96.0
    """
    if load.kwh_per_cycle is not None:
        used = load.kwh_per_cycle * (load.cycles_per_week or 0.0) / 7.0
        return load.count * (used + load.standby_watts * 24.0 / 1000.0)
    hours = 24.0 if load.follows == "always" else (load.run_hours or 0.0)
    active = (load.watts or 0.0) * hours * load.share_on + load.standby_watts * (24.0 - hours)
    return load.count * active / 1000.0


def load_energy(bills: Sequence[Bill], house: House, stages: Sequence[backup.Stage | None] | None = None) -> LoadEnergy:
    """Compute every load's energy in every period.

    Parameters
    ----------
    bills : sequence of Bill
        The n periods.
    house : House
        Its loads (J) and weather.
    stages : sequence, optional
        How a heat pump and its strips share the heating; by the house's own list where not given.
    """
    stages = backup.stages(house.loads) if stages is None else stages
    first, last, opens, closes = _days(bills)
    calendar = _Calendar.of(first, (last - first).days)
    sky = outdoors(house, bills, first, last)
    mean_c, missing = (None, np.ones((last - first).days)) if sky is None else (sky.days_c, sky.missing)
    n, count = len(bills), len(house.loads)

    places = [] if mean_c is not None else in_every_climate(house, first, last)
    away = np.zeros((len(places), count, calendar.days))
    follow = [j for j, load in enumerate(house.loads) if load.follows in ("heating", "cooling")]
    bent = count + len(follow)
    daily = np.zeros((bent + len(follow) + 5, calendar.days))
    log_sd, balance_sd_c = np.zeros(count), np.full(count, BALANCE_SD_C)
    guessed = np.zeros(count, dtype=bool)
    base_watts = np.zeros(count)
    for j, load in enumerate(house.loads):
        eligible = calendar.eligible(load)
        log_sd[j] = _log_sd(load)
        guessed[j] = load.follows != "always" and load.kwh_per_year is None and load.source != "measured"
        if j in follow:
            at = follow.index(j)
            if mean_c is not None:
                course = _weather_load(load, house, mean_c, eligible, stages[j])
            else:
                course, away[:, j] = _in_all(load, places, eligible, stages[j])
            daily[j], daily[count + at], daily[bent + at] = course.kwh, course.slope, course.bend
            balance_sd_c[j] = course.balance_sd_c
            if course.sized:
                backs_up = (stage := stages[j]) is not None and stage.part == "strips"
                log_sd[j] = np.hypot(limits(load)[0] / 196.0, backup.BACKUP_LOG_SD if backs_up else DESIGN_LOG_SD)
                guessed[j] = False
        elif load.kwh_per_year is not None:
            daily[j] = load.count * load.kwh_per_year / calendar.days_a_year(load) * eligible
        else:
            daily[j] = daily_energy_kwh(load) * eligible
        if calendar.days and eligible[-1]:
            base_watts[j] = _base_watts(load)
    if mean_c is not None:
        daily[-5] = degree_days(mean_c, HEATING_BALANCE_C)
        daily[-4] = degree_days(mean_c, COOLING_BALANCE_C, cooling=True)
        daily[-3] = missing
        daily[-2:] = (sky.doubt_c, sky.short_c2) if sky is not None else 0.0
    about = _about_balances(mean_c) if mean_c is not None else _in_climates(places)
    sums = _period_sums(daily, opens, closes)
    apart = [_period_sums(place, opens, closes) for place in away]
    lengths = np.maximum(closes - opens, 1)
    slopes, bends = np.zeros((2, n, count))
    slopes[:, follow], bends[:, follow] = sums[:, count:bent], sums[:, bent:-5]
    return LoadEnergy(
        kwh=sums[:, :count],
        balance_slope=slopes,
        balance_bend=bends,
        balance_sd_c=balance_sd_c,
        log_sd=log_sd,
        hours_guessed=guessed,
        base_watts=base_watts,
        degree_days=sums[:, -5:-3],
        about_balances=_period_sums(about.reshape(-1, calendar.days), opens, closes).reshape(n, 2, -1),
        beyond=_period_sums((about > 0.0).astype(float).reshape(-1, calendar.days), opens, closes).reshape(n, 2, -1),
        weather_gap=sums[:, -3] / lengths if mean_c is not None else np.ones(n),
        doubt_c=np.hypot(sums[:, -2], np.sqrt(sums[:, -1])) / lengths,
        climate=np.stack(apart, axis=2) if apart else np.zeros((n, count, 0)),
    )


def with_balances_moved(bills: Sequence[Bill], house: House, moved_c: Floats) -> Floats:
    """Return what heating and cooling loads use with their balance temperatures off, shape (n, J) [kWh].

    Hours a kelvin-day stay as they are; zeros for other loads, and where nothing is known of the weather.

    Parameters
    ----------
    moved_c : ndarray, shape (J,)
        How far above what the list says each is [K].
    """
    first, last, opens, closes = _days(bills)
    calendar, stages = _Calendar.of(first, (last - first).days), backup.stages(house.loads)
    sky, daily = outdoors(house, bills, first, last), np.zeros((len(house.loads), calendar.days))
    for j, load in enumerate(house.loads):
        if sky is not None and load.follows in ("heating", "cooling"):
            eligible = calendar.eligible(load)
            daily[j] = _weather_load(load, house, sky.days_c, eligible, stages[j], float(moved_c[j])).kwh
    return _period_sums(daily, opens, closes)


def _days(bills: Sequence[Bill]) -> tuple[date, date, Ints, Ints]:
    """First day of all bills and the day after the last; on which of them each opens and closes, shape (n,)."""
    first, last = min(bill.start for bill in bills), max(bill.closes for bill in bills)
    opens = np.array([(bill.start - first).days for bill in bills])
    return first, last, opens, np.array([(bill.closes - first).days for bill in bills])


def _about_balances(mean_c: Floats) -> Floats:
    """Heating and cooling degree-days of each day about each of several balances, shape (2, b, d)."""
    moved = BALANCES_C[:, None]
    heating = degree_days(mean_c, HEATING_BALANCE_C + moved)
    return np.stack([heating, degree_days(mean_c, COOLING_BALANCE_C + moved, cooling=True)])


def _in_climates(places: Sequence[tuple[float, House, Floats]]) -> Floats:
    """Heating and cooling degree-days of each day in each climate, about the default balances, shape (2, c, d)."""
    mean_c = np.array([days_c for _, _, days_c in places])
    return np.stack([degree_days(mean_c, HEATING_BALANCE_C), degree_days(mean_c, COOLING_BALANCE_C, cooling=True)])


def _in_all(
    load: Load, places: Sequence[tuple[float, House, Floats]], eligible: Floats, stage: backup.Stage | None
) -> tuple[_Course, Floats]:
    """How heating or cooling runs over all climates, and how far each climate is off."""
    found = [_weather_load(load, house, mean_c, eligible, stage) for _, house, mean_c in places]
    shares = np.array([share for share, _, _ in places])
    kwh = np.array([one.kwh for one in found])
    mean = shares @ kwh
    slope = shares @ np.array([one.slope for one in found])
    balance_sd_c = float(shares @ np.array([one.balance_sd_c for one in found]))
    course = _Course(mean, slope, np.zeros_like(mean), balance_sd_c, found[0].sized)
    return course, np.sqrt(shares)[:, None] * (kwh - mean)


@dataclass(frozen=True, slots=True, eq=False)
class _Course:
    """How heating or cooling runs, by day."""

    kwh: Floats
    slope: Floats
    """Change for one standard uncertainty of the balance temperature [kWh]."""
    bend: Floats
    """What the slope leaves out [kWh]."""
    balance_sd_c: float
    sized: bool
    """Whether its hours come from sizing alone."""


def _weather_load(
    load: Load, house: House, mean_c: Floats, eligible: Floats, stage: backup.Stage | None, moved_c: float = 0.0
) -> _Course:
    cooling = load.follows == "cooling"
    balance = load.balance_c
    if balance is None:
        balance = COOLING_BALANCE_C if cooling else HEATING_BALANCE_C
    sd_c, swing = BALANCE_SD_C if load.balance_c is None else STATED_BALANCE_SD_C, 0.0
    if stage is not None:
        heated_c = HEATING_BALANCE_C if stage.balance_c is None else stage.balance_c
        cold, hot = (
            _design_depth(house, mean_c, heated_c),
            _design_depth(house, mean_c, COOLING_BALANCE_C, cooling=True),
        )
        reach = backup.reach_k(stage, heated_c, cold, hot)
        load = replace(load, hours_per_degree_day=backup.hours_a_kelvin_day(stage, heated_c, reach))
        if stage.part == "strips":
            balance, swing = heated_c - reach, backup.HALF_DAY_C
            sd_c = sd_c if load.balance_c is not None else float(np.hypot(sd_c, backup.CARRIES_LOG_SD * reach))
    halves = mean_c + swing * np.array([[-1.0], [1.0]])
    middle = balance + moved_c
    about = middle + sd_c * np.array([-1.0, 0.0, 1.0])
    depths = np.array([degree_days(halves, one, cooling=cooling).mean(axis=0) for one in about]) * eligible
    beyond = (degree_days(halves, middle, cooling=cooling) > 0.0).mean(axis=0) * eligible
    depth, up = depths[1], -sd_c if cooling else sd_c
    if load.kwh_per_year is not None:
        year = normal_year_degree_days(house, balance, cooling=cooling)
        record = degree_days(mean_c, balance, cooling=cooling)
        a_year = max(float(record.mean()) * 365.0 if year is None else year, 1e-9)
        each = load.count * load.kwh_per_year / a_year
        return _Course(each * depth, each * beyond * up, each * (_BEND @ depths), sd_c, sized=False)
    rate, sized = _hours_per_kelvin_day(load, house, mean_c, balance, eligible, cooling)
    runs = np.minimum(rate * depths, 24.0)
    run = runs[1]
    power = load.count * (load.watts or 0.0) * load.share_on / 1000.0
    standby = load.count * load.standby_watts / 1000.0 * (24.0 - run) * eligible
    slope = power * rate * beyond * (run < 24.0) * up
    return _Course(power * run + standby, slope, power * (_BEND @ runs), sd_c, sized or stage is not None)


def _hours_per_kelvin_day(
    load: Load, house: House, mean_c: Floats, balance: float, eligible: Floats, cooling: bool
) -> tuple[float, bool]:
    if load.hours_per_degree_day is not None:
        return load.hours_per_degree_day, False
    if load.run_hours is not None:
        depth = degree_days(mean_c, balance, cooling=cooling) * eligible
        running = depth[depth > 0]
        return (load.run_hours / float(running.mean()) if running.size else 0.0), False
    return 24.0 * DESIGN_DUTY / max(_design_depth(house, mean_c, balance, cooling=cooling), 3.0), True


def _design_depth(house: House, mean_c: Floats, balance_c: float, *, cooling: bool = False) -> float:
    """Return how far the site's design day is beyond a balance temperature [K]."""
    known = np.zeros(0) if house.weather is None else house.weather.mean_c[np.isfinite(house.weather.mean_c)]
    rising = np.sort(known if known.size else mean_c)
    design_day = np.interp((0.99 if cooling else 0.01) * (len(rising) - 1), np.arange(len(rising)), rising)
    return float(degree_days(np.array([design_day]), balance_c, cooling=cooling)[0])


def _log_sd(load: Load) -> float:
    watts_percent, hours_percent = limits(load)
    return float(np.hypot(watts_percent, hours_percent)) / 196.0


def _base_watts(load: Load) -> float:
    if load.follows == "always":
        if load.kwh_per_year is not None:
            return load.count * load.kwh_per_year / 8.76
        return load.count * (load.watts or 0.0) * load.share_on
    return load.count * load.standby_watts


def _period_sums(daily: Floats, opens: Ints, closes: Ints) -> Floats:
    running = np.zeros((len(daily), daily.shape[1] + 1))
    np.cumsum(daily, axis=1, out=running[:, 1:])
    return np.ascontiguousarray((running[:, closes] - running[:, opens]).T)


@dataclass(frozen=True, slots=True, eq=False)
class _Calendar:
    first: date
    days: int
    month: Ints

    @classmethod
    def of(cls, first: date, days: int) -> _Calendar:
        stamps = np.datetime64(first, "D") + np.arange(days)
        return cls(first, days, stamps.astype("datetime64[M]").astype(np.int64) % 12 + 1)

    def eligible(self, load: Load) -> Floats:
        """1.0 on the days on which the load may run."""
        out = np.ones(self.days)
        if load.months is not None:
            may = np.zeros(13)
            may[list(load.months)] = 1.0
            out *= may[self.month]
        if load.arrives is not None:
            out[: max((load.arrives - self.first).days, 0)] = 0.0
        if load.leaves is not None:
            out[max((load.leaves - self.first).days, 0) :] = 0.0
        return out

    @staticmethod
    def days_a_year(load: Load) -> float:
        """Days over which a yearly figure is spread."""
        if load.months is None:
            return 365.0
        lengths = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
        return float(sum(lengths[month - 1] for month in load.months))


VAGUE_LOG_SD = 0.35
"""Standard uncertainty of a load's logarithm from which its size is held below what was billed: 95 % limits of a factor
of two. One that is known better speaks against the bills, and is heard (our choice)."""

UPPER = 1.645
"""Standard normal quantile that 5 % lie above."""


def within_bills(energy: LoadEnergy, billed_kwh: Floats) -> LoadEnergy:
    """Hold the upper 95 % limit of every load of which little is known at what was billed in all.

    Parameters
    ----------
    energy : LoadEnergy
        Of J loads in n periods.
    billed_kwh : ndarray, shape (n,)
        NaN where a period has no energy of its own [kWh].

    Returns
    -------
    LoadEnergy
        Smaller where it must be, as doubtful as before.

    Notes
    -----
    Of a lognormal of mean a and logarithmic standard uncertainty s that limit is a exp(1.645 s - s^2 / 2).
    """
    known = np.isfinite(billed_kwh)
    billed = float(np.maximum(billed_kwh[known], 0.0).sum())
    if billed <= 0.0:
        return energy
    nominal, s = energy.kwh[known].sum(axis=0), energy.log_sd
    most = billed * np.exp(s**2 / 2.0 - UPPER * s)
    part = np.where((s >= VAGUE_LOG_SD) & (nominal > most), most / np.maximum(nominal, 1e-9), 1.0)
    return replace(
        energy,
        kwh=energy.kwh * part,
        balance_slope=energy.balance_slope * part,
        balance_bend=energy.balance_bend * part,
        base_watts=energy.base_watts * part,
        climate=energy.climate * part[:, None],
    )
