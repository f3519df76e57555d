"""Loads as people write them down: counts and sizes in the name, kWh a month, hours in words, unknown columns."""

from __future__ import annotations

import re
from typing import Any

from reconcile.loads.handbook import find
from reconcile.read.cells import Row, Table, plain_name
from reconcile.read.gate import Gate

_NUMBERS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
COUNTS = {word: n for n, word in enumerate(_NUMBERS, start=1)}
ALL_DAY = (
    *("24/7", "always", "alwayson", "allday", "allthetime", "roundtheclock", "continuous", "continuously", "24h/7d"),
    *("constant", "24hours", "24hrs", "non-stop", "nonstop"),
)
"""Words for all the hours of the day."""

_BEFORE = re.compile(r"(?:(\d{1,3})\s*(?:x|\N{MULTIPLICATION SIGN}|\*)\s+|(\d{1,2})\s+)(?=[^\W\d_])", re.IGNORECASE)
_BEHIND = re.compile(r"\s*[\[(]?\s*(?:x|\N{MULTIPLICATION SIGN})\s*(\d{1,3})\s*[\])]?\s*$", re.IGNORECASE)
_UNITS_FIRST = re.compile(
    r"\d+\s+(?:w|watts?|kw|ton|tons|btu|hp|inch|in|gal|gallons?|l|liters?|cu|ft|amps?|a|v|volts?|person|speed|door|star|way)\b",
    re.IGNORECASE,
)
_SIZE = re.compile(
    r"(?<![\w.])(\d+(?:[.,]\d+)?\s*(?:k?w|watts?|ton|tons|k?btu(?:s|u)?(?:\s*/\s*h(?:r)?)?|hp))(?!\w)", re.IGNORECASE
)
_A_YEAR = re.compile(r"(\d[\d.,\s]*)\s*kwh\s*(?:/|per|a)?\s*(?:yr|year|y|a|annum|jahr|an|a\u00f1o)\.?", re.IGNORECASE)
_MONTHLY = re.compile(r"kwh(?:/|per|a)?(?:month|mo|mth|monat|mois|mes)|monthlykwh|kwhmonthly")
_TELLS = re.compile(
    r"watt|puissance|leistung|potencia|potenza|power|\bk?w\b|\bhours?\b|\bhrs?\b|\bh\b|heures|stunden|horas|\bore\b",
    re.IGNORECASE,
)
_HARMLESS = re.compile(r"total|kwh|wh/|cost|price|standby|per month|/month", re.IGNORECASE)

LONGEST_NAME = 200
"""Letters of a name in which words are looked for (a guard)."""


def in_columns(table: Table, gate: Gate) -> bool:
    """Bring what stands in other places into the columns of the loads; False where a column has to be asked about.

    Parameters
    ----------
    table : Table
        Changed in place.
    gate : Gate
    """
    _by_month(table)
    for at, row in enumerate(table.rows):
        table.rows[at] = _hours(_yearly(_count(row)))
    _counts_of_names(table)
    _sizes_of_names(table)
    return _asked(table, gate)


def _filled(row: Row, column: str) -> bool:
    return not row[column].blank


def _put(row: Row, column: str, value: Any) -> Row:
    index = row.table.header[plain_name(column)]
    cells = [*row.values, *[None] * (index + 1 - len(row.values))]
    cells[index] = value
    return Row(row.table, row.number, tuple(cells))


def _count(row: Row) -> Row:
    value = row["count"].value
    words = COUNTS.get(value.strip().casefold()) if isinstance(value, str) else None
    return row if words is None else _put(row, "count", words)


def _yearly(row: Row) -> Row:
    value = row["kwh_per_year"].value
    found = _A_YEAR.fullmatch(value.strip()) if isinstance(value, str) else None
    return row if found is None else _put(row, "kwh_per_year", found[1].strip())


def _hours(row: Row) -> Row:
    value = row["run_hours"].value
    if isinstance(value, str) and re.sub(r"\s+", "", value.casefold()) in ALL_DAY:
        kind = next(iter(find(str(row["load"].value))), None)
        return _put(row, "run_hours", None if kind is not None and kind.follows == "always" else 24)
    return row


