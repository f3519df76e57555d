"""A year of bills as people type, paste and export it: many habits, mixed, with what must be read of it."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta

Rows = list[list[str]]


@dataclass(frozen=True)
class Truth:
    """One bill as it really is."""

    start: date
    end: date
    kwh: float
    cents: int

    @property
    def days(self) -> int:
        return (self.end - self.start).days


def a_year(seed: int, count: int = 12, large: bool = False) -> tuple[Truth, ...]:
    """Bills end to end, their reading days moving as reading days do."""
    rng = random.Random(seed)
    start = date(2024, rng.randint(1, 6), rng.randint(2, 27))
    made = []
    for _ in range(count):
        end = start + timedelta(rng.choice((28, 29, 30, 30, 31, 31, 32, 33)))
        kwh = float(rng.randint(900, 2900) if large else rng.randint(120, 980))
        made.append(Truth(start, end, kwh, round(kwh * rng.uniform(12, 34)) + 1200))
        start = end
    return tuple(made)


DATES: dict[str, Callable[[date], str]] = {
    "iso": lambda d: d.isoformat(),
    "us": lambda d: f"{d.month}/{d.day}/{d.year}",
    "us padded": lambda d: d.strftime("%m/%d/%Y"),
    "us short": lambda d: f"{d.month}/{d.day}/{d:%y}",
    "uk": lambda d: d.strftime("%d/%m/%Y"),
    "de": lambda d: d.strftime("%d.%m.%Y"),
    "de short": lambda d: d.strftime("%d.%m.%y"),
    "dashes": lambda d: d.strftime("%d-%m-%Y"),
    "named": lambda d: f"{d.day} {d:%b %Y}",
    "named us": lambda d: f"{d:%B} {d.day}, {d.year}",
    "named dashes": lambda d: d.strftime("%d-%b-%y"),
    "slashes": lambda d: d.strftime("%Y/%m/%d"),
    "clock": lambda d: f"{d.month}/{d.day}/{d.year} 12:00:00 AM",
    "serial": lambda d: str((d - date(1899, 12, 30)).days),
    "compact": lambda d: d.strftime("%Y%m%d"),
    "weekday": lambda d: d.strftime("%A, %d %B %Y"),
}
NUMBERS: dict[str, Callable[[float], str]] = {
    "plain": lambda v: f"{v:g}",
    "unit": lambda v: f"{v:g} kWh",
    "us": lambda v: f"{v:,.0f}",
    "us unit": lambda v: f"{v:,.0f} kWh",
    "de": lambda v: f"{v:,.0f}".replace(",", "."),
    "de decimals": lambda v: f"{v:,.1f}".translate({44: ".", 46: ","}),
    "decimals": lambda v: f"{v:,.2f}",
    "space": lambda v: f"{v:,.0f}".replace(",", "\N{NARROW NO-BREAK SPACE}"),
}
MONEY: dict[str, Callable[[int], str]] = {
    "plain": lambda c: f"{c / 100:.2f}",
    "dollars": lambda c: f"${c / 100:,.2f}",
    "pounds": lambda c: f"£{c / 100:,.2f}",
    "euros": lambda c: f"{c / 100:,.2f} €".translate({44: ".", 46: ","}),
    "code": lambda c: f"EUR {c / 100:,.2f}".translate({44: ".", 46: ","}),
    "comma": lambda c: f"{c / 100:.2f}".replace(".", ","),
}
POINT_NUMBERS, POINT_MONEY = ("plain", "unit", "us", "us unit", "decimals"), ("plain", "dollars", "pounds")
COMMA_NUMBERS, COMMA_MONEY = ("plain", "unit", "de", "de decimals", "space"), ("euros", "code", "comma")
STARTS = ("start", "From", "Service from", "Period start", "Start date", "Previous read date", "BILLING_START")
ENDS = ("end", "To", "Service to", "Period end", "End date", "Read date", "Current Reading Date", "billing end")
ENERGY = (
    "kwh",
    "Usage",
    "Usage (kWh)",
    "Energy used",
    "Consumption (kWh)",
    "kWh used",
    "Total kWh",
    "USAGE KWH",
    "Units",
)
AMOUNT = ("amount", "Total", "Total due", "Cost", "Amount ($)", "Current charges", "Bill amount", "Charges")
WAYS = ("both", "end and days", "end", "period", "both and days")
TITLES: tuple[Rows, ...] = ([], [["My electric bills"], []], [["Account", "0042-17"], ["Address", "4 Alder Court"], []])


@dataclass(frozen=True)
class Habits:
    """One person's way of writing."""

    dates: str = "iso"
    numbers: str = "plain"
    money: str | None = "plain"
    way: str = "both"
    names: tuple[str, str, str, str] = ("start", "end", "kwh", "amount")
    sign: str = ","
    encoding: str = "utf-8"
    title: int = 0
    totals: bool = False
    newest_first: bool = False
    blank_column: bool = False
    order: tuple[int, ...] = ()
    spare: bool = False
    estimated: tuple[int, ...] = field(default=())


