"""Typical loads of a house: what they draw, for how long, and how sure anyone can be of it.

The table is ``handbook.csv`` beside this module. Each row says for its watts and for its hours whether the
figure was read in a published text (``read``), is from memory (``memory``) or is common practice without a
source (``practice``); :data:`SOURCES` gives the address behind each key. Power factors are common practice
throughout.
"""

from __future__ import annotations

import csv
import math
import re
import unicodedata
from collections.abc import Container, Iterable
from functools import lru_cache
from importlib.resources import files
from typing import Literal, cast

from reconcile.house import Follows
from reconcile.records import dataclass

Status = Literal["read", "memory", "practice"]

SOURCES: dict[str, str] = {
    "doe-nameplate": "US DOE/EERE, Estimating appliance and home electronic energy use, list of nameplate "
    "watts (2003 text as restated at trawlerlife.com/Tips/electrical_loads.htm and livonia.gov/1460)",
    "fsec-standby": "FSEC-PF-344-98, Table 1 (1998 equipment), "
    "fsec.ucf.edu/en/publications/html/FSEC-PF-344-98/table.htm",
    "standby-boxes": "Set-top boxes, 10-40 W (2001), homeenergy.org article 257",
    "standby-homes": "LBNL, whole-house measurements of standby power: ten homes 14-169 W, mean 67 W, "
    "buildings.lbl.gov/publications/whole-house-measurements-standby",
    "epa-ev": "EPA: 33.7 kWh is the energy of one gallon of gasoline (restated at pricedigests.com)",
    "memory": "from memory, not checked against a text",
    "practice": "common practice, without a source",
}


@dataclass(frozen=True, slots=True)
class TypicalLoad:
    """One row of the handbook."""

    load: str
    """Name of the kind."""
    words: tuple[str, ...]
    """Words by which it is found."""
    watts_low: float
    watts: float
    watts_high: float
    """All: usual range and typical power while on [W]."""
    run_hours: float | None
    """Hours a day [h/d]; None where the weather decides."""
    share_on: float
    """Part of the run hours in which it draws."""
    standby_watts: float
    """Power for the remaining hours [W]."""
    follows: Follows
    """What its hours go with."""
    months: str
    """Months in which it usually runs, as in ``loads.csv``; empty is all."""
    power_factor: float
    """Typical power factor (common practice)."""
    watts_within_percent: float
    hours_within_percent: float | None
    """Both: 95 % limits of the typical values [%] (our own judgement from the usual range)."""
    part: str
    """Part of the whole-house reference it belongs to; see :mod:`reconcile.loads.reference`."""
    watts_source: str
    """Key of :data:`SOURCES`."""
    watts_status: Status
    hours_status: Status
    """Both: how sure the figures are."""
    note: str
    """What to know before using it."""

    @property
    def source(self) -> str:
        """Where the watts come from, with the address where there is one."""
        return SOURCES[self.watts_source]

    @property
    def kwh_per_year(self) -> float | None:
        """Typical yearly energy [kWh], where it does not go with the weather."""
        if self.run_hours is None:
            return None
        days = 365.0 * _share_of_year(self.months)
        on_hours = self.run_hours * self.share_on
        return days * (on_hours * self.watts + (24.0 - on_hours) * self.standby_watts) / 1000.0


@lru_cache(maxsize=1)
def handbook() -> tuple[TypicalLoad, ...]:
    """Every row of the handbook, in the order of the table.

    Returns
    -------
    tuple of TypicalLoad
        Read once, then kept.
    """
    table = files("reconcile.loads").joinpath("handbook.csv").read_text(encoding="utf-8")
    return tuple(_row(row) for row in csv.DictReader(table.splitlines()))


@lru_cache(maxsize=1)
def _other_names() -> tuple[tuple[str, TypicalLoad], ...]:
    """Names in the other languages of bills that are read (``other_names.csv``), longest first, with their kinds."""
    table = files("reconcile.loads").joinpath("other_names.csv").read_text(encoding="utf-8")
    kinds = {kind.load: kind for kind in handbook()}
    named = [
        (_bare(_plain(word)).strip(), kinds[row["kind"]])
        for row in csv.DictReader(table.splitlines())
        for word in row["words"].split("|")
    ]
    return tuple(sorted(named, key=lambda pair: -len(pair[0])))


FUELS = ("gas", "propane", "lp", "lpg")
"""Words for a fuel that is burnt: what runs on it draws little."""


_LAST = ("standby of everything", "small chargers")
"""Kinds whose words may stand beside a load's own: "fridge, always on" is a fridge, and "EV chargers" charge a car."""


