"""The load inventory."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from typing import get_args

from reconcile import units
from reconcile.house import Follows, House, Load, Source
from reconcile.house.outdoors import SOUTHERN
from reconcile.loads.handbook import find, typical_power_factor
from reconcile.read.bills.bill_edges import with_habits
from reconcile.read.household.load_fill import (
    TYPICAL_EER_WITHIN_PERCENT,
    Filled,
    cooler_watts,
    fill,
    hours_a_day,
    ranged,
)
from reconcile.read.household.load_words import in_columns
from reconcile.read.tables.bounds import SHORT_TIME_FACTOR, most_watts, motor_efficiency
from reconcile.read.tables.cells import Cell, Row, Table
from reconcile.read.tables.columns import LOADS
from reconcile.read.tables.gate import Gate
from reconcile.read.values import dates, quantities
from reconcile.read.values.month_names import months, months_named

COLUMNS = LOADS.names
FOLLOWS: tuple[Follows, ...] = get_args(Follows)
SOURCES: tuple[Source, ...] = get_args(Source)

COLDEST_BALANCE_C = -25.0
"""Coldest temperature from which a heater may begin [degC]: strip heat behind a heat pump for the cold is held back to
some -18 degC, 0 degF (common practice), and a little is left for those set lower (our choice)."""


def read_loads(table: Table, gate: Gate, house: House) -> tuple[Load, ...]:
    """Read the loads in the order of the table; ``house`` gives the temperature unit and the service."""
    if not gate.readable(table, LOADS) or not in_columns(table, gate, house.timezone.startswith(SOUTHERN)):
        return ()
    rows: dict[str, int] = {}
    found, filled = [], Filled()
    for row in _there(table, gate):
        load = _load(row, gate, house, filled)
        if load is None:
            continue
        first = rows.setdefault(" ".join(load.name.casefold().split()), row.number)
        if first != row.number:
            gate.wrong(row["load"], f"this name also stands in row {first}", "Give each load a name of its own.")
        found.append(load)
    filled.tell(table.place, gate)
    _tell_all_year(found, table)
    return tuple(found)


_PANELS = re.compile(
    r"\b(?:solar|pv|photovoltaics?)\b.*\b(?:panels?|array|system|modules?|roof|kwp?)\b|\bpv\b|\bphotovoltaics?\b|"
    r"\bsolar\s*(?:$|\d)|\bwind turbine\b",
    re.IGNORECASE,
)
_USES = re.compile(
    r"heater|pump|lights?\b|lamp|charger|fan|water|thermal|collector|control|inverter|monitor|battery|pool|cleaner",
    re.IGNORECASE,
)


def leave_panels(table: Table, gate: Gate) -> bool:
    """Leave solar panels out of a list of what uses electricity, and return whether there were any."""
    made = [
        row
        for row in table.rows
        if isinstance(name := row.value("load"), str) and _PANELS.search(name[:200]) and not _USES.search(name[:200])
    ]
    for row in made:
        gate.notice(
            f"{table.place}, row {row.number}: {str(row.value('load')).strip()[:60]} makes electricity, so it is no "
            "load and was left out of the list; the house is taken as one that makes its own. The columns "
            "delivered_kwh and received_kwh of the bills tell most of it."
        )
    table.rows[:] = [row for row in table.rows if row not in made]
    return bool(made)


def _tell_all_year(loads: list[Load], table: Table) -> None:
    """Tell of loads that usually run in a part of the year, whose hours were written without months."""
    usual = [
        f"{load.name} (usually {months_named(months(kind.months))})"
        for load in loads
        if load.months is None and load.follows == "clock" and load.run_hours
        for kind in find(load.name)[:1]
        if kind.months
    ]
    if usual:
        table.read_as.append(f"hours without months are of all months: {', '.join(usual)}")


ROOMS = re.compile(
    r"(?:the )?(?:kitchen|living room|family room|(?:master |guest |kids'? )?bed ?rooms?|bath ?rooms?|garage|basement|"
    r"laundry(?: room)?|outside|outdoors?|office|attic|hall(?:way)?|dining room|up ?stairs|down ?stairs|yard|shed|"
    r"heating|cooling|other|misc)\s*:?",
    re.IGNORECASE,
)


def _leave_rooms(table: Table) -> None:
    """Leave lines that only name a room above the loads in it, where other lines tell sizes or hours."""
    figures = ("watts", "run_hours", "kwh_per_year", "kwh_per_cycle", "count")
    bare = [row for row in table.rows if all(row.blank(column) for column in COLUMNS if column != "load")]
    rooms = {row.number for row in bare if ROOMS.fullmatch(str(row.value("load")).strip())}
    if rooms and any(not row.blank(name) for row in table.rows for name in figures):
        table.left.append(f"what only names a room (row {', '.join(map(str, sorted(rooms)))})")
        table.rows[:] = [row for row in table.rows if row.number not in rooms]


def _there(table: Table, gate: Gate) -> list[Row]:
    """Return the lines of loads that are there: a count of 0 says that the house has none of it."""
    _leave_rooms(table)
    none = [row for row in table.rows if not row.blank("count") and str(row.value("count")).strip() in ("0", "0.0")]
    for row in none:
        for column in ("watts", "run_hours", "kwh_per_year", "kwh_per_cycle"):
            if not row.blank(column):
                gate.wrong(
                    row["count"],
                    f"none is counted, yet its {column} is written",
                    "Write how many there are, or delete the row.",
                )
                break
    if none:
        table.left.append(f"{len(none)} line{'s' if len(none) > 1 else ''} with a count of 0")
    left = {row.number for row in none}
    return [row for row in table.rows if row.number not in left]


def _load(row: Row, gate: Gate, house: House, filled: Filled) -> Load | None:
    name = gate.text(row["load"], needed=True)
    stated = gate.choice(row["follows"], FOLLOWS, words=LOADS["follows"])
    follows: Follows = stated or "clock"
    count = gate.number_or(row["count"], 1.0, low=1.0, high=1000.0, whole=True)
    efficiency = gate.number(row["efficiency"], low=0.02, high=1.0)
    power_factor = gate.number(row["power_factor"], low=0.02, high=1.0)
    eer = gate.number(row["eer"], above=3.0, high=45.0)
    cell, watts_within = ranged(row["watts"], gate)
    typed = cooler_watts(cell, gate, name or "", stated, eer)
    cooled = typed is not None and typed.value != cell.value
    watts, apparent, power_factor = (
        _watts(typed, gate, name or "", house, efficiency, power_factor)
        if typed is not None
        else (None, False, power_factor)
    )
    if cooled and eer is None and watts_within is None and not re.search("eer", str(cell.value), re.IGNORECASE):
        watts_within = TYPICAL_EER_WITHIN_PERCENT
    hours_cell, hours_within = ranged(row["run_hours"], gate, "4-6 h/day")
    arrives, leaves = _day_or_month(row["from"], gate), _day_or_month(row["until"], gate, gone=True)
    if arrives is not None and leaves is not None and leaves <= arrives:
        gate.wrong(row["until"], "the load is gone before it comes", "Check from and until.")
    load = Load(
        name=name or "",
        count=int(count),
        watts=watts,
        kwh_per_year=gate.number(row["kwh_per_year"], unit="kWh", low=0.0, high=500_000.0),
        kwh_per_cycle=gate.number(row["kwh_per_cycle"], unit="kWh", low=0.0, high=1000.0),
        cycles_per_week=gate.number(row["cycles_per_week"], low=0.0, high=1000.0),
        run_hours=_run_hours(hours_a_day(hours_cell), gate),
        share_on=_share(row["share_on"], gate),
        standby_watts=gate.number_or(row["standby_watts"], 0.0, unit="W", low=0.0, high=20_000.0),
        follows=follows,
        hours_per_degree_day=_hours_per_degree_day(row, gate, follows, house),
        balance_c=_balance(row, gate, follows, house),
        months=gate.months(row["months"], house.timezone.startswith(SOUTHERN)),
        arrives=arrives,
        leaves=leaves,
        watts_within_percent=_within(row["watts_within_percent"], gate, watts_within),
        hours_within_percent=_within(row["hours_within_percent"], gate, hours_within),
        power_factor=power_factor,
        efficiency=efficiency,
        source=gate.choice(row["source"], SOURCES, default="nameplate", words=LOADS["source"]),
        note=gate.text(row["note"]) or "",
        apparent=apparent,
        row=row.number,
    )
    if name is None:
        return None
    blank = frozenset(column for column in COLUMNS if row.blank(column))
    load = fill(load, blank, gate, row["watts"], filled, house)
    _one_way(row, gate, load)
    _in_kilowatts(row, gate, load)
    load = _hours_of_always(load, row, gate)
    _carried(load, row, gate, house)
    return load


KILO_LOW, KILO_HIGH, FAR_BELOW = 0.3, 3.0, 0.05
"""A bare number so many times below what its kind draws at the least, and a thousandth of what it may draw, is kW."""


def _in_kilowatts(row: Row, gate: Gate, load: Load) -> None:
    """Ask about a bare number of watts that is a thousandth of what the handbook knows of the load's kind."""
    cell = row["watts"]
    bare = isinstance(cell.value, int | float) or (
        isinstance(cell.value, str) and not re.search("[^\\d., ]", cell.value)
    )
    if not bare or cell.blank or not load.watts or load.source == "measured":
        return
    kind = next(iter(find(load.name)), None)
    if kind is None or re.search("standby|clock|control|pilot|led", load.name, re.IGNORECASE):
        return
    if load.watts < FAR_BELOW * kind.watts_low and (
        KILO_LOW * kind.watts_low <= 1000.0 * load.watts <= KILO_HIGH * kind.watts_high
    ):
        gate.wrong(
            cell,
            f"{load.watts:g} W is far below any {kind.load} ({kind.watts_low:g} to {kind.watts_high:g} W)",
            f"Write {load.watts:g} kW if kilowatts were meant, or {load.watts:g} W if it draws so little.",
        )


