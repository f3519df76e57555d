"""Parts of a house in memory are held to what their files would be held to: tariffs, readings on site, settings."""

from __future__ import annotations

import copy
import pickle
import tempfile
from collections.abc import Callable
from dataclasses import fields, replace
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import reconcile.answer
from reconcile.errors import InputError
from reconcile.house import Band, Bill, House, Interval, Load, Meter
from reconcile.house.site import (
    Display,
    FieldTest,
    Instrument,
    Instruments,
    IntervalRun,
    Leg,
    MainOff,
    Quiet,
    Record,
    Registered,
    Run,
)
from reconcile.house.tariff import Block, Charge, Tariff, Window
from reconcile.read import read_house
from reconcile.read.in_memory.check_house import check_house
from reconcile.read.in_memory.laid_out import MADE

BILLS = (
    Bill(date(2025, 1, 7), date(2025, 2, 6), kwh=912.0, amount=Decimal("131.20")),
    Bill(date(2025, 2, 6), date(2025, 3, 7), kwh=801.0, amount=Decimal("115.95")),
)
HOUSE = House("Alder Court", BILLS, (Load("Kiln", watts=60.0, run_hours=4.0),), service="split-phase")
FILES = {"bills.csv": "start,end,kwh,amount\n2025-01-07,2025-02-06,912,131.20\n2025-02-06,2025-03-07,801,115.95\n",
         "loads.csv": "load,watts,run_hours\nKiln,60,4\n"}  # fmt: skip

PEAK = Window("peak", Decimal("0.3"), hours=(16.0, 21.0))
TARIFF = Tariff(
    date(2024, 1, 1),
    (
        Charge("service", "per_day", Decimal("0.15"), kind="fixed"),
        Charge("energy", "blocks", blocks=(Block(Decimal("0.10"), Decimal(500)), Block(Decimal("0.15")))),
        Charge("season", "windows", windows=(PEAK, Window("rest", Decimal("0.2")))),
        Charge("fuel", "per_kwh", Decimal("0.02"), months=frozenset((6, 7)), kind="rider"),
        Charge("tax", "percent", Decimal(5), on=("energy",), kind="tax"),
    ),
)  # fmt: skip
TEST = FieldTest(
    Instruments(volts=Instrument(percent_of_reading=0.5, digits=2.0, resolution=0.1), time_seconds=0.4),
    Display(step_kw=0.01),
    (Run("oven", Registered(meter_kw=2.4), (Leg(118.9, 10.0, 1.0), Leg(119.4, 10.1, 1.0)), meter_volts=240.0),
     Run("heater", Registered(meter_kw=1.45), reference_watts=1440.0)),
    (Quiet(Registered(meter_kw=0.21), ("Kiln",), date(2025, 3, 1)),),
    (MainOff(Registered(meter_kw=0.0), all_disconnects_off=True),),
    interval_runs=(IntervalRun(date(2025, 2, 1), 22.0, 2.0, 3.0),),
)  # fmt: skip


