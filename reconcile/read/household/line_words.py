"""A whole line typed as a load's name: ``lights: 20 bulbs at 9W``, ``50 % duty``, ``1 hr every other week``.

What is found goes into the columns that hold nothing yet, and is told; the name stays as written.
"""

from __future__ import annotations

import re
from typing import Any

from reconcile.loads.handbook import find
from reconcile.read.tables.cells import Table
from reconcile.read.values.power_words import COUNTS, with_decimals

LONGEST_LINE = 200
"""Letters of a name in which words are looked for (a guard)."""

_WORDS = "|".join(sorted(COUNTS, key=len, reverse=True))
_NUMBER = rf"(\d{{1,3}}|{_WORDS})"
_NOT_THINGS = (
    r"(?!(?:h|hrs|hours|mins?|minutes|times|days|nights|weeks|months|years|loads|cycles|watts|volts|amps|hp|tons|btus|"
    r"gallons|liters|inches|people|persons|kids|meals|miles|degrees)\b)"
)
_OF_PARTS = re.compile(
    rf"(?:[:,(]|\s[-\N{{EN DASH}}]\s)\s*{_NUMBER}\s+(?:of\s+)?(?:[a-z-]+\s+)?{_NOT_THINGS}[a-z-]{{2,}}s\b",
    re.IGNORECASE,
)
_IN_WORDS = re.compile(
    rf"\s*({_WORDS})\s+(?:of\s+)?(?:\d+\s*w(?:atts?)?\s+)?([a-z][a-z -]*?)s\b(?=\s*(?:$|[\d,:;(@]|at\b|of\b|each\b))",
    re.IGNORECASE,
)
_TOGETHER = re.compile(r"\b(?:total|together|altogether|combined|in all)\b", re.IGNORECASE)

_PARTS = {"half": 0.5, "third": 1.0 / 3.0, "quarter": 0.25, "fourth": 0.25, "two thirds": 2.0 / 3.0}
_PART = re.compile(
    r"(?:(?P<word>half|two thirds|(?:(?:a|one) )?(?:third|quarter|fourth))|(?P<over>\d)\s*/\s*(?P<under>[2-9]))"
    r"(?: of)?(?: the)? (?:time|day)\b",
    re.IGNORECASE,
)
_PERCENT = re.compile(
    r"(?P<before>[^\d]*?)(?<![\w.,/-])(?P<percent>\d{1,3}(?:\.\d+)?)\s*(?:%|percent)"
    r"(?P<behind>\s*(?:duty(?: ?cycle)?|of (?:the )?(?:time|day)|on\b|cycle)|\s*$|\s*[,;)]|"
    r"\s+(?=\d+(?:\.\d+)?\s*(?:h|min)))",
    re.IGNORECASE,
)
_NO_SHARE = re.compile(
    r"(?:\b(?:to|at|set|rh|within|about|by|up|efficien\w*|humidity)|[\N{PLUS-MINUS SIGN}~<>+-])\s*$", re.IGNORECASE
)
"""What makes a percentage a setting, an efficiency or a limit."""

_HOUR = r"(?:h|hrs?|hours?)"
_MINUTE = r"(?:m|mins?|minutes?)"
_LONG = re.compile(
    rf"(?<![\w.-])(?<!\d,)(?P<number>\d+(?:\.\d+)?)\s*(?:(?P<hours>{_HOUR})|(?P<minutes>{_MINUTE}))\b|"
    rf"\b(?P<half>half an|1/2 an?|a half) hour\b|\b(?P<quarter>(?:a )?quarter of an|a quarter|1/4) hour\b|"
    r"\b(?P<one>an|one) hour\b",
    re.IGNORECASE,
)
_WEEKS = {"week": 1.0, "wk": 1.0, "month": 365.25 / 12.0 / 7.0, "day": 1.0 / 7.0, "year": 365.25 / 7.0}
_APART = re.compile(
    rf"\b(?:once )?every (?P<number>other|second|third|{_NUMBER[1:-1]}) (?P<unit>week|wk|month|day|year)s?\b|"
    r"\b(?:(?:once )?(?:a|every|each) )(?P<fortnight>fortnight)\b",
    re.IGNORECASE,
)
_OFTEN = rf"\b(?:(?P<once>once)|(?P<twice>twice)|{_NUMBER}\s*(?:x|times))\s*(?:a|per|/|each|every)"
_A_YEAR = re.compile(rf"{_OFTEN}\s*year\b|\byearly\b", re.IGNORECASE)
_A_DAY = re.compile(rf"{_OFTEN}?\s*(?:day|daily)\b", re.IGNORECASE)
_AGAIN = re.compile(
    rf"{_MINUTE}\.?\s*(?:x|\N{{MULTIPLICATION SIGN}}|\*)\s*(\d{{1,2}})(?=\s*$|\s*[,;)]|\s*(?:a|per|/)\s*day|\s*daily)",
    re.IGNORECASE,
)
_DAILY = re.compile(r"\b(?:every|each|in the|per|a) (?:morning|evening|night|day)\b|\bdaily\b", re.IGNORECASE)
_OTHERWISE = re.compile(r"\b(?:week|wk|month|year|weekly|monthly|weekends?|weekdays?|mon|sat|sun)", re.IGNORECASE)

_AMPS = re.compile(r"(?<![\w.])(\d{1,3}(?:\.\d+)?)\s*(?:a|amps?)(?!\w)", re.IGNORECASE)
_VOLTS = re.compile(r"(?<![\w.])(\d{3})\s*(?:v|volts?)(?!\w)", re.IGNORECASE)
_WIRING = re.compile(r"\d\s*k?w\b|watt|\bhp\b|\bkva\b|breaker|circuit|fuse|outlet|panel", re.IGNORECASE)
_NOTHING = re.compile(
    r"\b(?:negligible|insignificant|next to nothing|almost nothing|trivial|too little to count)\b", re.IGNORECASE
)