def rows_of(truth: tuple[Truth, ...], h: Habits) -> Rows:
    """Return the cells of a year of bills, written so."""
    day, number = DATES[h.dates], NUMBERS[h.numbers]
    money = MONEY[h.money] if h.money is not None else None
    start, end, energy, amount = h.names
    columns: list[tuple[str, Callable[[Truth], str]]] = []
    if h.way in ("both", "both and days"):
        columns.append((start, lambda t: day(t.start)))
    if h.way == "period":
        columns.append(("Billing period", lambda t: f"{day(t.start)} - {day(t.end)}"))
    else:
        columns.append((end, lambda t: day(t.end)))
    if "days" in h.way:
        columns.append(("Days", lambda t: str(t.days)))
    columns.append((energy, lambda t: number(t.kwh)))
    if money is not None:
        columns.append((amount, lambda t: money(t.cents)))
    if h.spare:
        columns.append(("Account no", lambda t: "0042-17"))
    if h.estimated:
        marks = {truth[i] for i in h.estimated if i < len(truth)}
        columns.append(("Read type", lambda t: "E" if t in marks else "A"))
    if h.order:
        columns = [columns[i % len(columns)] for i in _permuted(h.order, len(columns))]
    body = [[cell(t) for _, cell in columns] for t in truth]
    if h.newest_first:
        body.reverse()
    rows = [*TITLES[h.title], [name for name, _ in columns], *body]
    if h.totals:
        at = [name for name, _ in columns].index(energy)
        total = ["Total" if at else "", *[""] * (len(columns) - 1)]
        total[at] = number(sum(t.kwh for t in truth)) if at else "Total"
        rows.append(total)
    return [["", *row] for row in rows] if h.blank_column else rows


def _permuted(order: tuple[int, ...], count: int) -> list[int]:
    return sorted(range(count), key=lambda i: (order[i % len(order)], i))


def text_of(rows: Rows, sign: str) -> str:
    """Return the cells as a file's text; a cell that holds the sign or a quote is quoted."""

    def cell(text: str) -> str:
        return '"' + text.replace('"', '""') + '"' if any(c in text for c in (sign, '"', "\n")) else text

    return "\n".join(sign.join(map(cell, row)) for row in rows) + "\n"


def file_of(truth: tuple[Truth, ...], h: Habits) -> bytes:
    """Return the bytes of the file."""
    return text_of(rows_of(truth, h), h.sign).encode(h.encoding, errors="replace")


def has_start(h: Habits) -> bool:
    """Whether the oldest bill's start is told."""
    return h.way != "end"


MONTH_NAMES: dict[str, tuple[str, ...]] = {
    "en": ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
           "December"),
    "short": ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"),
    "de": ("Januar", "Februar", "März", "April", "Mai", "Juni", "Juli", "August", "September", "Oktober", "November",
           "Dezember"),
    "de short": ("Jan.", "Feb.", "Mär.", "Apr.", "Mai", "Jun.", "Jul.", "Aug.", "Sep.", "Okt.", "Nov.", "Dez."),
    "fr": ("janvier", "février", "mars", "avril", "mai", "juin", "juillet", "août", "septembre", "octobre", "novembre",
           "décembre"),
    "es": ("enero", "febrero", "marzo", "abril", "mayo", "junio", "julio", "agosto", "septiembre", "octubre",
           "noviembre", "diciembre"),
    "it": ("gennaio", "febbraio", "marzo", "aprile", "maggio", "giugno", "luglio", "agosto", "settembre", "ottobre",
           "novembre", "dicembre"),
    "figures": tuple(str(n) for n in range(1, 13)),
}  # fmt: skip
LAYOUTS = ("across", "across by year", "across dated", "years across", "headings", "year once", "first alone", "column")