def toml(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return '"' + value + '"'
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key} = {toml(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(toml, value)) + "]"
    if isinstance(value, frozenset):
        return toml(sorted(value))
    return value.isoformat() if isinstance(value, date) else f"{value}".replace("NaN", "nan")


def outcome(act: Callable[[], Any]) -> set[str]:
    try:
        act()
    except InputError as error:
        return {fault.problem for fault in error.faults}
    return set()


def from_files(**files: str) -> set[str]:
    with tempfile.TemporaryDirectory() as place:
        for name, text in {**FILES, **{n.replace("_toml", ".toml"): t for n, t in files.items()}}.items():
            Path(place, name).write_text(text)
        return outcome(lambda: read_house(place))


def in_memory(house: House) -> set[str]:
    return {problem for problem in outcome(lambda: check_house(house)) if problem != "this is not how a house keeps it"}


def tariff_toml(tariff: Tariff) -> str:
    """The tariff as a person writes it; by hand, so that the checker's own layout is not used to check itself."""
    lines = ["[house]", 'service = "split-phase"', "[[tariff]]", f"valid_from = {toml(tariff.valid_from)}"]
    if tariff.minimum_per_bill is not None:
        lines.append(f"minimum_per_bill = {toml(tariff.minimum_per_bill)}")
    lines.append(f"block_round = {tariff.block_places}")
    for charge in tariff.charges:
        lines += ["[[tariff.charge]]", f"name = {toml(charge.name)}", f"applies = {toml(charge.applies)}"]
        lines += [f"kind = {toml(charge.kind)}", f"round = {charge.places}"]
        if charge.basis == "blocks":
            limit = f"up_to_per_{charge.blocks_per}"
            blocks = [{"price": b.price} | ({} if b.up_to is None else {limit: b.up_to}) for b in charge.blocks]
            lines.append(f"blocks = {toml(blocks)}")
        elif charge.basis == "windows":
            windows = []
            for w in charge.windows:
                one: dict[str, Any] = {"name": w.name, "price": w.price}
                if w.hours is not None:
                    one["hours"] = "-".join(f"{int(h)}:{round(h % 1 * 60):02d}" for h in w.hours)
                if w.months is not None:
                    one["months"] = w.months
                windows.append(one)
            lines.append(f"windows = {toml(windows)}")
        elif charge.price is not None:
            lines.append(f"{charge.basis} = {toml(charge.price)}")
        if charge.on is not None:
            lines.append(f"on = {toml(charge.on)}")
        if charge.months is not None:
            lines.append(f"months = {toml(charge.months)}")
    return "\n".join(lines) + "\n"


def changed_charge(at: int, **changes: Any) -> Tariff:
    charges = list(TARIFF.charges)
    charges[at] = replace(charges[at], **changes)
    return replace(TARIFF, charges=tuple(charges))


def first_window(**changes: Any) -> Tariff:
    charge = TARIFF.charges[2]
    return changed_charge(2, windows=(replace(charge.windows[0], **changes), charge.windows[1]))


MONEY = st.sampled_from((Decimal(-1), Decimal("1e13"), Decimal("NaN"), Decimal(0), Decimal("0.1")))
WORD = st.sampled_from(("moon", "x" * 3000, "energy"))
MONTHS = st.sampled_from((frozenset((13,)), frozenset((0, 5)), frozenset((1, 12))))
ODD_TARIFFS = st.one_of(
    st.builds(lambda at, v: changed_charge(at, price=v), st.sampled_from((0, 3, 4)), MONEY),
    st.builds(lambda at, v: changed_charge(at, kind=v), st.integers(0, 4), WORD),
    st.builds(lambda at, v: changed_charge(at, applies=v), st.integers(0, 4), WORD),
    st.builds(lambda at, v: changed_charge(at, places=v), st.integers(0, 4), st.sampled_from((-1, 9, 0, 40))),
    st.builds(lambda at, v: changed_charge(at, months=v), st.integers(0, 4), MONTHS),
    st.builds(lambda v: changed_charge(4, on=v), st.sampled_from((("energy", "nothing"), ("tax",), ("service",)))),
    st.builds(lambda at, v: changed_charge(at, name=v), st.integers(0, 3), st.sampled_from(("", "energy", "x" * 3000))),
    st.builds(
        lambda a, b: changed_charge(1, blocks=(Block(a, Decimal(500)), Block(b, Decimal(100)), Block(Decimal(1)))),
        MONEY, MONEY,
    ),
    st.builds(lambda v: changed_charge(1, blocks=(Block(Decimal("0.1"), v), Block(Decimal("0.2")))), MONEY),
    st.builds(lambda v: changed_charge(1, blocks=(Block(Decimal("0.1")), Block(v))), MONEY),
    st.builds(lambda v: first_window(hours=v), st.sampled_from(((25.0, 3.0), (16.0, 16.0), (0.0, 24.0), (22.0, 6.0)))),
    st.builds(lambda v: first_window(price=v), MONEY),
    st.builds(lambda v: first_window(months=v), MONTHS),
    st.builds(lambda v: first_window(name=v), st.sampled_from(("", "rest"))),
    st.builds(lambda v: replace(TARIFF, minimum_per_bill=v), MONEY),
    st.builds(lambda v: replace(TARIFF, block_places=v), st.sampled_from((-1, 9, 3))),
    st.builds(lambda v: replace(TARIFF, valid_from=v), st.sampled_from((date(1800, 1, 1), date(2199, 1, 1)))),
)  # fmt: skip


def test_parts_in_order_pass() -> None:
    check_house(replace(HOUSE, tariffs=(TARIFF,), field_test=TEST))
    assert from_files(house_toml=tariff_toml(TARIFF)) == set()


@given(tariff=ODD_TARIFFS)
@settings(max_examples=120, deadline=None)
def test_a_tariff_has_the_same_faults_as_its_file(tariff: Tariff) -> None:
    assert in_memory(replace(HOUSE, tariffs=(tariff,))) == from_files(house_toml=tariff_toml(tariff)), tariff


NAMES = {"full_scale": "range", "day": "date"}


def field_toml(test: FieldTest) -> str:
    lines = []

    def keys(item: Any) -> None:
        for f in fields(item):
            value = getattr(item, f.name)
            if isinstance(value, Registered):
                keys(value)
            elif f.name not in MADE and value is not None and value != () and value != f.default:
                if f.name == "legs":
                    value = [
                        {g.name: getattr(leg, g.name) for g in fields(leg) if getattr(leg, g.name) is not None}
                        for leg in value
                    ]
                lines.append(f"{NAMES.get(f.name, f.name)} = {toml(value)}")

    for quantity in ("volts", "amps", "watts"):
        if getattr(test.instruments, quantity) is not None:
            lines.append(f"[instrument.{quantity}]")
            keys(getattr(test.instruments, quantity))
    lines += ["[instrument.time]", f"seconds = {test.instruments.time_seconds}", "[display]"]
    keys(test.display)
    kinds: dict[str, tuple[Any, ...]] = {"run": test.runs, "quiet": test.quiet, "main_off": test.main_off}
    for table, items in {**kinds, "interval_run": test.interval_runs}.items():
        for item in items:
            lines.append(f"[[{table}]]")
            keys(item)
    return "\n".join(lines) + "\n"


NUMBER = st.sampled_from((-1.0, 1e9, 0.0, 0.5, 1e4, float("nan")))


def odd_for(kind: str) -> st.SearchStrategy[Any]:
    if "bool" in kind:
        return st.booleans()
    if "date" in kind:
        return st.sampled_from((date(1800, 1, 1), date(2025, 3, 3)))
    if "str" in kind or "Literal" in kind or "Connection" in kind:
        return WORD
    return NUMBER


@st.composite
def odd_tests(draw: st.DrawFn) -> FieldTest:
    part = draw(
        st.sampled_from(("volts", "time", "display", "run", "leg", "registered", "quiet", "main_off", "interval"))
    )

    def change(item: Any) -> Any:
        names = [f for f in fields(item) if f.name not in (*MADE, "registered", "legs", "on")]
        f = draw(st.sampled_from(names))
        return replace(item, **{f.name: draw(odd_for(str(f.type)))})

    if part == "volts":
        return replace(TEST, instruments=replace(TEST.instruments, volts=change(TEST.instruments.volts)))
    if part == "time":
        return replace(TEST, instruments=replace(TEST.instruments, time_seconds=draw(NUMBER)))
    if part == "display":
        return replace(TEST, display=change(TEST.display))
    if part == "quiet":
        return replace(TEST, quiet=(change(TEST.quiet[0]),))
    if part == "main_off":
        return replace(TEST, main_off=(change(TEST.main_off[0]),))
    if part == "interval":
        return replace(TEST, interval_runs=(change(TEST.interval_runs[0]),))
    at = draw(st.integers(0, 1))
    run = TEST.runs[at]
    if part == "leg" and run.legs:
        run = replace(run, legs=(change(run.legs[0]), run.legs[1]))
    elif part == "registered":
        run = replace(run, registered=change(run.registered))
    else:
        run = change(run)
    runs = list(TEST.runs)
    runs[at] = run
    return replace(TEST, runs=tuple(runs))


@given(test=odd_tests())
@settings(max_examples=200, deadline=None)
def test_readings_on_site_have_the_same_faults_as_their_file(test: FieldTest) -> None:
    house = '[house]\nservice = "split-phase"\n'
    memory = in_memory(replace(HOUSE, field_test=test))
    assert memory == from_files(house_toml=house, field_test_toml=field_toml(test)), test


def meters_toml(meter: Meter, band: Band) -> str:
    names = {"begins": "from", "ends": "until"}
    lines = ["[house]", 'service = "split-phase"']
    for table, item in (("meter", meter), ("band", band)):
        lines.append(f"[{table}]")
        for f in fields(item):  # type: ignore[arg-type]
            value = getattr(item, f.name)
            if value is not None and value != f.default:
                lines.append(f"{names.get(f.name, f.name)} = {toml(value)}")
    return "\n".join(lines) + "\n"


@given(data=st.data())
@settings(max_examples=150, deadline=None)
def test_the_meter_and_the_band_have_the_same_faults_as_their_file(data: st.DataObject) -> None:
    meter, band = Meter(), Band()
    which = data.draw(st.sampled_from((meter, band)))
    f = data.draw(st.sampled_from(fields(which)))
    value = data.draw(odd_for(str(f.type)))
    if "int" in str(f.type) and isinstance(value, float):
        value = int(value) if value == value else -1
    changed = replace(which, **{f.name: value})
    meter, band = (changed, band) if which is meter else (meter, changed)
    memory = in_memory(replace(HOUSE, meters=(meter,), band=band))
    files = from_files(house_toml=meters_toml(meter, band))
    assert memory == files, (f.name, value)


def quiet(registered: Registered, day: date | None = None) -> dict[str, Any]:
    return {"field_test": replace(TEST, quiet=(Quiet(registered, (), day),))}


WRONG_TYPES: list[tuple[str, dict[str, Any], str]] = [
    ("tariffs", {"tariffs": ("moon",)}, "not how a house"),
    ("money", {"tariffs": (changed_charge(0, price=0.15),)}, "not how a house"),
    ("field test", {"field_test": {"run": []}}, "not how a house"),
    ("a text of kW", quiet(Registered(meter_kw="0.2")), "not how a house"),  # type: ignore[arg-type]
    ("a datetime", quiet(Registered(meter_kw=0.2), datetime(2025, 3, 1, 5)), "not how a house"),
    ("nothing read", quiet(Registered()), "own reading is missing"),
    ("no load", {"field_test": replace(TEST, runs=(Run("a", Registered(meter_kw=1.0)),))}, "no load was measured"),
]


@pytest.mark.parametrize(("name", "changes", "problem"), WRONG_TYPES, ids=[name for name, _, _ in WRONG_TYPES])
def test_what_is_no_such_part_is_refused(name: str, changes: dict[str, Any], problem: str) -> None:
    assert any(problem in found for found in outcome(lambda: check_house(replace(HOUSE, **changes))))


def test_repeats_of_a_reading_pass_with_their_mean() -> None:
    registered = Registered(meter_kw=2.5, kw_repeats=(2.4, 2.6))
    run = Run("oven", registered, reference_watts=1450.0, watts_repeats=(1440.0, 1460.0))
    check_house(replace(HOUSE, field_test=replace(TEST, runs=(run,))))
    wrong = replace(run, registered=replace(registered, meter_kw=3.5))
    assert outcome(lambda: check_house(replace(HOUSE, field_test=replace(TEST, runs=(wrong,)))))


def test_a_house_that_came_through_the_gate_is_not_checked_again(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for name, text in FILES.items():
        (tmp_path / name).write_text(text)
    house = read_house(tmp_path)
    frames = House.from_frames(pd.DataFrame({"end": ["2025-02-06", "2025-03-07"], "days": [30, 29], "kwh": [900, 801]}))
    assert [one.passed for one in (house, frames, HOUSE)] == [True, True, False]
    assert [one.passed for one in (pickle.loads(pickle.dumps(house)), copy.copy(house))] == [True, True]
    changed = replace(house, occupants=-3.0)
    assert not changed.passed
    assert replace(house) == house
    with pytest.raises(InputError):
        reconcile.answer.reconcile(changed)
    monkeypatch.setattr("reconcile.read.in_memory.check_house._settings", lambda *_: pytest.fail("checked again"))
    reconcile.answer.reconcile(house)


def test_interval_data_handed_in_are_checked() -> None:
    bills = pd.DataFrame({"start": ["2025-01-07"], "end": ["2025-02-06"], "kwh": [900]})
    falling = Interval(np.array(["2025-01-09", "2025-01-08"], "datetime64[s]"), np.ones(2), 3600)
    with pytest.raises(InputError, match="do not rise"):
        House.from_frames(bills, interval=falling)


def test_who_read_is_held_to_what_a_file_may_say() -> None:
    check_house(replace(HOUSE, field_test=replace(TEST, records=(Record("Ida Vale", started="9:00"),))))
    wrong = replace(TEST, records=(Record("Ida Vale", ended="x" * 3000),))
    assert any("longer than" in problem for problem in outcome(lambda: check_house(replace(HOUSE, field_test=wrong))))
