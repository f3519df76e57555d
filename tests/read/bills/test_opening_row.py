"""A first row that only opens the records, and words in the place of kWh."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from reconcile.read import read_house

ROWS = ["2024-02-08,1184,176.85", "2024-03-08,1033 kWh,155.92", "2024-04-09,905,138.18", "2024-05-09,688 kWh,108.11"]


@pytest.mark.parametrize("opening", ["2024-01-09,(start),", "2024-01-09,opening,", "2024-01-09,,", "2024-01-09,--,"])
@pytest.mark.parametrize("header", ["When,kWh,Bill", "Date,kWh,Bill", "End,kWh,Amount"])
def test_a_first_row_of_a_day_and_a_word_opens_the_first_bill(opening: str, header: str, tmp_path: Path) -> None:
    (tmp_path / "bills.csv").write_text("\n".join([header, opening, *ROWS]) + "\n", encoding="utf-8")
    house = read_house(tmp_path)
    assert [bill.kwh for bill in house.bills] == [1184.0, 1033.0, 905.0, 688.0]
    assert house.bills[0].start == date(2024, 1, 9)
    assert "2024-01-09 opens the first bill" in "".join(house.notices)
    assert "oldest bill" not in "".join(house.notices)


def test_a_column_that_numbers_the_bills_is_no_second_amount(tmp_path: Path) -> None:
    rows = ["Bill,from,to,kWh used,$", "1,2024-01-09,2024-02-08,1184,176.85", "2,2024-02-08,2024-03-08,1033,155.92"]
    (tmp_path / "bills.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    assert [float(bill.amount or 0) for bill in read_house(tmp_path).bills] == [176.85, 155.92]