@dataclass(frozen=True)
class Monthly:
    """Bills of whole months, and how a person lays them out."""

    first: tuple[int, int]
    kwh: tuple[float, ...]
    cents: tuple[int, ...]
    layout: str = "across"
    months: str = "short"
    numbers: str = "plain"
    money: str | None = "plain"
    sign: str = ","
    title: str = ""
    totals: bool = False
    said: bool = True
    """Whether the unit is said, where one kind of number stands alone."""

    def month(self, n: int) -> tuple[int, int]:
        at = self.first[0] * 12 + self.first[1] - 1 + n
        return at // 12, at % 12 + 1

    @property
    def truth(self) -> dict[tuple[int, int], tuple[float, int]]:
        return {self.month(n): (kwh, cents) for n, (kwh, cents) in enumerate(zip(self.kwh, self.cents, strict=True))}


def some_months(seed: int, count: int, large: bool = False) -> tuple[tuple[float, ...], tuple[int, ...]]:
    """Return the energy and the money of so many months."""
    rng = random.Random(seed)
    kwh = tuple(float(rng.randint(1100, 2900) if large else rng.randint(120, 980)) for _ in range(count))
    return kwh, tuple(round(k * rng.uniform(12, 34)) + 1200 for k in kwh)


def monthly_rows(m: Monthly) -> Rows:
    """Return the cells of such a table."""
    names, number = MONTH_NAMES[m.months], NUMBERS[m.numbers]
    money = MONEY[m.money] if m.money is not None else None
    truth = m.truth
    years = sorted({year for year, _ in truth})

    def cell(year: int, month: int, which: int) -> str:
        if (year, month) not in truth:
            return ""
        return number(truth[year, month][0]) if which == 0 else (money or MONEY["plain"])(truth[year, month][1])

    kinds = [("kWh", 0), *([("Cost", 1)] if money is not None else [])]
    corner = "kWh" if m.said and money is None else "Year"
    rows: Rows = []
    if m.layout == "across":  # a line for each year and kind
        rows = [[corner, *names]]
        for year in years:
            for name, which in kinds:
                label = f"{year} {name}" if money is not None else str(year)
                rows.append([label, *(cell(year, month, which) for month in range(1, 13))])
    elif m.layout == "across by year":  # a block for each year
        for year in years:
            rows.append([str(year), *names])
            rows += [[name, *(cell(year, month, which) for month in range(1, 13))] for name, which in kinds]
    elif m.layout == "across dated":
        rows = [["", *(f"{names[month - 1]} {year}" for year, month in truth)]]
        rows += [[name, *(cell(year, month, which) for year, month in truth)] for name, which in kinds]
    elif m.layout == "years across":
        top = "kWh" if m.said and money is None else "Month"
        if money is None:
            rows = [[top, *map(str, years)]]
        else:
            rows = [[top, *(text for year in years for text in (str(year), ""))], ["", *["kWh", "Cost"] * len(years)]]
        rows += [
            [names[month - 1], *(cell(year, month, which) for year in years for _, which in kinds)]
            for month in range(1, 13)
        ]
    else:
        rows = [["Month", *(name for name, _ in kinds)]]
        if m.layout == "year once":
            rows[0].insert(0, "Year")
        last = None
        for n, (year, month) in enumerate(truth):
            values = [cell(year, month, which) for _, which in kinds]
            label = names[month - 1]
            if m.layout == "headings" and year != last:
                rows.append([str(year), *[""] * len(kinds)])
            if (m.layout == "first alone" and n == 0) or m.layout == "column":
                label = f"{label} {year}"
            row = [label, *values]
            if m.layout == "year once":
                row.insert(0, str(year) if year != last else "")
            rows.append(row)
            last = year
    if m.totals:
        rows.append(["Total", *[""] * (len(rows[0]) - 2), number(sum(m.kwh))])
    return [*([[m.title]] if m.title else []), *rows]
