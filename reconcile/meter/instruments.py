"""What instruments can tell: typical limits by class, own specification sheets, measurement categories."""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from functools import cache
from importlib.resources import files

from reconcile.house.site import FieldTest, Instrument, Instruments
from reconcile.records import dataclass

RANK = {"I": 1, "II": 2, "III": 3, "IV": 4}
"""Measurement categories of IEC 61010 in the order of the fault energy that stands behind the point
measured."""


@dataclass(frozen=True, slots=True)
class Typical:
    """A class of instrument with limits of error typical of it, and where they come from."""

    name: str
    measures: str
    instrument: Instrument
    status: str
    source: str


@cache
def typical() -> dict[str, Typical]:
    """Return the table of classes, by name; read once from ``instruments.csv``."""
    text = files("reconcile.meter").joinpath("instruments.csv").read_text(encoding="utf-8")
    table = {}
    for row in csv.DictReader(text.splitlines()):
        made = Instrument(
            percent_of_reading=float(row["percent_of_reading"]),
            digits=float(row["digits"]),
            resolution=float(row["resolution"]),
            resolution_kwh=float(row["resolution_kwh"]) if row["resolution_kwh"] else None,
            min_amps=float(row["min_amps"]) if row["min_amps"] else None,
            name=f"typical {row['class']}",
        )
        table[row["class"]] = Typical(row["class"], row["measures"], made, row["status"], row["source"])
    return table


TYPICAL_OF = {"amps": "true-rms clamp", "volts": "voltmeter (hand multimeter)", "watts": "plug-in meter"}
CALLED = {"amps": "clamp", "volts": "voltmeter", "watts": "plug-in meter"}
"""What an instrument is called by what it measures."""
"""The class that is taken where nothing is written of the instrument that was used."""


def taken(instruments: Instruments, quantity: str) -> tuple[Instrument, bool]:
    """Return the instrument for ``volts``, ``amps`` or ``watts``, and whether it is only taken to be typical.

    Examples
    --------
    >>> taken(Instruments(), "watts")[0].percent_of_reading
    2.0
    """
    own: Instrument | None = getattr(instruments, quantity)
    if own is not None:
        return (own if own.name else replace(own, name=f"own {CALLED[quantity]}")), False
    return typical()[TYPICAL_OF[quantity]].instrument, True


def limit(instrument: Instrument, reading: float) -> float:
    """Return an instrument's limit of error at a reading, in the unit of the reading.

    Examples
    --------
    >>> round(limit(Instrument(percent_of_reading=2.0, digits=5, resolution=0.01), 20.0), 9)
    0.45
    """
    whole = instrument.full_scale or 0.0
    return (
        abs(reading) * instrument.percent_of_reading / 100.0
        + whole * instrument.percent_of_range / 100.0
        + instrument.digits * instrument.resolution
    )


def category(text: str | None) -> tuple[int, float | None] | None:
    """Read a measurement category and its volts; None where it names none.

    Examples
    --------
    >>> category("CAT III 600 V")
    (3, 600.0)
    >>> category("cat iv")
    (4, None)
    """
    found = re.search(r"\bcat\.?\s*(iv|iii|ii|i|[1-4])\b(?:\D{0,3}(\d+))?", text or "", re.IGNORECASE)
    if not found:
        return None
    rank = RANK.get(found[1].upper()) or int(found[1])
    return rank, float(found[2]) if found[2] else None


@dataclass(frozen=True, slots=True)
class Unfit:
    """Why an instrument must stay out of a panel, or of a part of it: a code of :mod:`reconcile.texts.categories`."""

    code: str
    """One of 'unknown', 'below-iii', 'not-iv', 'volts'."""
    quantity: str
    """What the instrument measures. One of 'volts', 'amps'."""
    volts: float = 0.0
    """Its rating [V], 0 where it does not matter."""


LEAST_VOLTS = 300.0
"""Rating that is the least at a panel [V] (our judgement, by the impulse levels of IEC 61010-2-030)."""


def misused(test: FieldTest) -> tuple[Unfit, ...]:
    """Return the instruments that were used at the legs though their category forbids it; none where nobody was there.

    A CAT III clamp may have sat on the load's own wires; on the service wires it may not.
    """
    if not any(run.legs for run in test.runs):
        return ()
    at_main = any(run.legs and run.clamps != "load" for run in test.runs)
    return tuple(
        one
        for one in unfit(test.instruments)
        if one.code in ("below-iii", "volts") or (one.code == "not-iv" and at_main and one.quantity == "amps")
    )


def unfit(instruments: Instruments) -> tuple[Unfit, ...]:
    """Return what is to be said of the instruments' categories before anybody reads behind a cover.

    CAT II is for receptacle circuits, CAT III for the panel and fixed wiring, CAT IV for the service wires
    and the main (IEC 61010, read second-hand); that CAT IV 300 V is the least at the main lugs is our
    judgement.
    """
    found = []
    for quantity in ("volts", "amps"):
        own: Instrument | None = getattr(instruments, quantity)
        known = category(own.category) if own is not None else None
        if known is None:
            found.append(Unfit("unknown", quantity))
        elif known[0] < RANK["III"]:
            found.append(Unfit("below-iii", quantity))
        elif known[0] < RANK["IV"]:
            found.append(Unfit("not-iv", quantity))
        if known is not None and known[1] is not None and known[1] < LEAST_VOLTS:
            found.append(Unfit("volts", quantity, known[1]))
    return tuple(found)