def _hours_of_always(load: Load, row: Row, gate: Gate) -> Load:
    """Take hours typed beside ``always`` for those in which it draws, as of a compressor; two such parts are asked."""
    if load.follows != "always" or load.run_hours is None or row.blank("run_hours") or load.run_hours >= 24.0:
        return load
    hours = load.run_hours
    if not row.blank("share_on"):
        gate.wrong(
            row["run_hours"],
            f"its share tells {100.0 * load.share_on:.0f} % of 24 hours, and {hours:g} h a day say another thing",
            f"Leave the run hours empty, or the share: {hours:g} h a day are a share of {hours / 24.0:.2g}.",
        )
        return load
    gate.notice(f"{load.name}: always on, and drawing for {hours:g} of 24 hours, as typed.")
    return replace(load, share_on=hours / 24.0, run_hours=None)


def _share(cell: Cell, gate: Gate) -> float:
    """Read a share of 0 to 1, or one in per cent."""
    text = cell.value.strip() if isinstance(cell.value, str) else ""
    if text.endswith("%"):
        percent = gate.number_or(replace(cell, value=text[:-1].strip()), 100.0, low=0.0, high=100.0)
        return percent / 100.0
    return gate.number_or(cell, 1.0, low=0.0, high=1.0)


def _within(cell: Cell, gate: Gate, by_range: float | None) -> float | None:
    text = cell.value.strip().rstrip("%").strip() if isinstance(cell.value, str) else None
    stated = gate.number(cell if text is None else replace(cell, value=text), low=0.0, high=1000.0)
    return by_range if stated is None else stated


