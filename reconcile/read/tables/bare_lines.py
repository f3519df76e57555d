"""Lines that tell little: days without a year under a heading that has it, figures without a unit, readings alone."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from reconcile.read.tables.pasted_bill import Fact
from reconcile.read.values import numbers
from reconcile.read.values.bare_days import BARE_DATE, DATE, MONTH, YEAR
from reconcile.read.values.month_names import month_number

ONE_DATE = re.compile(rf"(?<![\w/.-]){DATE}", re.IGNORECASE)
_NO_YEAR = rf"(?!\w|[/ ,'-]{{1,2}}{YEAR}\b|\.\d)"
_BEGINS = rf"(?i)[\s*\N{{BULLET}}-]*(?P<day>{BARE_DATE}(?!\.|,\d| ?kwh)|{MONTH}){_NO_YEAR}"
"""A day or a month without its year at the beginning of a line."""
_ENDS = re.compile(
    rf"(?P<apart> ?(?:-|\N{{EN DASH}}|to|until|through) ?)(?P<last>{BARE_DATE}){_NO_YEAR}",
    re.IGNORECASE,
)
"""The second day of a period behind the first, without its year either."""
CHEAPEST_KWH, DEAREST_KWH = 0.02, 2.0
"""Prices of a kWh between which a figure beside money may be its kWh (our choice: wide of any in dollars)."""
MOST_MONTHS = 3
"""Months from the first to the last of a bill at the most (our choice: a quarter)."""
FEWEST_LINES = 3
"""Lines alike from which figures without a unit are taken for kWh (our choice)."""
_SET_APART = r"(?:[\s:,;|=-]|\N{EN DASH})+"
_DAY_FIGURE_MONEY = (
    rf"(?i)[\s*\N{{BULLET}}-]*(?:(?P<day>{DATE})|(?P<month>{MONTH}[ ,/-]{{0,2}}'?(?:(?:19|20)\d\d|\d\d))){_SET_APART}"
    rf"(?P<kwh>\d[\d,]*){_SET_APART}(?P<amount>[$\N{{EURO SIGN}}\N{{POUND SIGN}}] ?\d[\d,]*(?:\.\d\d?)?)\W*"
)
DAY_AND_DIAL = (
    rf"(?i)[\s*\N{{BULLET}}-]*(?P<day>{DATE}){_SET_APART}(?P<words>(?:[^\W\d_]+{_SET_APART}){{0,3}})"
    r"(?P<value>\d[\d,.]*)\s*(?P<unit>kwh)?\W*"
)
"""A day and what the register showed on it, with a few words between."""
_METER = re.compile(r"(?i)(?:^|[\s;,|:])(?:meter|z\u00e4hler)[\s:]*(?:$|[;,|])")
"""The meter in a cell of its own, and not by its number."""
_OF_READINGS = re.compile(r"(?i)readings?|register|z\u00e4hlerst|meterstand|lectura|relev\u00e9")


def with_years(lines: Sequence[tuple[int, str]]) -> list[tuple[int, str]]:
    """Write the year that stands alone above some lines behind the day or the month with which each begins.

    >>> with_years([(1, "2024"), (2, "- Dec 8   500 kWh"), (3, "Nov: 480 kWh")])
    [(1, ''), (2, '- Dec 8, 2024   500 kWh'), (3, 'Nov 2024: 480 kWh')]

    A period across New Year lies in two years: the month of the heading, or else the bill's last day, has the one told.

    >>> with_years([(1, "January 2025"), (2, "Dec 10 - Jan 9")])
    [(1, ''), (2, 'Dec 10, 2024 - Jan 9, 2025')]
    """
    begun = {number: begins for number, line in lines if (begins := _begins(line)) is not None}
    if len(begun) <= sum(ONE_DATE.search(line) is not None for _, line in lines):
        return [*lines]  # the days have years of their own
    made: list[tuple[int, str]] = []
    year: int | None = None
    month: int | None = None
    for number, line in lines:
        titled = re.fullmatch(r"(?:[^\W\d_]+[^\w:=]+){0,3}((?:19|20)\d\d)\W*", line)
        if titled is not None and number not in begun and not re.search(r"(?i)month|kwh.*[,;]|[,;].*kwh", line):
            named = (month_number(word) for word in re.findall(r"[^\W\d_]+", line))
            year, month, line = int(titled[1]), next(filter(None, named), None), ""
        elif year is not None and number in begun:
            line = _dated(line, begun[number], year, month)
        made.append((number, line))
    return made


def _dated(line: str, begins: re.Match[str], year: int, month: int | None) -> str:
    """Write a year into the day or the period with which a line begins, under a heading of that year and month."""
    ends = _ENDS.match(line, begins.end())
    if ends is None:
        return f"{line[: begins.end()]}{_with(begins['day'], year)}{line[begins.end() :]}"
    first, last = _months(begins["day"], ends["last"])
    turned = first > last
    last_year = year + 1 if turned and month == first else year
    start = f"{line[: begins.end()]}{_with(begins['day'], last_year - turned)}"
    return f"{start}{ends[0]}{_with(ends['last'], last_year)}{line[ends.end() :]}"


def _with(day: str, year: int) -> str:
    """Return what a day is followed by where it has this year."""
    return f"{'/' if '/' in day else ', ' if day[-1].isdigit() else ' '}{year}"


def _months(first: str, last: str) -> tuple[int, int]:
    """Return the months of two days; in figures those of the order in which a bill's period is not too long."""
    words = [re.search(r"[^\W\d_]{3,}", day) for day in (first, last)]
    named = [month_number(word[0]) or 0 for word in words if word is not None]
    if len(named) == 2:
        return named[0], named[1]
    if named:
        return named[0], named[0]
    told = [tuple(map(int, day.split("/"))) for day in (first, last)]
    pairs = [(told[0][at], told[1][at]) for at in (0, 1)]
    return min(pairs, key=lambda months: (months[1] - months[0]) % 12 > MOST_MONTHS)


