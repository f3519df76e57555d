"""What a house is: its bills, loads, meters, weather and diary, as frozen values in base units.

Energy is kWh, power W, temperature degrees Celsius, area m^2, money ``Decimal`` in the house's currency. Readers
(:mod:`reconcile.read`) bring files into this form; nothing here reads or computes beyond plain properties.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from decimal import Decimal
from importlib import import_module
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from reconcile.site import FieldTest
from reconcile.tariff import Tariff

if TYPE_CHECKING:
    import pandas as pd

ReadType = Literal["actual", "estimated", "customer"]
BillType = Literal["regular", "first", "final", "corrected", "cancelled"]
Follows = Literal["clock", "always", "heating", "cooling"]
Source = Literal["measured", "nameplate", "label", "guessed"]
Service = Literal["split-phase", "network", "two-wire", "three-phase", "unknown"]

DANGERS = (
    "warm_meter",
    "buzzing",
    "burning_smell",
    "lights_brighten_and_dim",
    "water_at_meter",
    "damaged_conduit",
    "shock",
)


@dataclass(frozen=True, slots=True)
class Bill:
    """One billing period, as printed. ``kwh`` is None only where readings stand in its place."""

    start: date
    end: date
    kwh: float | None = None
    amount: Decimal | None = None
    amount_due: Decimal | None = None
    budget_amount: Decimal | None = None
    bill_date: date | None = None
    bill_type: BillType = "regular"
    read_type: ReadType = "actual"
    read_type_start: ReadType | None = None
    reading_start: float | None = None
    reading_end: float | None = None
    multiplier: float | None = None
    meter: str | None = None
    printed_days: int | None = None
    delivered_kwh: float | None = None
    received_kwh: float | None = None
    demand_kw: float | None = None
    note: str = ""
    rate_code: str | None = None
    inclusive: bool = False
    """Whether the printed first and last day both count (``[bills] dates = "inclusive"``)."""
    row: int | None = None
    """Row of the file it came from, for findings and faults."""
    edge_doubt_days: float = 0.0
    """How far each of the two readings may lie off its day, 95 % [d]: 0 where the days are written on the bill."""
    mean_temperature_c: float | None = None
    """Mean outdoor temperature of the period as the bill prints it [degC]."""

    @property
    def closes(self) -> date:
        """Date on whose reading the period closes: the day after a last day that counts."""
        return self.end + timedelta(days=1) if self.inclusive else self.end

    @property
    def days(self) -> int:
        """Days of the period [d]: the nights between the opening and the closing reading."""
        return (self.closes - self.start).days


@dataclass(frozen=True, slots=True)
class Load:
    """One line of the load inventory. Exactly one of ``watts``, ``kwh_per_year``, ``kwh_per_cycle`` is given."""

    name: str
    count: int = 1
    watts: float | None = None
    """Electric power of one while it is on [W]; a motor's efficiency and a power factor are already applied."""
    kwh_per_year: float | None = None
    kwh_per_cycle: float | None = None
    cycles_per_week: float | None = None
    run_hours: float | None = None
    """Hours a day [h/d]."""
    share_on: float = 1.0
    standby_watts: float = 0.0
    follows: Follows = "clock"
    hours_per_degree_day: float | None = None
    """Hours a kelvin-day [h/(K d)], whatever unit the file used."""
    balance_c: float | None = None
    months: frozenset[int] | None = None
    """Months of the year in which it runs; None is all of them."""
    arrives: date | None = None
    leaves: date | None = None
    """First day it is gone."""
    watts_within_percent: float | None = None
    hours_within_percent: float | None = None
    power_factor: float | None = None
    efficiency: float | None = None
    source: Source = "nameplate"
    note: str = ""
    apparent: bool = False
    """Whether ``watts`` came from amps x volts, a nameplate maximum."""
    row: int | None = None


@dataclass(frozen=True, slots=True)
class Meter:
    """A utility meter and what is known of it; ``begins`` and ``ends`` where several served the house in turn."""

    number: str | None = None
    begins: date | None = None
    ends: date | None = None
    type: Literal["electronic", "disk"] = "electronic"
    form: str | None = None
    digits: int | None = None
    multiplier: float = 1.0
    step_kwh: float = 1.0
    display: Literal["kWh", "kW now", "kW demand"] = "kWh"
    tolerance_percent: float = 2.0
    disk_wh: float | None = None
    pulse_wh: float | None = None
    test_amps: float | None = None


@dataclass(frozen=True, slots=True)
class Band:
    """What the householder says of the band: its coverage and what is known beside the list."""

    coverage: float = 0.95
    month_to_month_percent: float = 5.0
    unlisted_kwh_per_day: float | None = None
    unlisted_within_percent: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Weather:
    """Daily mean outdoor temperature, one value a day without a gap in the calendar; NaN where a day is missing."""

    first: date
    mean_c: NDArray[np.float64]
    missing_days: int = 0

    def __eq__(self, other: object) -> bool:
        return (
            isinstance(other, Weather)
            and self.first == other.first
            and np.array_equal(self.mean_c, other.mean_c, equal_nan=True)
        )

    __hash__ = None  # type: ignore[assignment]

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
        made: Weather = import_module("reconcile.read.frames").weather_from_series(series, temperature_unit)
        return made

    @property
    def last(self) -> date:
        """Last day covered."""
        return self.first + timedelta(days=len(self.mean_c) - 1)

    def between(self, start: date, end: date) -> NDArray[np.float64]:
        """Daily means of ``start`` <= day < ``end`` [degC], NaN where not covered."""
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


