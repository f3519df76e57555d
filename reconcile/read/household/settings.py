"""The keys of ``house.toml``."""

from __future__ import annotations

import re
from dataclasses import fields, replace
from datetime import timedelta, timezone, tzinfo
from typing import Literal, get_args
from zoneinfo import ZoneInfo, available_timezones

from reconcile import units
from reconcile.house import DANGERS, Band, House, Meter, Service
from reconcile.read.tables.as_shown import of_one
from reconcile.read.tables.bounds import COLDEST_C, WARMEST_C
from reconcile.read.tables.cells import Cell, Section, nearest, shown
from reconcile.read.tables.gate import YES_OR_NO, Gate
from reconcile.read.values import dates
from reconcile.records import dataclass

HOUSE = (
    *("name", "timezone", "currency", "locale", "temperature_unit", "floor_area", "occupants", "bedrooms"),
    *("heating_fuel", "water_heating_fuel", "generation", "service", "line_volts", "service_amps"),
)
SITE = ("coldest_month_mean", "warmest_month_mean")
BILLS = ("dates", "date_format", "number_format")
METER = {"from" if f.name == "begins" else "until" if f.name == "ends" else f.name: f.name for f in fields(Meter)}
"""Keys of a meter and the fields that hold them."""
BAND = tuple(f.name for f in fields(Band))

DENIALS = ("no", "not", "none", "never", "nothing", "n")
"""First words of an answer that a sign of danger is not there."""

_OFFSET = re.compile(r"([+-])(\d{2}):(\d{2})", re.ASCII)


@dataclass(frozen=True, slots=True)
class IntervalSettings:
    """How the interval data are written; None where a key is not given."""

    channel: str | None = None
    unit: Literal["kWh", "Wh", "MWh", "kW", "W"] | None = None
    stamps: Literal["start", "end"] | None = None
    timezone: str = "house"


TABLES = {
    "house": HOUSE,
    "site": SITE,
    "danger": DANGERS,
    "bills": ("dates", "date_format", "number_format"),
    "meter": tuple(METER),
    "band": BAND,
    "interval": tuple(f.name for f in fields(IntervalSettings)),
}


@dataclass(frozen=True, slots=True)
class Settings:
    """The settings: a house that has no bills yet, and what tells the other readers how to read."""

    house: House
    inclusive: bool | None
    interval: IntervalSettings
    temperature_unit_given: bool
    timezone_given: bool
    currency_given: bool = False
    denied: frozenset[str] = frozenset()
    """Signs of danger that are written as not there."""


def read_settings(root: Section, gate: Gate, default_name: str) -> Settings:
    """Read every key but the tariffs; sets ``gate.date_format``."""
    _top_keys(root, gate)
    sections = {name: root.section(name, gate) for name in TABLES if name != "meter"}
    for name, section in sections.items():
        gate.keys(section, TABLES[name])
    bills = sections["bills"]
    gate.date_format = _date_format(bills["date_format"], gate)
    gate.number_format = _number_format(bills["number_format"], gate)
    dangers = signs_of(sections["danger"], gate)
    meters = tuple(_meter(s, gate) for s in root.sections("meter", gate))
    return Settings(
        house=replace(_house(sections, meters, gate, default_name), dangers=dangers),
        inclusive=_inclusive(bills["dates"], gate),
        interval=_interval(sections["interval"], gate),
        temperature_unit_given=not sections["house"]["temperature_unit"].blank,
        timezone_given=not sections["house"]["timezone"].blank,
        currency_given=not sections["house"]["currency"].blank,
        denied=frozenset(name for name in DANGERS if not sections["danger"][name].blank) - {*dangers},
    )


def signs_of(section: Section, gate: Gate) -> tuple[str, ...]:
    """Read the signs of danger that stand in ``[danger]``."""
    return tuple(name for name in DANGERS if _is_danger(section[name], gate))


def _is_danger(cell: Cell, gate: Gate) -> bool:
    """Whether a sign is there. One that is answered in words is, unless they begin with a no: that is the safe side."""
    text = shown(cell.value).strip() if isinstance(cell.value, str) else ""
    words = re.findall(r"[^\W\d_]+", text.casefold()[:200])
    if not words or text.casefold() in YES_OR_NO:
        return gate.flag(cell)
    there = words[0] not in DENIALS
    taken = "a sign of danger" if there else "no danger"
    gate.notice(f'{cell.file}, {cell.column}: "{text}" is read as {taken}. Write true or false to say it plainly.')
    return there