@lru_cache(maxsize=1024)
def find(word: str) -> tuple[TypicalLoad, ...]:
    """Kinds of load that a name may mean, the best match first.

    Parameters
    ----------
    word : str
        A name as a householder writes it, such as ``"Fridge in the garage"``.

    Returns
    -------
    tuple of TypicalLoad
        Those with one of their words in the name, the longest word first; empty where none has.

    Examples
    --------
    >>> [kind.load for kind in find("Old chest freezer")]
    ['freezer']
    >>> find("gas dryer")[0].load, find("Kühlschrank im Keller")[0].load
    ('gas clothes dryer', 'refrigerator')
    """
    name = _plain(word)
    burnt = [part for part in name.split() if part in FUELS]
    rest = f" {' '.join(part for part in name.split() if part not in FUELS)} "
    scored = []
    for kind in handbook():
        found = [len(alias) for alias in kind.words if any(f" {way} " in name for way in _ways(alias))]
        if burnt:  # a gas water heater, or a water heater (gas), is no electric one
            found += [len(alias) for alias in kind.words if alias.startswith("gas ") and f" {alias[4:]} " in rest]
        if found:
            scored.append((max(found), kind))
    if not scored:
        bare = _bare(name)
        return tuple(dict.fromkeys(kind for alias, kind in _other_names() if f" {alias} " in bare))
    named = [pair for pair in scored if pair[1].load not in _LAST] or scored
    return tuple(kind for _, kind in sorted(named, key=lambda pair: -pair[0]))


@lru_cache(maxsize=1024)
def _ways(alias: str) -> tuple[str, ...]:
    """How a word of a kind may stand in a name: several of it, and of two words the second first ("AC, window")."""
    one, _, two = alias.partition(" ")
    return (alias, f"{alias}s", *((f"{two} {one}",) if two and " " not in two and one not in ("gas", "old") else ()))


def most_kwh_per_day(name: str) -> float | None:
    """Return the most that a load of this name usually takes.

    Parameters
    ----------
    name : str
        As a householder writes it.

    Returns
    -------
    float or None
        [kWh/d]; None where no kind has such a name, or the weather decides.

    Examples
    --------
    >>> most_kwh_per_day("a new television") < 3.0 < most_kwh_per_day("hot tub")
    True
    """
    kinds = find(name)
    if not kinds or kinds[0].run_hours is None:
        return None
    kind, hours = kinds[0], kinds[0].run_hours
    return (kind.watts_high * hours * kind.share_on + kind.standby_watts * (24.0 - hours)) / 1000.0


def never_off_kwh_per_day(name: str) -> float | None:
    """Return what a load of this name takes that never switches off, as :func:`most_kwh_per_day` the usual.

    Examples
    --------
    >>> never_off_kwh_per_day("space heater")
    36.0
    """
    kinds = find(name)
    return None if not kinds or kinds[0].run_hours is None else 0.024 * kinds[0].watts_high


def typical_power_factor(name: str) -> float | None:
    """Power factor typical of the kind of load a name means.

    Parameters
    ----------
    name : str
        A name as a householder writes it.

    Returns
    -------
    float or None
        Common practice; None where the handbook knows no such load.
    """
    kinds = find(name)
    return kinds[0].power_factor if kinds else None


def _plain(text: str) -> str:
    words = re.sub(r"[^\w/]+|_", " ", unicodedata.normalize("NFC", text.casefold())).split()
    return f" {' '.join(words)} "


def _bare(text: str) -> str:
    """Leave out the marks above and below letters."""
    parted = unicodedata.normalize("NFKD", text)
    return "".join(letter for letter in parted if not unicodedata.combining(letter))


def _months_of(months: str) -> list[int]:
    """Months of the year that a kind usually runs in; all where none is named."""
    if not months:
        return list(range(1, 13))
    found: list[int] = []
    for piece in months.split(","):
        first, _, last = piece.partition("-")
        found += range(int(first), int(last or first) + 1)
    return found


def _share_of_year(months: str) -> float:
    return len(_months_of(months)) / 12.0


def _number(text: str) -> float | None:
    return float(text) if text else None


