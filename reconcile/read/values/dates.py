"""Dates and months as people write them, read in one way or not at all."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from typing import Any, Literal

from reconcile.read.values.month_names import month_number
from reconcile.read.values.time_grammar import DAYS, MONTHS, YEARS, Found, find_date

FIRST_YEAR, LAST_YEAR = 1950, 2100
"""Years a date may carry (common practice: older than any bill kept, and a guard against typing slips)."""

LONGEST_DATE = 60

FIRST_SERIAL, LAST_SERIAL = 18264, 73415
"""Serial numbers of those years' days in a spreadsheet, which counts from 1899-12-30."""
TURN_OF_CENTURY = 70
"""Two digits of a year below this are of the 2000s (common practice)."""

Order = Literal["dmy", "mdy", "ymd"]
"""In which order day, month and year stand."""
ORDER_WORDS: dict[Order, str] = {
    "dmy": "the day before the month",
    "mdy": "the month before the day",
    "ymd": "the year first",
}
ORDER_FORMS: dict[str, str] = {"dmy": "DD/MM/YYYY", "mdy": "MM/DD/YYYY", "ymd": "YYYY/MM/DD"}

_ISO = re.compile(
    r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]\d{1,2}:\d\d(?::\d\d(?:\.\d+)?)?(?:Z|[+-]\d\d:?\d\d)?)?", re.ASCII
)
LONGEST_CLOCK = 48
"""Characters at the end of a date in which a time of day is looked for: a cell of blanks must not take for ever."""
_ISO_CLOCK = re.compile(r"(?<=\d)[T ]\d{1,2}:\d\d(?::\d\d(?:\.\d+)?)?(?=(?:Z|[+-]\d\d:?\d\d)?$)", re.ASCII)
_CLOCK = re.compile(r"\s+\d{1,2}:\d\d(?::\d\d(?:\.\d+)?)?\s*(?:[AaPp]\.?[Mm]\.?)?$", re.ASCII)
_MONTH_YEAR = re.compile(
    r"(?P<month>[a-z\u00c0-\u024f]{3,11})\.?(?:[ \-/.,']*(?:(?:de|del|di) )?(?P<year>\d{4}|\d{2}))?",
    re.ASCII | re.IGNORECASE,
)
_BETWEEN = (
    r" (?:-|\N{EN DASH}|\N{EM DASH}|->|\N{RIGHTWARDS ARROW}|to|"
    r"thru|through|until|till|bis|au|al|hasta|a|até|t/m|tot en met|tot|till och med) ",
    r" ?[\N{EN DASH}\N{EM DASH}] ?",
    r"(?<=\d{4}-\d\d-\d\d)/",
    r"-(?!.*-)",
)
_NO_YEAR = re.compile(
    r"\d{1,2}[/.]\d{1,2}\.?|\d{1,2}[ -]?[a-z\u00c0-\u024f]{3,11}\.?|[a-z\u00c0-\u024f]{3,11}\.? \d{1,2}",
    re.ASCII | re.IGNORECASE,
)
_QUARTER = re.compile(
    r"[qt]\s?([1-4])[ \-/.,']*(\d{4}|\d{2})|(\d{4})[ \-/.]?[qt]([1-4])|([1-4])[qt][ \-/']?(\d{4}|\d{2})|"
    r"([1-4])\.\s?quartal (\d{4})",
    re.IGNORECASE | re.ASCII,
)
_WEEK = re.compile(r"\d{4}[ \-]?W\d{1,2}|(?:week|wk|kw|w) ?\d{1,2}([ ,/-]+\d{4})?", re.IGNORECASE | re.ASCII)
_SEPARATOR = re.compile(r"[/.\- ]")
_DIGITS = re.compile(r"(\d{5}|\d{8})(\.0*)?", re.ASCII)
_TOKENS = {"YYYY": "%Y", "YY": "%y", "MMM": "%b", "MM": "%m", "M": "%m", "DD": "%d", "D": "%d"}


