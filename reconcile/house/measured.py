"""What is measured day by day and hour by hour: the weather, and the interval data of a house.

Energy is kWh, temperature degrees Celsius, instants UTC.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field, fields, replace
from datetime import date, timedelta
from importlib import import_module
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from reconcile.records import dataclass

if TYPE_CHECKING:
    import pandas as pd


class Held:
    """Arrays given to a constructor, or to ``replace``, are kept as copies that nobody can write to."""

    __slots__ = ()

    def __post_init__(self) -> None:
        for field_ in fields(self):  # type: ignore[arg-type]
            value = getattr(self, field_.name)
            if isinstance(value, np.ndarray) and value.flags.writeable:
                own = value.copy()
                own.setflags(write=False)
                object.__setattr__(self, field_.name, own)

    def __reduce__(self) -> tuple[Any, tuple[Any, ...]]:
        """Go through the constructor again: arrays come out of a pickle writeable."""
        return type(self), tuple(getattr(self, field_.name) for field_ in fields(self))  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Weather(Held):
    """Daily mean outdoor temperature, one value a day without a gap in the calendar.

    Attributes
    ----------
    first : date
        First day.
    mean_c : ndarray, shape (days,)
        Mean of each day, NaN where one is missing [degC]; cannot be written to.
    missing_days : int
    """

    first: date
    mean_c: NDArray[np.float64]
    missing_days: int = 0

    def __repr__(self) -> str:
        missing = f", {self.missing_days} missing" if self.missing_days else ""
        return f"<Weather: {len(self.mean_c)} days from {self.first}{missing}>"

    def __eq__(self, other: object) -> bool:
        return (
            isinstance(other, Weather)
            and self.first == other.first
            and np.array_equal(self.mean_c, other.mean_c, equal_nan=True)
        )

    def __hash__(self) -> int:
        return hash((self.first, len(self.mean_c)))

    @classmethod
    def from_series(cls, series: pd.Series[float], temperature_unit: Literal["C", "F"] = "C") -> Weather:
        """Read daily mean temperatures from a series whose index holds the days.

        Parameters
        ----------
        series : Series
            Means by day, in any order; missing days stay missing.
        temperature_unit : {'C', 'F'}
            Of the values.

        Returns
        -------
        Weather

        Raises
        ------
        InputError
            With every fault, each with the label of its row.
        """
        made: Weather = import_module("reconcile.read.in_memory.from_frames").weather_from_series(
            series, temperature_unit
        )
        return made

    @property
    def last(self) -> date:
        """Last day covered."""
        return self.first + timedelta(days=len(self.mean_c) - 1)

    def between(self, start: date, end: date) -> NDArray[np.float64]:
        """Return the daily means of some days.

        Parameters
        ----------
        start, end : date
            First day, and the day after the last.

        Returns
        -------
        ndarray, shape (days,)
            NaN where not covered [degC].
        """
        out = np.full(max((end - start).days, 0), np.nan)
        offset = (start - self.first).days
        low, high = max(offset, 0), min(offset + len(out), len(self.mean_c))
        if high > low:
            out[low - offset : high - offset] = self.mean_c[low:high]
        return out


@dataclass(frozen=True, slots=True)
class Action:
    """Something done to interval data while reading, counted: never silent.

    ``code`` is a key of :data:`reconcile.texts.interval.ACTIONS`, which says it in a sentence with ``count``
    intervals, their ``kwh`` and the other ``figures``.
    """

    code: str
    count: int
    kwh: float
    figures: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Assumed:
    """Something taken for granted of interval data because the file does not say it.

    ``code`` is a key of :data:`reconcile.texts.interval.ASSUMED`.
    """

    code: str
    figures: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class Interval(Held):
    """Energy in consecutive intervals, as cleaned by the reader; a missing interval is simply absent.

    Most houses have one step throughout. Where a meter was exchanged for one of another step, each reading has its
    own length: use :attr:`lengths` and :attr:`ends`, or go through :attr:`segments`, each of one step. Its arrays, of
    shape (readings,), cannot be written to.

    Attributes
    ----------
    starts : ndarray of datetime64[s]
        UTC instants, strictly increasing; no two readings overlap.
    kwh : ndarray
        Energy drawn from the utility in each interval, never NaN [kWh]. Where :attr:`net` is true it is drawn less
        sent back and may be negative.
    step_seconds : int
        Length of a reading [s]; the longest where several steps follow one another.
    assumed : tuple of Assumed
    actions : tuple of Action
    seconds : ndarray of int64 or None
        Length of each reading [s]; None where all have ``step_seconds``.
    received_kwh : ndarray or None
        Energy sent back to the utility in the same intervals, not negative [kWh]; None where the data have no
        register for it. NaN where that register has no reading.
    net : bool
        Whether ``kwh`` is a net register.
    estimated : ndarray of bool or None
        Readings that the data flag as estimated; None where nothing is flagged.
    volts : ndarray or None
        Mean volts of each interval where the data carry them, NaN where missing [V].
    """

    starts: NDArray[np.datetime64]
    kwh: NDArray[np.float64]
    step_seconds: int
    assumed: tuple[Assumed, ...] = ()
    actions: tuple[Action, ...] = ()
    seconds: NDArray[np.int64] | None = None
    received_kwh: NDArray[np.float64] | None = None
    net: bool = False
    estimated: NDArray[np.bool_] | None = None
    volts: NDArray[np.float64] | None = None

    def __repr__(self) -> str:
        span = f" from {self.starts[0]} to {self.ends[-1]} UTC" if len(self.kwh) else ""
        return f"<Interval: {len(self.kwh)} readings of {self.step_seconds / 60:g} min{span}, {self.kwh.sum():.0f} kWh>"

    @property
    def lengths(self) -> NDArray[np.int64]:
        """Length of each reading [s]."""
        return np.full(len(self.kwh), self.step_seconds, dtype=np.int64) if self.seconds is None else self.seconds

    @property
    def ends(self) -> NDArray[np.datetime64]:
        """UTC instants at which the readings end."""
        ends: NDArray[np.datetime64] = self.starts + self.lengths.astype("timedelta64[s]")
        return ends

    @property
    def net_kwh(self) -> NDArray[np.float64]:
        """Energy drawn less energy sent back [kWh]."""
        return self.kwh if self.received_kwh is None else self.kwh - np.nan_to_num(self.received_kwh)

    @property
    def segments(self) -> tuple[Interval, ...]:
        """The stretches of one step each, in order of time; the data themselves where there is one step."""
        if self.seconds is None:
            return (self,)
        edges = [0, *(np.flatnonzero(np.diff(self.seconds)) + 1).tolist(), len(self.seconds)]
        parts = [slice(low, high) for low, high in pairwise(edges)]

        def cut(values: NDArray[Any] | None, part: slice) -> NDArray[Any] | None:
            return None if values is None else values[part]

        return tuple(
            replace(
                self,
                starts=self.starts[part],
                kwh=self.kwh[part],
                step_seconds=int(self.seconds[part.start]),
                seconds=None,
                received_kwh=cut(self.received_kwh, part),
                estimated=cut(self.estimated, part),
                volts=cut(self.volts, part),
            )
            for part in parts
        )

    def __eq__(self, other: object) -> bool:
        def same(mine: NDArray[Any] | None, theirs: NDArray[Any] | None) -> bool:
            if mine is None or theirs is None:
                return mine is theirs
            return np.array_equal(mine, theirs, equal_nan=mine.dtype.kind == "f")

        return (
            isinstance(other, Interval)
            and (self.step_seconds, self.net) == (other.step_seconds, other.net)
            and all(
                same(getattr(self, name), getattr(other, name))
                for name in ("starts", "kwh", "seconds", "received_kwh", "estimated", "volts")
            )
        )

    __hash__ = None  # type: ignore[assignment]

    @classmethod
    def from_series(
        cls, series: pd.Series[float] | pd.DataFrame, unit: Literal["kWh", "Wh", "MWh", "kW", "W"] | None = None
    ) -> Interval:
        """Read energy from a series whose index holds the starts of its intervals, as a file is read.

        Parameters
        ----------
        series : Series or DataFrame
            With a DatetimeIndex that carries its zone, in any order; a frame of several columns is told by their names.
            Holes and repeats are counted in ``actions``.
        unit : {'kWh', 'Wh', 'MWh', 'kW', 'W'}, optional
            Of the values, where the name of the series does not say it; kWh without either. kW is the mean power of an
            interval.

        Returns
        -------
        Interval

        Raises
        ------
        InputError
            With every fault.
        """
        made: Interval = import_module("reconcile.read.in_memory.from_frames").interval_from_series(series, unit)
        return made
