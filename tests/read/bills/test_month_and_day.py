"""``Dec 14`` without a year: a day of the year told near it, a month where months follow in order, else asked."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import openpyxl
import pytest

from reconcile.errors import InputError
from reconcile.read import read_house

_OF_MONTH = (23, 16, 14, 15, 15, 14, 13, 15, 13, 12, 15, 14, 16)
DAYS = [date(2023 + (11 + n) // 12, 1 + (11 + n) % 12, day) for n, day in enumerate(_OF_MONTH)]


def named(day: date) -> str:
    return f"{day:%b} {day.day}"


def lines(days: list[date], year: bool = False) -> str:
    new = [not n or day.year != days[n - 1].year for n, day in enumerate(days)]
    return "".join(
        (f"{day.year if first else ''}," if year else "") + f"{named(day)},{700 + day.day},{100 + day.day}\n"
        for day, first in zip(days, new, strict=True)
    )


def ends(folder: Path, text: str, name: str = "bills.csv") -> list[date]:
    (folder / name).write_text(text, encoding="utf-8")
    return [bill.end for bill in read_house(folder).bills]


@pytest.mark.parametrize("header", ["Read", "Bill"])
def test_a_title_tells_the_year(tmp_path: Path, header: str) -> None:
    assert ends(tmp_path, f"Electric 2024\n{header},kWh,Cost\n" + lines(DAYS[1:])) == DAYS[1:]


@pytest.mark.parametrize("header", ["Read", "Bill"])
def test_a_column_of_years_tells_it_and_stands_for_the_rows_below(tmp_path: Path, header: str) -> None:
    assert ends(tmp_path, f"Year,{header},kWh,Cost\n" + lines(DAYS, year=True)) == DAYS


def test_sheets_of_one_year_each_tell_it(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for year in (2023, 2024):
        sheet = book.create_sheet(str(year))
        sheet.append(["Read", "kWh", "$"])
        for day in DAYS:
            if day.year == year:
                sheet.append([named(day), 700 + day.day, 100 + day.day])
    book.save(tmp_path / "electric.xlsx")
    assert [bill.end for bill in read_house(tmp_path).bills] == DAYS


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Read,kWh,Cost\n" + lines(DAYS), "bills.csv"),
        (
            "Electric bills\n" + "".join(f"- {d:%B} {d.day}: {700 + d.day} kWh, ${100 + d.day}\n" for d in DAYS),
            "bills.txt",
        ),
    ],
)
def test_no_year_at_all_is_asked(tmp_path: Path, text: str, name: str) -> None:
    with pytest.raises(InputError, match="the year of this day is not written"):
        ends(tmp_path, text, name)


def test_days_all_alike_under_another_year_are_asked(tmp_path: Path) -> None:
    alike = [date(2024, month, 15) for month in range(1, 13)]
    with pytest.raises(InputError, match="may be a day of 2024, or a month of 2015"):
        ends(tmp_path, "Electric 2024\nBill,kWh,Cost\n" + lines(alike))


@pytest.mark.parametrize("turn", [1, -1])
def test_months_in_order_stay_months(tmp_path: Path, turn: int) -> None:
    months = [date(2023 + n // 12, 1 + n % 12, 1) for n in range(6, 20)][::turn]
    text = "Bill,kWh\n" + "".join(f"{month:%b %y},{700 + n}\n" for n, month in enumerate(months))
    (tmp_path / "bills.csv").write_text(text, encoding="utf-8")
    assert [bill.start for bill in read_house(tmp_path).bills] == sorted(months)


def test_a_year_that_reaches_over_the_rows_of_a_page_stands_for_them(tmp_path: Path) -> None:
    rows = [f"<td>{named(d)}</td><td>{700 + d.day}</td>" for d in DAYS]
    rows[0], rows[1] = f"<td rowspan=1>2023</td>{rows[0]}", f"<td rowspan=12>2024</td>{rows[1]}"
    body = "".join(f"<tr>{row}</tr>" for row in ["<th>Year</th><th>Read date</th><th>kWh</th>", *rows])
    assert ends(tmp_path, f"<table>{body}</table>", "bills.html") == DAYS
