"""The keywords of ``House.from_frames``, typed: a checker tells a wrong one, and an editor completes the rest."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any, Literal, SupportsFloat, TypeAlias, TypedDict

if TYPE_CHECKING:
    import pandas as pd

Number: TypeAlias = SupportsFloat | str | None
"""A number of Python, numpy or pint, or one with its unit as text; None, NaN and NA are as if it were not given."""

Table: TypeAlias = "pd.DataFrame | Sequence[Mapping[str, Any]] | Mapping[str, Any] | None"
"""A frame, its rows as dicts, or a dict of its columns, with the columns that the file may have."""


class BandSettings(TypedDict, total=False):
    """What is known of the usual range beside the list."""

    coverage: Number
    month_to_month_percent: Number
    unlisted_kwh_per_day: Number
    unlisted_within_percent: Number


MeterSettings = TypedDict(
    "MeterSettings",
    {
        "number": str | int | None,
        "from": date | str | None,
        "until": date | str | None,
        "type": Literal["electronic", "disk"] | None,
        "form": str | None,
        "digits": Number,
        "multiplier": Number,
        "step_kwh": Number,
        "display": Literal["kWh", "kW now", "kW demand"] | None,
        "tolerance_percent": Number,
        "disk_wh": Number,
        "pulse_wh": Number,
        "test_amps": Number,
    },
    total=False,
)
MeterSettings.__doc__ = "One meter; several that served in turn say from when and until when."


class SiteSettings(TypedDict, total=False):
    """Mean temperatures of a normal year, in the unit of the house."""

    coldest_month_mean: Number
    warmest_month_mean: Number


class HouseSettings(TypedDict, total=False):
    """Keywords of :meth:`reconcile.House.from_frames`: keys of ``house.toml``, and the smaller tables.

    Attributes
    ----------
    name : str
        Of the house, in every frame; ``house`` where none is given.
    timezone : str
        As ``America/Chicago``, the default: the clock on which days and hours are read.
    currency, locale : str
        As ``USD`` and ``en_US``, the defaults.
    temperature_unit : {'C', 'F'}
        Of every temperature given; what they can only be, where it is not said.
    floor_area : number or str
        [m^2], or with its unit: ``"1600 ft^2"``.
    occupants, bedrooms : number
    heating_fuel, water_heating_fuel : str
    generation : bool
        Whether the house makes electricity of its own.
    service : {'split-phase', 'network', 'two-wire', 'three-phase', 'unknown'}
    line_volts, service_amps : number or str
        [V], [A]
    dates : {'reading', 'inclusive'}
        Whether a bill's dates are those of the readings, or its first and last day.
    date_format, number_format : str
        As ``DD/MM/YYYY`` and ``1.234,56``, where text can be read in two ways.
    dangers : sequence of str
        Signs of danger, names from :data:`reconcile.house.DANGERS`.
    site : SiteSettings
    meter : MeterSettings or sequence of MeterSettings
    band : BandSettings
    tariff : mapping or sequence of mapping
        A price period each, as ``[[tariff]]`` of the settings.
    events, readings, charges : DataFrame or sequence of dict
    """

    name: str | int | None
    timezone: str | None
    currency: str | None
    locale: str | None
    temperature_unit: Literal["C", "F"] | None
    floor_area: Number
    occupants: Number
    bedrooms: Number
    heating_fuel: str | None
    water_heating_fuel: str | None
    generation: bool | None
    service: Literal["split-phase", "network", "two-wire", "three-phase", "unknown"] | None
    line_volts: Number
    service_amps: Number
    dates: Literal["reading", "inclusive"] | None
    date_format: str | None
    number_format: str | None
    dangers: Sequence[str] | None
    site: SiteSettings | None
    meter: MeterSettings | Sequence[MeterSettings] | None
    band: BandSettings | None
    tariff: Mapping[str, Any] | Sequence[Mapping[str, Any]] | None
    events: Table
    readings: Table
    charges: Table