def _row(row: dict[str, str]) -> TypicalLoad:
    return TypicalLoad(
        load=row["load"],
        words=tuple(_plain(word).strip() for word in (row["load"], *row["words"].split("|"))),
        watts_low=float(row["watts_low"]),
        watts=float(row["watts"]),
        watts_high=float(row["watts_high"]),
        run_hours=_number(row["run_hours"]),
        share_on=float(row["share_on"]),
        standby_watts=float(row["standby_watts"]),
        follows=cast(Follows, row["follows"]),
        months=row["months"],
        power_factor=float(row["power_factor"]),
        watts_within_percent=float(row["watts_within_percent"]),
        hours_within_percent=_number(row["hours_within_percent"]),
        part=row["part"],
        watts_source=row["watts_source"],
        watts_status=cast(Status, row["watts_status"]),
        hours_status=cast(Status, row["hours_status"]),
        note=row["note"],
    )


FITS_WITHIN = 1.7
"""Factor within which a kind's usual power fits a size sought (our choice)."""

RUNS_LONG = 8.0
"""Hours a day from which a kind may pass for one that runs round the clock [h/d] (our choice)."""

FITS_USUAL = 3.5
"""Factor by which a size sought may stand off a kind's typical power (our choice): one refrigerator is no 440 W."""

FITS_TOLD = 5


RUNS_AT_WILL = ("portable heater",)
"""Kinds that run for as many hours as somebody is cold: told whatever the hours (our choice)."""

WILL_LOW = 0.08
"""Part of its power from which such a kind is told: two hours a day (our choice)."""

SEVERAL = ("refrigerator", "freezer", "dehumidifier", "aquarium", "portable heater", "ventilation fan")
"""Kinds of which a home often has a second one."""


def fits(average_watts: float, months: Iterable[int] = (), owned: Container[str] = ()) -> tuple[str, ...]:
    """Kinds of load whose usual average power is near a size, the nearest first: what a load of unknown name may be.

    Parameters
    ----------
    average_watts : float
        Average power day and night [W].
    months : iterable of int
        Months in which it runs, 1 to 12: nobody switches on pipe heating in May.
    owned : container of str
        Kinds that the list holds: a second one of some is told first, the others are left out.

    Returns
    -------
    tuple of str
        At most five; those that run many hours a day only, and a portable heater in the cold months.

    Examples
    --------
    >>> len(fits(300.0)) <= 5
    True
    >>> "heat tape" in fits(300.0, (1,)), "heat tape" in fits(300.0, (5,))
    (True, False)
    >>> fits(100.0, (7,), ("refrigerator",))[0]
    'a second refrigerator'
    """
    found, wanted = [], set(months)
    for kind in handbook():
        hours = kind.run_hours
        if hours is None or not wanted <= set(_months_of(kind.months)):
            continue
        if kind.load in RUNS_AT_WILL:
            if wanted and WILL_LOW * kind.watts_high <= average_watts <= kind.watts_high:
                found.append((False, 0.0, f"{'a second ' if kind.load in owned else ''}{kind.load}"))
            continue
        if hours < RUNS_LONG:
            continue
        if kind.load in owned and kind.load not in SEVERAL:
            continue
        share = hours * kind.share_on / 24.0
        low, usual, high = (share * watts for watts in (kind.watts_low, kind.watts, kind.watts_high))
        if usual > 0 and low / FITS_WITHIN <= average_watts <= high * FITS_WITHIN:
            off = abs(math.log(average_watts / usual))
            if off <= math.log(FITS_USUAL) and not kind.load.endswith("by nameplate"):
                second = kind.load in owned
                found.append((not second, off, f"a second {kind.load}" if second else kind.load))
    return tuple(name for _, _, name in sorted(found)[:FITS_TOLD])


ON_A_TIMER = (
    "pool pump", "electric water heater", "portable heater", "engine block heater", "dehumidifier", "grow lights",
    "lights outdoors", "holiday lights", "electric car", "window fan", "whole-house fan", "aquarium", "well pump",
)  # fmt: skip
"""Kinds that people run by a timer (common practice)."""


def on_a_timer(watts: float, months: Iterable[int] = ()) -> tuple[str, ...]:
    """Kinds of load that people run by a timer and that draw about so many watts, the nearest first.

    Parameters
    ----------
    watts : float
        Power while on [W].
    months : iterable of int
        Months in which it runs, 1 to 12.

    Examples
    --------
    >>> on_a_timer(1200.0, (5, 6))[0]
    'pool pump'
    """
    wanted, found = set(months), []
    for kind in handbook():
        fits_watts = kind.watts_low / FITS_WITHIN <= watts <= kind.watts_high * 1.1
        if kind.load in ON_A_TIMER and fits_watts and wanted <= set(_months_of(kind.months)):
            found.append((abs(math.log(watts / kind.watts)), kind.load))
    return tuple(name for _, name in sorted(found)[:FITS_TOLD])
