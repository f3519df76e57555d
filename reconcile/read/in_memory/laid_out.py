"""Field tests and tariffs in memory laid out as the tables of their files, so that they pass the same checks."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import fields, is_dataclass
from datetime import date
from typing import Any

from reconcile.house import House
from reconcile.house.site import FieldTest, Instrument, Registered
from reconcile.house.tariff import Charge, Tariff, Window
from reconcile.read.on_site.site_readings_table import QUANTITIES, read_field_test
from reconcile.read.tables.cells import Section, shown
from reconcile.read.tables.gate import Gate
from reconcile.texts.field.field_keys import TABLES

FILE = "field test"
KEYS = {"day": "date", "full_scale": "range"}
"""Fields that the file calls otherwise."""
MADE = ("row", "records", "kw_repeats", "seconds_repeats", "watts_repeats", "background_repeats")
"""Fields that follow from others, or that the file does not hold so."""
LISTS = (
    ("run", "runs"), ("quiet", "quiet"), ("main_off", "main_off"), ("interval_run", "interval_runs"),
    ("branch", "branches"),
)  # fmt: skip


def check_field_test(field_test: FieldTest, house: House, gate: Gate) -> None:
    """Hold readings on site against everything that their file would be held against.

    Parameters
    ----------
    house : House
        For its service, its meter and its loads.
    gate : Gate
        Collects every fault.
    """
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


WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def tariff_tables(tariffs: Sequence[Tariff]) -> list[dict[str, Any]]:
    """Return the ``[[tariff]]`` tables of a house's tariffs."""
    made = []
    for number, tariff in enumerate(tariffs, start=1):
        table: dict[str, Any] = {"charge": list(map(_charge, tariff.charges))}
        if tariff.valid_from != date.min:
            table["valid_from"] = tariff.valid_from
        elif number > 1:
            table["valid_from"] = date(1950, 1, 1)
        if tariff.minimum_per_bill is not None:
            table["minimum_per_bill"] = tariff.minimum_per_bill
        table["block_round"] = tariff.block_places
        made.append(table)
    if len(made) > 1 and "valid_from" not in made[0]:
        made[0]["valid_from"] = date(1950, 1, 1)
    return made


def _charge(charge: Charge) -> dict[str, Any]:
    made: dict[str, Any] = {"name": charge.name, "applies": charge.applies, "kind": charge.kind, "round": charge.places}
    if charge.values:
        made["values"] = [{"from": since, charge.basis: price} for since, price in charge.values]
    elif charge.basis == "blocks":
        made["blocks"] = [
            {"price": block.price} | ({} if block.up_to is None else {f"up_to_per_{charge.blocks_per}": block.up_to})
            for block in charge.blocks
        ]
    elif charge.basis == "windows":
        made["windows"] = list(map(_window, charge.windows))
    else:
        made[str(charge.basis)] = charge.price
    if charge.on is not None:
        made["on"] = list(charge.on)
    if charge.months is not None:
        made["months"] = sorted(charge.months)
    return made


def _window(window: Window) -> dict[str, Any]:
    made: dict[str, Any] = {"name": window.name, "price": window.price}
    if window.weekdays is not None:
        made["days"] = ",".join(WEEKDAYS[day % 7] for day in sorted(window.weekdays))
    if window.hours is not None:
        made["hours"] = "-".join(f"{int(hour)}:{round(hour % 1 * 60):02d}" for hour in window.hours)
    if window.months is not None:
        made["months"] = sorted(window.months)
    return made
