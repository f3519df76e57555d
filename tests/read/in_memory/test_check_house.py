"""A house built in memory is held to what its files would be held to: the same faults, field by field."""

from __future__ import annotations

import contextlib
import math
import tempfile
from dataclasses import fields, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from house_files import BILL_FIELDS, EVENT_FIELDS, LOAD_FIELDS, write_folder
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import houses

from reconcile.errors import Fault, InputError
from reconcile.house import Bill, ChargeLine, Event, House, Interval, Load, Meter, RegisterReading, Weather
from reconcile.read import read_house
from reconcile.read.in_memory.check_house import BILL, LOAD, check_house

BILLS = (
    Bill(date(2025, 1, 7), date(2025, 2, 6), kwh=912.0, amount=Decimal("131.20")),
    Bill(date(2025, 2, 6), date(2025, 3, 7), kwh=801.0, amount=Decimal("115.95")),
)
LAMP = Load("Kiln", watts=60.0, run_hours=4.0)
HOUSE = House("Alder Court", BILLS, (LAMP,))
ITEMS = {
    "bills": BILLS[0],
    "loads": LAMP,
    "meters": Meter(),
    "band": HOUSE.band,
    "events": Event(date(2025, 1, 9), "guests"),
    "readings": RegisterReading(date(2025, 1, 7), 5.0),
    "charges": ChargeLine(date(2025, 1, 7), "rider", Decimal(3)),
}


def faults(house: House) -> tuple[Fault, ...]:
    with pytest.raises(InputError) as caught:
        check_house(house)
    return caught.value.faults


@given(house=houses(most_bills=6, most_loads=4))
@settings(max_examples=40, deadline=None)
def test_a_house_in_order_passes(house: House) -> None:
    check_house(house)


def bill(**changes: Any) -> House:
    return replace(HOUSE, bills=(BILLS[0], replace(BILLS[1], **changes)))


def load(**changes: Any) -> House:
    return replace(HOUSE, loads=(replace(LAMP, **changes),))