def of_lines(table: Table) -> None:
    """Bring what a line typed as a name tells into the columns that are blank; the table is changed in place."""
    found: dict[str, dict[int, Any]] = {"count": {}, "watts": {}, "run_hours": {}, "share_on": {}}
    for row in table.rows:
        name = row.value("load")
        if not isinstance(name, str) or len(name) > LONGEST_LINE or not re.search(r"\s|,", name.strip()):
            continue
        for column, value in _told(name.strip()).items():
            if row.blank(column) and not (column != "count" and _labeled(row)):
                found[column][row.number] = value
    for column, values in found.items():
        if values:
            table.fill(column, values)
            table.read_as.append(_SAID[column].format(len(values)))


_SAID = {
    "count": "{} of the loads are counted by the words of their line",
    "watts": "watts by the words of their line: {} of the loads",
    "run_hours": "hours by how often a line says: {} of the loads",
    "share_on": "the part of the time that a load draws by its line: {} of the loads",
}


def _labeled(row: Any) -> bool:
    return any(not row.blank(column) for column in ("kwh_per_year", "kwh_per_cycle"))


def _told(name: str) -> dict[str, Any]:
    """Return what a line tells, by column.

    Examples
    --------
    >>> _told("lights: 20 bulbs at 9W, 5 hours"), _told("iron 1200 W 1 hr every other week")
    ({'count': 20}, {'run_hours': '0.5 h/week'})
    >>> _told("sump pump 800W 5%"), _told("EV charger 32A 240V"), _told("dehumidifier set to 50%")
    ({'share_on': 0.05}, {'watts': '32 A * 240 V'}, {})
    """
    if _NOTHING.search(name) and not re.search(r"\d", name):
        return {"watts": 0, "run_hours": 0}
    told: dict[str, Any] = {}
    if (count := _count(name)) is not None:
        told["count"] = count
    amps, volts = _AMPS.findall(name), _VOLTS.findall(name)
    if len(amps) == len(volts) == 1 and not _WIRING.search(name):
        told["watts"] = f"{amps[0]} A * {volts[0]} V"
    hours = _hours(name)
    if hours is not None:
        told["run_hours"] = hours
    if _AGAIN.search(name):
        told.setdefault("count", 1)  # so many times, not so many of them
    kind = next(iter(find(name)), None)
    share, stated = _share(name), _LONG.search(name) is not None
    if share is not None and (stated or kind is None or kind.follows not in ("heating", "cooling")):
        told["share_on"] = share
        if not stated and (kind is None or kind.follows == "clock"):
            told.setdefault("run_hours", 24)
    return told


def _number(word: str) -> int:
    return int(word) if word.isdigit() else COUNTS[word.casefold()]


def _count(name: str) -> int | None:
    if _TOGETHER.search(name) or not re.search(r"\d", name):
        return None  # watts of a column of their own may be of all
    of_parts, in_words = _OF_PARTS.search(name), _IN_WORDS.match(name)
    word = of_parts[1] if of_parts is not None else in_words[1] if in_words is not None else None
    number = 0 if word is None else _number(word)
    return number if 1 < number <= 200 else None


def _share(name: str) -> float | None:
    """Return the part of the time in which a load draws, where a line says it."""
    part = _PART.search(name)
    if part is not None:
        if part["word"] is not None:
            return _PARTS[re.sub(r"^(?:a|one) ", "", part["word"].casefold())]
        return min(int(part["over"]) / int(part["under"]), 1.0)
    percent = _PERCENT.search(name)
    if percent is None or _NO_SHARE.search(name[: percent.start("percent")]):
        return None
    if not percent["behind"].strip(" ,;)") and "humidifier" in name.casefold():
        return None  # of the air's moisture, perhaps
    share = float(percent["percent"]) / 100.0
    return share if 0.0 < share <= 1.0 else None


def _hours(name: str) -> str | float | None:
    """Return hours a day or a week, where a line tells how long once and how often."""
    name = with_decimals(name)
    spans = list(_LONG.finditer(name))
    if len(spans) != 1:
        return None
    span = spans[0]
    long = 0.5 if span["half"] else 0.25 if span["quarter"] else 1.0 if span["one"] else float(span["number"])
    long /= 60.0 if span["minutes"] else 1.0
    apart, a_year, a_day, again = (pattern.search(name) for pattern in (_APART, _A_YEAR, _A_DAY, _AGAIN))
    if apart is not None:
        if apart["fortnight"]:
            return f"{long / 2.0:g} h/week"
        word = apart["number"].casefold()
        many = {"other": 2, "second": 2, "third": 3}.get(word) or _number(word)
        return f"{long / (many * _WEEKS[apart['unit'].casefold()]):.6g} h/week"
    if a_year is not None:
        return f"{long * _times(a_year) / _WEEKS['year']:.6g} h/week"
    if again is not None:
        return _whole_day(long * int(again[1]))
    if a_day is not None:
        return _whole_day(long * _times(a_day))
    in_words = span["number"] is None
    if (in_words or span["minutes"]) and not _OTHERWISE.search(name) and (in_words or _DAILY.search(name)):
        return _whole_day(long)
    return None


def _times(often: re.Match[str]) -> int:
    groups = often.groupdict()
    if groups["twice"]:
        return 2
    number = next((group for group in often.groups()[2:] if group), None)
    return 1 if groups["once"] or number is None else _number(number)


def _whole_day(hours: float) -> float | None:
    return round(hours, 6) if hours <= 24.0 else None
