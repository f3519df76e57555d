"""A year of bills typed in any sensible way gets in: read right, or asked once with an answer that works."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
from hand_typed import (
    AMOUNT,
    COMMA_MONEY,
    COMMA_NUMBERS,
    DATES,
    ENDS,
    ENERGY,
    POINT_MONEY,
    POINT_NUMBERS,
    STARTS,
    TITLES,
    WAYS,
    Habits,
    Truth,
    a_year,
    file_of,
    has_start,
    rows_of,
    text_of,
)
from hypothesis import given, settings
from hypothesis import strategies as st

import reconcile
from reconcile.errors import InputError
from reconcile.house import House
from reconcile.read import read_house

CASES: dict[str, Habits] = {
    # United States
    "us utility export": Habits(
        "us", "plain", "dollars", "both", ("Service from", "Service to", "Usage (kWh)", "Total due")
    ),
    "us typed": Habits("us short", "unit", "dollars", "both", ("From", "To", "Usage", "Total")),
    "us thousands": Habits("us padded", "us", "dollars", "both", ("Start date", "End date", "kWh used", "Amount ($)")),
    "us read date and days": Habits("us", "plain", "plain", "end and days", ("", "Read date", "kWh", "Amount")),
    "us read date alone": Habits("us", "plain", "dollars", "end", ("", "Read date", "kWh", "Current charges")),
    "us period in one cell": Habits("us", "plain", "dollars", "period", ("", "", "Energy used", "Bill amount")),
    "us long dates": Habits("named us", "plain", "dollars", "both", ("From", "To", "kWh", "Cost")),
    "us pasted": Habits("us", "us", "dollars", "both", ("From", "To", "Usage (kWh)", "Total"), sign="\t"),
    "us titled, totals, newest first": Habits(
        "us", "plain", "plain", names=("From", "To", "Usage", "Total"), title=1, totals=True, newest_first=True
    ),
    "us portal with clocks": Habits("clock", "decimals", "plain", "both", ("START", "END", "USAGE_KWH", "COST")),
    "us marks of estimates": Habits("us", "plain", "plain", estimated=(2, 5), names=("From", "To", "kWh", "Cost")),
    # United Kingdom and Ireland
    "uk typed": Habits("uk", "plain", "pounds", "both", ("From", "To", "Units", "Cost")),
    "uk named": Habits("named", "unit", "pounds", "both", ("Period start", "Period end", "Energy used", "Total")),
    "uk dashes": Habits("dashes", "plain", "pounds", "both", ("Start", "End", "kWh", "Charges")),
    "uk spreadsheet names": Habits("named dashes", "plain", "pounds", "both", ("Start", "End", "kWh", "Charges")),
    "uk weekday": Habits("weekday", "plain", "pounds", "end", ("", "Reading date", "Units used", "Bill")),
    "uk cp1252": Habits("uk", "plain", "pounds", encoding="cp1252", names=("From", "To", "Units", "Cost")),
    # Germany, Italy, Spain: English headers, their numbers
    "de semicolons": Habits("de", "de", "comma", sign=";", names=("From", "To", "Consumption (kWh)", "Cost")),
    "de decimals": Habits("de", "de decimals", "euros", sign=";", names=("start", "end", "kwh", "amount")),
    "de short years": Habits("de short", "plain", "comma", sign=";", names=("From", "To", "Usage", "Cost")),
    "de own headers": Habits("de", "de", "comma", sign=";", names=("Von", "Bis", "Verbrauch", "Betrag")),
    "de utf-16": Habits("de", "de", "euros", sign="\t", encoding="utf-16", names=("From", "To", "Usage", "Cost")),
    "it code": Habits("uk", "de", "code", sign=";", names=("From", "To", "Consumption", "Total")),
    "fr spaces": Habits("uk", "space", "comma", sign=";", names=("From", "To", "Consumption", "Total")),
    "de quoted commas": Habits("de", "de decimals", "comma", names=("From", "To", "Usage", "Cost")),
    # India, Japan, Sweden
    "in units": Habits("dashes", "unit", "plain", names=("From date", "To date", "Units consumed", "Bill amount")),
    "jp slashes": Habits("slashes", "plain", None, names=("From", "To", "Usage", "")),
    "se iso": Habits("iso", "space", "comma", sign=";", names=("From", "To", "Consumption", "Cost")),
    # programs
    "spreadsheet serials": Habits("serial", "plain", "plain", names=("From", "To", "kWh", "Total")),
    "database compact": Habits("compact", "plain", "plain", names=("PERIOD_START", "PERIOD_END", "KWH", "AMOUNT")),
    "bars": Habits("iso", "plain", "plain", sign="|"),
    "phone notes": Habits("named", "unit", None, "end", ("", "Read on", "Used", "")),
    "bom": Habits("us", "plain", "plain", encoding="utf-8-sig", names=("From", "To", "kWh", "Total")),
    "left blank column": Habits("us", "plain", "dollars", names=("From", "To", "kWh", "Total"), blank_column=True),
    "account block above": Habits("us", "plain", "dollars", names=("From", "To", "kWh", "Total"), title=2, totals=True),
    "columns about": Habits("us", "plain", "dollars", names=("From", "To", "kWh", "Total"), order=(3, 1, 0, 2)),
    "days printed": Habits("uk", "plain", "pounds", "both and days", ("From", "To", "Units", "Cost"), spare=True),
}
"""One habit a line; each is read with two years of bills, small and large."""


def read(data: bytes, *, toml: str = "", name: str = "bills.csv") -> House:
    with tempfile.TemporaryDirectory() as place:
        Path(place, name).write_bytes(data)
        if toml:
            Path(place, "house.toml").write_text(toml)
        return read_house(place)


def wrong_in(house: House, truth: tuple[Truth, ...], h: Habits) -> list[str]:
    """Name what was read otherwise than it is."""
    found = []
    if len(house.bills) != len(truth):
        return [f"{len(house.bills)} bills"]
    for n, (bill, t) in enumerate(zip(house.bills, truth, strict=True)):
        told = has_start(h) or n > 0
        if told and bill.start != t.start:
            found.append(f"start {bill.start}, is {t.start}")
        if not told and not (bill.edge_doubt_days > 0 and abs((bill.start - t.start).days) <= 4):
            found.append(f"start {bill.start} without doubt, is {t.start}")
        if bill.closes != t.end or bill.kwh != t.kwh:
            found.append(f"{bill.closes} {bill.kwh}, is {t.end} {t.kwh}")
        if h.money is not None and bill.amount != Decimal(t.cents) / 100:
            found.append(f"amount {bill.amount}, is {t.cents}")
        if (bill.read_type == "estimated") != (bool(h.estimated) and n in h.estimated):
            found.append(f"read type {bill.read_type}")
    return found


def answered(error: InputError, h: Habits) -> str:
    """Answer the one question that was asked, as the person knows it, where it says to write the answer."""
    (fault,) = error.faults
    found = re.findall(r'(date_format|number_format) = "([^"]+)"', fault.remedy)
    assert found, fault
    if found[0][0] == "number_format":
        comma = h.numbers in COMMA_NUMBERS and (h.money in COMMA_MONEY or h.money is None)
        wanted = "1.234,56" if comma else "1,234.56"
    else:
        wanted = next(f for _, f in found if f.startswith(("MM", "M")) == h.dates.startswith(("us", "clock")))
    assert wanted in [answer for _, answer in found]
    return f'[bills]\n{found[0][0]} = "{wanted}"\n'


@pytest.mark.parametrize("large", [False, True], ids=["small", "large"])
@pytest.mark.parametrize("name", CASES)
def test_a_year_as_it_is_typed(name: str, large: bool) -> None:
    h = CASES[name]
    truth = a_year(len(name), large=large)
    data = file_of(truth, h)
    try:
        house = read(data)
    except InputError as error:
        house = read(data, toml=answered(error, h))
    assert wrong_in(house, truth, h) == []
    if h != Habits():
        assert any(" is read as: " in notice for notice in house.notices) or h.names == Habits().names


def test_hand_typed_files_are_sixty_or_more() -> None:
    assert 2 * len(CASES) >= 60


@st.composite
def habits(draw: st.DrawFn) -> Habits:
    """Habits mixed: any of one kind beside any of another, as long as one person could write so."""
    comma = draw(st.booleans())
    sign = draw(st.sampled_from((";", "\t", ",") if comma else (",", "\t", ";", "|")))
    return Habits(
        dates=draw(st.sampled_from(sorted(DATES))),
        numbers=draw(st.sampled_from(COMMA_NUMBERS if comma else POINT_NUMBERS)),
        money=draw(st.sampled_from((*(COMMA_MONEY if comma else POINT_MONEY), None))),
        way=draw(st.sampled_from(WAYS)),
        names=(
            draw(st.sampled_from(STARTS)),
            draw(st.sampled_from(ENDS)),
            draw(st.sampled_from(ENERGY)),
            draw(st.sampled_from(AMOUNT)),
        ),
        sign=sign,
        encoding=draw(st.sampled_from(("utf-8", "utf-8-sig", "utf-16", "cp1252"))),
        title=draw(st.integers(0, len(TITLES) - 1)),
        totals=draw(st.booleans()),
        newest_first=draw(st.booleans()),
        blank_column=draw(st.booleans()),
        order=draw(st.sampled_from(((), (3, 1, 0, 2, 5, 4), (2, 0, 1)))),
        spare=draw(st.booleans()),
        estimated=draw(st.sampled_from(((), (1,), (0, 3)))),
    )


@given(h=habits(), seed=st.integers(0, 10_000), count=st.integers(2, 14), large=st.booleans())
@settings(max_examples=120, deadline=None)
def test_mixed_habits_are_never_read_wrong_in_silence(h: Habits, seed: int, count: int, large: bool) -> None:
    truth = a_year(seed, count, large)
    if h.encoding == "cp1252":
        h = replace(h, numbers="plain" if h.numbers == "space" else h.numbers)
    data = file_of(truth, h)
    try:
        house = read(data)
    except InputError as error:
        if (len(error.faults) == 1 and "more than one way" in str(error)) or "two ways" in str(error):
            house = read(data, toml=answered(error, h))
        else:
            return  # refused in words: counted by the bench, never wrong
    assert wrong_in(house, truth, h) == []


def test_months_alone() -> None:
    for text in (
        "Month,kWh\nJan 2025,500\nFeb 2025,400\nMar 2025,300\n",
        "month;kwh\n2025-01;500\n2025-02;400\n2025-03;300\n",
    ):
        house = read(text.encode())
        assert [(b.start, b.end, b.kwh) for b in house.bills] == [
            (date(2025, 1, 1), date(2025, 2, 1), 500.0),
            (date(2025, 2, 1), date(2025, 3, 1), 400.0),
            (date(2025, 3, 1), date(2025, 4, 1), 300.0),
        ]
        assert all(bill.edge_doubt_days > 0 for bill in house.bills)


def test_months_and_days_keep_the_days() -> None:
    house = read(b"Month,Days,kWh\nJan 2025,33,500\nFeb 2025,29,400\nMar 2025,30,300\n")
    assert [bill.days for bill in house.bills] == [33, 29, 30]


@pytest.mark.parametrize(
    ("text", "question"),
    [
        ("end,kwh\n2025-01-09,300\n2025-02-08,310\n2025-04-08,320\n2025-05-09,300\n", "either a bill is missing"),
        ("Month,kWh\nJan 2025,500\nMar 2025,400\nMay 2025,300\n", "2 months apart"),
        ("Month,kWh\nJan 2025,500\nJan 2025,400\n", "also stands in row 2"),
        ("Month,kWh\nJanuary,500\n", "year of this month is not written"),
        ("2025-01-09,2025-02-08,604,120.10\n", "write this line above it: start,end,kwh,amount"),
        ("Date,kWh\n2025-01-01,30\n2025-01-02,31\n2025-01-03,29\n2025-01-04,30\n2025-01-05,30\n", "1 days apart"),
        ("From,To,Burn\n2025-01-09,2025-02-08,604\n", "Is it Burn?"),
        ("end,kwh,amuont\n2025-01-09,300,5\n2025-02-08,310,6\n", "Did you mean amount?"),
        ("start,end,kwh\n2025-01-09,2025-02-08,630,5\n", "column without a name"),
        ("start,end,kwh,confirmed\n2025-01-09,2025-02-08,630,no\n", "not confirmed"),
        ("start,end,kwh,amount\n2025-01-09,2025-02-08,630,£5\n2025-02-08,2025-03-09,630,5 €\n", "are in"),
        ('start,end,kwh\n2025-01-09,2025-02-08,"12,204"\n2025-02-08,2025-03-10,"13,310"\n', "12204 by"),
    ],
)
def test_what_is_not_clear_is_asked(text: str, question: str) -> None:
    with pytest.raises(InputError) as caught:
        read(text.encode())
    assert question in str(caught.value)


def test_the_question_of_dates_works_out_both_readings() -> None:
    text = b"start,end,kwh\n02/03/2025,03/04/2025,700\n"
    with pytest.raises(InputError) as caught:
        read(text)
    (fault,) = caught.value.faults
    assert "DD/MM/YYYY makes it a bill from 2025-03-02 to 2025-04-03, 32 days" in fault.problem
    assert "MM/DD/YYYY makes it a bill from 2025-02-03 to 2025-03-04, 29 days" in fault.problem
    assert "house.toml" in fault.remedy
    assert read(text, toml='[bills]\ndate_format = "DD/MM/YYYY"\n').bills[0].start == date(2025, 3, 2)


def test_both_days_may_count() -> None:
    text = b"From,To,kWh\n2025-01-01,2025-01-31,500\n2025-02-01,2025-02-28,400\n2025-03-01,2025-03-31,300\n"
    assert [(bill.inclusive, bill.days) for bill in read(text).bills] == [(True, 31), (True, 28), (True, 31)]
    stated = read(text, toml='[bills]\ndates = "reading"\n')
    assert [bill.days for bill in stated.bills] == [30, 27, 30]


def test_one_file_is_a_house(tmp_path: Path) -> None:
    truth = a_year(3)
    path = tmp_path / "my bills.csv"
    path.write_bytes(file_of(truth, CASES["us typed"]))
    assert wrong_in(read_house(path), truth, CASES["us typed"]) == []
    (tmp_path / "house.toml").write_text('[house]\nname = "Alder"\n')
    assert read_house(path).name == "Alder"


def workbook_of(path: Path, sheets: dict[str, list[list[object]]]) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(path)
    return path


def test_a_workbook_of_one_sheet_with_a_merged_title_and_spare_sheets(tmp_path: Path) -> None:
    truth = a_year(5)
    rows: list[list[object]] = [["Electric bills of our house"], [], ["From", "To", "Usage", "Total", "Paid on"]]
    rows += [[t.start, t.end, t.kwh, t.cents / 100, t.end] for t in truth]
    rows.append(["Total", None, sum(t.kwh for t in truth)])
    path = workbook_of(tmp_path / "bills.xlsx", {"Sheet1": rows, "Garden": [["tomatoes", 3]]})
    book = openpyxl.load_workbook(path)
    book["Sheet1"].merge_cells("A1:E1")
    book.save(path)
    house = read_house(path)
    assert wrong_in(house, truth, Habits()) == []
    assert any("Garden" in notice for notice in house.notices)


def test_a_sheet_for_each_year(tmp_path: Path) -> None:
    truth = a_year(6, 14)
    head: list[object] = ["From", "To", "kWh", "Total"]
    rows = [[t.start, t.end, t.kwh, t.cents / 100] for t in truth]
    path = workbook_of(tmp_path / "bills.xlsx", {"2024": [head, *rows[:8]], "2025": [head, *rows[8:]]})  # type: ignore
    assert wrong_in(read_house(path), truth, Habits()) == []


def test_a_sheet_for_each_month_and_months_across_in_a_sheet_named_by_its_year(tmp_path: Path) -> None:
    edges = [datetime(2024, 1, 15), datetime(2024, 2, 14), datetime(2024, 3, 15)]
    pages = {
        f"{end:%b %Y}": [["From", start], ["To", end], ["kWh", kwh]]
        for start, end, kwh in zip(edges, edges[1:], (812, 744), strict=False)
    }
    house = read_house(workbook_of(tmp_path / "pages.xlsx", pages))
    assert [(bill.start, bill.kwh) for bill in house.bills] == [(date(2024, 1, 15), 812.0), (date(2024, 2, 14), 744.0)]
    (tmp_path / "other").mkdir()
    across = {"2024": [["", "Jan", "Feb", "Mar"], ["kWh", 812, 744, 690]]}
    house = read_house(workbook_of(tmp_path / "other" / "mine.xlsx", across))
    assert [bill.start for bill in house.bills] == [date(2024, 1, 1), date(2024, 2, 1), date(2024, 3, 1)]
    assert any("the year is 2024, as in the name" in notice for notice in house.notices)


def test_dates_half_turned_by_a_spreadsheet_are_asked(tmp_path: Path) -> None:
    rows: list[list[object]] = [["end", "kwh"], [date(2025, 3, 1), 300], ["28/02/2025", 310], [date(2025, 2, 4), 320]]
    path = workbook_of(tmp_path / "bills.xlsx", {"bills": rows})
    with pytest.raises(InputError, match="day and month exchanged"):
        read_house(path)


EXPORTS = {
    "workbook": ("xlsx", "xlsx"),
    "open document": ("ods", "ods"),
    "old workbook": ("xls", "xls"),
    "commas, UTF-8": ("csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true", "csv"),
    "semicolons, UTF-8": ("csv:Text - txt - csv (StarCalc):59,34,76,1,,0,false,true", "csv"),
    "semicolons, Windows Western": ("csv:Text - txt - csv (StarCalc):59,34,1,1,,0,false,true", "csv"),
    "tabs, UTF-16": ("csv:Text - txt - csv (StarCalc):9,34,65535,1,,0,false,true", "csv"),
    "every cell quoted": ("csv:Text - txt - csv (StarCalc):44,34,76,1,,0,true,true", "csv"),
    "values as kept, not as shown": ("csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,false", "csv"),
}
"""The files that spreadsheet programs write: all by the one on this machine, with the others' documented settings."""