WRONG: dict[str, tuple[House, str, str | None, str]] = {
    "reversed bills": (bill(start=date(2025, 3, 7), end=date(2025, 2, 6)), "bills", "end", "ends before it begins"),
    "bills out of order": (replace(HOUSE, bills=BILLS[::-1]), "bills", "start", "in order of their start"),
    "no bills": (replace(HOUSE, bills=()), "bills", None, "there are no bills"),
    "a list of bills": (replace(HOUSE, bills=list(BILLS)), "settings", "bills", "not how a house"),  # type: ignore[arg-type]
    "a row that is no bill": (replace(HOUSE, bills=({"kwh": 1},)), "settings", "bills", "not how a house"),  # type: ignore[arg-type]
    "a datetime": (bill(end=datetime(2025, 3, 7, 12)), "bills", "end", "not how a house keeps it"),
    "no start": (bill(start=None), "bills", "start", "not how a house keeps it"),
    "money as a float": (bill(amount=115.95), "bills", "amount", "not how a house keeps it"),
    "a text of kwh": (bill(kwh="801"), "bills", "kwh", "not how a house keeps it"),
    "negative kwh": (bill(kwh=-801.0), "bills", "kwh", "below zero"),
    "no kwh": (bill(kwh=None), "bills", "kwh", "nothing is written"),
    "a town's kwh": (bill(kwh=1e9), "bills", "kwh", "could not carry"),
    "read type in capitals": (bill(read_type="Estimated"), "bills", "read_type", "not how a house keeps it"),
    "Heating": (load(follows="Heating", run_hours=None), "loads", "follows", "not how a house keeps it"),
    "unknown follows": (load(follows="moon"), "loads", "follows", "not known here"),
    "negative watts": (load(watts=-60.0), "loads", "watts", "below 0"),
    "no power": (load(watts=None), "loads", "watts", "nothing says what"),
    "no hours": (load(run_hours=None), "loads", "run_hours", "nothing is written"),
    "25 hours": (load(run_hours=25.0), "loads", "run_hours", "24 hours"),
    "gone before it comes": (load(arrives=date(2025, 3, 1), leaves=date(2025, 2, 1)), "loads", "until", "gone before"),
    "month 13": (load(months=frozenset((5, 13))), "loads", "months", "1 to 12"),
    "efficiency above one": (load(efficiency=1.5), "loads", "efficiency", "above 1"),
    "unknown zone": (replace(HOUSE, timezone="Mars/Base"), "settings", "house.timezone", "not known"),
    "currency sign": (replace(HOUSE, currency="$"), "settings", "house.currency", "code of a currency"),
    "unknown danger": (replace(HOUSE, dangers=("sparks",)), "settings", "danger.sparks", "not known"),
    "no meter": (replace(HOUSE, meters=()), "settings", "meter", "at least one Meter"),
    "coverage": (replace(HOUSE, band=replace(HOUSE.band, coverage=95.0)), "settings", "band.coverage", "above"),
    "Fahrenheit": (
        replace(HOUSE, weather=Weather(date(2025, 1, 7), np.full(40, 75.0))),
        "weather",
        "mean",
        "never that cold or warm",
    ),
    "weather of another year": (
        replace(HOUSE, weather=Weather(date(2019, 1, 7), np.full(40, 5.0))),
        "weather",
        None,
        "covers no billing period",
    ),
    "falling times": (
        replace(HOUSE, interval=Interval(np.array(["2025-01-08", "2025-01-07"], "datetime64[s]"), np.ones(2), 3600)),
        "interval",
        None,
        "do not rise",
    ),
    "energy of a town": (
        replace(
            HOUSE, interval=Interval(np.array(["2025-01-07", "2025-01-08"], "datetime64[s]"), np.full(2, 9e9), 3600)
        ),
        "interval",
        "kwh",
        "could not carry",
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_house_is_refused(name: str) -> None:
    house, file, column, text = WRONG[name]
    found = faults(house)
    assert any((f.file, f.column) == (file, column) and text in f.problem for f in found), list(map(str, found))
    assert all(fault.remedy.endswith(".") for fault in found)


ODD_KINDS = ("", {})


def test_a_value_of_another_kind_is_a_fault_wherever_it_stands() -> None:
    """A house built by hand may hold anything: what no file could hold is told, and never ends in a traceback."""
    for part in ("house", "bills", "loads", "meters", "band", "events", "readings", "charges"):
        item: Any = HOUSE if part == "house" else ITEMS[part]
        for f in fields(item):
            for value in ODD_KINDS:
                if f.name != "passed":
                    changed = replace(item, **{f.name: value})
                    parts = {part: changed if part == "band" else (changed,)}
                    house = changed if part == "house" else replace(HOUSE, **parts)
                    with contextlib.suppress(InputError):
                        check_house(house)


@pytest.mark.parametrize(
    ("changes", "column"),
    [
        ({"line_volts": ""}, "line_volts"),
        ({"service": None}, "service"),
        ({"weather": 0}, "weather"),
        ({"dangers": None}, "dangers"),
        ({"meters": (Meter(number=7),)}, "meters[1].number"),  # type: ignore[arg-type]
        ({"band": replace(HOUSE.band, coverage=None)}, "band.coverage"),  # type: ignore[arg-type]
        ({"loads": (replace(LAMP, apparent=0),)}, "apparent"),  # type: ignore[arg-type]
    ],
)
def test_a_value_of_another_kind_is_told_with_its_place(changes: dict[str, Any], column: str) -> None:
    (fault,) = faults(replace(HOUSE, **changes))
    assert (fault.column, fault.problem) == (column, "this is not how a house keeps it")


def test_every_fault_comes_out_at_once() -> None:
    wrong = replace(
        HOUSE,
        timezone="Mars/Base",
        bills=(BILLS[0], replace(BILLS[1], kwh=-1.0, end=date(2025, 1, 1))),
        loads=(replace(LAMP, watts=-1.0), replace(LAMP, name="Other", run_hours=99.0)),
    )
    assert {f.column for f in faults(wrong)} == {"house.timezone", "kwh", "end", "watts", "run_hours"}


ODD_NUMBERS = st.sampled_from((-1.0, 1e300, math.inf, math.nan, 0.5, 1e7))
ODD_DAYS = st.sampled_from((date(1800, 1, 1), date(2199, 1, 1), date(2025, 1, 1), date(2031, 5, 5)))
ODD_WORDS = st.sampled_from(("moon", "perhaps", "x" * 3000))


def odd(value: Any, kind: str) -> st.SearchStrategy[Any]:
    if "date" in kind:
        return ODD_DAYS
    if "str" in kind or "Literal" in kind or "Type" in kind or kind in ("Follows", "Source"):
        return ODD_WORDS
    if "Decimal" in kind:
        return st.sampled_from((Decimal("1e13"), Decimal("-5"), Decimal("NaN")))
    return ODD_NUMBERS


TABLES = {
    "bills": (BILL_FIELDS | {"mean_temperature": "mean_temperature_c"}, Bill),
    "loads": (LOAD_FIELDS, Load),
}


@given(data=st.data())
@settings(max_examples=150, deadline=None)
def test_the_same_faults_as_files_in_every_field(data: st.DataObject) -> None:
    table = data.draw(st.sampled_from(sorted(TABLES)))
    names, kind = TABLES[table]
    column = data.draw(st.sampled_from(sorted(set(names) - {"note", "load", "months"})))
    field = names[column]
    declared = next(f for f in fields(kind) if f.name == field)
    value = data.draw(odd(None, str(declared.type)))
    if declared.type == "int" or "int" in str(declared.type):
        value = int(value) if isinstance(value, float) and abs(value) < 1e9 else -1
    items = list(getattr(HOUSE, table))
    items[-1] = replace(items[-1], **{field: value})
    house = replace(HOUSE, **{table: tuple(items)})
    with tempfile.TemporaryDirectory() as place:
        from_files = outcome(lambda: read_house(write_folder(house, Path(place) / "house")))
    in_memory = outcome(lambda: check_house(house))
    own = ("not how a house keeps it", "in order of their start")  # a file's reader mends both by itself
    in_memory = {(c, p) for c, p in in_memory if not any(words in p for words in own)}
    if isinstance(value, float | Decimal) and not math.isfinite(value):  # a file has the word nan, memory a number
        in_memory, from_files = {(c, "") for c, _ in in_memory}, {(c, "") for c, _ in from_files}
    assert in_memory == from_files, (field, value)


def outcome(act: Any) -> set[tuple[str | None, str]]:
    try:
        act()
    except InputError as error:
        return {(fault.column, fault.problem) for fault in error.faults}
    return set()


def test_every_field_is_checked() -> None:
    beside = {"row", "inclusive", "edge_doubt_days", "apparent", "efficiency"}
    assert {f.name for f in fields(Bill)} - set(BILL.values()) <= beside
    assert {f.name for f in fields(Load)} - set(LOAD.values()) <= beside
    assert set(EVENT_FIELDS.values()) == {"day", "until", "kind", "load", "note"}


def test_a_house_of_three_years_is_checked_in_no_time() -> None:
    import time

    bills = tuple(
        Bill(date(2022, 1, 1) + timedelta(30 * n), date(2022, 1, 31) + timedelta(30 * n), kwh=500.0) for n in range(36)
    )
    house = House("A", bills, tuple(replace(LAMP, name=f"Kiln {n}") for n in range(40)))
    begin = time.perf_counter()
    check_house(house)
    assert time.perf_counter() - begin < 0.5