def _begins(line: str) -> re.Match[str] | None:
    """Return the day or the month without a year at the beginning of a line."""
    found = re.match(_BEGINS, line)
    word = re.search(r"[^\W\d_]+", found["day"]) if found is not None else None
    return found if word is None or month_number(word[0]) else None


def dials(lines: Sequence[tuple[int, str]]) -> list[Fact]:
    """Return the facts of lines that are a day and a figure that rises, where they or a title call them readings."""
    titled = any(_OF_READINGS.search(line) for _, line in lines)
    found = [(n, line, told) for n, line in lines if (told := re.fullmatch(DAY_AND_DIAL, line))]
    headed = any(_METER.search(line) for _, line in lines)  # over figures with a unit too
    if not all(
        (headed or titled or _METER.search(told["words"])) and (headed or not told["unit"]) for *_, told in found
    ):
        return []
    figures = [numbers.figure(told["value"], ".") or 0.0 for *_, told in found]
    rising = all(a < b for a, b in pairwise(figures)) or all(a > b for a, b in pairwise(figures))
    if len(found) < FEWEST_LINES or not rising or sum(bool(re.search(r"\d", line)) for _, line in lines) > len(found):
        return []
    return [
        Fact(n, *pair, 0) for n, _, told in found for pair in (("end", told["day"]), ("reading_end", told["value"]))
    ]


def without_unit(lines: Sequence[tuple[int, str]]) -> list[Fact]:
    """Return the facts of lines that are a day, a figure and money; none where the money could be no price of kWh."""
    facts: list[Fact] = []
    for number, line in lines:
        told = re.fullmatch(_DAY_FIGURE_MONEY, line)
        if told is None or (told["month"] and not month_number(re.sub(r"\W.*", "", told["month"]))):
            continue
        kwh, cost = numbers.figure(told["kwh"], "."), numbers.figure(told["amount"], ".")
        if kwh is None or cost is None or not DEAREST_KWH * kwh >= cost >= CHEAPEST_KWH * kwh:
            return []
        day = ("month", told["month"]) if told["month"] else ("bill_date", told["day"])
        facts += [
            Fact(number, column, text, 0) for column, text in (day, ("kwh", told["kwh"]), ("amount", told["amount"]))
        ]
    return facts if len(facts) >= 3 * FEWEST_LINES else []