def _by_month(table: Table) -> None:
    """Take kWh a month for a twelfth of those a year, where nothing else tells the energy."""
    if any(table.has(name) for name in ("watts", "kwh_per_year", "kwh_per_cycle")):
        return
    for index, name in enumerate(table.names):
        if not _MONTHLY.fullmatch(re.sub(r"[\s_()]+", "", name.casefold())):
            continue
        years: dict[int, Any] = {}
        for row in table.rows:
            value = row.values[index] if index < len(row.values) else None
            text = str(value).strip() if value is not None else ""
            number = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(?:kwh)?", text, re.IGNORECASE)
            if text and number is None:
                return
            if number is not None:
                years[row.number] = round(12.0 * float(number[1]), 6)
        for key in [key for key, at in table.header.items() if at == index]:
            del table.header[key]
        table.add_column("kwh_per_year", years)
        table.left = [line for line in table.left if line != f"the column {name}"]
        table.read_as = [line for line in table.read_as if not line.endswith(f"is the column {name}")]
        table.read_as.append(f"kwh_per_year is twelve times the column {name}")
        return


def _counts_of_names(table: Table) -> None:
    """Take ``2 x fridge``, ``fridge x2`` and ``3 ceiling fans`` for a count, where none is written."""
    found: dict[int, int] = {}
    for row in table.rows:
        name = row["load"].value
        if not isinstance(name, str) or len(name) > LONGEST_NAME or _filled(row, "count"):
            continue
        if _UNITS_FIRST.match(name.strip()):
            continue
        match = _BEFORE.match(name.strip()) or _BEHIND.search(name)
        if match and match.re is _BEFORE and match[1] is None and not re.search(r"(?<!ga)s$", name.strip()):
            continue  # 4 burner stove: a bare number counts only what stands in the plural
        number = int(next(group for group in match.groups() if group)) if match else 0
        if 1 < number <= 200:
            found[row.number] = number
    _add(table, "count", found, "{} of the loads are counted by the number in their name")


def _sizes_of_names(table: Table) -> None:
    """Take the size in a name, as ``AC 3 ton``, for its watts, where nothing else tells what it draws."""
    found: dict[int, str] = {}
    for row in table.rows:
        name = row["load"].value
        told = any(_filled(row, column) for column in ("watts", "kwh_per_year", "kwh_per_cycle"))
        sizes = _SIZE.findall(name) if isinstance(name, str) and not told else []
        if len(sizes) == 1:
            found[row.number] = sizes[0]
    _add(table, "watts", found, "{} of the loads have their size from their name")


def _add(table: Table, column: str, found: dict[int, Any], told: str) -> None:
    if not found:
        return
    if not table.has(column):
        table.add_column(column, found)
    else:
        table.rows[:] = [_put(row, column, found[row.number]) if row.number in found else row for row in table.rows]
    table.read_as.append(told.format(len(found)))


def _asked(table: Table, gate: Gate) -> bool:
    """Ask about a column of watts or hours that is not understood: the handbook must not replace what it says."""
    wanted = {"watts": ("watts", "kwh_per_year", "kwh_per_cycle"), "run_hours": ("run_hours", "follows")}
    if not table.has("load"):
        return True
    for line in table.left:
        name = line.removeprefix("the column ")
        if name == line or not _TELLS.search(name) or _HARMLESS.search(name):
            continue
        hours = re.search(r"hour|hrs?\b|heures|stunden|horas|\bore\b|\bh\b", name, re.IGNORECASE)
        column = "run_hours" if hours else "watts"
        if any(table.has(one) for one in wanted[column]):
            continue
        gate.fault(
            f"the column {name} is not known; nothing else says {'how long they run' if hours else 'what they draw'}",
            f"If it holds {'hours a day' if hours else 'the watts of one'}, head it {column}; else begin its name with "
            "the word other.",
            file=table.file,
            sheet=table.sheet,
            row=table.header_row,
            column=name,
        )
        return False
    return True