def _top_keys(root: Section, gate: Gate) -> None:
    for key in root:
        homes = [name for name, keys in TABLES.items() if key in keys]
        if homes and key not in TABLES:
            gate.wrong(
                Cell(None, root.file, key, root[key].row, root.sheet),
                "this key stands outside its table",
                f"Put it under [{homes[0]}].",
            )
    strays = {key for keys in TABLES.values() for key in keys} - set(TABLES)
    kept = {key: value for key, value in root.values.items() if key not in strays}
    gate.keys(Section(kept, root.file, root.path, root.sheet, root.rows), (*TABLES, "tariff"))


def _house(sections: dict[str, Section], meters: tuple[Meter, ...], gate: Gate, default_name: str) -> House:
    house, band, usual = sections["house"], sections["band"], Band()
    services: tuple[Service, ...] = get_args(Service)
    degrees: Literal["C", "F"] = gate.choice(house["temperature_unit"], ("C", "F"), default="C")
    coldest, warmest = _months(sections["site"], gate, degrees)
    return House(
        name=gate.text(house["name"]) or default_name,
        bills=(),
        timezone=_timezone(house["timezone"], gate) or "America/Chicago",
        currency=_currency(house["currency"], gate),
        locale=_locale(house["locale"], gate),
        temperature_unit=degrees,
        floor_area_m2=gate.number(house["floor_area"], unit="m^2", above=0.0, high=20_000.0),
        occupants=gate.number(house["occupants"], low=0.0, high=100.0),
        bedrooms=gate.number(house["bedrooms"], low=0.0, high=100.0),
        heating_fuel=gate.text(house["heating_fuel"]),
        water_heating_fuel=gate.text(house["water_heating_fuel"]),
        generation=gate.flag(house["generation"]),
        service=gate.choice(house["service"], services, default="unknown"),
        line_volts=gate.number(house["line_volts"], unit="V", low=80.0, high=700.0),
        service_amps=gate.number(house["service_amps"], unit="A", above=0.0, high=3000.0),
        coldest_month_c=coldest,
        warmest_month_c=warmest,
        meters=meters or (Meter(),),
        band=Band(
            coverage=gate.number_or(band["coverage"], usual.coverage, low=0.5, high=0.9999),
            month_to_month_percent=gate.number_or(
                band["month_to_month_percent"], usual.month_to_month_percent, low=0.0, high=100.0
            ),
            unlisted_kwh_per_day=gate.number(band["unlisted_kwh_per_day"], low=0.0, high=2000.0),
            unlisted_within_percent=gate.number(band["unlisted_within_percent"], low=0.0, high=1000.0),
        ),
    )


def _months(site: Section, gate: Gate, degrees: str) -> tuple[float | None, float | None]:
    """Read the means of the coldest and the warmest month, in the degrees of the house; one alone says nothing."""
    found = []
    for key, other in (SITE, SITE[::-1]):
        value = gate.number(site[key])
        celsius = None if value is None else units.celsius(value, degrees)
        if celsius is not None and not COLDEST_C <= celsius <= WARMEST_C:
            problem = f"no month was ever that cold or warm in degrees {degrees}"
            gate.wrong(site[key], problem, "Check it, and temperature_unit under [house].")
            celsius = None
        if value is None and not site[other].blank and site[key].blank:
            gate.wrong(site[key], f"{other} is there and this is not", "Write both, or neither.")
        found.append(celsius)
    coldest, warmest = found
    if coldest is not None and warmest is not None and warmest < coldest:
        gate.wrong(site[SITE[1]], "the warmest month is colder than the coldest", "Check which is which.")
        return None, None
    return coldest, warmest


