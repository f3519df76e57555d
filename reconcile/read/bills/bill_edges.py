"""The first and the last day of each bill, from whatever the table tells of it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from itertools import pairwise
from statistics import median

from reconcile.read.tables.bounds import LONGEST_PERIOD_DAYS
from reconcile.read.tables.cells import Cell, Row, Table
from reconcile.read.tables.gate import Gate
from reconcile.read.values import dates
from reconcile.records import dataclass

READING_DAY_DOUBT = 3.0
"""Days by which a reading may lie off a day that was not written, 95 % (common practice: reading days move with
weekends and holidays)."""
A_GAP = 1.6
"""So many times the usual distance between two bills, and one is probably missing (common practice)."""
SHORTEST_USUAL_DAYS, SEVERAL = 14, 4
"""A table whose several rows lie closer than this is not one of bills (common practice)."""
LONGEST_USUAL_DAYS = 200
"""Nor one whose rows are usually longer (our choice: bills of half a year are the longest that are common)."""
MONTH_DAYS = 365.25 / 12.0


@dataclass(slots=True)
class Edges:
    """What one row tells of its period, and what was made of it."""

    row: Row
    start: date | None = None
    end: date | None = None
    days: int | None = None
    bill_date: date | None = None
    month: tuple[date, date] | None = None
    doubt_days: float = 0.0
    broken: bool = False
    """Whether a fault of this row is told already."""

    @property
    def known(self) -> bool:
        """Whether both days are there."""
        return self.start is not None and self.end is not None

    @property
    def cell(self) -> Cell:
        """The cell that tells when the bill was, for faults."""
        names = ("end", "start", "period", "month", "bill_date")
        return next((self.row[name] for name in names if not self.row.blank(name)), self.row["end"])


def read_edges(row: Row, gate: Gate) -> Edges:
    """Read what one row tells of its period."""
    before = gate.recorded
    edges = Edges(row, gate.day(row["start"]), gate.day(row["end"]), bill_date=gate.day(row["bill_date"]))
    days = gate.number(row["days"], unit="day", low=0.0, high=LONGEST_PERIOD_DAYS, whole=True)
    edges.days = None if days is None else int(days)
    if not row.blank("period"):
        _period(edges, gate)
    if not row.blank("month") and not edges.known:
        year = gate.number(row["year"], low=1950.0, high=2100.0, whole=True)
        try:
            lent = row.table.years.get(row.number) if year is None else int(year)
            edges.month = dates.month_span(row.value("month"), lent)
        except dates.DateError as error:
            gate.wrong(row["month"], error.problem, error.remedy)
    edges.broken = gate.recorded > before
    return edges


def _period(edges: Edges, gate: Gate) -> None:
    cell = edges.row["period"]
    try:
        found = period_days(cell, gate)
    except dates.DateError as error:
        gate.wrong(cell, error.problem, error.remedy)
        return
    if found is None:
        gate.wrong(cell, "this is neither a period nor a month", "Write it as 2025-03-07 - 2025-04-08.")
    elif found[2]:
        edges.month = found[:2]
    else:
        edges.start, edges.end = found[:2]


def period_days(cell: Cell, gate: Gate) -> tuple[date, date, bool] | None:
    """Read a period in one cell: two days, or the first day of its months and the day after them (then True).

    Raises
    ------
    DateError
        Where one of its days is none.
    """
    order = cell.habits.order if cell.habits is not None else None
    text = cell.value if isinstance(cell.value, str) else ""
    ends = dates.period_ends(text) if text and not dates.is_span(text) else None
    if ends is not None:
        try:
            first = dates.parse(ends[0], gate.date_format, order)[0]
            second = dates.parse(ends[1], gate.date_format, order)[0]
        except dates.DateError:
            if not any(letter.isalpha() for letter in ends[0]):
                raise
        else:
            if ends[2] and first >= second:
                first = first.replace(year=first.year - 1, day=min(first.day, 28) if first.month == 2 else first.day)
            return first, second, False
    try:
        return *dates.month_span(cell.value), True
    except dates.WeekError:
        raise
    except dates.DateError:
        return None


def inclusive_by_itself(edges: Sequence[Edges]) -> bool:
    """Whether each bill begins the day after the one before ends, so that its first and last day both count."""
    known = sorted(
        (e.start, e.end, e.days) for e in edges if e.start is not None and e.end is not None and not e.broken
    )
    if len({(start, end) for start, end, _ in known}) < len(known):
        return False
    joints = [(after[0] - before[1]).days for before, after in pairwise(known)]
    printed = [days == (end - start).days + 1 for start, end, days in known if days is not None]
    whole_months = all(start.day == 1 and (end + timedelta(days=1)).day == 1 for start, end, _ in known)
    nights = [days == (end - start).days for start, end, days in known if days is not None]
    if any(nights):
        return False
    if joints and all(joint == 1 for joint in joints):
        return len(joints) >= 2 or whole_months or bool(printed and all(printed))
    return bool(not joints and printed and all(printed))


def complete(edges: list[Edges], gate: Gate, table: Table, inclusive: bool) -> None:
    """Fill in the days that are not written; what cannot be told is a fault of its row."""
    extra = timedelta(days=int(inclusive))
    for e in edges:
        if e.days is not None and e.days > 0 and not e.broken:
            span = timedelta(days=e.days) - extra
            if e.end is not None and e.start is None:
                e.start = e.end - span
            elif e.start is not None and e.end is None:
                e.end = e.start + span
    whole = [e for e in edges if not e.broken]
    from_months(whole, gate, table, inclusive)
    from_bill_dates(whole, table)
    _chain(whole, gate, table, inclusive)
    for e in whole:
        if not e.known and not e.broken:
            _untold(e, gate)


def ask_wrong_years(edges: Sequence[Edges], gate: Gate) -> None:
    """Ask about a day whose year was probably mistyped: with another one its bill joins the one beside it."""
    spans = [(e.end - e.start).days for e in edges if e.start is not None and e.end is not None and not e.broken]
    usual = median([span for span in spans if span > 0] or [0])
    if len(spans) < SEVERAL or not SHORTEST_USUAL_DAYS <= usual <= 3 * MONTH_DAYS:
        return
    asked = []
    starts, ends = ({getattr(e, name) for e in edges} for name in ("start", "end"))
    for e in edges:
        if e.start is None or e.end is None or e.broken or 0 < (e.end - e.start).days <= 3 * usual:
            continue
        for name, day, joins in (("start", e.start, ends), ("end", e.end, starts)):
            other = e.end if name == "start" else e.start
            for years in sorted({-1, 1, (gap := other.year - day.year), gap - 1, gap + 1} - {0}, key=abs):
                meant = _months_on(day, 12 * years)
                length = (other - meant).days if name == "start" else (meant - other).days
                near = any(meant + timedelta(days=by) in joins for by in (-1, 0, 1))
                if not e.broken and near and usual / A_GAP <= length <= A_GAP * usual:
                    cell = e.row[name] if not e.row.blank(name) else e.cell
                    gate.wrong(
                        cell,
                        f"this makes a bill of {(e.end - e.start).days} days"
                        if e.end > e.start
                        else "this period ends before it begins",
                        f"Did you mean {meant}? Then the {name} fits the bill beside it. Correct the year, or if it is "
                        "right, the other day.",
                    )
                    e.broken = True
                    asked.append(e)
    for e in asked:
        e.end = None  # nothing more is asked about its length


def _untold(e: Edges, gate: Gate) -> None:
    if e.end is not None:
        gate.wrong(e.row["start"], "nothing says when this bill begins", "Write its start, or its days.")
    elif e.start is not None:
        gate.wrong(e.row["end"], "nothing says when this bill ends", "Write its end, or its days.")
    else:
        gate.wrong(e.row["end"], "nothing is written here", "Write the date of the reading; it is needed.")
    e.broken = True


def from_bill_dates(edges: list[Edges], table: Table) -> None:
    """Let the bills' own dates stand for the readings where no row of its kind says more."""
    bare = [e for e in edges if e.end is None and e.bill_date is not None]
    opened = sum(e.start is not None for e in edges) == 1  # the first, by a day of its own
    taken = [e for e in bare if e.start is None or (opened and len(bare) == len(edges))]
    for e in taken:
        e.end, e.doubt_days = e.bill_date, READING_DAY_DOUBT
        if e.start is None and e.days and e.end is not None:
            e.start = e.end - timedelta(days=e.days)
    if taken:
        table.read_as.append(f"the bills' own dates stand for the readings, give or take {READING_DAY_DOUBT:.0f} days")


