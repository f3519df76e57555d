"""Columns of a list of loads that tell watts or hours another way: amps and volts, kWh a day, minutes, yes or no."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from reconcile.read.household.hour_words import A_YEAR_HAS, says_hours, times_a_year
from reconcile.read.tables.cells import Table, plain_name
from reconcile.read.tables.columns import LOADS
from reconcile.read.values import numbers

_KWH = re.compile(
    rf"(?:(monthly|daily|weekly)kwh|kwh(?:/|per|pro|par|por|al|je|im|a)?({'|'.join(A_YEAR_HAS.values())})(?:ly)?)"
)
_PERIODS = {"monthly": "month", "daily": "day", "weekly": "week"}
_TOTAL_WATTS = re.compile(r"(?:total|all)(?:watts?|wattage|w|power)|(?:watts?|wattage|power)(?:total|altogether)")
_MINUTES = re.compile(
    r"(?:run|runs|usage|use|used|time|on|daily)*(?:min|mins|minutes)(?:used)?(?:(?:/|per|a)?(day|week))?"
)
_HOURS_A_WEEK = re.compile(
    r"(?:run|runs|usage|use|used|time|on)*(?:h|hrs|hours)(?:/|per|a)?(week|wk|month|mo|year|yr)|weeklyhours"
)
_DAYS_IN_USE = re.compile(r"days?(?:used)?(?:/|per|a|each)?(week|wk|month|mo)")
_A_YEAR = re.compile(
    r"(?:no\.?of|numberof|#of|#|howmany)?(day|night|week|wk|month|mo)s?(?:used|inuse|ofuse|run|on)?(?:/|per|a|each|ina|outof)?"
    r"(?:year|yr|annum)|(?:numberof|no\.?of|#of|#|howmany)(day|week|month)s|(month|week)s(?:used|inuse|ofuse)"
)
_IN_A_YEAR = {"d": 365.25, "n": 365.25, "w": 365.25 / 7.0, "m": 12.0}
_PER_CENT = re.compile(r"%|per ?cent|\bpct\b", re.IGNORECASE)
_EACH_USE = re.compile(r"(?:min|mins|minutes|h|hrs|hours)(?:each|(?:/|per|a|each)(?:use|time|run|load|cycle))")
_PART_OF_WEEK = {"weekdays?": 5.0, "weekends?": 2.0}
"""Days of a week."""
_USES = re.compile(r"(?:uses?|times|runs?|loads?|cycles?)(?:used)?(?:/|per|a|each)(week|wk|day|month)|(week)lyuses?")
_TAIL = re.compile(r"(?:kwh|w|watts?|min|mins|minutes|h|hrs?|hours)?", re.IGNORECASE)
_HAVE = re.compile(r"(?:do(?:we|you)|we|i)?(?:haveit|have|ownit|own|gotit|got|present|inuse|haveone|there)\??")
_FUEL = re.compile(r"fuel|energysource|fueltype|gasorelectric|gas/electric")
_GAS = re.compile(r"(?:natural )?gas|propane|lpg?|oil|wood", re.IGNORECASE)
_YES, _NO = {"yes", "y", "x", "true", "1", "have"}, {"no", "n", "false", "0", "none", "don't have"}


def from_other_columns(table: Table) -> None:
    """Bring what such columns tell into those of the loads, each where nothing else tells it; what was done is told.

    Parameters
    ----------
    table : Table
        Changed in place.
    """
    when = _cells(table, table.header["follows"]) if table.has("follows") and not table.has("run_hours") else {}
    if _tells_hours(when) and any(LOADS["follows"].code(text) is None for text in when.values()):
        table.rename("follows", "run_hours")
    energy = any(table.has(name) for name in ("watts", "kwh_per_year", "kwh_per_cycle"))
    for index, name in list(_columns(table)):
        key = re.sub(r"[\s_()]+", "", name.casefold())
        if not energy and (found := _KWH.fullmatch(key)):
            factor = times_a_year(_PERIODS.get(found[1], found[2])) or 1.0
            told = f"kwh_per_year is {factor:g} times the column {name}"
            energy |= _take(table, index, "kwh_per_year", lambda v, f=factor: round(f * v, 6), told)  # type: ignore[misc]
        elif not energy and _TOTAL_WATTS.fullmatch(key):
            energy |= _take(
                table, index, "watts", lambda v: f"{v:g} W total", f"watts are the column {name} over the count"
            )
        elif not table.has("run_hours") and (found := _MINUTES.fullmatch(key)):
            unit = f" min/{found[1] or 'day'}"
            _take(table, index, "run_hours", lambda v, u=unit: f"{v:g}{u}", f"run_hours are the column {name}")  # type: ignore[misc]
        elif not table.has("run_hours") and (found := _HOURS_A_WEEK.fullmatch(key)):
            unit = {"m": " h/month", "y": " h/year"}.get((found[1] or "")[:1], " h/week")
            _take(table, index, "run_hours", lambda v, u=unit: f"{v:g}{u}", f"run_hours are the column {name}")  # type: ignore[misc]
        elif table.has("run_hours") and (found := _DAYS_IN_USE.fullmatch(key)):
            _on_some_days(table, index, name, "week" if found[1][0] == "w" else "month")
        elif table.has("run_hours") and (of_a_year := _A_YEAR.fullmatch(key)):
            _in_part_of_a_year(table, index, name, _IN_A_YEAR[next(filter(None, of_a_year.groups()))[0]])
        elif not table.has("run_hours") and _tells_hours(_cells(table, index)):
            table.take(index, "run_hours")
        elif not table.has("count") and _HAVE.fullmatch(key):
            _counted(table, index, name)
        elif _FUEL.fullmatch(key):
            _fuelled(table, index, name)
    if not table.has("run_hours"):
        keys = {re.sub(r"[\s_()]+", "", name.casefold()): index for index, name in _columns(table)}
        _uses_a_week(table, keys)
        _in_parts_of_week(table, keys)
    _per_cent(table)
    if not energy:
        _sizes_and_units(table)
        _amps_volts(table)


def _tells_hours(cells: Mapping[int, str]) -> bool:
    """Whether a column mostly tells how long something runs, in words of time: the rest of it is asked about."""
    return 2 * sum(says_hours(text) for text in cells.values()) > len(cells)


def _columns(table: Table) -> Iterator[tuple[int, str]]:
    """Yield the columns that were left, or that the list takes for nothing."""
    named = set(table.header.values())
    for index, name in enumerate(table.names):
        key = re.sub(r"[\s_()]+", "", name.casefold())
        if name and (index not in named or _KWH.fullmatch(key) or _A_YEAR.fullmatch(key)):
            yield index, name


def _cells(table: Table, index: int) -> dict[int, str]:
    cells = {row.number: row.values[index] if index < len(row.values) else None for row in table.rows}
    return {number: str(value).strip() for number, value in cells.items() if value is not None and str(value).strip()}


def _take(table: Table, index: int, column: str, made: Callable[[float], Any], told: str) -> bool:
    """Give a column from the plain numbers of another; False where one of its cells is none."""
    figures = _figures(table, index)
    if figures is None:
        return False
    _give(table, index, column, {number: made(value) for number, value in figures.items()}, told)
    return True


def _figures(table: Table, index: int) -> dict[int, float] | None:
    """Figures of a column by row, all under one decimal sign, the table's own first; None where one cell is none."""
    cells = _cells(table, index)
    signs: tuple[numbers.Decimal, ...] = (table.habits.decimal, "," if table.habits.decimal == "." else ".")
    for sign in signs:
        found = {number: numbers.written(text, sign) for number, text in cells.items()}
        told = {n: float(one.digits) for n, one in found.items() if one is not None and _TAIL.fullmatch(one.tail)}
        if len(told) == len(cells) and min(told.values(), default=0.0) >= 0.0:
            return told
    return None


