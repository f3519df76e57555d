"""A house of the library written out as its folder or its workbook, the other way round from the readers."""

from __future__ import annotations

import csv
import math
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from reconcile.house import House

Rows = list[list[Any]]

BILL_FIELDS = {
    "start": "start",
    "end": "end",
    "kwh": "kwh",
    "amount": "amount",
    "bill_type": "bill_type",
    "read_type": "read_type",
    "reading_start": "reading_start",
    "reading_end": "reading_end",
    "days": "printed_days",
    "meter": "meter",
    "note": "note",
}
"""Columns written by default; a field that differs from its default brings its own column along."""
MORE_BILL_FIELDS = {
    "amount_due": "amount_due",
    "mean_temperature": "mean_temperature_c",
}
LOAD_FIELDS = {
    "load": "name",
    "count": "count",
    "watts": "watts",
    "kwh_per_year": "kwh_per_year",
    "kwh_per_cycle": "kwh_per_cycle",
    "cycles_per_week": "cycles_per_week",
    "run_hours": "run_hours",
    "share_on": "share_on",
    "standby_watts": "standby_watts",
    "follows": "follows",
    "hours_per_degree_day": "hours_per_degree_day",
    "balance_temperature": "balance_c",
    "months": "months",
    "from": "arrives",
    "until": "leaves",
    "watts_within_percent": "watts_within_percent",
    "hours_within_percent": "hours_within_percent",
    "source": "source",
    "note": "note",
}
EVENT_FIELDS = {"date": "day", "until": "until", "kind": "kind", "load": "load", "note": "note"}


def tables(house: House) -> dict[str, Rows]:
    """Return the house's tables by name, each with its header; cells typed, None where empty."""
    more = {
        column: name
        for column, name in MORE_BILL_FIELDS.items()
        if any(getattr(bill, name) is not None for bill in house.bills)
    }
    made = {"bills": _table(house.bills, BILL_FIELDS | more)}
    if house.loads:
        made["loads"] = _table(house.loads, LOAD_FIELDS)
    if house.events:
        made["events"] = _table(house.events, EVENT_FIELDS)
    if house.weather is not None:
        first, means = house.weather.first, house.weather.mean_c.tolist()
        rows = [[first + timedelta(days=n), mean] for n, mean in enumerate(means) if not math.isnan(mean)]
        made["weather"] = [["date", "mean"], *rows]
    return made


def _table(things: tuple[Any, ...], fields: dict[str, str]) -> Rows:
    return [list(fields), *([_cell(getattr(thing, name)) for name in fields.values()] for thing in things)]


def _cell(value: Any) -> Any:
    if isinstance(value, frozenset):
        return ",".join(map(str, sorted(value)))
    return None if value == "" else value


def settings(house: House) -> dict[str, Any]:
    """Return the settings by their path, such as ``house.timezone``."""
    meter = house.meters[0]
    made = {
        "house.name": house.name,
        "house.timezone": house.timezone,
        "house.currency": house.currency,
        "house.temperature_unit": house.temperature_unit,
        "house.floor_area": house.floor_area_m2,
        "house.occupants": house.occupants,
        "house.bedrooms": house.bedrooms,
        "house.heating_fuel": house.heating_fuel,
        "house.service": house.service,
        "house.line_volts": house.line_volts,
        "house.service_amps": house.service_amps,
        "site.coldest_month_mean": house.coldest_month_c,
        "site.warmest_month_mean": house.warmest_month_c,
        **{f"danger.{name}": True for name in house.dangers},
        "meter.digits": meter.digits,
        "meter.step_kwh": meter.step_kwh,
        "band.coverage": house.band.coverage,
    }
    return {path: value for path, value in made.items() if value is not None}


def write_folder(house: House, folder: Path) -> Path:
    """Write the house as a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "house.toml").write_text("".join(f"{k} = {_toml(v)}\n" for k, v in settings(house).items()), "utf-8")
    for name, rows in tables(house).items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows([["" if cell is None else str(cell) for cell in row] for row in rows])
    return folder


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    return repr(value)


def write_workbook(house: House, path: Path) -> Path:
    """Write the house as a workbook, its cells typed."""
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.active)
    sheets = {"house": [[k, v] for k, v in settings(house).items()], **tables(house)}
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for r, row in enumerate(rows, start=1):
            for c, value in enumerate(row, start=1):
                if value is not None:
                    cell = sheet.cell(r, c)
                    cell.value = float(value) if isinstance(value, Decimal) else value
                    if isinstance(value, str):
                        cell.data_type = "s"
    book.save(path)
    return path