def from_months(edges: list[Edges], gate: Gate, table: Table, inclusive: bool) -> None:
    """Let whole months stand for the periods where no day is written."""
    taken = sorted(
        (e for e in edges if e.month is not None and e.start is None and e.end is None and e.bill_date is None),
        key=lambda e: e.month or (date.min, date.min),
    )
    firsts = [e.month[0] for e in taken if e.month is not None]
    steps = [round((b - a).days / MONTH_DAYS) for a, b in pairwise(firsts)]
    widths = [round((e.month[1] - e.month[0]).days / MONTH_DAYS) for e in taken if e.month is not None]
    for before, after, step in zip(taken, taken[1:], steps, strict=False):
        if step == 0:
            gate.wrong(after.row["month"], f"this month also stands in row {before.row.number}", "Keep one of the two.")
            after.broken = True
    if len(steps) >= 2 and min(steps) > max(widths):
        e = taken[1]
        gate.wrong(
            e.cell,
            f"the bills stand {min(steps)} months apart, and it is not said whether each is of all these months",
            "Write the months of each bill, as Jan 2025 - Feb 2025, or its start and end.",
        )
        for one in taken:
            one.broken = True
    for e in taken:
        if e.month is not None and not e.broken:
            e.start, e.end = e.month[0], e.month[1] - timedelta(days=int(inclusive))
            e.doubt_days = READING_DAY_DOUBT
    if taken and all(step == 1 for step in steps) and all(e.days for e in taken):
        _lay_from_the_end(taken, inclusive)
    if taken:
        table.read_as.append(
            f"the months stand for the periods, their first days give or take {READING_DAY_DOUBT:.0f} days"
        )


