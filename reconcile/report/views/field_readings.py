"""What was read on site as it was written down: rows for the record that goes to the utility."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING, Any

from reconcile.records import dataclass
from reconcile.report.words import shorten
from reconcile.say import Voice
from reconcile.texts.field.field_keys import RECORD, RUN, SHOWN, words_of
from reconcile.voices import voice_of

if TYPE_CHECKING:
    from reconcile.house import House
    from reconcile.house.site import FieldTest, Instrument, IntervalRun, Leg, Record, Registered, Run

PLUG_IN = (
    "background_w_before", "reference_watts", "reference_kwh", "outlet_volts_off", "outlet_volts_on",
    "background_w_after",
)  # fmt: skip
LINE = ("meter_volts", "line_volts", "connection", "clamps")
INSTRUMENTS = (("plug-in meter", "watts"), ("voltmeter", "volts"), ("clamp", "amps"))


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading: what it was, when, what the meter showed and what the load's instruments did."""

    what: str
    when: str
    meter: str
    load: str


def readings(test: FieldTest) -> tuple[Reading, ...]:
    """Return every reading of a field test as it was written down."""
    quiet = (Reading("quiet", _day(q.day), _shown(q.registered), _left_on(q.on)) for q in test.quiet)
    runs = (Reading(shorten(run.label, 40), _day(run.day), _shown(run.registered), _load(run)) for run in test.runs)
    off = (
        Reading(
            "main off",
            _day(m.day),
            _shown(m.registered),
            "; ".join(
                f"{words_of('main_off', key)}: {'yes' if value else 'no'}"
                for key in ("all_disconnects_off", "generation_off", "service_underground")
                if (value := getattr(m, key)) is not None
            ),
        )
        for m in test.main_off
    )
    branches = (
        Reading(
            shorten(f"breaker {b.circuit}", 40), _day(b.day), f"fell by {b.fell_watts:g} W",
            "" if b.unplugged is None else f"{words_of('branch', 'unplugged')}: {'yes' if b.unplugged else 'no'}",
        )
        for b in test.branches
    )  # fmt: skip
    nights = (Reading("interval run", _day(run.day), "the interval data", _night(run)) for run in test.interval_runs)
    return (*quiet, *runs, *branches, *off, *nights)


def constant_words(house: House) -> str:
    """Say what one count of the meter is worth, and its multiplier, as the house's file has it."""
    from reconcile.house.registers import current_meter

    meter, voice = current_meter(house), voice_of(house)
    size, name, what = (
        (meter.disk_wh, "Kh", "a turn of the disk") if meter.type == "disk" else (meter.pulse_wh, "Kt", "a flash")
    )
    known = f"{what} is {voice.exact(size)} Wh" if size is not None else f"what {what} is worth was not written down"
    times = f"multiplier {voice.exact(meter.multiplier)}"
    return f"{known}, to be compared with {name} on the nameplate; {times}"


def missing(test: FieldTest) -> tuple[str, ...]:
    """Return what a record should hold and was not written down; a utility's meter department asks for it first."""
    instruments = [one for quantity in ("watts", "volts", "amps") if (one := getattr(test.instruments, quantity))]
    wanted = {
        "who read": any(record.person for record in test.records),
        "the time of day": any(record.started for record in test.records),
        "the date of each run": all(run.day for run in test.runs),
        "the date of each reading with the main off": all(reading.day for reading in test.main_off),
        "serial number of each instrument": bool(instruments) and all(one.serial for one in instruments),
        "its last calibration": bool(instruments) and all(one.calibrated for one in instruments),
    }
    return tuple(what for what, known in wanted.items() if not known)


def people(records: tuple[Record, ...]) -> tuple[str, ...]:
    """Return who read, one line each."""
    said = []
    for record in records:
        parts = [f"{key.words}: {value}" for key in RECORD if (value := getattr(record, key.name))]
        said.append("; ".join(parts))
    return tuple(said)


def carried(test: FieldTest) -> tuple[str, ...]:
    """Return the instruments that carry a name, a serial number or a day of calibration, one line each."""
    found = ((words, getattr(test.instruments, quantity)) for words, quantity in INSTRUMENTS)
    return tuple(line for words, one in found if one is not None and (line := _instrument(words, one)))


def _instrument(words: str, one: Instrument) -> str:
    parts = [
        one.name,
        f"serial number {one.serial}" if one.serial else "",
        f"calibrated on {_day(one.calibrated)}" if one.calibrated else "",
        one.category or "",
    ]
    said = ", ".join(part for part in parts if part)
    return f"{words}: {said}" if said else ""


NO_DATE = "date not written"


def _day(when: date | None) -> str:
    return NO_DATE if when is None else Voice().short_day(when)


def _shown(registered: Registered) -> str:
    every = {"meter_kw": registered.kw_repeats, "seconds": registered.seconds_repeats}
    parts = [
        f"{key.words} {_each(every.get(key.name) or (value,))}"
        for key in SHOWN
        if (value := getattr(registered, key.name, None)) is not None
    ]
    return "; ".join(parts)


def _load(run: Run) -> str:
    known = {key.name: key.words for key in RUN}
    every = {"reference_watts": run.watts_repeats}
    parts = [
        f"{known[name]} {_each(every.get(name) or (value,))}"
        for name in (*PLUG_IN, *(LINE if run.legs else LINE[:1]))
        if (value := getattr(run, name)) is not None
    ]
    return "; ".join([*_legs(run.legs), *parts])


def _night(run: IntervalRun) -> str:
    return "; ".join(
        f"{words_of('interval_run', key)} {_value(getattr(run, key))}" for key in ("from_hour", "hours", "kwh")
    )


def _legs(legs: tuple[Leg, ...]) -> Iterator[str]:
    for number, leg in enumerate(legs, start=1):
        each = [f"{_value(leg.volts)} V" if leg.volts is not None else "", f"{_value(leg.amps)} A"]
        if leg.power_factor is not None:
            each.append(f"PF {_value(leg.power_factor)}")
        if leg.leg_power_factor is not None:
            each.append(f"own PF {_value(leg.leg_power_factor)}")
        yield f"leg {number}: {' '.join(part for part in each if part)}"


def _left_on(names: tuple[str, ...]) -> str:
    return f"left on: {', '.join(names)}" if names else ""


def _each(values: tuple[Any, ...]) -> str:
    return ", ".join(map(_value, values))


def _value(value: Any) -> str:
    return f"{value:.10g}" if isinstance(value, float | int) else str(value)
