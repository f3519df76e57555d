"""Words in cells that are merged downward are those of each row; figures are asked about. Houses are invented."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import openpyxl
import pytest

from reconcile.errors import InputError
from reconcile.read import read_house

MONTHS = ["January", "February", "March", "April"]


def book(folder: Path, rows: list[list[object]], merged: str) -> Path:
    made = openpyxl.Workbook()
    sheet = made.active
    assert sheet is not None
    for row in rows:
        sheet.append(row)
    sheet.merge_cells(merged)
    made.save(folder / "power.xlsx")
    return folder / "power.xlsx"


def test_a_merged_quarter_tells_the_year_of_its_months(tmp_path: Path) -> None:
    rows = [["Q1 2024" if n == 0 else None, month, 700 + n] for n, month in enumerate(MONTHS[:3])]
    head = ["Quarter", "Month", "kWh"]
    bills = read_house(book(tmp_path, [head, *rows, ["Q2 2024", "April", 640]], "A2:A4")).bills
    assert [bill.start for bill in bills] == [date(2024, n, 1) for n in (1, 2, 3, 4)]


def test_merged_kwh_may_be_of_both_months(tmp_path: Path) -> None:
    rows = [[f"{month} 2024", 700 if n != 2 else None] for n, month in enumerate(MONTHS)]
    with pytest.raises(InputError, match="B3:B4 are merged"):
        read_house(book(tmp_path, [["Month", "kWh"], *rows], "B3:B4"))