class DateError(ValueError):
    """A text that is no date, or could be two; ``problem`` and ``remedy`` are for a fault."""

    def __init__(self, problem: str, remedy: str = "Write the date as 2025-03-07.") -> None:
        super().__init__(problem)
        self.problem = problem
        self.remedy = remedy


class NoDateError(DateError):
    """A text that does not even look like a date."""

    def __init__(self) -> None:
        super().__init__("this is not a date")


class WeekError(DateError):
    """A week where a bill's months are wanted."""


def pattern(date_format: str) -> str:
    """Return a ``strptime`` pattern for ``DD/MM/YYYY`` or the like; a pattern with ``%`` passes as it is.

    Raises
    ------
    ValueError
        Where it does not name day, month and year once each.

    Examples
    --------
    >>> pattern("DD/MM/YYYY")
    '%d/%m/%Y'
    """
    made = (
        date_format
        if "%" in date_format
        else re.sub("YYYY|YY|MMM|MM|M|DD|D", lambda m: _TOKENS[m[0]], date_format.strip().upper())
    )
    if sorted(_kinds_of(made)) != ["d", "m", "y"]:
        raise ValueError("a date format names day, month and year once each")
    return made


def _kinds_of(made: str) -> list[str]:
    """Return what stands at each place of a ``strptime`` pattern: d, m or y, else a question mark."""
    codes = {"Y": "y", "y": "y", "m": "m", "b": "m", "B": "m", "d": "d"}
    return [codes.get(code, "?") for code in re.findall(r"%(.)", made)]


def order_of(date_format: str | None) -> Order | None:
    """Return the order of day, month and year in a date format, where it is one that dates have.

    >>> order_of("DD/MM/YYYY"), order_of("%m/%d/%y"), order_of("YYYY-DD-MM")
    ('dmy', 'mdy', None)
    """
    found = "" if date_format is None else "".join(_kinds_of(pattern(date_format)))
    return next((order for order in ORDER_WORDS if order == found), None)


_PARTS = {"Y": r"(?P<y>\d{4})", "y": r"(?P<y>\d{2})", "m": r"(?P<m>\d{1,2})", "d": r"(?P<d>\d{1,2})",
          "b": r"(?P<m>[A-Za-z]+)", "B": r"(?P<m>[A-Za-z]+)"}  # fmt: skip


def _by(made: str, text: str) -> date:
    """Read a date by a pattern; months in English whatever the process's locale, which strptime would follow."""
    form = "".join(_PARTS.get(c[1:], re.escape(c)) if c[0] == "%" else re.escape(c) for c in re.findall("%.|.", made))
    found = re.fullmatch(form, text, re.ASCII)
    if found is None:
        raise ValueError(text)
    year, month = int(found["y"]), found["m"].casefold()
    if len(found["y"]) == 2:
        year += 2000 if year < 69 else 1900  # as strptime takes them (POSIX)
    return date(year, month_number(month) or int(month), int(found["d"]))


