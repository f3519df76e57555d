"""When and how long a load runs, in the words of its line or its cell: the household's own go before the handbook's."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from reconcile.loads.handbook import TypicalLoad, find
from reconcile.read.tables.cells import Row, Table
from reconcile.read.values import numbers
from reconcile.read.values.power_words import PART_OF_WEEK, UNKNOWN, days_in, hours_of, with_decimals

LONGEST_NAME = 200
"""Letters of a name in which words are looked for (a guard)."""
TIMES_USUAL = 2.0
"""Times the mean draw of its kind up to which watts said to run all day are that mean, and not the nameplate of what a
thermostat switches (our choice)."""
NIGHT_HOURS = 12.0
"""Hours from dusk to dawn: half of all hours, over a year."""
WEEKS_A_MONTH = 365.25 / 12.0 / 7.0
A_YEAR_HAS = {
    365.0: r"days?|d|tag|jour|d\u00eda|dia|giorno|dag",
    365.0 / 7.0: r"week|wk|woche|semaine|semana|settimana",
    12.0: r"month|mo|monat|mois|mes|mese|maand|m\u00e5nad|m\u00eas",
    1.0: r"yr|year|annum|jahr|an|a\u00f1o|anno|jaar|\u00e5r|ano",
}
"""Words for a day, a week, a month and a year, by how many a year has."""

_ALL_HOURS = (
    r"24 ?/ ?7|24 ?h(?:ours?|rs?)? ?/ ?7 ?d?|24 ?h(?:ours?|rs?)\.?(?: ?(?:a|per|/|each|every) ?day)?"
    r"|always(?: on)?|constant(?:ly)?"
    r"|(?:on |running |runs )?all the time|all day(?: long)?(?:,? (?:and|&) (?:all )?night|,? every ?day)?"
    r"|(?:a)?round[- ]the[- ]clock|non-? ?stop|continuous(?:ly)?|day and night"
)
"""Words for all the hours of the day."""
_ALL_DAY = re.compile(rf"(?<![\w/.])(?:{_ALL_HOURS})(?![\w/])", re.IGNORECASE)
_NIGHT = re.compile(
    r"\b(?:(?:from )?(?:dusk|sun ?set|sun ?down)\s*(?:-|to|till?|until)\s*(?:dawn|sun ?rise|sun ?up)|"
    r"(?:all|every) night(?: long)?|over ?night|each night)\b",
    re.IGNORECASE,
)
_WEEK = r"(?:day|night|evening|morning|week|wk|month|mo)s?"
HOURS = re.compile(
    rf"(?<![\w./-])(?<!\d,)(\d{{1,2}}(?:\.\d+)?\s*(?:h|hrs?|hours?)(?:\s*(?:/|per|a|each|every)\s*{_WEEK}|\s*(?:daily|weekly|monthly))?)(?!\w)",
    re.IGNORECASE,
)
_OFTEN = re.compile(
    r"(?<![\w.])((?:\d{1,2}\s*(?:x|(?!h(?:ou)?rs?\b|hours?\b|min|k?wh?\b|watts?\b)[a-z]{3,10})?|once|twice)\s*"
    rf"(?:a|per|/|each|every)\s*(?:w(?:ee)?k|month)|every other (?:day|night)|{PART_OF_WEEK})\b",
    re.IGNORECASE,
)
"""How often in a week or a month a load runs, beside the hours of once."""
_CLOCK = r"\d{1,2}(?::\d\d)?\s*[ap]\.?m\b\.?"
_CLOCK_SPAN = rf"(?i)(?<![\w.:-]){_CLOCK}\s*(?:-|\N{{EN DASH}}|to|until|till)\s*{_CLOCK}"
_MINUTES = (
    r"(?i)(?<![\w.,-])(\d{1,3}\s*(?:min|mins|minutes)\s*"
    r"(?:(?:/|per|a|each)\s*(?:day|night|week|month)\b|daily|weekly|monthly))"
)
_PER_CYCLE = re.compile(
    r"(?<![\w.])(\d+(?:\.\d+)?)\s*kwh\s*(?:/|per|a|each|every)\s*(?:load|cycle|wash|use|run|charge|time|batch|go)\b",
    re.IGNORECASE,
)
_CYCLES = re.compile(
    r"(?:(?<![\w.])(?P<times>\d{1,2})\s*(?:x|times|loads?|cycles?|wash(?:es)?|uses?|runs?|charges?|batch(?:es)?)|"
    r"(?P<word>once|twice))\s*(?:a|per|each|every|/)\s*(?P<per>day|week|wk|month|mo)\b|"
    r"\bevery (?P<other>other|second) (?P<unit>day|week)\b|\b(?P<daily>daily|every day|weekly)\b",
    re.IGNORECASE,
)
_A_WEEK = {"d": 7.0, "w": 1.0, "m": 1.0 / WEEKS_A_MONTH}


def times_a_year(per: str) -> float | None:
    """Return how many of a day, a week, a month or a year, by its word, a year has.

    >>> times_a_year("Tag"), times_a_year("hour")
    (365.0, None)
    """
    return next((times for times, words in A_YEAR_HAS.items() if re.fullmatch(words, per, re.IGNORECASE)), None)


def says_hours(value: Any) -> bool:
    """Whether a text tells how long something runs, in words of time.

    >>> says_hours("10 hrs/night"), says_hours("24/7"), says_hours("5 h/day"), says_hours("5")
    (True, True, True, False)
    """
    text = " ".join(str(value).split())[:LONGEST_NAME]
    timed = re.search(r"[a-z]", text, re.IGNORECASE) is not None and (
        hours_of(text) is not None or HOURS.fullmatch(text)
    )
    return bool(timed or _ALL_DAY.fullmatch(text) or _NIGHT.fullmatch(text))


def plain_hours(row: Row) -> Row:
    """Bring the words in the hours of a load into a number, or into none where the handbook is to say them."""
    value = row.value("run_hours")
    if not isinstance(value, str) or len(value) > LONGEST_NAME:
        return row
    text = " ".join(value.split())
    if UNKNOWN.fullmatch(text):
        return row.with_value("run_hours", None)
    if (hours := hours_of(text)) is not None:
        return row.with_value("run_hours", hours)
    if _NIGHT.fullmatch(text):
        return row.with_value("run_hours", NIGHT_HOURS)
    if _ALL_DAY.fullmatch(re.sub(r"\s*\(.*\)$", "", text)):
        return row.with_value("run_hours", 24 if _is_said(row) else None)
    return row


def _is_said(row: Row) -> bool:
    """Whether words for all hours say more of a load than that a thermostat has it on."""
    kind = next(iter(find(str(row.value("load")))), None)
    return kind is None or kind.follows != "always" or _is_mean(row, kind)


def _is_mean(row: Row, kind: TypicalLoad) -> bool:
    """Whether the watts that a line gives may be the mean draw of its kind."""
    value = row.value("watts")
    if value is None or kind.share_on == 1.0:
        return False
    found = numbers.written(str(value))
    kilo = {"w": 1.0, "watts": 1.0, "watt": 1.0, "": 1.0, "kw": 1000.0}.get(found.tail.casefold()) if found else None
    return bool(found and kilo and float(found.digits) * kilo <= TIMES_USUAL * kind.watts * kind.share_on)


def hours_of_names(table: Table, add: Callable[[Table, str, dict[int, Any], str], None]) -> None:
    """Take the hours in a name, as ``TV 100w 5 h a day``, where none are written; ``add`` fills and tells."""
    found: dict[int, Any] = {}
    for row in table.rows:
        name = row.value("load")
        if not isinstance(name, str) or len(name) > LONGEST_NAME:
            continue
        if not (row.blank("run_hours") and row.blank("kwh_per_year") and row.blank("kwh_per_cycle")):
            continue
        hours = _hours_of_name(with_decimals(name), row)
        if hours is not None:
            found[row.number] = hours
    add(table, "run_hours", found, "hours from the name: {} of the loads")


def _hours_of_name(name: str, row: Row) -> Any:
    if not HOURS.search(name):
        name = re.sub(_CLOCK_SPAN, lambda span: f"{hours_of(span[0]) or 0:g} h", name)
    hours, often, minutes = HOURS.findall(name), _OFTEN.findall(name), re.findall(_MINUTES, name)
    if often:
        once = re.findall(r"\d+(?:\.\d+)?(?=\s*(?:h|hrs?|hours?)\b)", name, re.IGNORECASE)
        short = re.findall(r"\d+(?=\s*(?:min|mins|minutes)\b)", name, re.IGNORECASE)
        long = [float(hour) for hour in once] + [int(minute) / 60.0 for minute in short]
        if len(often) == len(long) == 1:
            return f"{_times_a_week(often[0]) * long[0]:g} h/week"
        return None
    kind = next(iter(find(name)), None)
    if _ALL_DAY.search(name) and all(hour.startswith("24") for hour in hours):
        by_kind = kind is not None and (
            kind.follows != "clock" and not (kind.follows == "always" and _is_mean(row, kind))
        )
        return None if by_kind else 24
    if len(hours) == 1:
        hours_a_day = hours_of(hours[0])
        return hours[0].casefold() if hours_a_day is None else hours_a_day  # 5H is no inductance
    if len(minutes) == 1 and not hours:
        return hours_of(minutes[0])
    if _NIGHT.search(name) and not hours and (kind is None or kind.follows == "clock"):
        return NIGHT_HOURS
    return None


def cycles_of_names(table: Table, add: Callable[[Table, str, dict[int, Any], str], None]) -> None:
    """Take ``0.5 kWh per load, 4 loads a week`` in a name for the kWh of a cycle and the cycles of a week."""
    each: dict[int, Any] = {}
    often: dict[int, Any] = {}
    for row in table.rows:
        name = row.value("load")
        if not isinstance(name, str) or len(name) > LONGEST_NAME:
            continue
        if not all(row.blank(column) for column in ("watts", "kwh_per_year", "kwh_per_cycle")):
            continue
        kwh = _PER_CYCLE.findall(name)
        times = list(_CYCLES.finditer(name))
        if len(kwh) == len(times) == 1:
            each[row.number], often[row.number] = kwh[0], f"{_cycles_a_week(times[0]):.6g}"
    add(table, "kwh_per_cycle", each, "kWh of each use and how often from the name: {} of the loads")
    add(table, "cycles_per_week", often, "")


def _cycles_a_week(found: re.Match[str]) -> float:
    if found["other"]:
        return _A_WEEK[found["unit"][0].casefold()] / 2.0
    if found["daily"]:
        return 1.0 if found["daily"].casefold() == "weekly" else 7.0
    times = float(found["times"] or {"once": 1, "twice": 2}[found["word"].casefold()])
    return times * _A_WEEK[found["per"][0].casefold()]


def _times_a_week(words: str) -> float:
    if re.fullmatch(PART_OF_WEEK, words, re.IGNORECASE):
        return days_in(words)
    number = re.match(r"\d+", words)
    times = float(number[0]) if number else {"o": 1.0, "t": 2.0}.get(words[:1].casefold(), 3.5)
    return times / WEEKS_A_MONTH if words.casefold().endswith("month") else times
