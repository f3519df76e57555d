"""How the meter was read, the days and the money of bills, told in columns and words of people's own; invented."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from reconcile.errors import InputError
from reconcile.house import Bill
from reconcile.read import read_house

DAYS = [date(2024, 1, 9), date(2024, 2, 8), date(2024, 3, 8), date(2024, 4, 9), date(2024, 5, 8)]
KWH = [812, 1744, 655, 590]
ROWS = [*zip(DAYS, DAYS[1:], KWH, strict=False)]


def read(folder: Path, text: str, name: str = "bills.csv") -> tuple[Bill, ...]:
    (folder / name).write_text(text, encoding="utf-8")
    return read_house(folder).bills


@pytest.mark.parametrize(
    ("head", "actual", "estimated"),
    [("Code", "A", "E"), ("How we got it", "We read it", "We estimated"), ("Read by", "Meter reader", "Estimate")],
)
def test_estimates_are_told_by_the_words_of_a_column(tmp_path: Path, head: str, actual: str, estimated: str) -> None:
    rows = [f"{a},{b},{k},{estimated if n == 2 else actual}\n" for n, (a, b, k) in enumerate(ROWS)]
    bills = read(tmp_path, f"From,To,kWh,{head}\n" + "".join(rows))
    assert [bill.read_type for bill in bills] == ["actual", "actual", "estimated", "actual"]


def test_yes_and_no_under_a_heading_of_its_own_tell_nothing_of_the_reading(tmp_path: Path) -> None:
    rows = [f"{a},{b},{k},{'Y' if n else 'N'}\n" for n, (a, b, k) in enumerate(ROWS)]
    bills = read(tmp_path, "From,To,kWh,Autopay\n" + "".join(rows))
    assert {bill.read_type for bill in bills} == {"actual"}


def test_the_code_of_each_reading_in_a_block_of_lines(tmp_path: Path) -> None:
    blocks = [
        f"Billing date {b}\nPrior reading {5000 + k} (A)\nPresent reading {5000 + 2 * k} "
        f"({'E' if k == 655 else 'A'})\nkWh {k}\n\n"
        for _, b, k in ROWS
    ]
    bills = read(tmp_path, "".join(blocks), "bills.txt")
    assert [bill.read_type for bill in bills] == ["actual", "actual", "estimated", "actual"]


def test_a_rise_in_per_cent_beside_the_money_leaves_it_the_money(tmp_path: Path) -> None:
    lines = [f"{b:%b} {b.day}, {b.year} | {k} kWh | +{n + 5} % | ${k / 5:.2f}\n" for n, (_, b, k) in enumerate(ROWS)]
    assert [bill.amount for bill in read(tmp_path, "".join(lines), "bills.txt")] == [Decimal(k) / 5 for k in KWH]


def test_a_price_times_kwh_and_what_is_added_to_it_end_in_the_charges(tmp_path: Path) -> None:
    lines = [f"{a} to {b}  {k} kWh @ $0.15 = ${k * 0.15:.2f} + $10.00 = ${k * 0.15 + 10:.2f}\n" for a, b, k in ROWS]
    amounts = [bill.amount for bill in read(tmp_path, "".join(lines), "bills.txt")]
    assert amounts == [Decimal(f"{k * 0.15 + 10:.2f}") for k in KWH]


@pytest.mark.parametrize("cell", ['"{a:%m/%d/%Y}\n{b:%m/%d/%Y}"', "{a:%Y%m%d}-{b:%Y%m%d}", "{a:%m/%d/%Y} {b:%m/%d/%Y}"])
def test_two_days_in_one_cell(tmp_path: Path, cell: str) -> None:
    bills = read(tmp_path, "Cycle,kWh\n" + "".join(f"{cell.format(a=a, b=b)},{k}\n" for a, b, k in ROWS))
    assert [(bill.start, bill.end) for bill in bills] == [(a, b) for a, b, _ in ROWS]


@pytest.mark.parametrize("cell", ["{k} kWh/month", '"{k:,} kWh (43.7/day)"'])
def test_what_stands_behind_the_unit(tmp_path: Path, cell: str) -> None:
    rows = [f"{day:%b %Y},{cell.format(k=k)}\n" for day, k in zip(DAYS, KWH, strict=False)]
    assert [bill.kwh for bill in read(tmp_path, "Month,Usage\n" + "".join(rows))] == KWH


def test_commas_of_a_note_that_stands_last(tmp_path: Path) -> None:
    rows = [f"{a},{b},{k},{'meter under snow, I think' if k == 655 else ''}\n" for a, b, k in ROWS]
    assert read(tmp_path, "From,To,kWh,Remarks\n" + "".join(rows))[2].note == "meter under snow, I think"


def test_two_lists_of_the_same_periods_are_asked_about(tmp_path: Path) -> None:
    one, two = ("".join(f"{a},{b},{k + more}\n" for a, b, k in ROWS) for more in (0, 90))
    with pytest.raises(InputError, match="two lists of bills are of the same periods: row 3 and row 9"):
        read(tmp_path, f"House\nFrom,To,kWh\n{one}Shop\nFrom,To,kWh\n{two}")


def test_rows_of_a_forecast_and_of_payments_are_no_bills(tmp_path: Path) -> None:
    rows = [f"{b},{k},{k / 5:.2f},Billed\n{b},,-{k / 5:.2f},Payment\n" for _, b, k in ROWS]
    text = "Read date,kWh,Amount,Type\n" + "".join(rows) + "2024-06-08,700,,Forecast\n"
    assert [bill.kwh for bill in read(tmp_path, text)] == KWH


def test_cents_in_the_heading_of_the_amounts(tmp_path: Path) -> None:
    text = "Read date,kWh,Amount (cents)\n" + "".join(f"{b},{k},{20 * k}\n" for _, b, k in ROWS)
    assert [bill.amount for bill in read(tmp_path, text)] == [Decimal(k) / 5 for k in KWH]


def test_taxes_beside_supply_and_delivery_are_of_the_sum(tmp_path: Path) -> None:
    text = "From,To,kWh,Supply,Delivery,Tax\n" + "".join(
        f"{a},{b},{k},{k / 10:.2f},{k / 20:.2f},5\n" for a, b, k in ROWS
    )
    assert [bill.amount for bill in read(tmp_path, text)] == [Decimal(f"{k / 10 + k / 20 + 5:.2f}") for k in KWH]


def test_words_of_a_date_part_no_columns_where_semicolons_do(tmp_path: Path) -> None:
    months = {2: "febrero", 3: "marzo", 4: "abril", 5: "mayo"}
    rows = [f"{b.day} de {months[b.month]} de {b.year};{k};{k // 5},74\n" for _, b, k in ROWS]
    bills = read(tmp_path, "Fecha de lectura;Consumo (kWh);Total (\N{EURO SIGN})\n" + "".join(rows))
    assert [(bill.end, bill.kwh) for bill in bills] == [(b, k) for _, b, k in ROWS]


def test_readings_typed_as_lines_of_a_day_and_a_figure(tmp_path: Path) -> None:
    lines = [f"{day:%b} {day.day}, {day.year} meter {45210 + 700 * n}\n" for n, day in enumerate(DAYS)]
    (tmp_path / "readings.txt").write_text("".join(lines))
    house = read_house(tmp_path)
    assert [(bill.start, bill.end) for bill in house.bills] == [(a, b) for a, b, _ in ROWS]


@pytest.mark.parametrize(
    "line",
    [
        "Your {b:%b} bill is ${m} for {k} kWh ({a:%m/%d/%y}-{b:%m/%d/%y}).\n",
        "Bill 1: start {a:%m/%d/%Y}; end {b:%m/%d/%Y}; kWh {k}; cost ${m}\n",
        "Du {a:%d/%m/%Y} au {b:%d/%m/%Y} : {k} kWh, ${m}\n",
    ],
)
def test_a_sentence_is_a_bill(tmp_path: Path, line: str) -> None:
    lines = [line.format(a=a, b=b, k=k, m=f"{k / 5:.2f}") for a, b, k in ROWS]
    bills = read(tmp_path, "".join(lines), "bills.txt")
    assert [(bill.start, bill.end, bill.kwh, bill.amount) for bill in bills] == [
        (a, b, k, Decimal(k) / 5) for a, b, k in ROWS
    ]


@pytest.mark.parametrize("blank", ["", "Nov 2023,,\n"])
def test_two_months_on_one_bill_by_its_note(tmp_path: Path, blank: str) -> None:
    text = f"Month,kWh,Note\nOct 2023,700,\n{blank}Dec 2023,1500,Nov + Dec on one bill\nJan 2024,800,like Dec and Nov\n"
    bills = read(tmp_path, text)
    assert [(bill.start, bill.end) for bill in bills] == [
        (date(2023, 10, 1), date(2023, 11, 1)),
        (date(2023, 11, 1), date(2024, 1, 1)),
        (date(2024, 1, 1), date(2024, 2, 1)),
    ]


def test_a_note_on_two_months_changes_no_bill_where_both_have_one(tmp_path: Path) -> None:
    bills = read(tmp_path, "Month,kWh,Note\nNov 2023,700,\nDec 2023,750,Nov and Dec were cold\nJan 2024,800,\n")
    assert [(bill.end - bill.start).days for bill in bills] == [30, 31, 31]


def test_a_register_shows_no_more_than_its_digits(tmp_path: Path) -> None:
    (tmp_path / "house.toml").write_text("[meter]\ndigits = 4\n")
    rows = [f"{a},{b},{9000 + n * 600},{9600 + n * 600}\n" for n, (a, b, _) in enumerate(ROWS)]
    with pytest.raises(InputError, match="a register of 4 digits cannot show that") as told:
        read(tmp_path, "start,end,reading_start,reading_end\n" + "".join(rows))
    assert {fault.row for fault in told.value.faults} <= {3, 4, 5}


def test_ticks_under_a_heading_that_asks_are_estimates(tmp_path: Path) -> None:
    rows = ["start,end,kwh,Estimated read?", "2024-01-15,2024-02-14,812,\N{CHECK MARK}", "2024-02-14,2024-03-15,744,"]
    (tmp_path / "bills.csv").write_text("\n".join([*rows, "2024-03-15,2024-04-15,690,"]), encoding="utf-8")
    assert [bill.read_type for bill in read_house(tmp_path).bills] == ["estimated", "actual", "actual"]


def test_a_cost_with_its_tax_goes_before_one_without(tmp_path: Path) -> None:
    (tmp_path / "bills.csv").write_text(
        "start,end,kwh,Cost ex VAT,VAT,Cost inc VAT\n2024-01-15,2024-02-14,812,125.14,6.26,131.40\n"
        "2024-02-14,2024-03-15,744,115.33,5.77,121.10\n2024-03-15,2024-04-15,690,107.62,5.38,113.00\n"
    )
    assert [str(bill.amount) for bill in read_house(tmp_path).bills] == ["131.40", "121.10", "113.00"]


def test_a_bill_of_december_that_is_due_in_january_is_of_the_year_before(tmp_path: Path) -> None:
    (tmp_path / "bills.csv").write_text(
        'Month,kWh,Due date\nOct,812,"Nov 12, 2024"\nNov,744,"Dec 12, 2024"\nDec,690,"Jan 12, 2025"\n'
        'Jan,700,"Jan 31, 2025"\n'
    )
    starts = [bill.start for bill in read_house(tmp_path).bills]
    assert starts == [date(2024, 10, 1), date(2024, 11, 1), date(2024, 12, 1), date(2025, 1, 1)]