def _per_cent(table: Table) -> None:
    """Read the share of the time in which loads draw in per cent, where its header says so."""
    index = table.header.get(plain_name("share_on"))
    figures = _figures(table, index) if index is not None and _PER_CENT.search(table.names[index]) else None
    if figures is not None:
        table.fill("share_on", {number: f"{value:g} %" for number, value in figures.items()})


def _uses_a_week(table: Table, columns: Mapping[str, int]) -> None:
    """Multiply minutes of each use by the uses of a week or a day."""
    each = next((columns[key] for key in columns if _EACH_USE.fullmatch(key)), None)
    for key, index in columns.items():
        found = _USES.fullmatch(key)
        if each is None or found is None:
            continue
        lasts, often = _figures(table, each), _figures(table, index)
        if lasts is not None and often is not None:
            unit = "min" if "min" in table.names[each].casefold() else "h"
            hours = {n: f"{lasts[n] * often[n]:g} {unit}/{found[1] or found[2]}" for n in lasts.keys() & often.keys()}
            table.now_read(table.names[index])
            told = f"run hours are the column {table.names[each]} by {table.names[index]}"
            _give(table, each, "run_hours", hours, told)
            return


def _in_parts_of_week(table: Table, columns: Mapping[str, int]) -> None:
    """Add hours of a working day and of a day of the weekend up over the week."""
    hours = r"(?:h|hrs|hours)?{}(?:h|hrs|hours)?"
    at = {days: next((columns[k] for k in columns if re.fullmatch(hours.format(part), k)), None)
          for part, days in _PART_OF_WEEK.items()}  # fmt: skip
    told = {days: None if index is None else _figures(table, index) for days, index in at.items()}
    first, other = told[5.0], told[2.0]
    if first is None or other is None or first.keys() != other.keys():
        return
    names = [table.names[index] for index in at.values() if index is not None]
    table.now_read(names[1])
    week = {n: f"{5.0 * first[n] + 2.0 * other[n]:g} h/week" for n in first}
    _give(table, at[5.0] or 0, "run_hours", week, f"run hours are of five days of {names[0]} and two of {names[1]}")


