"""Tables with months or years across, turned about, or with the year said once: read right, or asked once."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
from hand_typed import (
    COMMA_MONEY,
    COMMA_NUMBERS,
    LAYOUTS,
    MONTH_NAMES,
    POINT_MONEY,
    Monthly,
    monthly_rows,
    some_months,
    text_of,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from reconcile.errors import InputError
from reconcile.house import House
from reconcile.read import read_house


def read(text: str, toml: str = "") -> House:
    with tempfile.TemporaryDirectory() as place:
        Path(place, "bills.csv").write_text(text, encoding="utf-8")
        if toml:
            Path(place, "house.toml").write_text(toml)
        return read_house(place)


def wrong_in(house: House, m: Monthly) -> list[str]:
    found = []
    truth = m.truth
    if len(house.bills) != len(truth):
        return [f"{len(house.bills)} bills, are {len(truth)}"]
    for bill, ((year, month), (kwh, cents)) in zip(house.bills, sorted(truth.items()), strict=True):
        if bill.start != date(year, month, 1) or bill.kwh != kwh or bill.edge_doubt_days <= 0:
            found.append(f"{bill.start} {bill.kwh}, is {year}-{month} {kwh}")
        if m.money is not None and bill.amount != Decimal(cents) / 100:
            found.append(f"{bill.amount}, is {cents}")
    return found


def answered(rows: list[list[str]], error: InputError, m: Monthly) -> House:
    """Answer the one question as it says."""
    (fault,) = error.faults
    if "kWh or money" in fault.problem:
        assert f"in the first cell of row {fault.row}" in fault.remedy
        rows[int(fault.row or 0) - 1][0] = "kWh"
        return read(text_of(rows, m.sign))
    if "number_format" not in fault.remedy:
        raise error  # refused in words
    comma = m.numbers in COMMA_NUMBERS and (m.money in COMMA_MONEY or m.money is None)
    return read(text_of(rows, m.sign), f'[bills]\nnumber_format = "{"1.234,56" if comma else "1,234.56"}"\n')


@st.composite
def monthly(draw: st.DrawFn) -> Monthly:
    comma = draw(st.booleans())
    layout = draw(st.sampled_from(LAYOUTS))
    names = (
        sorted(MONTH_NAMES)
        if layout in ("across", "years across", "headings", "year once")
        else (sorted(set(MONTH_NAMES) - {"figures"}))
    )
    kwh, cents = some_months(draw(st.integers(0, 10_000)), draw(st.integers(3, 26)), draw(st.booleans()))
    return Monthly(
        first=(draw(st.integers(2019, 2025)), draw(st.integers(1, 12))),
        kwh=kwh,
        cents=cents,
        layout=layout,
        months=draw(st.sampled_from(names)),
        numbers=draw(st.sampled_from(COMMA_NUMBERS if comma else ("plain", "us", "decimals"))),
        money=draw(st.sampled_from((*(COMMA_MONEY if comma else POINT_MONEY), None))),
        sign=draw(st.sampled_from((";", "\t", ",") if comma else (",", "\t", ";"))),
        title=draw(st.sampled_from(("", "Our electricity", "Electric bills of the house"))),
        totals=draw(st.booleans()),
        said=draw(st.booleans()),
    )


@given(m=monthly())
@settings(max_examples=150, deadline=None)
def test_months_however_laid_out_are_never_read_wrong_in_silence(m: Monthly) -> None:
    rows = monthly_rows(m)
    try:
        house = read(text_of(rows, m.sign))
    except InputError as error:
        try:
            house = answered(rows, error, m)
        except (InputError, ValueError):
            return  # refused in words
    assert wrong_in(house, m) == []


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("months", ["short", "en", "de", "fr", "es", "it"])
def test_each_layout_is_read_at_once(layout: str, months: str) -> None:
    kwh, cents = some_months(7, 17)
    m = Monthly((2024, 3), kwh, cents, layout, months)
    house = read(text_of(monthly_rows(m), ","))
    assert wrong_in(house, m) == []
    alone = replace(m, money=None)
    assert wrong_in(read(text_of(monthly_rows(alone), ",")), alone) == []


@pytest.mark.parametrize("layout", ["across", "years across"])
def test_whether_it_is_kwh_or_money_is_asked_and_the_answer_works(layout: str) -> None:
    kwh, cents = some_months(7, 17)
    m = Monthly((2024, 3), kwh, cents, layout, money=None, said=False)
    rows = monthly_rows(m)
    with pytest.raises(InputError) as caught:
        read(text_of(rows, ","))
    assert len(caught.value.faults) == 1
    assert wrong_in(answered(rows, caught.value, m), m) == []


def test_money_signs_tell_money_from_energy() -> None:
    with pytest.raises(InputError, match="column kwh is missing"):
        read("Year,Jan,Feb,Mar\n2024,$10,$20,$30\n")


MONTHS = ",".join(MONTH_NAMES["short"])
TWELVE = ",".join(str(500 + n) for n in range(12))


@pytest.mark.parametrize(
    ("text", "question"),
    [
        (f",{MONTHS}\nkWh,{TWELVE}\n", "year of these months is not written"),
        (f"2024,Jul,Aug,Sep,Oct,Nov,Dec,Jan,Feb,Mar\nkWh,{','.join(TWELVE.split(',')[:9])}\n", "year of these months"),
        (f",{MONTHS}\n2024 kWh,{TWELVE}\n2024 kWh,{TWELVE}\n", "a second kwh"),
        ("kWh,2023,2024\nOct,1,2\nNov,3,4\nDec,5,6\nJan,7,8\n", "year of these months is not written"),
        ("Month,2023,2024\nJan,1,2\nFeb,3,4\nMar,5,6\n", "kWh or money"),
        ("Month,kWh\nJan,500\nFeb,501\n", "year of this month is not written"),
        ("2025 and 2024\nMonth,kWh\nJan,500\nFeb,501\n", "year of this month is not written"),
        ("Power 2024\nMonth,kWh\nNov,500\nDec,501\nJan,502\n", "year of this month is not written"),
        ("Month,kWh\nJan 2024,500\nMay,501\nFeb,502\n", "year of this month is not written"),
        ("Month,kWh\nJan 2024,500\nFeb,501\nMar 2025,502\n", "year of this month is not written"),
        ("Week,kWh\n2025-W02,190\n2025-W03,180\n", "no bill is of a week"),
        ("Month,kWh\n01/12,190\n02/12,180\n", "read in two ways"),
        (
            "From,To,Peak kWh,Shoulder usage kWh\n2025-01-09,2025-02-08,300,512\n",
            "the sum of Peak kWh and Shoulder usage kWh",
        ),
        ("Month,kWh\nJan 2024,812\nFeb 2024,\nMar 2024,690\n", "nothing is written here"),
        ("From,To,kWh\n2025-01-09,2025-02-08,812*\n", "not a number"),
    ],
)
def test_what_is_not_said_is_asked(text: str, question: str) -> None:
    with pytest.raises(InputError) as caught:
        read(text)
    assert question in str(caught.value)


JAN, FEB, MAR, APR = (date(2024, month, 1) for month in range(1, 5))
D28, D27, M28, A27 = date(2024, 1, 28), date(2024, 2, 27), date(2024, 3, 28), date(2024, 4, 27)
TWO = [(D28, D27, 812.0), (D27, M28, 744.0)]
MONTHLY = [(JAN, FEB, 812.0), (FEB, MAR, 744.0), (MAR, APR, 690.0)]
NEW_WAYS = {
    "two lines of header": ("Service,Service,Usage,Current\nfrom,to,kWh,charges\n1/28/2024,2/27/2024,812,131.40\n"
                            "2/27/2024,3/28/2024,744,121.10\n", TWO),
    "Jan '24": ("Month,kWh\nJan '24,812\nFeb '24,744\nMar '24,690\n", MONTHLY),
    "01/24": ("Month,kWh\n01/24,812\n02/24,744\n03/24,690\n", MONTHLY),
    "month and year apart": ("Year,Month,kWh\n2024,1,812\n2024,2,744\n2024,3,690\n", MONTHLY),
    "kWh and money in a cell": ("From,To,Usage\n1/28/2024,2/27/2024,812 kWh ($131.40)\n"
                                "2/27/2024,3/28/2024,744 kWh ($121.10)\n", TWO),
    "money and kWh in a cell": ("From,To,Bill\n1/28/2024,2/27/2024,$131.40 for 812 kWh\n"
                                "2/27/2024,3/28/2024,$121.10 for 744 kWh\n", TWO),
    "unit and mark": ('From,To,kWh\n1/28/2024,2/27/2024,"1,204 kWh (E)"\n2/27/2024,3/28/2024,"1,104 kWh (A)"\n',
                      [(D28, D27, 1204.0), (D27, M28, 1104.0)]),
    "mark before": ("From,To,kWh\n1/28/2024,2/27/2024,est. 812\n2/27/2024,3/28/2024,744\n", TWO),
    "remarks between": ("From,To,kWh\n1/28/2024,2/27/2024,812\nmoved in,,\n2/27/2024,3/28/2024,744\nguests!,,\n", TWO),
    "a new page": ("From,To,kWh\n1/28/2024,2/27/2024,812\n\nPage 2\nFrom,To,kWh\n2/27/2024,3/28/2024,744\n", TWO),
    "quarters": ("Quarter,kWh\nQ1 2024,812\n2024-Q2,744\n2024Q3,690\n",
                 [(JAN, APR, 812.0), (APR, date(2024, 7, 1), 744.0), (date(2024, 7, 1), date(2024, 10, 1), 690.0)]),
    "sums": ("Month,kWh\nJan 2024,812\nFeb 2024,744\nMar 2024,690\n2024 total,2246\nAverage per month,749\nYTD,2246\n",
             MONTHLY),
    "readings alone": ("Date,Meter reading\n1/28/2024,48211\n2/27/2024,49023\n3/28/2024,49767\n",
                       [(D28, D27, None), (D27, M28, None)]),
    "a reading to begin with": ("Date,Reading,kWh\n1/28/2024,48211,\n2/27/2024,49023,812\n3/28/2024,49767,744\n", TWO),
    "months to come": ("Month,kWh,Amount\nJan 2024,812,9\nFeb 2024,744,8\nMar 2024,690,7\nApr 2024,,\nMay 2024,,\n",
                       MONTHLY),
    "turned about": ("Start,1/28/2024,2/27/2024\nEnd,2/27/2024,3/28/2024\nkWh,812,744\nCost,131.40,121.10\n", TWO),
    "megawatt-hours": ("From,To,MWh\n1/28/2024,2/27/2024,0.812\n2/27/2024,3/28/2024,0.744\n", TWO),
    "words of money": ("From,To,kWh,Amount\n1/28/2024,2/27/2024,812,131.40 euro\n2/27/2024,3/28/2024,744,99 euro\n",
                       TWO),
    "no cents": ('From,To,kWh,Amount\n1/28/2024,2/27/2024,812,"131,- EUR"\n2/27/2024,3/28/2024,744,"121,- EUR"\n', TWO),
    "bars and a rule": ("| From | To | kWh |\n|---|---|---|\n| 1/28/2024 | 2/27/2024 | 812 |\n"
                        "| 2/27/2024 | 3/28/2024 | 744 |\n", TWO),
    "set apart by spaces": ("From       To         kWh\n1/28/2024  2/27/2024  812\n2/27/2024  3/28/2024  744\n", TWO),
    "days with a zone": ("start,end,kwh\n2024-01-28T00:00:00Z,2024-02-27T00:00:00Z,812\n"
                         "2024-02-27T00:00:00+00:00,2024-03-28T00:00:00+00:00,744\n", TWO),
    "apostrophes": ("von;bis;kWh;Betrag\n28.01.24;27.02.24;1'812;CHF 1'131.40\n27.02.24;28.03.24;1’744;CHF 1’031.40\n",
                    [(D28, D27, 1812.0), (D27, M28, 1744.0)]),
    "hard spaces": ("von;bis;kWh\n28.01.24;27.02.24;1\u00a0812\n27.02.24;28.03.24;1\u202f744\n",
                    [(D28, D27, 1812.0), (D27, M28, 1744.0)]),
    "German": ("Von;Bis;Stromverbrauch;Rechnungsbetrag\n28.01.2024;27.02.2024;812;131,40 €\n"
               "27. Februar 2024;28. März 2024;744;121,10 €\n", TWO),
    "French": ("du;au;consommation kWh;montant TTC\n28/01/2024;27/02/2024;812;131,40 €\n"
               "27 février 2024;28 mars 2024;744;121,10 €\n", TWO),
    "Spanish": ("desde;hasta;consumo (kWh);importe\n28 de enero de 2024;27/02/2024;812;131,40\n"
                "27/02/2024;28/03/2024;744;121,10\n", TWO),
    "Italian": ("dal;al;consumo;importo\n28/01/2024;27/02/2024;812;131,40\n27/02/2024;28/03/2024;744;121,10\n", TWO),
    "Swedish": ("från;till;förbrukning;belopp\n2024-01-28;2024-02-27;812;1131,40 kr\n"
                "2024-02-27;2024-03-28;744;1021,10 kr\n", TWO),
    "Dutch": ("van;tot;verbruik;bedrag\n28-01-2024;27-02-2024;812;131,40\n27-02-2024;28-03-2024;744;121,10\n", TWO),
    "Polish": ("od;do;zużycie;kwota\n28.01.2024;27.02.2024;812;131,40 zł\n27.02.2024;28.03.2024;744;121,10 zł\n", TWO),
    "Portuguese": ("de;até;consumo;valor\n28/01/2024;27/02/2024;812;R$ 131,40\n27/02/2024;28/03/2024;744;R$ 121,10\n",
                   TWO),
    "a phone's table": ("Table 1\nFrom;To;kWh\n28.01.2024;27.02.2024;812\n27.02.2024;28.03.2024;744\n", TWO),
    "a phone's notes": ("Power\nJan 2024: 812 kWh, $131.40\nFeb 2024: 744 kWh, $121.10\nMar 2024: 690 kWh, $113.00\n",
                        MONTHLY),
    "a phone's list": ("Jan 2024 - 812 kWh\nFeb 2024 - 744 kWh\nMar 2024 - 690 kWh\n", MONTHLY),
    "credits": ("From,To,kWh,Amount\n1/28/2024,2/27/2024,812,($21.10)\n2/27/2024,3/28/2024,744,$12.10 CR\n", TWO),
}  # fmt: skip


@pytest.mark.parametrize("name", NEW_WAYS)
def test_other_ways_to_type_bills_are_read_at_once(name: str) -> None:
    text, expected = NEW_WAYS[name]
    house = read(text)
    assert [(bill.start, bill.closes, bill.kwh) for bill in house.bills] == expected
    if name == "unit and mark":
        assert [bill.read_type for bill in house.bills] == ["estimated", "actual"]
    if name in ("kWh and money in a cell", "money and kWh in a cell"):
        assert [bill.amount for bill in house.bills] == [Decimal("131.40"), Decimal("121.10")]
    if name == "a phone's notes":
        assert [bill.amount for bill in house.bills] == [Decimal("131.40"), Decimal("121.10"), Decimal("113.00")]
    if name == "readings alone":
        assert [(bill.reading_start, bill.reading_end) for bill in house.bills] == [(48211, 49023), (49023, 49767)]
    if name == "credits":
        assert [bill.amount for bill in house.bills] == [Decimal("-21.10"), Decimal("-12.10")]


def test_a_workbook_with_months_across_keeps_its_rows_for_faults(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "bills"
    for row in (["Power at home"], ["kWh", *MONTH_NAMES["short"][:4]], [2024, 500, 510, "52O", 530]):
        sheet.append(row)
    book.save(tmp_path / "home.xlsx")
    with pytest.raises(InputError) as caught:
        read_house(tmp_path / "home.xlsx")
    (fault,) = caught.value.faults
    assert (fault.row, fault.read) == (3, "52O")
    sheet["D3"] = 520
    sheet["B2"], sheet["C2"], sheet["D2"], sheet["E2"] = (date(2024, month, 1) for month in range(1, 5))
    book.save(tmp_path / "home.xlsx")
    assert [bill.kwh for bill in read_house(tmp_path / "home.xlsx").bills] == [500.0, 510.0, 520.0, 530.0]


def test_the_short_answer_shows_back_how_the_bills_were_read() -> None:
    from reconcile.answer import reconcile
    from reconcile.report.screens.terminal import terminal_text

    kwh = [520 + 10 * (month % 3) for month in range(14)]
    cents = [15 * used for used in kwh]
    house = read(text_of(monthly_rows(Monthly((2024, 3), kwh, cents, "across")), ","))
    said = " ".join(terminal_text(reconcile(house), 80, full=False).split())
    assert "bills.csv is read as: the months stand in the columns" in said


def test_numbers_like_years_in_a_plain_table_stay_numbers() -> None:
    text = "Month,kWh,Units\nJan 2024,1980,2040\nFeb 2024,2010,1990\nMar 2024,1999,2001\n".replace(",Units", ",Amount")
    house = read(text)
    assert [(bill.kwh, bill.amount) for bill in house.bills] == [(1980, 2040), (2010, 1990), (1999, 2001)]
    text = "No,Start,End,kWh,Amount\n" + "".join(
        f"{n},2024-0{n}-01,2024-0{n + 1}-01,{1979 + n},{2020 + n}\n" for n in range(1, 6)
    )
    assert [bill.kwh for bill in read(text).bills] == [1980, 1981, 1982, 1983, 1984]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("kWh,Jan,Feb,Mar\n2024,812,744\n2025,690\n", [(JAN, 812.0), (FEB, 744.0), (date(2025, 1, 1), 690.0)]),
        ("kWh,2023,2024\nJan,812,700\nFeb,744\nMar\n",
         [(date(2023, 1, 1), 812.0), (date(2023, 2, 1), 744.0), (JAN, 700.0)]),
        ("Month,Jan 2024,Feb 2024,Mar 2024\nkWh,812,744,690\nCost,131.40,121.10\n",
         [(JAN, 812.0), (FEB, 744.0), (MAR, 690.0)]),
        ("Start,2024-01-28,2024-02-27\nEnd,2024-02-27,2024-03-28\nkWh,812,744\nNote,first\n",
         [(D28, 812.0), (D27, 744.0)]),
    ],
    ids=["months", "years", "dated", "turned"],
)  # fmt: skip
def test_rows_may_be_shorter_than_the_header(text: str, expected: list[tuple[date, float]]) -> None:
    assert [(bill.start, bill.kwh) for bill in read(text).bills] == expected


@pytest.mark.parametrize(
    "text",
    [
        "Electric bills 2024\nMonth,kWh\nJan,812\nFeb,744\nMar,690\n",
        "Month,kWh\nJan 2024,812\nFeb,744\nMar,690\n",
        "Month,kWh\n2024,\nJan,812\nFeb,744\nMar,690\n",
        "Year,Month,kWh\n2024,Jan,812\n,Feb,744\n,Mar,690\n",
    ],
)
def test_a_year_said_once_goes_on(text: str) -> None:
    house = read(text)
    assert [(bill.start, bill.kwh) for bill in house.bills] == [(JAN, 812.0), (FEB, 744.0), (MAR, 690.0)]
    assert any("year" in notice for notice in house.notices)


def test_the_years_count_back_where_the_newest_month_stands_first() -> None:
    house = read("Month,kWh\nFeb 2025,744\nJan,812\nDec,690\nNov,650\n")
    assert [bill.start for bill in house.bills] == [
        date(2024, 11, 1),
        date(2024, 12, 1),
        date(2025, 1, 1),
        date(2025, 2, 1),
    ]


def test_a_first_row_that_is_a_bill_opens_nothing() -> None:
    house = read("Read date,Reading,kWh\n1/28/2024,48211,800\n2/27/2024,49023,812\n3/28/2024,49767,744\n")
    assert [bill.kwh for bill in house.bills] == [800.0, 812.0, 744.0]
    house = read("Read date,Reading\n3/28/2024,49767\n2/27/2024,49023\n1/28/2024,48211\n")
    assert [(bill.reading_start, bill.reading_end) for bill in house.bills] == [(48211, 49023), (49023, 49767)]


def test_what_is_due_is_told_once() -> None:
    house = read("From,To,kWh,Total due\n1/28/2024,2/27/2024,812,9.5\n")
    (told,) = [notice for notice in house.notices if "is read as" in notice]
    assert "amount due is the column" not in told
    assert "Total due is this period's charges" in told


SEASONS = (
    'start,end,kwh,amount\n1/18/2021,2/19/2021,"2,636",465.37\n2/19/2021,3/20/2021,"1,494",266.56\n'
    "3/20/2021,4/19/2021,657,120.85\n4/19/2021,5/19/2021,31,11.86\n5/19/2021,6/19/2021,19,9.83\n"
)


def test_what_a_kwh_costs_settles_the_sign_of_a_large_bill_among_small_ones() -> None:
    assert [bill.kwh for bill in read(SEASONS).bills] == [2636.0, 1494.0, 657.0, 31.0, 19.0]


def test_the_sign_is_asked_where_no_money_settles_it() -> None:
    unpaid = "\n".join(line.rpartition(",")[0] for line in SEASONS.splitlines())
    with pytest.raises(InputError, match="read in two ways"):
        read(unpaid)
    with pytest.raises(InputError, match="read in two ways"):
        read(SEASONS.replace("465.37", "0.47").replace("266.56", "0.27"))