def _carried(load: Load, row: Row, gate: Gate, house: House) -> None:
    """Check that the service could carry what one line draws all day on the average."""
    if load.kwh_per_year is not None:
        one = load.kwh_per_year / 8.76
    elif load.kwh_per_cycle is not None:
        one = load.kwh_per_cycle * (load.cycles_per_week or 0.0) / 0.168 + load.standby_watts
    else:
        running = (load.run_hours or 0.0) / 24.0 if load.follows == "clock" else 1.0
        one = (load.watts or 0.0) * load.share_on * running + load.standby_watts * (1.0 - running)
    if load.count * one > most_watts(house):
        gate.wrong(
            row["count"] if load.count > 1 else row["load"],
            f"the service could not carry what this line draws, {load.count * one / 1000.0:,.0f} kW all day",
            "Check the count, the figure and its unit; a larger service is told by service_amps under [house].",
        )


def _watts(
    cell: Cell, gate: Gate, name: str, house: House, efficiency: float | None, power_factor: float | None
) -> tuple[float | None, bool, float | None]:
    """Return the electric watts of one, whether they came from amps x volts, and the power factor applied."""
    text = cell.value if isinstance(cell.value, str) else ""
    watts = gate.number(cell, unit="W", low=0.0, high=SHORT_TIME_FACTOR * most_watts(house))
    if watts is None:
        return None, False, power_factor
    apparent = quantities.from_amps(text)
    if apparent:
        if power_factor is None:
            power_factor = typical_power_factor(name) or 1.0
            gate.notice(
                f"{name}: its power is given as amps x volts; a power factor of {power_factor:g}, "
                "usual for its kind, was applied."
            )
        watts *= power_factor
    elif quantities.from_shaft(text) or efficiency is not None:
        shaft_watts = watts
        if efficiency is None:
            efficiency = motor_efficiency(shaft_watts)
            gate.notice(
                f"{name}: a motor of {text.strip()} at its shaft draws more from the wires; "
                f"an efficiency of {efficiency:g} was taken."
            )
        watts = shaft_watts / efficiency
    return watts, apparent, power_factor


