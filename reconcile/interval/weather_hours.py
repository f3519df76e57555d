"""What the weather adds to the power of a house, hour by hour: any curve that only rises with cold and with heat.

A heat pump takes more for each degree the colder it is, strip heat comes on top below some point, an air conditioner
reaches its end. So no straight line is fitted about a fixed temperature but a curve of many short ones, none of which
falls. It is fitted to how days differ from the weeks about them: a load that came or went is no weather.
"""

from __future__ import annotations

from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import as_day
from reconcile.distributions import MEDIAN_TO_SD
from reconcile.house import House
from reconcile.house.outdoors import outdoors
from reconcile.records import dataclass

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

HEATING_C = (18.0, 14.0, 10.0, 6.0, 2.0, -3.0, -9.0)
COOLING_C = (17.0, 20.0, 23.0, 26.0)
"""Outdoor temperatures between which heating and cooling may each rise by a slope of their own [degC]; beyond the last
one it goes on straight (our own choice)."""

WEEKS_ABOUT = 14
"""Days on either side whose mean is taken off: the season, and whatever else moves slowly [d]."""

ODD_SDS = 3.0
"""Days farther off than so many robust standard deviations are drawn in: a step, an absence (our own judgement)."""

ALIKE = 5
"""Groups of days by their temperature, as many in each, that have a scatter of their own (our own choice)."""

FEWEST_DAYS = 60
"""Days of known weather from which its part is fitted (our own judgement)."""

ROUNDS, SWEEPS = 5, 40
"""Times that odd days are drawn in, and that every slope is fitted in turn."""

SETTLED = 0.02
"""Change of every slope in one turn below which they are taken as fitted [W/K]: a watt over a cold year."""

RIDGE = 0.01
"""Pull of a slope towards none, as a part of what the mean slope rests on (our own choice)."""

HELD_SHARE = 0.2
"""Doubt of what is taken out for the weather, as a part of it, one standard deviation: each hot or cold spell of weeks
has sun, wind, damp and settings of its own (our own judgement; 6 % of a month's heating in the weighing of bills, where
the house's own list and all its other months hold it)."""


@dataclass(frozen=True, slots=True, eq=False)
class Days:
    """Outdoor temperatures of successive days: means [degC], and how far one that is filled in may be off [K]."""

    mean_c: Floats
    doubt_c: Floats
    known: Bools
    """Days whose own temperature is known: neither filled in nor told by the mean of its bill alone."""

    def at(self, places: NDArray[np.int64]) -> Days:
        """Some of the days."""
        return Days(self.mean_c[places], self.doubt_c[places], self.known[places])


def days_of(house: House, first: int, last: int) -> Days | None:
    """Outdoor temperatures of every day from one to another, days since 1970-01-01.

    None where too few days have one of their own: the means that bills print tell of months, and no month tells what
    heating and cooling add to a day or an hour.
    """
    opens, closes = as_day(first), as_day(last) + timedelta(days=1)
    begin = min([opens, *(bill.start for bill in house.bills)])
    sky = outdoors(house, house.bills, begin, max([closes, *(bill.closes for bill in house.bills)]))
    if sky is None:
        return None
    held = slice((opens - begin).days, (opens - begin).days + last - first + 1)
    known = (sky.doubt_c == 0.0) & (sky.spread_c == 0.0)
    days = Days(sky.mean_c[held], sky.doubt_c[held], known[held])
    return days if days.known.sum() >= FEWEST_DAYS else None


@dataclass(frozen=True, slots=True, eq=False)
class WeatherCurve:
    """Slopes of each column of powers on each short stretch of temperature, shape (p, m) [W/K]."""

    slopes: Floats

    def part(self, mean_c: Floats) -> Floats:
        """What the weather adds on successive days, shape (n, m) [W]."""
        out: Floats = stretches(mean_c) @ self.slopes
        return out

    def cooling(self) -> WeatherCurve:
        """Of cooling alone."""
        heats = np.arange(len(self.slopes)) % (len(HEATING_C) + len(COOLING_C)) < len(HEATING_C)
        return WeatherCurve(np.where(heats[:, None], 0.0, self.slopes))


def stretches(mean_c: Floats) -> Floats:
    """Kelvin of each day on each stretch of temperature, of the day itself and of the day before, shape (n, p)."""
    parts = []
    for felt in (mean_c, np.concatenate([mean_c[:1], mean_c[:-1]])):
        for sign, edges in ((-1.0, HEATING_C), (1.0, COOLING_C)):
            beyond = np.maximum(sign * (felt[:, None] - np.array(edges)), 0.0)
            beyond[:, :-1] -= beyond[:, 1:]
            parts.append(beyond)
    return np.concatenate(parts, axis=1)


