"""What a house is: its bills, loads, meters, weather and diary, as frozen values in base units.

Energy is kWh, power W, temperature degrees Celsius, area m^2, money ``Decimal`` in the house's currency. Readers
(:mod:`reconcile.read`) bring files into this form; nothing here reads or computes beyond plain properties.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from importlib import import_module
from typing import TYPE_CHECKING, Any, Literal, Unpack

from reconcile.house_settings import HouseSettings, Table
from reconcile.measured import Action as Action
from reconcile.measured import Assumed as Assumed
from reconcile.measured import Interval as Interval
from reconcile.measured import Weather as Weather
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


class Plain:
    """Numbers and days of numpy and pandas given to a constructor, or to ``replace``, are kept as Python's own."""

    __slots__ = ()

    def __post_init__(self) -> None:
        for name in self.__dataclass_fields__:  # type: ignore[attr-defined]
            value = getattr(self, name)
            if type(value) not in _OWN:
                made = plain_value(value)
                if made is not value:
                    object.__setattr__(self, name, made)


_OWN = frozenset((str, float, int, bool, type(None), date, Decimal, tuple, frozenset))


def plain_value(value: Any) -> Any:
    """Return a number of numpy, or a day of pandas, as Python's own; anything else as it is.

    Examples
    --------
    >>> import numpy as np
    >>> plain_value(np.float64(846.0)), plain_value(np.int64(3)), plain_value(datetime(2025, 3, 7))
    (846.0, 3, datetime.date(2025, 3, 7))
    """
    if type(value).__name__ in ("NaTType", "NAType"):
        return None
    if type(value).__name__ == "datetime64":
        value = value.astype("datetime64[s]").item()
    elif type(value).__module__ == "numpy" and hasattr(value, "item") and not hasattr(value, "__len__"):
        short = type(value).__name__ in ("float32", "float16")  # 0.15 is meant, not 0.15000000596046448
        value = float(str(value)) if short else value.item()
    if isinstance(value, datetime) and value.tzinfo is None and value.time() == time(0):
        return date(value.year, value.month, value.day)
    return value


@dataclass(frozen=True, slots=True)
class Bill(Plain):
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
    expected_generation_kwh: float | None = None
    """What the house's own panels should have made in the period [kWh], by whoever reckons it."""
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
class Load(Plain):
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
class Meter(Plain):
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
class Band(Plain):
    """What the householder says of the band: its coverage and what is known beside the list."""

    coverage: float = 0.95
    month_to_month_percent: float = 5.0
    unlisted_kwh_per_day: float | None = None
    unlisted_within_percent: float | None = None


@dataclass(frozen=True, slots=True)
class Event(Plain):
    """A line of the household's diary."""

    day: date
    kind: str
    until: date | None = None
    load: str | None = None
    note: str = ""
    row: int | None = None


@dataclass(frozen=True, slots=True)
class RegisterReading(Plain):
    """One dated register value from ``readings.csv``."""

    day: date
    value: float
    meter: str | None = None
    register: str = "total"
    type: ReadType = "actual"
    event: str | None = None
    row: int | None = None


@dataclass(frozen=True, slots=True)
class ChargeLine(Plain):
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
class House(Plain):
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
    coldest_month_c: float | None = None
    """Mean temperature of the coldest month of a normal year at the site [degC]."""
    warmest_month_c: float | None = None
    """The same of the warmest month [degC]."""
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
    passed: bool = field(default=False, init=False, repr=False, compare=False)
    """Whether it came through the gate as it is; a house changed by ``dataclasses.replace`` has not."""

    def through_gate(self) -> House:
        """Mark this very house as one that passed every check of the gate.

        Returns
        -------
        House
            The same one.
        """
        object.__setattr__(self, "passed", True)
        return self

    def __repr__(self) -> str:
        spans = f", {min(b.start for b in self.bills)} to {max(b.closes for b in self.bills)}" if self.bills else ""
        beside = [name for name in ("weather", "interval", "field_test") if getattr(self, name) is not None]
        holds = ", ".join([f"{len(self.loads)} loads", *beside])
        return f"<House {self.name!r}: {len(self.bills)} bills{spans}; {holds}>"

    @classmethod
    def from_frames(
        cls,
        bills: pd.DataFrame | Sequence[Mapping[str, Any]],
        loads: Table = None,
        weather: Table | pd.Series[float] | Weather = None,
        interval: Interval | pd.Series[float] | pd.DataFrame | None = None,
        **settings: Unpack[HouseSettings],
    ) -> House:
        """Read a house from frames, through the gate that files pass.

        Parameters
        ----------
        bills, loads, weather : DataFrame or sequence of dict
            With the columns that the files may have, by any of their names; a sequence holds their rows. Weather may
            also be a Series of daily means (or of hours, which are averaged by days) by its index, or a
            :class:`Weather`. Instants with a zone are read on the clock of ``timezone=``.
        interval : Interval, Series or DataFrame, optional
            Energy [kWh] by instants that carry their zone, each the beginning of its interval; a frame of several
            columns is told by their names (``delivered``, ``received``, ``volts``).
        **settings
            Keys of ``[house]`` and ``[bills]`` by name (``timezone=``, ``date_format=``), the other tables of the
            settings as mappings (``band={...}``, ``meter=[{...}]``, ``tariff=[{...}]``), ``dangers=(...)``, and the
            frames ``events=``, ``readings=``, ``charges=``; see :class:`reconcile.house_settings.HouseSettings`. A
            value that is missing (None, NaN, NA) is as if it were not given; one may be a quantity of pint.

        Returns
        -------
        House

        Raises
        ------
        InputError
            With every fault, each with its frame, the label of its row and its column.
        """
        own: dict[str, Any] = dict(settings)
        more: dict[str, Any] = {name: own.pop(name) for name in ("events", "readings", "charges") if name in own}
        frames: dict[str, Any] = {"bills": bills, "loads": loads, "weather": weather, **more}
        made: House = import_module("reconcile.read.from_frames").house_from_frames(frames, interval, own)
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