def _one_way(row: Row, gate: Gate, load: Load) -> None:
    """Check that the energy is told in one way, and wholly."""
    ways = [name for name in ("watts", "kwh_per_year", "kwh_per_cycle") if not row.blank(name)]
    if len(ways) > 1:
        gate.wrong(row[ways[1]], f"{ways[0]} and {ways[1]} both say what it draws", "Keep one of the two.")
    elif ways == ["kwh_per_cycle"] and row.blank("cycles_per_week"):
        gate.wrong(row["cycles_per_week"], "nothing is written here", "Write how many cycles a week it runs.")
    elif ways == ["watts"] and load.follows == "clock" and row.blank("run_hours") and load.run_hours is None:
        gate.wrong(
            row["run_hours"],
            "nothing is written here, and the handbook does not know this load by its name",
            "Write the hours a day it runs, or follows = always.",
        )
    if ways and ways != ["watts"] and not row.blank("run_hours"):
        gate.wrong(row["run_hours"], f"{ways[0]} already says how much it runs", "Leave the run hours empty.")


def _day_or_month(cell: Cell, gate: Gate, *, gone: bool = False) -> date | None:
    """Read a day, or a month: it comes on its first day, and is gone on the day after its last."""
    if not isinstance(cell.value, str) or cell.blank or with_habits(cell, gate) is not None:
        return gate.day(cell)
    try:
        first, after = dates.month_span(cell.value)
    except dates.DateError:
        return gate.day(cell)
    return gate.day(replace(cell, value=after if gone else first))


def _run_hours(cell: Cell, gate: Gate) -> float | None:
    hours = gate.number(cell, unit="hour/day")
    if hours is None:
        return None
    if not 0.0 <= hours <= 24.0:
        gate.wrong(cell, "a day has 24 hours", "Write hours a day from 0 to 24, or as 3 h/week.")
        return None
    return hours


def _hours_per_degree_day(row: Row, gate: Gate, follows: Follows, house: House) -> float | None:
    cell = row["hours_per_degree_day"]
    hours = gate.number(cell, low=0.0, high=24.0)
    if hours is not None and follows not in ("heating", "cooling"):
        gate.wrong(cell, "only heating and cooling go with degree-days", "Write follows = heating or cooling.")
        return None
    return None if hours is None else hours * (1.8 if house.temperature_unit == "F" else 1.0)


def _balance(row: Row, gate: Gate, follows: Follows, house: House) -> float | None:
    cell = row["balance_temperature"]
    value = gate.number(cell)
    if value is None:
        return None
    if follows not in ("heating", "cooling"):
        gate.wrong(cell, "only heating and cooling have a balance temperature", "Write follows, or leave it empty.")
        return None
    celsius = units.celsius(value, house.temperature_unit)
    if not COLDEST_BALANCE_C <= celsius <= 40.0:
        gate.wrong(
            cell,
            f"no house begins to heat or cool at {value:g} degrees {house.temperature_unit}",
            "Check it, and temperature_unit under [house].",
        )
        return None
    return celsius