def parse(value: Any, date_format: str | None = None, order: Order | None = None) -> tuple[date, str | None]:
    """Read a date; the second value is the order of day and month that was inferred, if any was.

    Parameters
    ----------
    value : object
        Text, a date, a number as 20250307, or the serial number of a day as spreadsheets keep it.
    date_format : str or None
        How all dates that are not ISO are written.
    order : {'dmy', 'mdy', 'ymd'} or None
        What the whole column says of dates written in figures alone.

    Raises
    ------
    DateError
        Where it is no date, no such day, or could be two days.

    Examples
    --------
    >>> parse("2025-03-07")
    (datetime.date(2025, 3, 7), None)
    >>> parse("25/03/2025")
    (datetime.date(2025, 3, 25), 'dmy')
    >>> parse("Sunday, March 9th, 2025")[0], parse("9-Mar-25")[0], parse(45725)[0]
    (datetime.date(2025, 3, 9), datetime.date(2025, 3, 9), datetime.date(2025, 3, 9))
    >>> parse(20250309)[0]
    datetime.date(2025, 3, 9)
    """
    if isinstance(value, datetime):
        return _within(value.date()), None
    if isinstance(value, date):
        return _within(value), None
    if isinstance(value, int | float) and not isinstance(value, bool):
        return _counted(value), None
    if not isinstance(value, str):
        raise NoDateError()
    iso = _ISO.fullmatch(value)
    text = "" if iso else re.sub(r"\s+", " ", value).strip()
    if len(text) > LONGEST_DATE:
        raise NoDateError()
    iso = iso or _ISO.fullmatch(text)
    if iso:
        return _made(int(iso[1]), int(iso[2]), int(iso[3])), None
    text = _CLOCK.sub("", text)
    if date_format is not None:
        try:
            return _within(_by(pattern(date_format), text)), None
        except DateError:
            raise
        except ValueError:
            raise DateError(f"this is not a date in the form {date_format}", "Write it so, or as 2025-03-07.") from None
    return _inferred(text, order)


def is_like_a_day(text: str) -> bool:
    """Whether a text looks like a date, if perhaps one that could be two days, or none of the calendar.

    >>> is_like_a_day("3/4/2025"), is_like_a_day("2025-02-31"), is_like_a_day("soon")
    (True, True, False)
    """
    try:
        parse(text)
    except DateError as error:
        return not isinstance(error, NoDateError)
    return True


def clock_of(value: Any) -> str:
    """Return the time of day that stands behind a date; empty where none does, and at midnight.

    Examples
    --------
    >>> clock_of("2025-03-07 13:00"), clock_of(datetime(2025, 3, 7, 13)), clock_of("2025-03-07 00:00")
    ('13:00', '13:00:00', '')
    >>> clock_of("2025-03-07T13:00:30Z"), clock_of("2025-03-07T00:00:00-05:00")
    ('13:00:30', '')
    """
    if isinstance(value, datetime):
        found = "" if value.time() == datetime.min.time() else value.time().isoformat()
    else:
        end = value[-LONGEST_CLOCK:] if isinstance(value, str) else ""
        behind = _CLOCK.search(end) or _ISO_CLOCK.search(end)
        found = behind[0].strip(" T\t") if behind else ""
    return "" if re.fullmatch(r"0?0:00(:00(\.0+)?)?", found) else found