@pytest.mark.recalculates
def test_exports_of_spreadsheet_programs(tmp_path: Path, office: Callable[..., None]) -> None:
    truth = a_year(9, large=True)
    h = Habits("us", "plain", "plain", names=("From", "To", "Usage (kWh)", "Total"))
    source = tmp_path / "typed.csv"
    source.write_text(text_of(rows_of(truth, h), ","))
    for number, (name, (kind, ending)) in enumerate(EXPORTS.items()):
        out = tmp_path / str(number)
        office(kind, out, source)
        path = out / f"typed.{ending}"
        try:
            house = read_house(path)
        except InputError as error:
            (out / "house.toml").write_text(answered(error, h))
            house = read_house(path)
        assert wrong_in(house, truth, h) == [], name


MARGIN = (
    "Read date,kWh used,Bill,\n10/3/25,905,142.11,\n11/4/25,603,97.90,holidays\n"
    "12/13/25,588,95.70,est\n1/14/26,640,99.10,\n"
)


@pytest.mark.parametrize(
    "head", ["Read date,kWh used,Bill,\n", "Read date,kWh used,Bill\n", "Read date,kWh used,Bill,Notes\n"]
)
def test_words_in_the_margin_are_notes_and_one_that_seems_an_estimate_is_told(tmp_path: Path, head: str) -> None:
    page = tmp_path / "bills.csv"
    page.write_text(head + MARGIN.partition("\n")[2], encoding="utf-8")
    house = reconcile.read_house(page)
    assert [bill.read_type for bill in house.bills] == ["actual"] * len(house.bills)
    told = " ".join(house.notices)
    assert "row 4 may tell of an estimated reading" in told
    assert ("column number 4, which has no name, is taken as your notes" in told) == ("Notes" not in head)


@pytest.mark.parametrize("stray", ["5", "$5", "2025-01-09"])
def test_figures_without_a_heading_are_still_asked_about(tmp_path: Path, stray: str) -> None:
    page = tmp_path / "bills.csv"
    page.write_text(MARGIN.replace("holidays", stray), encoding="utf-8")
    with pytest.raises(reconcile.InputError, match="column without a name"):
        reconcile.read_house(page)
