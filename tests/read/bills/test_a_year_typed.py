"""One year of bills as people type it: each way is read to the last kWh, or asked about at its place."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from itertools import pairwise
from pathlib import Path

import pytest
from openpyxl import Workbook

from reconcile.errors import InputError
from reconcile.house import Bill
from reconcile.read import read_house

EDGES = (
    *(date(2024, 1, 9), date(2024, 2, 8), date(2024, 3, 11), date(2024, 4, 10), date(2024, 5, 9), date(2024, 6, 11)),
    *(date(2024, 7, 12), date(2024, 8, 13), date(2024, 9, 11), date(2024, 10, 10), date(2024, 11, 12)),
    *(date(2024, 12, 11), date(2025, 1, 13)),
)
KWH = (812, 1047, 655, 521, 498, 733, 1204, 1189, 905, 488, 602, 947)
MONEY = tuple(round(12.08 + 0.1522 * kwh, 2) for kwh in KWH)
ESTIMATED, LOST = 4, 5
TYPED = Path(__file__).parents[2] / "data" / "a_year_typed.txt"


def ways() -> list[tuple[str, str, set[str], str]]:
    found = []
    for part in TYPED.read_text(encoding="utf-8").split("\n=== ")[1:]:
        head, _, text = part.partition("\n")
        name, file, *told = head.split()
        found.append((name, file, set(told), text))
    return found


WAYS = ways()


def holds(bills: tuple[Bill, ...], told: set[str]) -> None:
    wanted = [i for i in range(12) if i != LOST or "lost" not in told]
    assert len(bills) == len(wanted)
    for bill, i in zip(bills, wanted, strict=True):
        kwh = bill.kwh if bill.kwh is not None else bill.reading_end - bill.reading_start
        assert kwh == pytest.approx(KWH[i])
        if "months" in told:
            assert bill.start == date(2024, i + 1, 1)
        else:
            assert (bill.start, bill.end) == list(pairwise(EDGES))[i]
        if "money" in told:
            assert float(bill.amount) == MONEY[i]
        if "estimates" in told:
            assert (bill.read_type == "estimated") == (i == ESTIMATED)


@pytest.mark.parametrize(("name", "file", "told", "text"), WAYS, ids=[way[0] for way in WAYS])
def test_a_year_typed_so_is_read_whole(tmp_path: Path, name: str, file: str, told: set[str], text: str) -> None:
    (tmp_path / file).write_text(text, encoding="utf-8")
    if "asked" in told:
        with pytest.raises(InputError) as asked:
            read_house(tmp_path)
        assert all("row" in str(fault) for fault in asked.value.faults)
        return
    house = read_house(tmp_path)
    holds(house.bills, told)
    if "lost" in told:
        assert any("its time is a gap" in notice for notice in house.notices)
    if name.endswith(("gas_elec", "water_elec", "col_gas")):
        assert {bill.amount_due for bill in house.bills} == {None}


@pytest.mark.parametrize(
    "beside", ["Estimated bill next month: $120", "This is not an estimated reading", "Estimated usage ahead"]
)
def test_a_forecast_is_no_estimated_reading(tmp_path: Path, beside: str) -> None:
    lines = [f"{a} - {b}\nUsage {kwh} kWh\n{beside}\n" for (a, b), kwh in zip(pairwise(EDGES), KWH, strict=True)]
    (tmp_path / "bills.txt").write_text("\n".join(lines))
    assert {bill.read_type for bill in read_house(tmp_path).bills} == {"actual"}


def over_two_rows(sheet) -> None:
    sheet.append(["Billing period", None, "Energy", "Paid"])
    sheet.merge_cells("A1:B1")
    sheet.append(["from", "to", "kWh", "USD"])
    for (start, end), kwh, money in zip(pairwise(EDGES), KWH, MONEY, strict=True):
        sheet.append([start, end, kwh, money])


def a_year_beside_its_months(sheet) -> None:
    sheet.append(["Year", "Month", "kWh", "Cost"])
    for i, (kwh, money) in enumerate(zip(KWH, MONEY, strict=True)):
        sheet.append([None if i else 2024, f"{date(2024, i + 1, 1):%B}", kwh, money])
    sheet.merge_cells("A2:A13")


def readings_and_how(sheet) -> None:
    sheet.append(["ELECTRICITY 2024"])
    sheet.merge_cells("A1:G1")
    sheet.append([])
    sheet.append(["From", "To", "Prev", "Present", "kWh", "$", "Read"])
    for i, (start, end) in enumerate(pairwise(EDGES)):
        closing = 20_000 + sum(KWH[: i + 1])
        how = "Est" if i == ESTIMATED else "Act"
        sheet.append([start, end, closing - KWH[i], closing, KWH[i], MONEY[i], how])
    sheet.append(["Total", None, None, None, sum(KWH), sum(MONEY)])


@pytest.mark.parametrize(
    ("fill", "told"),
    [
        (over_two_rows, {"money"}),
        (a_year_beside_its_months, {"money", "months"}),
        (readings_and_how, {"money", "estimates"}),
    ],
)
def test_a_sheet_with_merged_cells_is_read_whole(tmp_path: Path, fill: Callable[..., None], told: set[str]) -> None:
    book = Workbook()
    fill(book.active)
    book.save(tmp_path / "bills.xlsx")
    house = read_house(tmp_path)
    holds(house.bills, told)
    if fill is readings_and_how:
        assert house.bills[0].reading_end == 20_812


def test_where_most_kwh_are_missing_they_are_asked_for(tmp_path: Path) -> None:
    rows = [
        f"{a},{b},{kwh if i < 6 else ''},{kwh / 7:.2f}"
        for i, ((a, b), kwh) in enumerate(zip(pairwise(EDGES), KWH, strict=True))
    ]
    (tmp_path / "bills.csv").write_text("\n".join(["start,end,kwh,amount", *rows]))
    with pytest.raises(InputError) as asked:
        read_house(tmp_path)
    assert "nothing is written here" in str(asked.value.faults[0])


def in_order(start_form: str, end_form: str | None = None) -> list[str]:
    return [
        f"{a.strftime(start_form)},{b.strftime(end_form or start_form)},{kwh}"
        for (a, b), kwh in zip(pairwise(EIGHTHS), KWH, strict=True)
    ]


EIGHTHS = tuple(date(2024 + m // 12, m % 12 + 1, 8 + m % 3) for m in range(13))
"""Days that are days of the calendar with day and month exchanged too."""


@pytest.mark.parametrize("form", ["%m/%d/%y", "%d/%m/%y", "%d/%m/%Y"])
def test_one_odd_row_leaves_the_order_of_day_and_month_as_the_others_tell_it(tmp_path: Path, form: str) -> None:
    rows = in_order(form)
    (tmp_path / "bills.csv").write_text("\n".join(["start,end,kwh", *rows, rows[4]]))
    house = read_house(tmp_path)
    assert sorted({bill.start for bill in house.bills}) == list(EIGHTHS[:-1])
    assert [bill.start for bill in house.bills].count(EIGHTHS[4]) == 2  # which the examination asks about


@pytest.mark.parametrize("typed", ["42", "14", "34"])
def test_a_year_far_off_is_what_is_asked_about(tmp_path: Path, typed: str) -> None:
    rows = in_order("%m/%d/%y")
    rows[5] = EIGHTHS[5].strftime(f"%m/%d/{typed},") + rows[5].split(",", 1)[1]
    (tmp_path / "bills.csv").write_text("\n".join(["start,end,kwh", *rows]))
    with pytest.raises(InputError) as asked:
        read_house(tmp_path)
    (fault,) = asked.value.faults
    assert fault.row == 7
    assert f"Did you mean {EIGHTHS[5]}?" in fault.remedy


def test_bills_that_begin_days_apart_do_not_last_a_month_each(tmp_path: Path) -> None:
    edges = [(date(2024, m, 1), date(2024 + m // 12, m % 12 + 1, 2)) for m in range(1, 13)]
    rows = [f"{a:%m/%d/%y},{b:%m/%d/%y},{kwh}" for (a, b), kwh in zip(edges, KWH, strict=True)]
    (tmp_path / "bills.csv").write_text("\n".join(["start,end,kwh", *rows]))
    assert [bill.start for bill in read_house(tmp_path).bills] == [a for a, _ in edges]
