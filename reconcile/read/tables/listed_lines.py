"""Loads and a diary as plain lines of text without a header: ``- Fridge 150 W``, ``2024-02-10 vacation``."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from reconcile.loads.handbook import find
from reconcile.read.tables.bare_lines import DAY_AND_DIAL, with_years
from reconcile.read.tables.cells import Grid, Table
from reconcile.read.tables.columns import Columns
from reconcile.read.tables.pasted_text import MONTH_YEAR, SPAN, lines_of
from reconcile.read.values.bare_days import DATE
from reconcile.read.values.dates import is_like_a_day, period_ends
from reconcile.read.values.month_names import month_number

MOSTLY = 0.5
"""Share of the lines that must be what they seem (our choice); the others are told as faults or left as headings."""

_BULLET = re.compile(r"^(?:[-*\N{BULLET}\N{EN DASH}+]+|\[[ xX]?\]|\d{1,2}[.)])\s+")
_ANY_SPAN = re.compile(rf"(?<![\w/.-]){SPAN.pattern}", re.IGNORECASE)
_ANY_DAY = re.compile(rf"(?<![\w/.-]){DATE}(?![\d/-])", re.IGNORECASE)
_IN_A_MONTH = re.compile(
    r"(?<![\w/.-])(?P<month>[A-Za-z]{3,9})\.? (?P<first>\d{1,2}) ?[-\N{EN DASH}] ?(?P<last>\d{1,2}),? "
    r"(?P<year>\d{4})(?![\d/-])"
)
_DAYS_OF_A_MONTH = (
    r"(?i)(?<![\w/.-])(?:du |from |vom |dal |del )?(?P<first>\d{1,2})(?:st|nd|rd|th|er|\.)? ?"
    r"(?:[-\N{EN DASH}]|to|until|bis|au|al|tot) ?(?P<last>\d{1,2})(?:st|nd|rd|th|\.)? ?(?:de |di )?"
    r"(?P<month>[^\W\d_]{3,10}\.?|\d{1,2}\.) ?(?:de |di )?(?P<year>\d{4})(?![\d/-])"
)
_YEAR_MONTH = re.compile(
    r"(?<![\w/.-])(?:(?P<y>(?:19|20)\d\d)-(?P<m>0[1-9]|1[0-2])|(?P<m2>0?[1-9]|1[0-2])/(?P<y2>(?:19|20)\d\d))(?![\d/.-])"
)
_FEAST = re.compile(
    r"\b(?:christmas|xmas|weihnachten|no\u00ebl|navidad|natale)(?: day)?,? (?P<year>20\d\d)\b", re.IGNORECASE
)
_UNTIL = (
    rf"(?i)\b(?:until|till|through|to|up to|closed|ended|finished|(?:came |were )?back(?: home)?)\s+(?:on )?"
    rf"(?P<day>{DATE})(?![\d/-])"
)
_PART = r"(?i)\b(?:(?P<mid>mid(?:dle of)?)|late|end of)[ -]$"
"""The middle of a month is its 15th, late in it the 25th."""
_EDGES = " ,:;-\N{EN DASH}"
_JOINING = re.compile(
    r"\b(?:since|from|on|(?<!moved )(?<!move )in|as of|at|around|about|starting|beginning|am|le|el|seit|depuis)\s*$",
    re.IGNORECASE,
)
_SIZE = re.compile(r"\d\s*(?:k?w|watts?|hp|tons?|amps?|a)\b", re.IGNORECASE)
_DRAWS = re.compile(r"[^\W\d_]{2,}.*\d\s*(?:k?wh?|watts?|hp|tons?|amps?)\b", re.IGNORECASE)
_BARE = re.compile(r"\s*\d[\d.]*\s*")


def listed(grid: Grid, spec: Columns) -> Grid | None:
    """Return a list in lines as a table; None where it is none of loads or days."""
    own = with_years(lines_of(grid)) if spec.table == "events" else lines_of(grid)
    lines = [(number, _without_bullet(line)) for number, line in own if line]
    kinds = {"loads": _loads, "events": _days, "readings": _dials}
    made = kinds[spec.table](lines) if spec.table in kinds else None
    return None if made is None else Grid(grid.file, grid.sheet, made)


def _without_bullet(line: str) -> str:
    """Take the sign or the number of a list off a line; ``3. May`` is a day.

    >>> _without_bullet("2. fridge"), _without_bullet("3. Mai 2024 Besuch")
    ('fridge', '3. Mai 2024 Besuch')
    """
    bare = _BULLET.sub("", line).strip()
    first = re.match(r"[^\W\d_]+", bare)
    of_a_month = line[:1].isdigit() and first is not None and month_number(first[0]) is not None
    return line.strip() if of_a_month else bare


def _loads(lines: Sequence[tuple[int, str]]) -> list[tuple[int, Sequence[Any]]] | None:
    own = [(number, part) for number, line in lines if not line.endswith(":") for part in _each_load(line)]
    if len({number for number, _ in own}) < len(own):  # each load is a row of its own then
        own = [(number, part) for number, (_, part) in enumerate(own, start=1)]
    known = sum(bool(find(line) or _SIZE.search(line)) for _, line in own)
    cut = [re.split(r"[,;]", line) for _, line in own if line.count(",") > 1 or ";" in line]
    bare = [cells for cells in cut if any(_BARE.fullmatch(cell) for cell in cells)]
    headless = bool(own) and re.search(r"\d", own[0][1]) is not None
    if known < max(1, MOSTLY * len(own)) or 2 * len(bare if headless else cut) > len(own):
        return None
    return [(own[0][0], ["load"]), *((number, [line]) for number, line in own)]


def _dials(lines: Sequence[tuple[int, str]]) -> list[tuple[int, Sequence[Any]]] | None:
    """Return lines of a day and what the register showed on it, with words between, as a table."""
    told = [(number, match) for number, line in lines if (match := re.fullmatch(DAY_AND_DIAL, line)) is not None]
    if len(told) < 2 or len(told) <= MOSTLY * len(lines):
        return None
    return [(told[0][0], ["date", "value"]), *((number, [match["day"], match["value"]]) for number, match in told)]


def _each_load(line: str) -> list[str]:
    """Part a line in which several loads stand, each with its name and what it draws.

    >>> _each_load("fridge 500 kWh/yr, modem 10 W 24/7"), _each_load("pool pump, 1.1 kW, 8 h/day")
    (['fridge 500 kWh/yr', 'modem 10 W 24/7'], ['pool pump, 1.1 kW, 8 h/day'])
    """
    for sign in (r";\s+", r"[,;]\s+"):
        parts = [part.strip() for part in re.split(sign, line)]
        if len(parts) > 1 and all(re.match(r"[^\W\d_]{2,}", part) and _DRAWS.search(part) for part in parts):
            return parts
    return [line]


def _days(lines: Sequence[tuple[int, str]]) -> list[tuple[int, Sequence[Any]]] | None:
    """Return each line as its first day, its last and its words; a line that tells no day keeps its words."""
    told = [(number, *_dated(line)) for number, line in lines]
    if sum(day is not None for _, day, _, _ in told) < max(1, MOSTLY * len(lines)):
        return None
    return [(told[0][0], ["date", "until", "kind"]), *((number, [*rest]) for number, *rest in told)]


def _dated(line: str) -> tuple[str | None, str | None, str]:
    """Part a line of a diary into its day or days, wherever they stand, its last day apart, and the rest.

    >>> _dated("new fridge July 2024"), _dated("Jul 10-24 2024 away")
    (('2024-07-01', None, 'new fridge'), ('Jul 10 2024', 'Jul 24 2024', 'away'))
    >>> _dated("kids home since 2024-12-20 until 2025-01-05"), _dated("the lights were dim")
    (('2024-12-20 until 2025-01-05', None, 'kids home'), (None, None, 'the lights were dim'))
    """
    if match := _ANY_SPAN.search(line):
        return match[0], None, _rest(line, match)
    if (match := _IN_A_MONTH.search(line)) and month_number(match["month"]):
        first, last = (f"{match['month']} {match[which]} {match['year']}" for which in ("first", "last"))
        return first, last, _rest(line, match)
    if match := re.search(_DAYS_OF_A_MONTH, line):
        number = month_number(match["month"].rstrip(".")) or int(re.sub(r"\D", "", match["month"]) or 0)
        if 1 <= number <= 12:
            first, last = (f"{match['year']}-{number:02d}-{int(match[which]):02d}" for which in ("first", "last"))
            return first, last, _rest(line, match)
    if match := _ANY_DAY.search(line):
        rest = _rest(line, match)
        until = re.search(_UNTIL, rest)
        return (match[0], None, rest) if until is None else (match[0], until["day"], _rest(rest, until))
    for match in MONTH_YEAR.finditer(line):
        sure = len(match[2]) == 4 or match[0][-3] != " "  # Dec 20 is rather a day
        if sure and (month := month_number(match[1])):
            year = int(match[2]) if len(match[2]) == 4 else 2000 + int(match[2])
            part = re.search(_PART, line[: match.start()])
            day = 1 if part is None else 15 if part["mid"] else 25
            return f"{year}-{month:02d}-{day:02d}", None, _rest(line, match)
    if match := _YEAR_MONTH.search(line):
        return f"{match['y'] or match['y2']}-{int(match['m'] or match['m2']):02d}-01", None, _rest(line, match)
    if match := re.search(_FEAST, line):
        return f"{match['year']}-12-25", None, line
    return None, None, line


def _rest(line: str, taken: re.Match[str]) -> str:
    before, after = _JOINING.sub("", line[: taken.start()]).strip(_EDGES), line[taken.end() :].strip(_EDGES)
    return f"{before} {after}".strip()


def days_of_months(table: Table) -> None:
    """Write the day that a month or a feast stands for in the column of a diary's days, ``Dec 2024``, and tell it."""
    for at, row in enumerate(table.rows):
        text = row.value("date")
        day = None if not isinstance(text, str) or is_like_a_day(text) else _dated(text.strip())[0]
        if day is not None and is_like_a_day(day):
            table.rows[at] = row.with_value("date", day)
            table.read_as.append(f"{text.strip()} is {day}")


def split_spans(table: Table) -> None:
    """Part ``Dec 15 2024 - Jan 6 2025`` in the column of the days of a diary into its first and its last day."""
    ends: dict[int, str] = {}
    for at, row in enumerate(table.rows):
        text = row.value("date")
        if not isinstance(text, str) or not row.blank("until") or not SPAN.fullmatch(text.strip()):
            continue
        parted = period_ends(text)
        if parted is None:
            continue
        first, second, lent = parted
        if lent and (turned := _year_before(first, second)) is not None:
            first = turned
        if not ends:
            table.read_as.append(f"{text.strip()} is from {first} until {second}")
        table.rows[at] = row.with_value("date", first)
        ends[row.number] = second
    if ends:
        table.fill("until", ends)


def _year_before(first: str, second: str) -> str | None:
    """Return a first day whose year was lent, a year earlier where its month comes after that of the last day."""
    months = [month_number(word) for text in (first, second) for word in re.findall(r"[A-Za-z]{3,}", text)]
    year = re.search(r"(\d{4}|\d\d)$", first)
    if year is None or len(months) != 2 or None in months or months[0] <= months[1]:  # type: ignore[operator]
        return None
    return f"{first[: year.start()]}{int(year[0]) - 1:0{len(year[0])}d}"