def _counted(value: int | float) -> date:
    """The day of a number: 20250307 is written as a day, and what is far smaller counts days."""
    if FIRST_YEAR <= value // 10_000 <= LAST_YEAR and value == int(value):
        return _made(int(value) // 10_000, int(value) // 100 % 100, int(value) % 100)
    if not FIRST_SERIAL <= value <= LAST_SERIAL:
        raise NoDateError()
    return date(1899, 12, 30) + timedelta(days=int(value))


def _inferred(text: str, order: Order | None) -> tuple[date, str | None]:
    found = find_date(text.encode(), clock=False)
    if found is None:
        if _DIGITS.fullmatch(text):
            return _counted(float(text)), None
        raise NoDateError()
    if found.month or not found.text("a"):
        return _made(_year(found.text(*YEARS)), found.month or int(found.text(*MONTHS)), int(found.text(*DAYS))), None
    readings = {name: day for name in orders_of(text) if (day := _in_order(found, name)) is not None}
    if order is not None and order in orders_of(text):
        if order in readings:
            return readings[order], None
        raise DateError(
            f"other dates of this file have {ORDER_WORDS[order]}, and this would be no such day"
            if readings
            else "there is no such day",
            "Check it, or write the dates as 2025-03-07.",
        )
    if not readings:
        raise DateError("there is no such day", "Check day and month; write the date as 2025-03-07.")
    if len(set(readings.values())) > 1:
        raise DateError(
            "this can be read as two different days",
            'Write the date as 2025-03-07, or set date_format = "DD/MM/YYYY" (or "MM/DD/YYYY") under [bills].',
        )
    name, day = next(iter(readings.items()))
    return _within(day), name if len(readings) == 1 else None


def orders_of(text: Any) -> tuple[Order, ...]:
    """Return the orders in which a date of figures alone might be written; none where it is no such date.

    >>> orders_of("03/04/2025"), orders_of("3/4/25"), orders_of("2025-03-04")
    (('dmy', 'mdy'), ('dmy', 'mdy', 'ymd'), ())
    """
    if not isinstance(text, str) or text[:4].isdigit():  # a year
        return ()
    found = find_date(_CLOCK.sub("", text.strip()).encode(), clock=False)
    if found is None or not found.text("a"):
        return ()
    return ("dmy", "mdy") if len(found.text("y2")) == 4 else ("dmy", "mdy", "ymd")


def _in_order(found: Found, order: Order) -> date | None:
    written = dict(zip(order, (found.text("a"), found.text("b"), found.text("y2")), strict=True))
    try:
        made = date(_year(written["y"]), int(written["m"]), int(written["d"]))
    except ValueError:
        return None
    return made if FIRST_YEAR <= made.year <= LAST_YEAR else None


def _year(text: str) -> int:
    year = int(text)
    return year if len(text) > 2 else year + (2000 if year < TURN_OF_CENTURY else 1900)


def _made(year: int, month: int, day: int) -> date:
    try:
        made = date(year, month, day)
    except ValueError:
        raise DateError("there is no such day", "Check day and month; write the date as 2025-03-07.") from None
    return _within(made)


def _within(day: date) -> date:
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise DateError(f"the year {day.year} cannot be right", "Write the year with four digits.")
    return day


def month_span(value: Any, year: int | None = None) -> tuple[date, date]:
    """Read one month, or several in a row, as the first day and the first day after.

    Raises
    ------
    DateError
        Where it is no month, or its year is not known.

    Examples
    --------
    >>> month_span("March 2025")
    (datetime.date(2025, 3, 1), datetime.date(2025, 4, 1))
    >>> month_span("Mar-25") == month_span("2025-03") == month_span("03/2025") == month_span("marzo de 2025")
    True
    >>> month_span("Dec 2024 - Jan 2025")
    (datetime.date(2024, 12, 1), datetime.date(2025, 2, 1))
    """
    if isinstance(value, date):
        return _span(value.year, value.month)
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    text = re.sub(r"\s+", " ", str(value)[:LONGEST_DATE]).strip().replace("\N{RIGHT SINGLE QUOTATION MARK}", "'")
    quarter = _QUARTER.fullmatch(text)
    if quarter:
        which, of = next((quarter[a], quarter[b]) for a, b in ((1, 2), (4, 3), (5, 6), (7, 8)) if quarter[a])
        return _span(_year(of), 3 * int(which) - 2)[0], _span(_year(of), 3 * int(which))[1]
    if _WEEK.fullmatch(text):
        raise WeekError(
            "this is a week, and no bill is of a week",
            "Write the days of the bills; what the register showed each week goes into readings.csv.",
        )
    ends = re.split(r"\s+(?:-|\N{EN DASH}|to)\s+|(?<=[A-Za-z])(?:-|\N{EN DASH}|/)(?=[A-Za-z])", text)
    if len(ends) == 2:
        last_year, last = _month(ends[1], year)
        first_year, first = _month(ends[0], last_year)
        if (first_year, first) > (last_year, last) and not re.search(r"\d", ends[0]):
            first_year -= 1
        opened, closed = _span(first_year, first)[0], _span(last_year, last)[1]
        if opened < closed:
            return opened, closed
    elif len(ends) == 1:
        return _span(*_month(text, year))
    raise DateError("this is not a month", "Write it as March 2025 or 2025-03.")


def _month(text: str, year: int | None) -> tuple[int, int]:
    found = _MONTH_YEAR.fullmatch(text)
    named = month_number(found["month"]) if found else None
    if found and named:
        if found["year"]:
            return _year(found["year"]), named
        if year is not None:
            return year, named
        raise DateError("the year of this month is not written", "Write it as March 2025, or add a column year.")
    if year is not None and re.fullmatch(r"0?[1-9]|1[0-2]", text):
        return year, int(text)
    short = re.fullmatch(r"(\d{1,2})[-/.](\d{2})", text)
    if short:
        return _short_month(int(short[1]), int(short[2]))
    figures = re.fullmatch(r"(\d{4})[-/. ]?(\d{1,2})", text) or re.fullmatch(r"(\d{1,2})[-/. ](\d{4})", text)
    if figures:
        a, b = int(figures[1]), int(figures[2])
        found_year, month = (a, b) if len(figures[1]) == 4 else (b, a)
        if 1 <= month <= 12 and FIRST_YEAR <= found_year <= LAST_YEAR:
            return found_year, month
    iso = _ISO.fullmatch(text)
    if iso:
        day = _made(int(iso[1]), int(iso[2]), int(iso[3]))
        return day.year, day.month
    raise DateError("this is not a month", "Write it as March 2025 or 2025-03.")


def _short_month(first: int, second: int) -> tuple[int, int]:
    """Read ``01/24`` or ``24/01``, a month and two digits of its year."""
    readings = [(year, month) for month, year in ((first, second), (second, first)) if 1 <= month <= 12 and year < 100]
    if not readings:
        raise DateError("this is not a month", "Write it as March 2025 or 2025-03.")
    if len(set(readings)) > 1:
        raise DateError("this month can be read in two ways", "Write it as March 2025 or 2025-03.")
    return _year(f"{readings[0][0]:02d}"), readings[0][1]


def _span(year: int, month: int) -> tuple[date, date]:
    return _made(year, month, 1), _made(year + month // 12, month % 12 + 1, 1)


def is_span(text: str) -> bool:
    """Whether text is a quarter or a week, which a sign between its figures does not part."""
    plain = text.strip()
    return bool(_QUARTER.fullmatch(plain) or _WEEK.fullmatch(plain))


def period_ends(text: str) -> tuple[str, str, bool] | None:
    """Split a period written in one cell into the texts of its two days; the third value: the year was lent.

    >>> period_ends("12/9/2024 - 1/9/2025")
    ('12/9/2024', '1/9/2025', False)
    >>> period_ends("20241209-20250109"), period_ends("12/9/2024 1/9/2025")
    (('20241209', '20250109', False), ('12/9/2024', '1/9/2025', False))
    >>> period_ends("9 Dec to 9 Jan 2025")
    ('9 Dec 2025', '9 Jan 2025', True)
    """
    text = re.sub(r"\s+", " ", text[: 2 * LONGEST_DATE]).strip()
    text = re.sub(r"^(?:from|du|dal|del|de|von|vom|van) ", "", text, flags=re.IGNORECASE)
    for sign in _BETWEEN:
        parts = re.split(sign, text, flags=re.IGNORECASE)
        if len(parts) == 2 and all(re.search(r"\d", part) for part in parts):
            first, second = parts[0].strip(), parts[1].strip()
            year = re.search(r"(?<![\d])(\d{4})$", second) or re.search(r"(?<=[/.\- ])(\d{2})$", second)
            if year and _NO_YEAR.fullmatch(first):
                return f"{first}{_SEPARATOR.findall(first)[0]}{year[1]}", second, True
            return first, second, False
    apart = re.fullmatch(r"(\d{8})-(\d{8})", text) or re.fullmatch(r"(\S*\d[/.-]\d\S*) (\S*\d[/.-]\d\S*)", text)
    if apart is not None and all(is_like_a_day(end) for end in apart.groups()):
        return apart[1], apart[2], False
    return None
