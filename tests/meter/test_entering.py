"""Entering readings: every key documented and read, the sheets' own words, and what an unknown name was meant for."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

from reconcile import read_house
from reconcile.house import House, Load, Meter
from reconcile.house.site import Record
from reconcile.meter.instruments import typical
from reconcile.plan import plan_test
from reconcile.read.on_site.field_names import column_of
from reconcile.report.workbooks.field_workbook import columns_of, header
from reconcile.texts.field.field_keys import PLACES, TABLES, key_of, path_of, words_of

from .test_sheet import fill, home, sheet_workbook
from .written import GOOD, HOUSE, grid, read, toml

PAGE = (Path(__file__).parents[2] / "docs" / "field-test.md").read_text(encoding="utf-8")
EXAMPLES = [block for block in re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL) if "[[quiet]]" in block]
DISK = House("d", (), service="split-phase", meters=(Meter(type="disk", disk_wh=7.2),))


def test_every_key_stands_on_the_page_with_its_meaning_and_an_example():
    for keys in TABLES.values():
        for key in keys:
            assert f"| `{key.name}` | {key.words} | {key.meaning} | `{key.example}` |" in PAGE, key.name


def test_the_examples_of_the_page_are_read_without_a_fault():
    electronic, disk = EXAMPLES
    test, gate = read(electronic, HOUSE)
    assert [str(fault) for fault in gate.faults] == []
    assert len(test.runs) == 3
    assert test.records == (Record("A. Reader", "E-1234", "Elm Street Electric", "14:05", "16:20"),)
    assert test.instruments.amps is not None
    assert test.instruments.amps.name == "typical true-rms clamp"
    assert test.instruments.amps.percent_of_reading == 2.0
    assert test.instruments.amps.serial == "0417"
    _, gate = read(disk, DISK)
    assert gate.faults == []


def test_the_examples_use_every_key():
    used: set[tuple[str, str]] = set()
    for text in EXAMPLES:
        made = tomllib.loads(text)
        for table in ("record", "display"):
            used |= {(table, key) for key in made.get(table, {})}
        for table in ("run", "quiet", "main_off", "interval_run", "branch"):
            for one in made.get(table, []):
                used |= {(table, key) for key in one}
                used |= {("run.legs", key) for leg in one.get("legs", []) for key in leg}
        for quantity, keys in made.get("instrument", {}).items():
            used |= {("instrument.time" if quantity == "time" else "instrument", key) for key in keys}
    shown = {"meter_kw", "seconds", "pulses", "turns", "register_start", "register_end", "counted"}
    for table, keys in TABLES.items():
        where = "instrument" if table.startswith("instrument") and table != "instrument.time" else table
        for key in keys:
            if key.name in shown and table in ("run", "quiet", "main_off"):
                assert any((t, key.name) in used for t in ("run", "quiet", "main_off")), key.name
            else:
                assert (where, key.name) in used, (table, key.name)


def test_each_example_of_a_key_is_a_value():
    for keys in TABLES.values():
        for key in keys:
            text = key.example.replace(", ...", "")
            tomllib.loads(f"value = {text}")


def test_typical_classes_stand_on_the_page():
    for name, row in typical().items():
        line = next(line for line in PAGE.splitlines() if line.startswith(f"| `{name}` |"))
        assert f"{row.instrument.percent_of_reading:g} %" in line
        assert row.status in line


@pytest.mark.parametrize("quantity", ["volts", "amps", "watts"])
def test_a_class_is_taken_by_name_and_marked_typical(quantity):
    for name, row in typical().items():
        text = toml({"instrument": {quantity: {"kind": name}}})
        test, gate = read(text)
        if row.measures != quantity:
            assert "not known here" in gate.faults[0].problem
            continue
        assert gate.faults == []
        made = getattr(test.instruments, quantity)
        assert made.percent_of_reading == row.instrument.percent_of_reading
        assert "typical" in made.name


def test_a_leaflet_comes_before_a_class():
    test, _ = read(toml({"instrument": {"watts": {"kind": "plug-in meter", "percent_of_reading": 0.7}}}))
    assert test.instruments.watts is not None
    assert test.instruments.watts.percent_of_reading == 0.7
    assert "typical" not in test.instruments.watts.name


def renamed(one, table):
    """The same with every key in the words of the sheets."""
    return {words_of(table, key): value for key, value in one.items()}


def quoted(text):
    return re.sub(r"^([^=\[\n]+?) = ", lambda found: f'"{found[1]}" = ', text, flags=re.M)


def test_a_test_in_the_sheets_own_words_is_the_same():
    plain, gate = read(toml(GOOD))
    assert gate.faults == []
    said = {
        **GOOD,
        "run": [renamed({k: v for k, v in run.items() if k != "legs"}, "run") for run in GOOD["run"]],
        "quiet": [renamed(one, "quiet") for one in GOOD["quiet"]],
        "main_off": [renamed(one, "main_off") for one in GOOD["main_off"]],
    }
    said["run"][0]["legs"] = GOOD["run"][0]["legs"]
    test, gate = read(quoted(toml(said)))
    assert [str(fault) for fault in gate.faults] == []
    assert test == plain
    sheet = grid(GOOD)
    head = next(i for i, (_, row) in enumerate(sheet.rows) if row[0] == "kind")
    names = [header(name) if name != "counted" else name for name in sheet.rows[head][1]]
    sheet.rows[head] = (sheet.rows[head][0], names)
    test, gate = read(sheet)
    assert [str(fault) for fault in gate.faults] == []
    assert test == plain


@pytest.mark.parametrize(
    ("run", "column", "says"),
    [
        ({"amps_1": 18.4, "volts_1": 118.9, "meter_kw": 2.2}, "run[1].amps_1", "legs = [{volts = 118.9, amps = 18.4}]"),
        ({"A1": 18.4, "A2": 18.6, "V1": 119.0, "V2": 120.0, "meter_kw": 4.4}, "run[1].A1",
         "legs = [{volts = 119, amps = 18.4}, {volts = 120, amps = 18.6}]"),
        ({"reference_wats": 1450, "pulses": 267, "seconds": 600}, "run[1].reference_wats", "mean reference_watts?"),
        ({"generation_off": True, "reference_watts": 1450, "meter_kw": 1.6}, "run[1].generation_off",
         "generation_off belongs to [[main_off]]"),
        ({"serial": "0417", "reference_watts": 1450, "meter_kw": 1.6}, "run[1].serial", "belongs to [instrument."),
        ({"colour": "red", "reference_watts": 1450, "meter_kw": 1.6}, "run[1].colour", "Known here: label"),
    ],
)  # fmt: skip
def test_an_unknown_key_says_what_was_meant(run, column, says):
    _, gate = read(toml({"run": [run]}))
    faults = [fault for fault in gate.faults if "not known" in fault.problem or "readings of the legs" in fault.problem]
    assert len(faults) == 1, [str(fault) for fault in gate.faults]
    assert faults[0].column == column
    assert says in faults[0].remedy


def test_words_of_a_table_do_not_collide():
    for table, keys in TABLES.items():
        for key in keys:
            assert key_of(table, key.name) == key.name
            assert key_of(table, key.words) == key.name, (table, key.words)
            for other in key.also:
                assert key_of(table, other) == key.name, (table, other)
            if table in PLACES:
                assert path_of(f"{PLACES[table]}: {key.words}") == f"{table}.{key.name}"


@pytest.mark.parametrize("service", ["split-phase", "network", "two-wire", "three-phase"])
@pytest.mark.parametrize("for_whom", ["householder", "electrician"])
def test_every_column_of_the_workbook_reads_as_itself(service, for_whom):
    for name in columns_of(plan_test(home(service)), for_whom):
        assert name == "kind" or column_of(header(name)) == name


def test_both_workbooks_stand_side_by_side(tmp_path):
    (tmp_path / "house.toml").write_text('[house]\nservice = "split-phase"\n[meter]\ntype = "disk"\ndisk_wh = 7.2\n')
    (tmp_path / "bills.csv").write_text("start,end,kwh\n2025-01-07,2025-02-06,912\n")
    plan = plan_test(home())
    run = {
        "background_w_before": 150,
        "reference_watts": 1450,
        "turns": 37,
        "seconds": 599.4,
        "background_w_after": 152,
    }
    path = sheet_workbook(plan, tmp_path / "field-test.xlsx")
    fill(path, {"run": [run]}, {"record.person": "A. Reader", "instrument.watts.kind": "good plug-in meter"})
    path = sheet_workbook(plan, tmp_path / "field-test-electrician.xlsx", for_whom="electrician")
    legs = {"volts_1": 119.7, "amps_1": 21.76, "volts_2": 119.5, "amps_2": 23.62, "meter_kw": 5.38, "meter_volts": 237}
    above = {"record.person": "B. Wirer", "record.license": "E-1", "instrument.amps.category": "CAT IV 600 V"}
    fill(path, {"run": [legs]}, above)
    test = read_house(tmp_path).field_test
    assert test is not None
    assert [bool(run.legs) for run in test.runs] == [False, True]
    assert [record.person for record in test.records] == ["A. Reader", "B. Wirer"]
    assert test.instruments.amps is not None
    assert test.instruments.watts is not None
    assert test.runs[0].registered.counted == "pulse-to-pulse"


def test_a_house_of_its_own_words():
    """A load named as the plan names it, typed as the plan says it."""
    house = House("h", (), (Load("Space heater", watts=1500.0),), service="split-phase", meters=(Meter(pulse_wh=1.0),))
    text = (
        '[[run]]\nrun = "space heater"\n"house W before" = 150\nflashes = 267\nseconds = 600.4\n"plug-in W" = 1450\n'
        '"house W after" = 152\n"load is wired" = "line-to-neutral"\n'
    )
    test, gate = read(text, house)
    assert gate.faults == []
    assert test.runs[0].registered.pulses == 267
    assert test.runs[0].reference_watts == 1450