def weather_curve(watts: Floats, mean_c: Floats, known: Bools) -> WeatherCurve:
    """Fit it.

    Parameters
    ----------
    watts : ndarray, shape (n, m)
        Powers of successive days, as floors of the night or by the hour; NaN where missing [W].
    mean_c : ndarray, shape (n,)
        Mean outdoor temperature of the same days [degC].
    known : ndarray of bool, shape (n,)
        Days whose temperature is known and not filled in: the others teach nothing.

    Returns
    -------
    WeatherCurve
        No slope is below nothing.
    """
    kept = known & np.isfinite(watts).all(axis=1)
    if kept.sum() <= 2 * WEEKS_ABOUT:
        return WeatherCurve(np.zeros((2 * (len(HEATING_C) + len(COOLING_C)), watts.shape[1])))
    degrees, power = stretches(mean_c)[kept], watts[kept]
    by = _apart(degrees)
    alike = _alike(mean_c[kept])
    gram = by.T @ by
    diagonal = np.diagonal(gram) + RIDGE * float(np.diagonal(gram).mean()) + 1e-9
    slopes = np.zeros((gram.shape[0], power.shape[1]))
    for again in range(ROUNDS):
        # a step of the level that fell together with a cold spell is no weather
        apart = _apart(power - _level(power - degrees @ slopes) if again else power)
        fitted = by @ slopes
        left = apart - fitted
        room = ODD_SDS * MEDIAN_TO_SD * _usual(np.abs(left), alike)
        slopes = _rising(gram, diagonal, by.T @ (fitted + np.clip(left, -room, room)), slopes)
    return WeatherCurve(slopes)


def _alike(mean_c: Floats) -> list[Ints]:
    """Groups of days about as cold or hot, a row each: those of one more day apart from the others."""
    order, (fewest, more) = np.argsort(mean_c, kind="stable"), divmod(len(mean_c), ALIKE)
    larger = more * (fewest + 1)
    return [order[:larger].reshape(more, fewest + 1), order[larger:].reshape(ALIKE - more, fewest)]


def _usual(left: Floats, alike: list[Ints]) -> Floats:
    """Middle of what is left of days about as cold or hot: a hot day scatters far more than a mild one."""
    out = np.empty_like(left)
    for days in alike:
        half = (days.shape[1] - 1) // 2, days.shape[1] // 2
        out[days] = np.partition(left[days], half, axis=1)[:, half].mean(axis=1, keepdims=True) + 1e-9
    return out


def _level(values: Floats) -> Floats:
    """Running middle of some weeks: it keeps a step sharp, where a mean would smear it."""
    half = min(WEEKS_ABOUT, (len(values) - 1) // 2)
    padded = np.concatenate([values[half:0:-1], values, values[-2 : -half - 2 : -1]])
    series = np.ascontiguousarray(padded.T)
    shape, (row, day) = (*values.T.shape, 2 * half + 1), series.strides
    weeks = np.lib.stride_tricks.as_strided(series, shape, (row, day, day))
    return np.partition(weeks, half, axis=-1)[..., half].T  # an odd number without gaps: a sixth of the time of median


def _rising(gram: Floats, diagonal: Floats, pull: Floats, slopes: Floats) -> Floats:
    """Slopes of least squares, none below nothing: each in turn with the others held."""
    others = np.diag(np.diagonal(gram)) - gram
    # one product for each slope: the pulls stand below the slopes
    both, held = np.concatenate([slopes, pull]), np.hstack([others, np.eye(len(gram))]) / diagonal[:, None]
    slopes, nothing = both[: len(gram)], np.zeros(slopes.shape[1])
    # weather that never was leaves its slopes where they are
    rows = [(slopes[i], held[i]) for i in np.flatnonzero(np.diagonal(gram))]
    for _ in range(SWEEPS):
        before = slopes.copy()
        for own, by in rows:
            np.maximum(by.dot(both), nothing, out=own)
        if float(np.abs(slopes - before).max()) < SETTLED:
            break
    return slopes


def _apart(values: Floats) -> Floats:
    """Each day less the mean of the weeks about it."""
    total = np.concatenate([np.zeros((1, values.shape[1])), np.cumsum(values, axis=0)])
    at = np.arange(len(values))
    begin, end = np.maximum(at - WEEKS_ABOUT, 0), np.minimum(at + WEEKS_ABOUT + 1, len(values))
    out: Floats = values - (total[end] - total[begin]) / (end - begin)[:, None]
    return out
