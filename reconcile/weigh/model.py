"""The linear model of a house's bills: mean, covariance, and the parts they are made of (method page, eq. 1 to 6)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reconcile.facts import Facts
from reconcile.house import House, Load
from reconcile.loads.energy import LoadEnergy, load_energy, within_bills
from reconcile.loads.limits import alike_lines
from reconcile.loads.own_generation import own_use
from reconcile.loads.reference import unlisted
from reconcile.records import dataclass
from reconcile.weigh import constants as k
from reconcile.weigh.absent import absent_part
from reconcile.weigh.deep_cold import deep_cold, out_of_doors
from reconcile.weigh.unknown_weather import (
    OwnSeasons,
    above_the_least,
    by_degree_days,
    off_the_station,
    own_seasons,
    spells,
    thin_weather,
    untold,
)
from reconcile.weigh.ways import Ways, lasting_ways, remembered, stated_ways, yearly_swing

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Model:
    """y ~ t(mean, covariance) over all n periods of a house, judged or not."""

    days: Floats
    """Shape (n,)."""
    starts: Floats
    """Day (ordinal) on which each period opens, shape (n,)."""
    there: Floats
    """Part of the usual use that was there: less by an absence, more by guests that the data show, shape (n,)."""
    mean: Floats
    """Inventory's expected kWh, the unlisted rest included, shape (n,)."""
    factors: Floats
    """One column a shared unknown, scaled to unit variance: covariance = factors factors' + noise, shape (n, q)."""
    noise: Floats
    """Habits, weather, reading edges, shape (n, n)."""
    parts: Floats
    """Mean kWh of each load and, last, of the unlisted rest, shape (n, J + 1)."""
    stated: int
    """So many columns of ``factors``, the first, come from the limits that the list states or that its kind has."""
    part_factors: NDArray[np.int64]
    """Column of ``factors`` that is this load's own factor, shape (J + 1,)."""
    kin: NDArray[np.int64]
    """Load of each of the first columns of ``factors``: each its own, then the first of each group of alike ones,
    shape (J + 1 + g,)."""
    heats: NDArray[np.bool_]
    cools: NDArray[np.bool_]
    clocks: NDArray[np.bool_]
    """All: what each part follows, shape (J + 1,)."""
    ways: Ways
    energy: LoadEnergy
    bare: bool
    """No inventory at all."""
    weathered: bool
    """Temperatures are there."""
    base_kwh_per_day: Floats
    """What each part draws in a quiet night [kWh/d], shape (J + 1,)."""
    own: OwnSeasons
    """What the bills themselves say of the seasons."""
    unread_kwh: Floats
    """Own generation that no register reads, as guessed, shape (n,); zeros where there is none [kWh]."""

    @property
    def thin(self) -> NDArray[np.bool_]:
        """Periods with less than four fifths of their days of weather, where anything follows it, shape (n,)."""
        gap = self.energy.weather_gap
        follows = self.bare or bool((self.heats | self.cools).any())
        return np.asarray((gap > k.MOST_MISSING) & (gap.min() < 1.0) & follows, dtype=bool)

    def vouching(self, judged: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Return the judged periods that are heard, shape (n,): not those whose weather is thin, where these are few.

        Where they are many, what lasts over all of them is still heard, each with its own doubt; none alone convicts.
        """
        sure = judged & ~self.thin
        return sure if (judged & self.thin).sum() <= k.MOST_UNHEARD * judged.sum() else judged

    @property
    def doubted(self) -> bool:
        """The list is taken for over-confident."""
        return not self.bare and self.ways.limits > k.DOUBTED_FROM**2

    @property
    def covariance(self) -> Floats:
        """S, shape (n, n)."""
        return self.factors @ self.factors.T + self.noise

    def cleared(self, facts: Facts, effect: Floats, odd: Floats) -> Model:
        """Return the model where the bills tell what a kelvin uses once the cause found in them is taken out.

        Parameters
        ----------
        effect, odd : ndarray, shape (n,)
            What the cause added, and the variance that events of single bills may hold [kWh, kWh^2].
        """
        if not self.bare or self.energy.weather_gap.min() < 1.0 or not (effect.any() or odd.any()):
            return self
        middle, kwh = self.starts + self.days / 2.0, facts.vouching_kwh
        before = untold(self.energy, self.days, middle, kwh)
        return replace(self, noise=self.noise - before + untold(self.energy, self.days, middle, kwh - effect, odd))


def build(house: House, facts: Facts, *, ways: Ways | None = None, energy: LoadEnergy | None = None) -> Model:
    """Lay out the model of a house.

    Parameters
    ----------
    house : House
        With at least one bill.
    facts : Facts
        Whose loose edges free the energy on both sides.
    ways : Ways or None
        How the household departs from its list; as it says itself where not given.
    energy : LoadEnergy or None
        Where it has been computed already.
    """
    return lay_out(house, facts, energy).under(Ways() if ways is None else ways)


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """All of a model but the ways of the household: what they scale stands apart, so that several are cheaply tried."""

    model: Model
    """As the household says itself, its factors and noise without what the ways scale."""
    own: Floats
    """Columns of the stated limits, shape (n, J + 1)."""
    alike: Floats
    """More of the stated limits, where several lines are one load: see :func:`reconcile.loads.limits.alike_lines`,
    shape (n, g)."""
    season: Floats
    """The swing at its full size, shape (n, 4 or 5)."""
    unknown: bool
    """It is there at its full size whatever the ways: heating or cooling without any weather."""
    lasting: Floats
    """Covariance of habits as large as the use, shape (n, n)."""
    by_month: Floats
    """Covariance of what people use from month to month, by what the house states [kWh^2], shape (n, n)."""
    spread: Floats
    """The use that the household's ways are a part of [kWh], shape (n,)."""
    monthly: float
    """Variance from month to month as a part of the use, squared."""
    weather: Floats
    """What is listed and follows the weather [kWh], shape (n,)."""
    unlisted: Floats
    """Heating and cooling that are not listed, as large as all use at the mean season, shape (n, 2 b)."""

    def under(self, ways: Ways) -> Model:
        """Return the model of a household with these ways."""
        usual = self.model
        own, alike = self.own * np.sqrt(ways.limits), self.alike * np.sqrt(ways.limits)
        # a climate without a list tells the course of its year, and no more than a swing does
        told = usual.weathered and (not usual.bare or usual.energy.weather_gap.min() < 1.0)
        usually = 0.0 if told else k.SEASON_SD
        swing = k.SEASON_UNKNOWN_SD if self.unknown else max(ways.season**0.5, usually)
        unlisted = (k.BARE_WEATHER_SD if usual.bare else ways.unlisted**0.5) * self.unlisted
        factors = np.concatenate([own, alike, usual.factors, unlisted, swing * self.season], axis=1)
        noise = usual.noise + ways.habits * self.lasting + np.diag(ways.weather * self.weather**2)
        return replace(usual, factors=factors, noise=noise, ways=ways)

    def if_lasting(self, ways: Ways) -> Floats:
        """Return what is added to a model's noise where what the household does otherwise lasts some months.

        What each month draws anew is averaged out before and after an onset, habits that last are not. Sizes are fitted
        under the mean of the two, by the chance of each, since a covariance is linear in it.
        """
        middle = self.model.starts + self.model.days / 2.0
        every = np.outer(self.spread, self.spread) * remembered(middle, k.SIZING_DAYS)
        by_chance = ways.habits * self.lasting + self.by_month
        return np.asarray((self.monthly + ways.habits) * every - by_chance)


def lay_out(
    house: House,
    facts: Facts,
    energy: LoadEnergy | None = None,
    lacks: Floats | float = 0.0,
    *,
    farther: float = k.BALANCE_MORE,
) -> Layout:
    """Lay out the model of a house but for its household's ways.

    Parameters
    ----------
    lacks : ndarray, shape (n,)
        Part of the usual use of each bill that it lacks by times in which nobody was at home.
    farther : float
        By how many more of its standard uncertainties a balance temperature errs than the list owns to.
    """
    bills = house.bills
    count = len(house.loads)
    days = np.array([max(bill.days, 1) for bill in bills], dtype=float)
    energy = load_energy(bills, house) if energy is None else energy
    billed = np.where(energy.weather_gap > k.MOST_MISSING, np.nan, facts.billed_kwh)
    billed = billed if np.isfinite(billed).any() else facts.billed_kwh
    if not house.generation:
        energy = within_bills(energy, billed)
    rest_per_day, rest_percent = unlisted(house) if count else _level_of_bills(facts.billed_kwh, days)
    absent = absent_part(house)
    there = np.broadcast_to(1.0 - np.asarray(lacks), len(bills)) - k.ABSENT * absent
    parts = np.column_stack([energy.kwh, rest_per_day * days])
    lived_in = parts.sum(axis=1)
    parts = parts * there[:, None]
    mean = parts.sum(axis=1)
    weathered = bool((energy.degree_days > 0.0).any())
    follows = [load.follows for load in house.loads]
    heats = np.array([f == "heating" for f in follows] + [False])
    cools = np.array([f == "cooling" for f in follows] + [False])
    clocks = np.array([_by_people(load) for load in house.loads] + [True])

    log_sd = np.minimum(np.append(energy.log_sd, rest_percent / 196.0), k.MOST_LOG_SD)
    own = parts * np.sqrt(np.expm1(log_sd**2))
    # without weather a list may be far off, and a house scatters by what it uses
    held = 1.0 if house.generation or not count or weathered else _part_billed(mean, billed)
    per_day = held * float(mean.sum() / days.sum())
    groups = alike_lines(house.loads)
    alike = _together(own, groups)
    # how much a load takes in all is its own factor's: the bend says how that is spread
    part = energy.balance_bend.sum(axis=0) / np.maximum(energy.kwh.sum(axis=0), 1e-9)
    balance, bend = (
        np.concatenate([each, _together(each, groups)], axis=1)
        for each in (energy.balance_slope, energy.balance_bend - part * energy.kwh)
    )
    climate = energy.climate.sum(axis=1)
    columns = [
        balance,
        climate,
        _lean(energy),
        balance[:, balance.any(axis=0)] * farther,
        bend[:, bend.any(axis=0)] * ((1.0 + farther**2) * k.BALANCE_BEND),
        off_the_station(house.loads, energy, _middle(house, days)),
        deep_cold(house.loads, energy, days),
        out_of_doors(house.loads, energy, days),
    ]
    own_made = own_use(house, facts.billed_kwh, per_day)
    if own_made is not None:
        columns.append(own_made.doubt)
    if absent.any():
        columns.append((k.ABSENT_SD * absent * lived_in)[:, None])
    unknown = not weathered and bool((heats | cools).any())
    by_hand = house.band.month_to_month_percent / 100.0 * held * parts[:, clocks].sum(axis=1)
    middle = _middle(house, days)
    # without a list the household's ways are learnt, and hold this
    by_month = np.outer(by_hand, by_hand) * stated_ways(middle, lasting=count > 0)
    weather = heats | cools
    if (energy.weather_gap < 1.0).any() or (count and energy.doubt_c.any()):
        sky = spells(thin_weather(held * parts, weather, energy, days)[:, None], middle)
    elif count:
        listed = held * parts[:, weather].sum(axis=1)
        sky = spells(_listed_weather_doubt(listed, facts.billed_kwh, days, middle), middle)
    else:
        sky = untold(energy, days, middle, facts.vouching_kwh)
    base = np.append(energy.base_watts * 0.024, rest_per_day * k.QUIET_UNLISTED_SHARE)
    model = Model(
        days=days,
        starts=np.array([bill.start.toordinal() for bill in bills], dtype=float),
        there=there,
        mean=mean,
        factors=np.concatenate(columns, axis=1),
        noise=np.diag((k.AWAY_SD * (1.0 - there) * mean) ** 2)
        + np.diag(np.zeros(len(days)) if own_made is None else own_made.scatter**2)
        + _noise(house, facts, by_month, sky, held * mean, days),
        parts=parts,
        stated=own.shape[1] + alike.shape[1] + balance.shape[1] + climate.shape[1],
        part_factors=np.arange(count + 1),
        kin=np.array([*range(count + 1), *(group[0] for group in groups)], dtype=np.int64),
        heats=heats,
        cools=cools,
        clocks=clocks,
        ways=Ways(),
        energy=energy,
        bare=count == 0,
        weathered=weathered,
        base_kwh_per_day=base,
        own=own_seasons(energy, days, billed),
        unread_kwh=np.zeros(len(days)) if own_made is None or own_made.read else own_made.kwh,
    )
    monthly = house.band.month_to_month_percent / 100.0
    lacking = _unlisted_weather(energy, days, per_day, count == 0)
    use = held * mean if count or not weathered else _seen_by_others(mean, lacking, facts)
    return Layout(
        model,
        own,
        alike,
        yearly_swing(middle, days, per_day, level=unknown),
        unknown,
        lasting=np.outer(use, use) * lasting_ways(middle),
        by_month=by_month,
        spread=use,
        monthly=monthly**2,
        weather=held * parts[:, heats | cools].sum(axis=1),
        unlisted=lacking,
    )


def _seen_by_others(level: Floats, unlisted: Floats, facts: Facts) -> Floats:
    """Use of each bill where there is no list, as all the others show it [kWh].

    What a household does otherwise is a part of what it uses: one that takes three times as much in July as in April
    scatters three times as much there too.
    """
    billed = facts.vouching_kwh
    known = np.isfinite(billed)
    weather = k.BARE_WEATHER_SD**2 * unlisted @ unlisted.T
    shared = np.outer(level, level) + weather
    precision = np.linalg.inv(shared + np.diag((k.SEEN_SCATTER * level) ** 2 + np.where(known, 0.0, 1e6 * level**2)))
    pull = precision @ np.where(known, billed - level, 0.0)
    alone = pull / np.diagonal(precision)
    use: Floats = level + np.einsum("ij,ji->i", shared, pull[:, None] - precision * alone)
    return np.maximum(use, k.LEAST_SEEN * level)


def _together(columns: Floats, groups: Sequence[Sequence[int]]) -> Floats:
    """For each group of alike lines, what makes their independent doubts one: (a + b)^2 = a^2 + b^2 + this^2."""
    out = np.zeros((len(columns), len(groups)))
    for at, group in enumerate(groups):
        mine = columns[:, group]
        total = mine.sum(axis=1)
        out[:, at] = np.sign(total) * np.sqrt(np.maximum(total**2 - (mine**2).sum(axis=1), 0.0))
    return out


def _by_people(load: Load) -> bool:
    """Whether people switch it: a box that is on all day and cycles by itself has no habits."""
    return load.follows == "clock" and (load.run_hours is None or load.run_hours < 23.5)


def _part_billed(mean: Floats, billed_kwh: Floats) -> float:
    """Part of what a list expects that was billed, 1 at the most."""
    known = np.isfinite(billed_kwh)
    return float(np.clip(billed_kwh[known].sum() / max(mean[known].sum(), 1e-9), 0.05, 1.0)) if known.any() else 1.0


def _level_of_bills(billed_kwh: Floats, days: Floats) -> tuple[float, float]:
    """Without any inventory only the bills know the level: their median, which vouches for nothing."""
    rates = billed_kwh / days
    known = rates[np.isfinite(rates)]
    return (max(float(np.median(known)), 0.1) if known.size else 1.0), k.BARE_LEVEL_PERCENT


def _lean(energy: LoadEnergy) -> Floats:
    """Guessed hours lean together: one shared factor."""
    leaning: Floats = k.SHARED_LEAN * energy.kwh[:, energy.hours_guessed].sum(axis=1, keepdims=True)
    return leaning


def _unlisted_weather(energy: LoadEnergy, days: Floats, per_day: float, bare: bool) -> Floats:
    """Heating and cooling that no listed load stands for; beside a list none without any weather."""
    if bare:
        return by_degree_days(energy, days, per_day)[0].reshape(len(days), -1)
    mean_rate = energy.degree_days.sum(axis=0) / days.sum()
    columns: Floats = per_day * energy.degree_days / np.maximum(mean_rate, k.LEAST_RATE)
    return columns


def _listed_weather_doubt(listed: Floats, billed_kwh: Floats, days: Floats, middle: Floats) -> Floats:
    """What is not known of the weather of each period where a list says what follows it, shape (n, 1) [kWh].

    The shoulders of the season are as doubtful as its height.
    """
    seen = above_the_least(billed_kwh, days, middle)
    by_bills, by_list = (
        part * 0.5 * (kwh + kwh.mean()) for part, kwh in ((k.FILLED_BARE, seen), (k.FILLED_WEATHER, listed))
    )
    thin: Floats = np.minimum(by_bills, by_list)[:, None]
    return thin


def _noise(house: House, facts: Facts, habits: Floats, sky: Floats, mean: Floats, days: Floats) -> Floats:
    noise = habits + np.diag((k.MODEL_RESIDUAL * mean) ** 2) + sky
    return noise + _edges(house, facts, mean / days)


def _middle(house: House, days: Floats) -> Floats:
    """Day (ordinal) in the middle of each period, shape (n,)."""
    middle: Floats = np.array([bill.start.toordinal() for bill in house.bills]) + days / 2.0
    return middle


def _edges(house: House, facts: Facts, per_day: Floats) -> Floats:
    """Reading edges: what one period gains at a reading, its neighbour loses.

    A day that the bills do not print is off by up to its doubt, rectangular; both neighbours speak of one reading.
    """
    bills = house.bills
    n = len(bills)
    out = np.zeros((n, n))
    level = float(per_day.mean())
    hour = (k.READING_HOUR_SD_DAYS * level) ** 2
    # 95 % limits of a rectangular doubt lie at 0.95 of its half width
    days_off = np.array([(bill.edge_doubt_days / (0.95 * math.sqrt(3.0)) * level) ** 2 for bill in bills])
    for i, bill in enumerate(bills):
        meets = i + 1 < n and bills[i + 1].start == bill.closes
        edge = hour + max(days_off[i : i + 2] if meets else days_off[i : i + 1])
        edge += house.meter_on(bill.closes, bill.meter).step_kwh ** 2 / 12.0
        if i in facts.loose_edges:
            edge += (k.LOOSE_EDGE * level * bill.days) ** 2
        out[i, i] += edge
        following = i + 1
        if meets:
            out[following, following] += edge
            out[i, following] -= edge
            out[following, i] -= edge
        elif following < n:
            out[following, following] += hour + days_off[following]
        if i == 0:
            out[0, 0] += hour + days_off[0]
    return out
