"""What makes up one bill is added, what a heading multiplies is multiplied, and two homes are not one."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from reconcile.errors import InputError
from reconcile.read import read_house

DAYS = ["2023-11-14", "2023-12-14", "2024-01-16", "2024-02-14", "2024-03-15"]

PARTS = ["First 500,Over 500", "Household kWh,Controlled load kWh", "First 500 kWh,Remaining kWh"]


def table(head: str, *columns: list[object]) -> str:
    return "\n".join([head, *(",".join(map(str, row)) for row in zip(DAYS, *columns, strict=False))]) + "\n"


@pytest.mark.parametrize("head", PARTS)
def test_parts_of_one_bill_are_added(tmp_path: Path, head: str) -> None:
    (tmp_path / "bills.csv").write_text(
        table(f"Read date,{head},Total $", [500] * 5, [412, 548, 487, 303, 155], [99] * 5), "utf-8"
    )
    assert [bill.kwh for bill in read_house(tmp_path).bills] == [912, 1048, 987, 803, 655]


def test_columns_that_may_be_parts_are_not_offered_as_the_whole_alone(tmp_path: Path) -> None:
    (tmp_path / "bills.csv").write_text(table("Read date,Upstairs,Downstairs", [500] * 5, [412] * 5), "utf-8")
    with pytest.raises(InputError, match="Where the bill's kWh are their sum, add a column kwh"):
        read_house(tmp_path)


def test_readings_in_tens_are_multiplied(tmp_path: Path) -> None:
    (tmp_path / "bills.csv").write_text(table("date,reading (x10 kWh)", [4021, 4112, 4217, 4315, 4396]), "utf-8")
    bills = read_house(tmp_path).bills
    assert [bill.reading_end for bill in bills] == [41120, 42170, 43150, 43960]
    assert bills[0].reading_start == 40210


def test_two_homes_one_after_the_other_are_asked_about(tmp_path: Path) -> None:
    homes: list[object] = ["12 Oak St", "12 oak st.", "12 Oak St", "9 Elm St", "9 Elm St"]
    text = table("End,kWh,Address", [900, 912, 887, 403, 455], homes)
    (tmp_path / "bills.csv").write_text(text, "utf-8")
    with pytest.raises(InputError, match="the bills are of 12 Oak St and of 9 Elm St"):
        read_house(tmp_path)
    (tmp_path / "bills.csv").write_text(text.replace("Address", "other address"), "utf-8")
    assert len(read_house(tmp_path).bills) == 5


ROWS = "Start,End,Time of use,kWh,Cost\n"


@pytest.mark.parametrize(
    ("parts", "cost"),
    [
        ((("On-Peak", 273, ""), ("Off-Peak", 639, ""), ("Total", 912, "146.26")), "146.26"),
        ((("Peak", 301, "77.10"), ("Shoulder", 240, "57.75"), ("Off-peak", 371, "30.25")), "165.10"),
        ((("Tier 1", 500, "52.00"), ("Tier 2", 412, "61.50")), "113.50"),
    ],
)
def test_rows_of_the_parts_of_a_bill_are_one_bill(tmp_path: Path, parts: Any, cost: str) -> None:
    """Each row was taken for a bill of its own, and said to be there three times."""
    days = ("2024-03-05", "2024-04-04", "2024-05-03", "2024-06-04")
    rows = [f"{a},{b},{name},{kwh},{asked}" for a, b in pairwise(days) for name, kwh, asked in parts]
    (tmp_path / "bills.csv").write_text(ROWS + "\n".join(rows) + "\n", "utf-8")
    assert [(b.kwh, str(b.amount)) for b in read_house(tmp_path).bills] == [(912.0, cost)] * 3


@pytest.mark.parametrize("parts", [("Peak", "Shoulder"), ("Peak", "Peak"), ("Off-peak", "Total")])
def test_rows_that_are_not_all_parts_of_a_bill_are_not_added(tmp_path: Path, parts: Any) -> None:
    days = ("2024-03-05", "2024-04-04", "2024-05-03")
    rows = [f"{a},{b},{name},400,50" for a, b in pairwise(days) for name in parts]
    (tmp_path / "bills.csv").write_text(ROWS + "\n".join(rows) + "\n", "utf-8")
    assert {b.kwh for b in read_house(tmp_path).bills} == {400.0}