def _lay_from_the_end(taken: list[Edges], inclusive: bool) -> None:
    """Lay bills of a month and a number of days end to end, so that each keeps its days."""
    assert taken[-1].end is not None
    closes = taken[-1].end + timedelta(days=int(inclusive))
    places = []
    for e in reversed(taken):
        opens = closes - timedelta(days=e.days or 0)
        places.append((e, opens, closes))
        closes = opens
    if all(e.month is not None and abs((opens - e.month[0]).days) <= MONTH_DAYS / 2 for e, opens, _ in places):
        for e, opens, closes in places:
            e.start, e.end = opens, closes - timedelta(days=int(inclusive))


def _chain(edges: list[Edges], gate: Gate, table: Table, inclusive: bool) -> None:
    """Take a bill's start from the end of the one before, or its end from the start of the next."""
    extra = timedelta(days=int(inclusive))
    for open_start in (True, False):
        lacking = [e for e in edges if (e.start is None) == open_start and not e.known and not e.broken]
        lacking = [e for e in lacking if (e.end if open_start else e.start) is not None]
        if not lacking:
            continue
        marks = (
            sorted({day + extra for e in edges if (day := e.end) is not None and not e.broken})
            if open_start
            else (sorted({day for e in edges if (day := e.start) is not None and not e.broken}))
        )
        lengths = [(b - a).days for a, b in pairwise(marks)]
        usual = median(lengths) if lengths else None
        if usual is not None and usual < SHORTEST_USUAL_DAYS and len(lengths) >= SEVERAL:
            gate.wrong(
                lacking[0].cell,
                f"these rows are {usual:g} days apart, which is no bill",
                "Put readings of every day or hour into interval.csv; a bill's row has start and end.",
            )
            for e in edges:
                e.broken = True
            return
        first: list[Edges] = []
        for e in lacking:
            _link(e, marks, usual, gate, first, extra, open_start)
        told = "begins where the one before ends" if open_start else "ends where the next one begins"
        if len(lacking) > len(first):
            table.read_as.append(f"each bill {told}")
        for e in first:
            if usual is None:
                continue
            months = max(round(usual / MONTH_DAYS), 1)
            if open_start and e.end is not None:
                e.start = _months_on(e.end + extra, -months)
            elif e.start is not None:
                e.end = _months_on(e.start, months) - extra
            e.doubt_days = READING_DAY_DOUBT
            which, length = ("oldest", "start") if open_start else ("newest", "end")
            table.read_as.append(
                f"the {which} bill's {length} is not written and was taken as "
                f"{(e.start if open_start else e.end)}, give or take {READING_DAY_DOUBT:.0f} days"
            )


