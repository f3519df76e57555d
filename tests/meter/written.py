"""A field test as a person writes it down, as TOML and as the cells of the sheet, for tests that break one thing."""

from __future__ import annotations

import copy
from typing import Any

from reconcile.house import House, Load, Meter
from reconcile.house.site import FieldTest
from reconcile.read.on_site.site_readings_table import COLUMNS, read_field_test
from reconcile.read.tables.cells import Grid, Section
from reconcile.read.tables.gate import Gate
from reconcile.read.wrappings.setting_keys import parse_toml

HOUSE = House(
    "written",
    (),
    loads=(Load("Refrigerator", watts=150.0), Load("Space heater", watts=1500.0)),
    service="split-phase",
    service_amps=200.0,
    meters=(Meter(form="2S", pulse_wh=1.0),),
)

GOOD: dict[str, Any] = {
    "instrument": {
        "volts": {"percent_of_reading": 0.7, "digits": 2, "resolution": 0.1, "category": "CAT IV 600 V"},
        "amps": {"percent_of_reading": 2.0, "digits": 5, "resolution": 0.01, "min_amps": 0.5},
        "watts": {"percent_of_reading": 1.0, "digits": 2, "resolution": 0.1},
        "time": {"seconds": 0.3},
    },
    "display": {"step_kw": 0.01, "step_volts": 1.0},
    "run": [
        {
            "label": "water heater",
            "service": "split-phase",
            "meter_kw": 5.38,
            "meter_volts": 237.0,
            "legs": [
                {"volts": 119.7, "amps": 21.76, "power_factor": 1.0},
                {"volts": 119.5, "amps": 23.62, "power_factor": 1.0},
            ],
            "connection": "line-to-line",
            "load": "full",
        },
        {
            "label": "space heater",
            "pulses": 267,
            "seconds": 600.0,
            "reference_watts": 1450.0,
            "background_w_before": 150.0,
            "background_w_after": 152.0,
            "connection": "line-to-neutral",
        },
    ],
    "quiet": [{"pulses": 50, "seconds": 600.0, "on": ["Refrigerator"]}],
    "main_off": [{"pulses": 0, "seconds": 900.0, "all_disconnects_off": True}],
}


def broken(*path: Any, value: Any = None) -> dict[str, Any]:
    """A copy of the good test with one key set, or taken out where the value is None."""
    made = copy.deepcopy(GOOD)
    place: Any = made
    for step in path[:-1]:
        place = place.setdefault(step, {}) if isinstance(place, dict) else place[step]
    if value is None:
        place.pop(path[-1], None)
    else:
        place[path[-1]] = value
    return made


def toml(test: dict[str, Any]) -> str:
    lines = []
    for quantity, keys in test.get("instrument", {}).items():
        lines += [f"[instrument.{quantity}]", *(f"{k} = {_value(v)}" for k, v in keys.items())]
    if "display" in test:
        lines += ["[display]", *(f"{k} = {_value(v)}" for k, v in test["display"].items())]
    for kind in ("run", "quiet", "main_off"):
        for one in test.get(kind, []):
            lines += [f"[[{kind}]]", *(f"{k} = {_value(v)}" for k, v in one.items())]
    return "\n".join(lines) + "\n"


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return "[" + ", ".join(_value(item) for item in value) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k} = {_value(v)}" for k, v in value.items()) + "}"
    return f'"{value}"' if isinstance(value, str) else repr(value)


def grid(test: dict[str, Any]) -> Grid:
    """The same as the sheet's cells: instruments above, one run a row."""
    made = Grid("house.xlsx", "field test")
    rows: list[list[Any]] = []
    for quantity, keys in test.get("instrument", {}).items():
        rows += [[f"instrument.{quantity}.{k}", v] for k, v in keys.items()]
    rows += [[f"display.{k}", v] for k, v in test.get("display", {}).items()]
    cells = [
        {"kind": kind.replace("_", " "), **_flat(one)}
        for kind in ("run", "quiet", "main_off")
        for one in test.get(kind, [])
    ]
    names = [*COLUMNS, *dict.fromkeys(k for row in cells for k in row if k not in COLUMNS)]
    rows += [list(names), *([row.get(name) for name in names] for row in cells)]
    made.rows = list(enumerate(rows, start=1))
    return made


def _flat(one: dict[str, Any]) -> dict[str, Any]:
    flat = {}
    for key, value in one.items():
        if key == "legs":
            for n, leg in enumerate(value, start=1):
                flat.update({f"{k}_{n}": v for k, v in leg.items()})
        elif isinstance(value, list):
            flat[key] = "; ".join(str(item) for item in value)
        else:
            flat[key] = value
    return flat


def read(source: Section | Grid | str, house: House = HOUSE) -> tuple[FieldTest, Gate]:
    gate = Gate()
    section = parse_toml(source, "field_test.toml", gate) if isinstance(source, str) else source
    return read_field_test(section, gate, house), gate
