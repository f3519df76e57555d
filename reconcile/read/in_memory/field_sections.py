"""A field test in memory laid out as the tables of its file, so that it passes the same checks."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import fields, is_dataclass
from typing import Any

from reconcile.house import House
from reconcile.read.on_site.site_readings_table import QUANTITIES, read_field_test
from reconcile.read.tables.cells import Section, shown
from reconcile.read.tables.gate import Gate
from reconcile.site import FieldTest, Instrument, Registered
from reconcile.texts.field_keys import TABLES

FILE = "field test"
KEYS = {"day": "date", "full_scale": "range"}
"""Fields that the file calls otherwise."""
MADE = ("row", "records", "kw_repeats", "seconds_repeats", "watts_repeats", "background_repeats")
"""Fields that follow from others, or that the file does not hold so."""
LISTS = (("run", "runs"), ("quiet", "quiet"), ("main_off", "main_off"), ("interval_run", "interval_runs"))


def check_field_test(field_test: Any, house: House, gate: Gate) -> None:
    """Hold readings on site against everything that their file would be held against.

    Parameters
    ----------
    field_test : FieldTest
    house : House
        For its service, its meter and its loads.
    gate : Gate
        Collects every fault.
    """
    if not isinstance(field_test, FieldTest):
        gate.fault("this is no FieldTest", "Write FieldTest(...).", file=FILE, read=shown(field_test))
        return
    before = len(gate.faults)
    again = read_field_test(Section(_tables(field_test), FILE), gate, house)
    if len(gate.faults) > before:
        return
    for path, was, now in _differing(field_test, again, ""):
        gate.fault(
            "this is not how a house keeps it",
            f"Write {path.rpartition('.')[2]}={now!r}." if now is not None else "Leave it out.",
            file=FILE,
            column=path,
            read=shown(was),
        )


def _tables(test: FieldTest) -> dict[str, Any]:
    made: dict[str, Any] = {
        "instrument": {
            **{
                quantity: _keys(own)
                for quantity in QUANTITIES
                if isinstance(own := getattr(test.instruments, quantity), Instrument)
            },
            "time": {"seconds": test.instruments.time_seconds},
        },
        "display": _keys(test.display),
    }
    for table, name in LISTS:
        made[table] = [_keys(item) for item in getattr(test, name)]
    if test.records:
        names = [key.name for key in TABLES["record"]]
        values = [getattr(test.records[0], f.name) for f in fields(test.records[0])]
        made["record"] = {name: value for name, value in zip(names, values, strict=True) if value != ""}
    return made


def _keys(item: Any) -> dict[str, Any]:
    """One thing read on site as the keys of its table; what is left at its default is not written."""
    made: dict[str, Any] = {}
    for f in fields(item):
        value = getattr(item, f.name)
        if isinstance(value, Registered):
            made |= _keys(value)
            continue
        if f.name in MADE or value is None or (isinstance(value, str | tuple) and not len(value)):
            continue
        if isinstance(value, tuple):
            value = [_keys(one) if is_dataclass(one) else one for one in value]
        if value != f.default or f.name in ("label", "amps"):
            made[KEYS.get(f.name, f.name)] = value
    for single, several in (
        ("meter_kw", "kw_repeats"),
        ("seconds", "seconds_repeats"),
        ("reference_watts", "watts_repeats"),
    ):
        repeats = getattr(item, several, ())
        if len(repeats):
            made[single] = list(repeats)
    return made


def _differing(was: Any, now: Any, path: str) -> Iterator[tuple[str, Any, Any]]:
    """Give the fields in which what was read again differs from what was given."""
    if is_dataclass(was) and type(was) is type(now):
        for f in fields(was):
            if f.name not in MADE:
                yield from _differing(getattr(was, f.name), getattr(now, f.name), f"{path}.{f.name}".lstrip("."))
    elif isinstance(was, tuple) and isinstance(now, Sequence) and len(was) == len(now):
        for n, (one, other) in enumerate(zip(was, now, strict=True), start=1):
            yield from _differing(one, other, f"{path}[{n}]")
    elif not _alike(was, now):
        yield path, was, now


def _alike(was: Any, now: Any) -> bool:
    numbers = [isinstance(value, int | float) and not isinstance(value, bool) for value in (was, now)]
    if all(numbers):
        return math.isclose(was, now, rel_tol=1e-9)
    return type(was) is type(now) and bool(was == now)