def _link(
    e: Edges,
    marks: list[date],
    usual: float | None,
    gate: Gate,
    first: list[Edges],
    extra: timedelta,
    open_start: bool,
) -> None:
    own = (e.end + extra) if open_start and e.end is not None else e.start
    assert own is not None
    others = [mark for mark in marks if (mark < own if open_start else mark > own)]
    if not others:
        first.append(e)
        return
    other = others[-1] if open_start else others[0]
    length = abs((own - other).days)
    if usual is not None and len(marks) > 2 and length > A_GAP * usual:
        gate.wrong(
            e.cell,
            f"{'the bill before ends' if open_start else 'the next bill begins'} {length} days away, where others are "
            f"{usual:.0f} days apart: either a bill is missing, or this one is of {length} days",
            f"Add the missing bill, or write {'the start' if open_start else 'the end'} of this one "
            f"({other if open_start else other - extra} if it is of {length} days).",
        )
        e.broken = True
    elif open_start:
        e.start = other
    else:
        e.end = other - extra


def _months_on(day: date, months: int) -> date:
    """Return the same day some months on, the last of the month where it has none.

    >>> _months_on(date(2025, 3, 31), -1)
    datetime.date(2025, 2, 28)
    """
    count = day.year * 12 + day.month - 1 + months
    year, month = divmod(count, 12)
    last = (date(year + (month == 11), (month + 1) % 12 + 1, 1) - timedelta(days=1)).day
    return date(year, month + 1, min(day.day, last))


def sound(table: Table, parse: Callable[[Cell], date | None], pair: Callable[[Row], tuple[date, date] | None]) -> float:
    """Say how well the dates, as the habits of the table read them, make a series of bills: 1.0 where they do.

    Below that it is the part of the rows that are plain bills, of a usual length and beginning where another ends.
    """
    keys, periods, agree = [], [], True
    for row in table.rows:
        start, end, days = parse(row["start"]), parse(row["end"]), row.value("days")
        both = pair(row)
        if both is not None:
            start, end = both
        if start is not None and end is not None:
            periods.append((start, end))
            printed = float(str(days)) if str(days).replace(".", "", 1).isdigit() else None
            agree &= printed is None or abs((end - start).days - printed) <= 1.0
        key = end or start or parse(row["bill_date"])
        if key is not None:
            keys.append(key)
    steps = [(b - a).days for a, b in pairwise(keys)]
    spans = [(end - start).days for start, end in periods]
    lengths = spans or [abs(step) for step in steps]
    rising = all(step > 0 for step in steps) or all(step < 0 for step in steps)
    within = all(0 < span <= LONGEST_PERIOD_DAYS for span in spans)
    usual = median(lengths) if lengths else 0.0
    apart = [abs(step) for step in steps]
    # bills that begin days apart do not last a month each
    laid = not spans or len(apart) < 2 or median(apart) >= usual / A_GAP
    if agree and rising and within and laid and (not lengths or SHORTEST_USUAL_DAYS <= usual <= LONGEST_USUAL_DAYS):
        return 1.0
    if not agree or len(table.rows) < SEVERAL:
        return 0.0
    return _plain_part(periods, keys) * (1.0 - 1e-9)


def _plain_part(periods: Sequence[tuple[date, date]], keys: Sequence[date]) -> float:
    """Return the part of the rows that are bills of a month or some, beginning where another ends, none inside."""
    periods = periods or list(pairwise(sorted(set(keys))))
    starts, ends = sorted({start for start, _ in periods}), sorted({end for _, end in periods})
    near = [timedelta(days=by) for by in (-1, 0, 1)]

    def plain(start: date, end: date) -> bool:
        inside = bisect_left(starts, end - near[-1]) - bisect_right(starts, start + near[-1])
        follows = start == starts[0] or any(start + by in ends for by in near)
        goes_on = end == ends[-1] or any(end + by in starts for by in near)
        return SHORTEST_USUAL_DAYS <= (end - start).days <= 3 * MONTH_DAYS and inside <= 0 and follows and goes_on

    return sum(plain(*period) for period in periods) / max(len(periods), 1)


def with_habits(cell: Cell, gate: Gate) -> date | None:
    """Read a day without telling of faults."""
    if cell.blank:
        return None
    try:
        return dates.parse(cell.value, gate.date_format, cell.habits.order if cell.habits else None)[0]
    except dates.DateError:
        return None