def _give(table: Table, index: int, column: str, values: Mapping[int, Any], told: str) -> None:
    name = table.names[index]
    for key in [key for key, at in table.header.items() if at == index]:
        del table.header[key]
    table.add_column(column, values)
    table.now_read(name)
    table.read_as = [line for line in table.read_as if not line.endswith(f"is the column {name}")]
    table.read_as.append(told)


def _on_some_days(table: Table, index: int, name: str, per: str) -> None:
    """Spread hours of a day in use over the week or month, where every row says on how many of its days that is."""
    days = _cells(table, index)
    hours = _figures(table, table.header["runhours"])
    if hours is None or not days.keys() <= hours.keys():
        return
    most = 7.0 if per == "week" else 31.0
    if not all(re.fullmatch(r"\d{1,2}(?:\.\d+)?", text) and float(text) <= most for text in days.values()):
        return
    table.fill("run_hours", {n: f"{hours[n] * float(days[n]):g} h/{per}" for n in days})
    table.now_read(name)
    table.read_as.append(f"the hours are of the days in the column {name}")


def _in_part_of_a_year(table: Table, index: int, name: str, whole: float) -> None:
    """Spread hours of a day in use over the year, where each row says on how many days, weeks or months of it."""
    hours, parts = _figures(table, table.header["runhours"]), _figures(table, index)
    if hours is None or not parts or not parts.keys() <= hours.keys() or max(parts.values()) > whole + 1.0:
        return  # months by their names, or 5-9, are read as such
    for key in [key for key, at in table.header.items() if at == index]:
        del table.header[key]
    table.fill("run_hours", {n: f"{hours[n] * min(part / whole, 1.0):.6g}" for n, part in parts.items()})
    table.now_read(name)
    table.read_as = [line for line in table.read_as if not line.endswith(f"is the column {name}")]
    table.read_as.append(f"the hours are spread over the year by the column {name}")


def _counted(table: Table, index: int, name: str) -> None:
    """Take a column of yes and no for a count of one and none."""
    cells = {number: text.casefold() for number, text in _cells(table, index).items()}
    if cells and all(text in _YES | _NO for text in cells.values()):
        counts = {number: 0 if text in _NO else 1 for number, text in cells.items()}
        _give(table, index, "count", counts, f"count is the column {name}")


def _fuelled(table: Table, index: int, name: str) -> None:
    """Put the fuel before the names of what does not run on electricity, by which the handbook knows it."""
    if table.has("load"):
        fuels = {number: text for number, text in _cells(table, index).items() if _GAS.fullmatch(text)}
        loads = _cells(table, table.header["load"])
        table.fill("load", {n: f"{fuel} {loads[n]}" for n, fuel in fuels.items() if n in loads})
    table.now_read(name)
    table.read_as.append(f"the column {name} is put before the names of what runs on another fuel")


def _sizes_and_units(table: Table) -> None:
    """Take a column of figures with one of units of power beside it for the watts."""
    free = {plain_name(name): index for index, name in _columns(table)}
    size = next((free[key] for key in ("value", "power", "rating", "size", "amount", "quantity") if key in free), None)
    unit = next((free[key] for key in ("unit", "units", "uom") if key in free), None)
    if table.has("watts") or size is None or unit is None:
        return
    figures, units = _cells(table, size), _cells(table, unit)
    if figures.keys() == units.keys() and all(
        re.fullmatch(r"k?w|k?watts?|hp", u, re.IGNORECASE) for u in units.values()
    ):
        told = f"watts are the columns {table.names[size]} and {table.names[unit]}"
        table.now_read(table.names[unit])
        _give(table, size, "watts", {n: f"{text} {units[n]}" for n, text in figures.items()}, told)


def _amps_volts(table: Table) -> None:
    """Take a column of amps beside one of volts for the watts; amps alone are asked about by the gate."""
    names = {plain_name(name): index for index, name in _columns(table)}
    amps = next((names[key] for key in ("amps", "amp", "a", "current", "amperes") if key in names), None)
    volts = next((names[key] for key in ("volts", "volt", "v", "voltage") if key in names), None)
    if amps is None:
        return
    one, other = _cells(table, amps), _cells(table, volts) if volts is not None else {}
    bare = {number: re.sub(r"\s*(?:a|amps?)$", "", text, flags=re.IGNORECASE) for number, text in one.items()}
    push = {number: re.sub(r"\s*(?:v|volts?)$", "", text, flags=re.IGNORECASE) for number, text in other.items()}
    values = {n: f"{text} A * {push[n]} V" if n in push else f"{text} A" for n, text in bare.items()}
    if volts is not None:
        table.now_read(table.names[volts])
    _give(table, amps, "watts", values, f"watts are the column {table.names[amps]} by volts")