@dataclass(frozen=True, slots=True, eq=False)
class Interval:
    """Energy in consecutive intervals, as cleaned by the reader; a missing interval is simply absent.

    Most houses have one step throughout. Where a meter was exchanged for one of another step, each reading has its
    own length: use :attr:`lengths` and :attr:`ends`, or go through :attr:`segments`, each of one step.

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
    def from_series(cls, series: pd.Series[float], unit: Literal["kWh", "Wh", "kW"] = "kWh") -> Interval:
        """Read energy from a series whose index holds the starts of its intervals.

        Parameters
        ----------
        series : Series
            With a DatetimeIndex that carries its zone, rising, in steps of one length; missing values are left out.
        unit : {'kWh', 'Wh', 'kW'}
            Of the values; kW is the mean power of an interval.

        Returns
        -------
        Interval

        Raises
        ------
        InputError
            With every fault.
        """
        made: Interval = import_module("reconcile.read.frames").interval_from_series(series, unit)
        return made


@dataclass(frozen=True, slots=True)
class Event:
    """A line of the household's diary."""

    day: date
    kind: str
    until: date | None = None
    load: str | None = None
    note: str = ""
    row: int | None = None


@dataclass(frozen=True, slots=True)
class RegisterReading:
    """One dated register value from ``readings.csv``."""

    day: date
    value: float
    meter: str | None = None
    register: str = "total"
    type: ReadType = "actual"
    event: str | None = None
    row: int | None = None


@dataclass(frozen=True, slots=True)
class ChargeLine:
    """One printed line of a bill from ``charges.csv``; ``start`` names the billing period."""

    start: date
    name: str
    amount: Decimal
    company: str = ""
    part: Literal["supply", "delivery", "other"] = "other"
    quantity: Decimal | None = None
    rate: Decimal | None = None
    row: int | None = None


@dataclass(frozen=True, slots=True)
class House:
    """Everything known of one house. Bills stand in order of their start date; only bills are always there."""

    name: str
    bills: tuple[Bill, ...]
    loads: tuple[Load, ...] = ()
    timezone: str = "America/Chicago"
    currency: str = "USD"
    locale: str = "en_US"
    """How numbers, money and dates are written, as ``en_US`` or ``de_DE``."""
    temperature_unit: Literal["C", "F"] = "C"
    floor_area_m2: float | None = None
    occupants: float | None = None
    bedrooms: float | None = None
    heating_fuel: str | None = None
    water_heating_fuel: str | None = None
    generation: bool = False
    service: Service = "unknown"
    line_volts: float | None = None
    service_amps: float | None = None
    dangers: tuple[str, ...] = ()
    """Signs of danger reported as true, names from :data:`DANGERS`."""
    meters: tuple[Meter, ...] = (Meter(),)
    band: Band = field(default_factory=Band)
    tariffs: tuple[Tariff, ...] = ()
    weather: Weather | None = None
    interval: Interval | None = None
    events: tuple[Event, ...] = ()
    readings: tuple[RegisterReading, ...] = ()
    charges: tuple[ChargeLine, ...] = ()
    field_test: FieldTest | None = None
    notices: tuple[str, ...] = ()
    """Plain sentences about what the reader took for granted or set aside; shown in every answer."""

    @classmethod
    def from_frames(
        cls,
        bills: pd.DataFrame,
        loads: pd.DataFrame | None = None,
        weather: pd.DataFrame | None = None,
        interval: Interval | pd.Series[float] | None = None,
        **settings: Any,
    ) -> House:
        """Read a house from frames, through the gate that files pass.

        Parameters
        ----------
        bills, loads, weather : DataFrame
            With the columns that the files may have, by any of their names.
        interval : Interval or Series, optional
            Energy [kWh] by instants that carry their zone.
        **settings
            Keys of ``[house]`` and ``[bills]`` by name (``timezone=``, ``date_format=``), the other tables of the
            settings as mappings (``band={...}``, ``meter=[{...}]``, ``tariff=[{...}]``), ``dangers=(...)``, and the
            frames ``events=``, ``readings=``, ``charges=``.

        Returns
        -------
        House

        Raises
        ------
        InputError
            With every fault, each with its frame, the label of its row and its column.
        """
        more: dict[str, Any] = {
            name: settings.pop(name) for name in ("events", "readings", "charges") if name in settings
        }
        frames: dict[str, Any] = {"bills": bills, "loads": loads, "weather": weather, **more}
        made: House = import_module("reconcile.read.frames").house_from_frames(frames, interval, settings)
        return made

    def meter_on(self, day: date, number: str | None = None) -> Meter:
        """Meter that served on a day: by its number where a bill names one, else by its dates, else the first.

        Parameters
        ----------
        day : date
            A day of service.
        number : str, optional
            The meter's number as the bill prints it.

        Returns
        -------
        Meter
        """
        for meter in self.meters:
            if number is not None and meter.number == number:
                return meter
        for meter in self.meters:
            if (meter.begins is None or meter.begins <= day) and (meter.ends is None or day < meter.ends):
                return meter
        return self.meters[0]
