"""Temperatures as weather services give them out: days in three columns, clocks apart, tenths, one element a row.

Whatever the form, what comes out is a plain grid: a stamp, the station where it is named, and the temperatures.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, datetime
from itertools import zip_longest
from statistics import median
from typing import Any

from reconcile.read.tables.cells import Grid, Relaid, or_list, plain_name, shown
from reconcile.read.tables.columns import Columns
from reconcile.read.tables.weather_months import by_months
from reconcile.read.values.dates import DateError, month_span
from reconcile.read.values.month_names import lone_year
from reconcile.records import dataclass

HEADER_WITHIN = 60
"""Rows in which the names are looked for (a guard, common practice)."""
NO_PLACE_SO_HOT = 135.0
"""No place was ever so hot in degrees F or C (134 degF is the WMO's record, from memory): whole numbers above it are
tenths of a degree, as GHCN-Daily and ISD-Lite give them (their published formats, from memory)."""
COLDEST_IN_K = 180.0
"""And none ever so cold in kelvins (184 K is the WMO's record, from memory)."""
ICE_POINT_K = 273.15
ENOUGH_BEYOND = 0.05
"""Part of the temperatures that must be beyond what any place has, before all are taken for tenths: a slip is one of
them (our choice)."""
MOST_TENTHS = 600.0
"""Tenths beyond it are hotter than any place (56.7 degC is the WMO's record, from memory)."""

MOST_SWING, LEAST_SWING, FEWEST_DAYS = 45.0, 20.0, 10
"""Degrees by which days, by their median, nowhere go up and down: deserts come near 40 degF (from memory). Tenths of a
degree C by which they do on the grayest coast (our judgement). Days from which either is told (our choice)."""

_TEMPERATURES = ("mean", "tavg", "tmin", "tmax")
_UNIT_IN_NAME = {"tmpf": "F", "tmpc": "C", "tempf": "F", "tempc": "C"}
_IN_CELSIUS = ("tmk", "txk", "tnk", "tttu")
"""Names of the DWD's climate files, whose temperatures are degrees C."""
_OF_UTC = ("tttu",)
"""Its hourly files name UTC."""
_YEAR, _MONTH, _DAY = ("year", "yr", "yyyy", "jahr"), ("month", "mo", "mon", "mm", "monat"), ("day", "da", "dd", "tag")
_CLOCKS = ("hour", "hr", "hours", "time", "hh", "stunde", "uhrzeit", "localtime", "timeofday", "hourending")
_KELVIN = re.compile(r"\(\s*(?:deg(?:rees?)?\s*)?k(?:elvin)?\s*\)|\bkelvin\b|_k$", re.IGNORECASE)
_CLOCK = re.compile(r"\d{1,2}(?::\d\d){0,2}(?:\s*[ap]\.?m\.?)?|\d{3,4}", re.IGNORECASE)
_FLAGGED = re.compile(r"(?<=\d)\s*(?:[ABDEG-JL-Za-bdeg-jl-z]|\*)$")
_STATION = ("station", "stationsid", "stationid", "climateid", "id", "stationname", "name", "usaf")
_ELEMENTS = {"TMAX": "tmax", "TMIN": "tmin", "TAVG": "tavg"}


def plain_weather(grid: Grid, spec: Columns) -> Relaid | None:
    """Return a grid of weather in the plain form; None where it stands as it is.

    Examples
    --------
    >>> from reconcile.read.tables.columns import WEATHER
    >>> rows = [["Year", "Month", "Day", "Tmax (F)", "Tmin (F)"], ["2024", "3", "7", "61", "40"]]
    >>> plain_weather(Grid("weather.csv", rows=list(enumerate(rows, 1))), WEATHER).grid.rows
    [(1, ['date', 'tmax (F)', 'tmin (F)']), (2, ['2024-03-07', '61', '40'])]
    """
    numbered = by_months(grid, spec)
    if numbered is not None:
        return Relaid(Grid(grid.file, grid.sheet, numbered[0]), [numbered[1]])
    return _by_elements(grid) or _hours_in_tenths(grid) or _columns(grid, spec)


def _by_elements(grid: Grid) -> Relaid | None:
    """Turn rows of one element each, as GHCN-Daily by year, into rows of days; values that failed a check stay out."""
    at = 0
    names = [plain_name(shown(value)) for value in grid.rows[0][1]]
    if "element" in names:
        at = 1
        where = [next((names.index(key) for key in keys if key in names), -1) for keys in _ELEMENT_COLUMNS]
    else:
        where = [0, 1, 2, 3, 5]
    station, day, element, value, check = where
    if min(station, day, element, value) < 0:
        return None
    days: dict[tuple[str, str], dict[str, float]] = {}
    rows: dict[tuple[str, str], int] = {}
    failed = 0
    for number, cells in grid.rows[at:]:
        texts = ["" if cell is None else shown(cell).strip() for cell in cells]
        if len(texts) <= max(station, day, element, value):
            return None
        stamp, figure = re.sub("-", "", texts[day]), texts[value]
        if not (re.fullmatch(r"(?:19|20)\d{6}", stamp) and re.fullmatch("[A-Z]{2}[A-Z0-9]{2}", texts[element])):
            return None
        if texts[element] not in _ELEMENTS or not re.fullmatch(r"-?\d+", figure) or figure == "-9999":
            continue
        if 0 <= check < len(texts) and texts[check]:
            failed += 1
            continue
        key = (texts[station], f"{stamp[:4]}-{stamp[4:6]}-{stamp[6:]}")
        rows.setdefault(key, number)
        days.setdefault(key, {})[_ELEMENTS[texts[element]]] = int(figure) / 10.0
    if not days:
        return None
    used = [name for name in _ELEMENTS.values() if any(name in own for own in days.values())]
    body = [(rows[key], [key[1], key[0], *(own.get(name, "") for name in used)]) for key, own in days.items()]
    told = ["each row is one element of a day, in tenths of a degree C"]
    left = [f"{failed} temperatures marked as failing a check of the station's"] if failed else []
    return Relaid(_grid(grid, ["date", "station", *(f"{name} (C)" for name in used)], body), told, left)


_ELEMENT_COLUMNS = (("id", "station"), ("date",), ("element",), ("datavalue", "value"), ("qflag", "qualityflag"))


def _hours_in_tenths(grid: Grid) -> Relaid | None:
    """Read lines of figures alone as ISD-Lite: year, month, day, hour of UTC, tenths of a degree C, seven more."""
    body: list[tuple[int, list[Any]]] = []
    for number, cells in grid.rows:
        texts = " ".join(shown(cell) for cell in cells if cell is not None).split()
        if len(texts) != 12 or not all(re.fullmatch(r"-?\d+", text) for text in texts):
            return None
        year, month, day, hour, tenths = map(int, texts[:5])
        if not (1950 <= year <= 2100 and 1 <= month <= 12 and 1 <= day <= 31 and 0 <= hour <= 23):
            return None
        if tenths != -9999:
            body.append((number, [f"{year}-{month:02d}-{day:02d}T{hour:02d}:00Z", tenths / 10.0]))
    if not body:
        return None
    told = ["lines of year, month, day, hour of UTC, tenths of degrees C"]
    return Relaid(_grid(grid, ["date", "mean (C)"], body), told)


@dataclass(frozen=True, slots=True)
class _Columns:
    """The columns of a station's file below its header."""

    names: list[str]
    keys: list[str]
    """Names in small letters and figures alone."""
    meant: list[str]
    """The known column that each is by its name; empty where it is none."""
    units: list[str | None]
    """Unit in the name of each."""
    numbers: list[int]
    """Row of each line of the body."""
    cells: list[list[Any]]
    """What stands in each column."""

    def texts(self, n: int) -> list[str]:
        """Return what stands in a column as texts."""
        return [("" if value is None else shown(value)).strip() for value in self.cells[n]]


def _columns_of(grid: Grid, at: int, spec: Columns) -> _Columns:
    names = [("" if value is None else shown(value)).strip() for value in grid.rows[at][1]]
    matches = [spec.match(name) if name else None for name in names]
    body = [[*cells, *[None] * (len(names) - len(cells))] for _, cells in grid.rows[at + 1 :]]
    return _Columns(
        names,
        [re.sub(r"\W|_", "", name.casefold()) for name in names],
        ["" if match is None else match.column for match in matches],
        [None if match is None else match.unit for match in matches],
        [number for number, _ in grid.rows[at + 1 :]],
        [[row[n] for row in body] for n in range(len(names))],
    )


def _columns(grid: Grid, spec: Columns) -> Relaid | None:
    """Put a stamp together of the columns that tell it, and the temperatures into degrees."""
    at = _header(grid, spec)
    if at is None:
        return None
    own = _columns_of(grid, at, spec)
    stamp, temperatures = _stamps(own), _temperatures(own)
    if stamp is None or not temperatures:
        return None
    stamps, told = stamp
    scaled = _all_scaled(own, temperatures)
    station = next((n for key in _STATION for n, key_of in enumerate(own.keys) if key_of == key), None)
    plain = not told and all(unit is None for _, unit in scaled.values())
    if plain and (station is None or own.keys[station] == "station"):
        return None
    read = {c: n for c, n in temperatures.items() if plain_name(own.names[n]) != c}
    told += [
        f"{own.names[n]} is in {_SAID[unit]}" for c, n in temperatures.items() if (unit := scaled[c][1] or "") in _SAID
    ]
    columns = [
        stamps,
        *([own.cells[station]] if station is not None else []),
        *(values for values, _ in scaled.values()),
    ]
    made = [(number, [*cells]) for number, *cells in zip(own.numbers, *columns, strict=True) if cells[0]]
    heads = [_head(c, unit, own.units[temperatures[c]]) for c, (_, unit) in scaled.items()]
    kept = {*temperatures.values(), station}
    left = [
        name
        for n, name in enumerate(own.names)
        if name and n not in kept and own.meant[n] != "date" and not any(name in line for line in told)
    ]
    return Relaid(
        _grid(grid, ["date", *(["station"] if station is not None else []), *heads], made),
        [f"{c} is the column {own.names[n]}" for c, n in read.items()] + told,
        [f"the column{'s' if len(left) > 1 else ''} {or_list(left[:12]).replace(' or ', ' and ')}"] if left else [],
    )


def _head(column: str, found: str | None, named: str | None) -> str:
    """Return the name of a column of temperatures with the unit that they are in now, where it is known."""
    unit = "C" if found in _SAID else found or (named or "")[-1:]
    return f"{column} ({unit})" if unit else column


_SAID = {"tenths": "tenths of a degree C", "K": "kelvins"}


def _header(grid: Grid, spec: Columns) -> int | None:
    """Return the index of the row that names temperatures, and days with them."""
    for index, (_, cells) in enumerate(grid.rows[:HEADER_WITHIN]):
        texts = [cell for cell in cells if isinstance(cell, str) and len(cell) <= 80]
        found = {match.column for text in texts if (match := spec.match(text)) is not None}
        parts = {plain_name(text) for text in texts}
        if found & set(_TEMPERATURES) and ("date" in found or parts & {*_MONTH, "months", "monthyear"}):
            return index
    return None


def _temperatures(own: _Columns) -> dict[str, int]:
    """Return the column of each temperature; hours go before what a summary of the day says, none where two vie."""
    found: dict[str, list[int]] = {}
    for n, column in enumerate(own.meant):
        if column in _TEMPERATURES:
            found.setdefault(column, []).append(n)
    hourly = [n for n in found.get("mean", []) if own.keys[n].startswith("hourly")]
    if hourly:
        return {"mean": hourly[0]} if len(hourly) == 1 else {}
    return {column: of[0] for column, of in found.items()} if all(len(of) == 1 for of in found.values()) else {}


def _stamps(own: _Columns) -> tuple[list[str], list[str]] | None:
    """Return a stamp for each row and how it was made, which is nothing where a column is one as it stands."""
    names, keys = own.names, own.keys
    parts = [next((n for n, key in enumerate(keys) if key in of), None) for of in (_YEAR, _MONTH, _DAY)]
    apart = all(n is not None for n in parts)
    columns = [own.texts(n) for n in range(len(names))]
    told: list[str] = []
    dated = [n for n, column in enumerate(own.meant) if column == "date"]
    dated = [n for n in dated if any(len(re.sub(r"\W", "", text)) >= 5 for text in columns[n])]
    dated = [n for n in dated if not all(_CLOCK.fullmatch(text) for text in columns[n] if text)]
    if dated:
        stamps = columns[dated[0]]
        if any(_numbered(text) for text in stamps):
            utc = "Z" if any(key in _OF_UTC for key in keys) else ""
            stamps = [_of_number(text, utc) for text in stamps]
            told = [f"the column {names[dated[0]]} tells day and hour in one number"]
        elif apart:
            told = [f"the day is the column {names[dated[0]]}"]
    elif apart:
        year, month, day = (columns[n] for n in parts if n is not None)
        if not all(re.fullmatch(r"\d{1,4}(?:\.0)?", t) for own in (year, month, day) for t in own if t):
            return None
        stamps = [
            f"{int(float(y))}-{int(float(m)):02d}-{int(float(d)):02d}" if y and m and d else ""
            for y, m, d in zip(year, month, day, strict=True)
        ]
        told = [f"the day is put together of {or_list([names[n] for n in parts if n]).replace(' or ', ' and ')}"]
    elif parts[1] is not None and parts[2] is None:
        stamps = _firsts(columns[parts[1]], columns[parts[0]] if parts[0] is not None else [])
        told = [f"the months are the column {names[parts[1]]}"]
    else:
        return None
    clock = next((n for n, key in enumerate(keys) if key in _CLOCKS and n not in dated[:1]), None)
    bare = not any(re.search(r"\d:\d", text) for text in stamps)
    if clock is not None and bare and all(_CLOCK.fullmatch(text) for text in columns[clock] if text):
        clocks = [_clock(text) for text in columns[clock]]
        ends = 1 if "24:00" in clocks and "00:00" not in clocks else 0
        stamps = [f"{a} {_moved(b, ends)}" if a and b else a for a, b in zip(stamps, clocks, strict=True)]
        told = [*told, f"the hour is the column {names[clock]}"]
    return stamps, told


def _firsts(months: list[str], years: list[str]) -> list[str]:
    """Return the first day of each month, whose year is its own or stands beside it; others as they stand."""
    made = []
    for month, year in zip_longest(months, years, fillvalue=""):
        try:
            made.append(month_span(month, lone_year(year))[0].isoformat() if month else "")
        except DateError:
            made.append(month)
    return made


def _numbered(text: str) -> bool:
    return re.fullmatch(r"\d{10}|\d{12,14}|(?:19|20)\d{6}0000", text) is not None


def _of_number(text: str, utc: str) -> str:
    """Return the stamp of ``2024030714`` (year to hour), of seconds since 1970 or of thousandths of them."""
    if re.fullmatch(r"(?:19|20)\d\d(?:0[1-9]|1[0-2])(?:[0-2]\d|3[01])(?:[01]\d|2[0-3])(?:[0-5]\d){0,2}", text):
        minute = text[10:12] or "00"
        return f"{text[:4]}-{text[4:6]}-{text[6:8]}T{text[8:10]}:{minute}{utc}"
    if not re.fullmatch(r"\d{10}|\d{13}", text):
        return text
    when = datetime.fromtimestamp(int(text[:10]), UTC)
    return f"{when:%Y-%m-%dT%H:%M}Z"


def _clock(text: str) -> str:
    if re.fullmatch(r"\d{1,2}", text):
        return f"{int(text):02d}:00"
    return f"{text[:-2].zfill(2)}:{text[-2:]}" if re.fullmatch(r"\d{3,4}", text) else text


def _moved(clock: str, hours: int) -> str:
    """Return the beginning of an hour that is named by its end, 1 to 24."""
    return f"{int(clock[:2]) - hours:02d}{clock[2:]}" if hours and clock[:2].isdigit() else clock


def _all_scaled(own: _Columns, temperatures: dict[str, int]) -> dict[str, tuple[list[str], str | None]]:
    """Return the temperatures of each column in degrees, and the unit that its name or they tell beyond doubt."""
    columns = {c: _texts(own.cells[n]) for c, n in temperatures.items()}
    tenths = _in_tenths([own.names[n] for n in temperatures.values()], columns)
    made = {}
    for c, n in temperatures.items():
        texts, unit = columns[c], _UNIT_IN_NAME.get(own.keys[n]) or ("C" if own.keys[n] in _IN_CELSIUS else None)
        if unit is None and _KELVIN.search(own.names[n]) and min(_figures(texts), default=0.0) > COLDEST_IN_K:
            texts, unit = [_less(text, ICE_POINT_K) for text in texts], "K"
        elif unit is None and tenths:
            texts, unit = [f"{int(t) / 10.0:g}" if re.fullmatch(r"-?\d+", t) else t for t in texts], "tenths"
        made[c] = (texts, unit)
    return made


def _in_tenths(names: Sequence[str], columns: dict[str, list[str]]) -> bool:
    """Whether temperatures, of all columns together, can only be tenths of a degree C.

    Where days have a highest and a lowest one, what lies between must be of the same mind as their size.
    """
    every = [text for texts in columns.values() for text in texts]
    figures = _figures(every)
    told = any(re.search(r"\(|\b[cf]$", name, re.IGNORECASE) for name in names)
    if told or not figures or any("." in text for text in every):
        return False
    pairs = [_figures(pair) for pair in zip(columns.get("tmax", ()), columns.get("tmin", ()), strict=False)]
    swings = [pair[0] - pair[1] for pair in pairs if len(pair) == 2]
    swing = median(swings) if len(swings) >= FEWEST_DAYS else None
    if max(figures) >= MOST_TENTHS or min(figures) >= COLDEST_IN_K:
        return False
    beyond = sum(figure > NO_PLACE_SO_HOT for figure in figures) > ENOUGH_BEYOND * len(figures)
    return beyond if swing is None else swing > (LEAST_SWING if beyond else MOST_SWING)


def _figures(texts: Sequence[str]) -> list[float]:
    """Return the temperatures of a column without what stations write for none."""
    figures = [float(text) for text in texts if re.fullmatch(r"-?\d+(?:\.\d+)?", text)]
    return [figure for figure in figures if not re.fullmatch(r"-?99+(?:\.9)?", f"{figure:g}")]


def _texts(row_cells: Sequence[Any]) -> list[str]:
    return [without_flag("" if cell is None else shown(cell).strip()) for cell in row_cells]


def without_flag(text: str) -> str:
    """Return a temperature without the letter or the star that a station set behind it.

    >>> without_flag("33s"), without_flag("-4 B"), without_flag("33 F"), without_flag("33F")
    ('33', '-4', '33 F', '33F')
    """
    return text if text[-1:].isdigit() else _FLAGGED.sub("", text)  # nearly all end with a figure


def _less(text: str, much: float) -> str:
    return f"{float(text) - much:.2f}" if re.fullmatch(r"\d+(?:\.\d+)?", text) else text


def _grid(grid: Grid, names: Sequence[str], body: Sequence[tuple[int, list[Any]]]) -> Grid:
    first = max(body[0][0] - 1, 1) if body else 1
    return Grid(grid.file, grid.sheet, [(first, [*names]), *body])
