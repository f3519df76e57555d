"""What a house is: its bills, loads, meters, weather and diary, as frozen values in base units.

Energy is kWh, power W, temperature degrees Celsius, area m^2, money ``Decimal`` in the house's currency. Readers
(:mod:`reconcile.read`) bring files into this form; nothing here reads or computes beyond plain properties.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from datetime import date
from importlib import import_module
from typing import TYPE_CHECKING, Any, Literal, Unpack

from reconcile.house.keywords import HouseSettings, Table
from reconcile.house.measured import Interval, Weather
from reconcile.house.parts import Band, Bill, ChargeLine, Event, Load, Meter, Plain, RegisterReading, Service
from reconcile.house.site import FieldTest
from reconcile.house.tariff import Tariff
from reconcile.records import dataclass

if TYPE_CHECKING:
    import pandas as pd

MOST_HOURLY = 10800
"""Longest step of interval data from which the hours of the day are told [s] (our choice)."""
DANGERS = (
    "warm_meter",
    "buzzing",
    "burning_smell",
    "lights_brighten_and_dim",
    "water_at_meter",
    "damaged_conduit",
    "shock",
    "sparks_or_scorching",
)


@dataclass(frozen=True, slots=True)
class House(Plain):
    """Everything known of one house; only bills are always there.

    Attributes
    ----------
    name : str
    bills : tuple of Bill
        In order of their start date.
    loads : tuple of Load
    timezone : str
        As ``America/Chicago``.
    currency : str
        Three letters, as ``USD``.
    locale : str
        How numbers, money and dates are written, as ``en_US`` or ``de_DE``.
    temperature_unit : {'C', 'F'}
        In which temperatures are written and told; what a house keeps is degrees Celsius.
    floor_area_m2 : float or None
        [m^2]
    occupants, bedrooms : float or None
    heating_fuel, water_heating_fuel : str or None
    generation : bool
        Whether the house makes electricity of its own.
    service : {'split-phase', 'network', 'two-wire', 'three-phase', 'unknown'}
        How the utility's wires reach it.
    line_volts, service_amps : float or None
        Leg to leg [V], and the rating of the service [A].
    coldest_month_c, warmest_month_c : float or None
        Mean temperatures of the coldest and the warmest month of a normal year at the site [degC].
    dangers : tuple of str
        Signs of danger reported as true, names from :data:`DANGERS`.
    meters : tuple of Meter
    band : Band
    tariffs : tuple of Tariff
    weather : Weather or None
    interval : Interval or None
    events : tuple of Event
    readings : tuple of RegisterReading
    charges : tuple of ChargeLine
    field_test : FieldTest or None
    notices : tuple of str
        Plain sentences about what the reader took for granted or set aside; shown in every answer.
    passed : bool
        Whether it came through the gate as it is; a house changed by ``dataclasses.replace`` has not.
    """

    name: str
    bills: tuple[Bill, ...]
    loads: tuple[Load, ...] = ()
    timezone: str = "America/Chicago"
    currency: str = "USD"
    locale: str = "en_US"
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
    warmest_month_c: float | None = None
    dangers: tuple[str, ...] = ()
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
    passed: bool = field(default=False, init=False, repr=False, compare=False)

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

    @property
    def hours_known(self) -> bool:
        """Whether anything tells at which hours the home draws: interval data, or a reading in a quiet night."""
        hourly = self.interval is not None and self.interval.step_seconds <= MOST_HOURLY
        return hourly or (self.field_test is not None and bool(self.field_test.quiet))

    @property
    def nights_known(self) -> bool:
        """Whether interval data tell the nights of the last bill."""
        data = self.interval
        if data is None or not len(data.starts) or data.step_seconds > MOST_HOURLY or not self.bills:
            return False
        last: date = data.ends[-1].astype("datetime64[D]").item()
        return last > max(bill.start for bill in self.bills)

    @classmethod
    def from_frames(
        cls,
        bills: pd.DataFrame | Sequence[Mapping[str, Any]] | Mapping[str, Any],
        loads: Table = None,
        weather: Table | pd.Series[float] | Weather = None,
        interval: Interval | pd.Series[float] | pd.DataFrame | None = None,
        **settings: Unpack[HouseSettings],
    ) -> House:
        """Read a house from frames, through the gate that files pass.

        Parameters
        ----------
        bills, loads, weather : DataFrame, sequence of dict or mapping of columns
            With the columns that the files may have, by any of their names; a sequence holds their rows. An index by
            a name is a column, and months or spans of days in it are those of bills. Weather may also be a Series of
            daily means (or of hours, which are averaged by days) by its index, or a :class:`Weather`. Instants with a
            zone are read on the clock of ``timezone=``.
        interval : Interval, Series or DataFrame, optional
            Energy [kWh] by instants that carry their zone, each the beginning of its interval; a frame of several
            columns is told by their names (``delivered``, ``received``, ``volts``).
        **settings
            Keys of ``[house]`` and ``[bills]`` by name (``timezone=``, ``date_format=``), the other tables of the
            settings as mappings (``band={...}``, ``meter=[{...}]``, ``tariff=[{...}]``), ``dangers=(...)``, and the
            frames ``events=``, ``readings=``, ``charges=``; see :class:`reconcile.house.keywords.HouseSettings`. A
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
        made: House = import_module("reconcile.read.in_memory.from_frames").house_from_frames(frames, interval, own)
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
