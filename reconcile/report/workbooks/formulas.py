"""Formulas of the workbook: how each expected kWh follows from the sheets loads and weather.

The sheet weather carries what a cell formula cannot: the days on which a load may run, the run hours that the
weather gives it (each day capped at 24 h), and the share of a yearly figure that falls into a period.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from reconcile.house import Load
    from reconcile.result import Reconciliation

Rows = list[tuple[str, list[float]]]

_TOP = 3
"""First row of the first block on the sheet weather, from 0."""


def cell(row: int, column: int, *, fixed: bool = False) -> str:
    """Name a cell, rows and columns from 0.

    Examples
    --------
    >>> cell(1, 27), cell(1, 2, fixed=True)
    ('AB2', '$C$2')
    """
    letters = ""
    number = column + 1
    while number:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return f"${letters}${row + 1}" if fixed else f"{letters}{row + 1}"


class InventoryColumns:
    """Columns of the sheet loads, from 0."""

    LOAD, COUNT, WATTS, HOURS, SHARE, STANDBY, KWH_A_YEAR, KWH_A_CYCLE, CYCLES, KWH_A_DAY = range(10)
    NAMES = (
        "load", "count", "watts", "hours a day", "share on", "standby watts", "kWh a year", "kWh a cycle",
        "cycles a week", "kWh a day, not on the list", "follows", "hours a kelvin-day", "balance °C", "months",
        "from", "until", "source", "note",
    )  # fmt: skip

    @classmethod
    def values(cls, load: Load) -> Iterator[tuple[int, Any]]:
        """Yield (column, value) of a load; a round-the-clock load runs 24 h."""
        always = load.follows == "always"
        months = ",".join(str(month) for month in sorted(load.months)) if load.months else None
        yield from enumerate(
            (
                load.name,
                load.count,
                load.watts,
                24.0 if always else load.run_hours,
                load.share_on,
                load.standby_watts,
                load.kwh_per_year,
                load.kwh_per_cycle,
                load.cycles_per_week,
                None,
                load.follows,
                load.hours_per_degree_day,
                load.balance_c,
                months,
                load.arrives,
                load.leaves,
                load.source,
                load.note,
            )
        )


def weather_blocks(result: Reconciliation) -> Iterator[tuple[str, int, Rows]]:
    """Yield the blocks of the sheet weather: title, first row, and a row of values a load."""
    loads = result.house.loads
    names = [load.name for load in loads]
    top = _TOP
    for title, probe in (
        ("days on which it may run", _days_probe),
        ("run hours the weather gives it, at most 24 a day", _hours_probe),
        ("share of its yearly kWh", _share_probe),
    ):
        yield title, top, list(zip(names, _probed(result, [probe(load) for load in loads]), strict=True))
        top += len(loads) + 2
    if result.degree_days is not None:
        heating, cooling = result.degree_days
        yield "degree-days, K d", top, [("heating", list(heating)), ("cooling", list(cooling))]


def expected_formula(result: Reconciliation, load: int, period: int) -> str:
    """Return the formula of one load's kWh in one period.

    Parameters
    ----------
    load : int
        Index of the load; the one after the last is what the list lacks.

    Returns
    -------
    str
        As the sheet expected holds it.
    """
    columns = InventoryColumns
    loads = result.house.loads

    def item(column: int) -> str:
        return "loads!" + cell(load + 1, column, fixed=True)

    def weather(block: int) -> str:
        return "weather!" + cell(_TOP + block * (len(loads) + 2) + load, period + 1)

    if load == len(loads):
        return f"={item(columns.KWH_A_DAY)}*bills!{cell(period + 1, 2)}"
    made = loads[load]
    days, hours, share = (weather(block) for block in range(3))
    if made.kwh_per_year is not None:
        return f"={item(columns.COUNT)}*{item(columns.KWH_A_YEAR)}*{share}"
    if follows_weather(result, made):
        return (
            f"={item(columns.COUNT)}*({item(columns.WATTS)}*{item(columns.SHARE)}*{hours}"
            f"+{item(columns.STANDBY)}*(24*{days}-{hours}))/1000"
        )
    if made.kwh_per_cycle is not None:
        return (
            f"={item(columns.COUNT)}*({item(columns.KWH_A_CYCLE)}*{item(columns.CYCLES)}/7"
            f"+{item(columns.STANDBY)}*24/1000)*{days}"
        )
    return (
        f"={item(columns.COUNT)}*({item(columns.WATTS)}*{item(columns.HOURS)}*{item(columns.SHARE)}"
        f"+{item(columns.STANDBY)}*(24-{item(columns.HOURS)}))/1000*{days}"
    )


def follows_weather(result: Reconciliation, load: Load) -> bool:
    """Tell whether the load's hours come from temperatures: it follows them, and there are some."""
    return load.follows in ("heating", "cooling") and _has_temperatures(result)


def _has_temperatures(result: Reconciliation) -> bool:
    import numpy as np

    weather, bills = result.house.weather, result.house.bills
    if weather is None or not bills:
        return False
    inside = weather.between(min(b.start for b in bills), max(b.closes for b in bills))
    return bool(np.isfinite(inside).any())


def _probed(result: Reconciliation, loads: Sequence[Load]) -> list[list[float]]:
    """Let the loads' own arithmetic answer for probe loads whose kWh are the number wanted."""
    from reconcile.loads.backup import stages
    from reconcile.loads.energy import load_energy

    if not loads:
        return []
    probed = replace(result.house, loads=tuple(loads))
    energy = load_energy(result.house.bills, probed, stages(result.house.loads))
    return [[float(value) for value in column] for column in energy.kwh.T]


def _days_probe(load: Load) -> Load:
    """Use 1 kWh on each day on which the load may run."""
    return replace(_bare(load), watts=1000.0 / 24.0, follows="always")


def _hours_probe(load: Load) -> Load:
    """Use 1 kWh for each run hour that the weather gives; nothing where the load does not follow it."""
    if load.follows not in ("heating", "cooling") or load.watts is None:
        return replace(_bare(load), watts=0.0, follows="always")
    return replace(_bare(load), watts=1000.0)


def _share_probe(load: Load) -> Load:
    """Use 1 kWh a year, spread as the load's own yearly figure is."""
    if load.kwh_per_year is None:
        return replace(_bare(load), watts=0.0, follows="always")
    return replace(_bare(load), kwh_per_year=1.0)


def _bare(load: Load) -> Load:
    return replace(load, count=1, watts=None, kwh_per_year=None, kwh_per_cycle=None, share_on=1.0, standby_watts=0.0)
