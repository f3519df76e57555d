"""What the weather adds to the power of a house, hour by hour: any curve that only rises with cold and with heat.

A heat pump takes more for each degree the colder it is, strip heat comes on top below some point, an air conditioner
reaches its end. So no straight line is fitted about a fixed temperature but a curve of many short ones, none of which
falls. It is fitted to how days differ from the weeks about them: a load that came or went is no weather.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

HEATING_C = (18.0, 14.0, 10.0, 6.0, 2.0, -3.0, -9.0)
COOLING_C = (17.0, 20.0, 23.0, 26.0)
"""Outdoor temperatures between which heating and cooling may each rise by a slope of their own [degC]; beyond the last
one it goes on straight (our own choice)."""

WEEKS_ABOUT = 14
"""Days on either side whose mean is taken off: the season, and whatever else moves slowly [d]."""

ODD_SDS = 3.0
"""Days farther off than so many robust standard deviations are drawn in: a step, an absence (our own judgement)."""

ROUNDS, SWEEPS = 3, 40
"""Times that odd days are drawn in, and that every slope is fitted in turn."""

RIDGE = 0.01
"""Pull of a slope towards none, as a part of what the mean slope rests on (our own choice)."""

HELD_SHARE = 0.2
"""Doubt of what is taken out for the weather, as a part of it, one standard deviation: each hot or cold spell of weeks
has sun, wind, damp and settings of its own (our own judgement; 6 % of a month's heating in the weighing of bills, where
the house's own list and all its other months hold it)."""


@dataclass(frozen=True, slots=True, eq=False)
class WeatherCurve:
    """Slopes of each column of powers on each short stretch of temperature, shape (p, m) [W/K]."""

    slopes: Floats

    def part(self, mean_c: Floats) -> Floats:
        """What the weather adds on successive days, shape (n, m) [W]."""
        out: Floats = stretches(mean_c) @ self.slopes
        return out


def stretches(mean_c: Floats) -> Floats:
    """Kelvin of each day on each stretch of temperature, of the day itself and of the day before, shape (n, p)."""
    columns = []
    for felt in (mean_c, np.concatenate([mean_c[:1], mean_c[:-1]])):
        for sign, edges in ((-1.0, HEATING_C), (1.0, COOLING_C)):
            beyond = [np.maximum(sign * (felt - edge), 0.0) for edge in edges]
            columns += [a - b for a, b in zip(beyond[:-1], beyond[1:], strict=True)] + [beyond[-1]]
    return np.column_stack(columns)


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
    by, power = _apart(stretches(mean_c)[kept]), _apart(watts[kept])
    gram = by.T @ by
    diagonal = np.diagonal(gram) + RIDGE * float(np.diagonal(gram).mean()) + 1e-9
    heard, slopes = power, np.zeros((gram.shape[0], power.shape[1]))
    for _ in range(ROUNDS):
        slopes = _rising(gram, diagonal, by.T @ heard, slopes)
        fitted = by @ slopes
        left = power - fitted
        room = ODD_SDS * 1.4826 * np.median(np.abs(left), axis=0) + 1e-9
        heard = fitted + np.clip(left, -room, room)
    return WeatherCurve(slopes)


def _rising(gram: Floats, diagonal: Floats, pull: Floats, slopes: Floats) -> Floats:
    """Slopes of least squares, none below nothing: each in turn with the others held."""
    slopes = slopes.copy()
    for _ in range(SWEEPS):
        for j in range(len(gram)):
            slopes[j] = np.maximum(
                0.0, (pull[j] - gram[j] @ slopes + gram[j, j] * slopes[j]) / diagonal[j]
            )
    return slopes


def _apart(values: Floats) -> Floats:
    """Each day less the mean of the weeks about it."""
    total = np.concatenate([np.zeros((1, values.shape[1])), np.cumsum(values, axis=0)])
    at = np.arange(len(values))
    begin, end = np.maximum(at - WEEKS_ABOUT, 0), np.minimum(at + WEEKS_ABOUT + 1, len(values))
    out: Floats = values - (total[end] - total[begin]) / (end - begin)[:, None]
    return out