def _meter(section: Section, gate: Gate) -> Meter:
    gate.keys(section, tuple(METER))
    begins, ends = gate.day(section["from"]), gate.day(section["until"])
    if begins is not None and ends is not None and ends <= begins:
        gate.wrong(section["until"], "the meter is gone before it comes", "Check from and until.")
    digits = gate.number(section["digits"], low=3.0, high=10.0, whole=True)
    return Meter(
        number=gate.text(section["number"]),
        begins=begins,
        ends=ends,
        type=gate.choice(section["type"], ("electronic", "disk"), default="electronic"),
        form=gate.text(section["form"]),
        digits=None if digits is None else int(digits),
        multiplier=gate.number_or(section["multiplier"], 1.0, above=0.0, high=100_000.0),
        step_kwh=gate.number_or(section["step_kwh"], 1.0, unit="kWh", above=0.0, high=1000.0),
        display=gate.choice(section["display"], ("kWh", "kW now", "kW demand"), default="kWh"),
        tolerance_percent=gate.number_or(section["tolerance_percent"], 2.0, above=0.0, high=20.0),
        disk_wh=gate.number(of_one(section["disk_wh"]), unit="Wh", above=0.0, high=10_000.0),
        pulse_wh=gate.number(of_one(section["pulse_wh"]), unit="Wh", above=0.0, high=10_000.0),
        test_amps=gate.number(section["test_amps"], unit="A", above=0.0, high=1000.0),
    )


def _interval(section: Section, gate: Gate) -> IntervalSettings:
    zone = gate.text(section["timezone"]) or "house"
    if zone.casefold() in ("house", "utc"):
        zone = "house" if zone.casefold() == "house" else "UTC"
    elif not _OFFSET.fullmatch(zone):
        zone = _timezone(section["timezone"], gate) or "house"
    elif to_zone(zone) is None:
        gate.wrong(section["timezone"], "no clock is that far from UTC", "Write it as -05:00.")
        zone = "house"
    return IntervalSettings(
        channel=gate.text(section["channel"]),
        unit=gate.choice(section["unit"], ("kWh", "Wh", "MWh", "kW", "W")),
        stamps=gate.choice(section["stamps"], ("start", "end")),
        timezone=zone,
    )


def to_zone(name: str) -> tzinfo | None:
    """Return a time zone by its name or by its distance from UTC; None where there is none.

    >>> to_zone("-05:00")
    datetime.timezone(datetime.timedelta(days=-1, seconds=68400))
    """
    offset = _OFFSET.fullmatch(name)
    if offset:
        hours, minutes = int(offset[2]), int(offset[3])
        if hours > 14 or minutes > 59:
            return None
        return timezone((-1 if offset[1] == "-" else 1) * timedelta(hours=hours, minutes=minutes))
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):  # zoneinfo raises each of them for one or another bad name
        return None


def _timezone(cell: Cell, gate: Gate) -> str | None:
    name = gate.text(cell)
    if name is None:
        return None
    if name[:1].isalpha() and to_zone(name) is not None:
        return name
    near = nearest(name, sorted(available_timezones()))
    guess = f"Did you mean {near}? " if near else ""
    gate.wrong(cell, "this time zone is not known", f"{guess}Write it as America/Chicago or Europe/Rome.")
    return None


def _currency(cell: Cell, gate: Gate) -> str:
    code = gate.text(cell)
    if code is None:
        return "USD"
    if not re.fullmatch(r"[A-Za-z]{3}", code):
        gate.wrong(cell, "this is not the code of a currency", "Write its three letters, as USD or EUR.")
        return "USD"
    return code.upper()


def _locale(cell: Cell, gate: Gate) -> str:
    name = gate.text(cell)
    if name is None:
        return "en_US"
    from babel import Locale, UnknownLocaleError

    try:
        return str(Locale.parse(name.replace("-", "_")))
    except (ValueError, UnknownLocaleError, TypeError):
        gate.wrong(cell, "this locale is not known", "Write a language and a country, as en_US or de_DE.")
        return "en_US"


def _inclusive(cell: Cell, gate: Gate) -> bool | None:
    word = gate.choice(cell, ("reading", "inclusive"))
    return None if word is None else word == "inclusive"


def _number_format(cell: Cell, gate: Gate) -> Literal[".", ","] | None:
    text = gate.text(cell)
    if text is None:
        return None
    if re.fullmatch(r"1[, '.]?234[.,]5\d*|point|comma", text) and not re.fullmatch(r"1([.,])234\1.*", text):
        return "," if text == "comma" or text.rfind(",") > text.rfind(".") else "."
    gate.wrong(cell, "this is no way to write numbers", "Write it as 1,234.56 or 1.234,56.")
    return None


def _date_format(cell: Cell, gate: Gate) -> str | None:
    text = gate.text(cell)
    if text is None:
        return None
    try:
        dates.pattern(text)
    except ValueError as error:
        gate.wrong(cell, str(error), "Write it as DD/MM/YYYY or MM/DD/YYYY.")
        return None
    return text
