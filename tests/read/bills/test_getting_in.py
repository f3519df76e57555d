"""A year of bills as people keep it: days without a year, energy in parts, totals below, other languages."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reconcile.errors import InputError
from reconcile.read import read_house

DAYS = [
    date(2024, 12, 11), date(2025, 1, 10), date(2025, 2, 11), date(2025, 3, 12), date(2025, 4, 10), date(2025, 5, 12),
    date(2025, 6, 11), date(2025, 7, 11), date(2025, 8, 12), date(2025, 9, 10), date(2025, 10, 10), date(2025, 11, 11),
]  # fmt: skip
KWH = [871, 934, 842, 701, 588, 540, 612, 748, 802, 661, 574]
SPANS = list(zip(DAYS, DAYS[1:], KWH, strict=False))
WANTED = [(start, end, float(kwh)) for start, end, kwh in SPANS]


def table(head: str, line: Callable[[date, date, int], str]) -> str:
    return "\n".join([head, *(line(*span) for span in SPANS)]) + "\n"


def named(day: date) -> str:
    return f"{day:%b} {day.day}"


READ = {
    "day and month, the years in the title": table(
        "Electricity 2024/2025\nFrom,To,kWh", lambda a, b, k: f"{a:%d/%m},{b:%d/%m},{k}"
    ),
    "month and day, the years in the title, newest first": "\n".join(
        ["My bills 2024 - 2025", "From,To,kWh", *(f"{a:%m/%d},{b:%m/%d},{k}" for a, b, k in reversed(SPANS))]
    ),
    "spans without a year beside a column of years": table(
        "Year,Service period,Usage (kWh)", lambda a, b, k: f"{b.year},{named(a)} - {named(b)},{k}"
    ),
    "spans without a year beside the bill's date": table(
        "Bill date,Service period,Usage (kWh)",
        lambda a, b, k: f"{b + timedelta(days=4):%m/%d/%Y},{named(a)} to {named(b)},{k}",
    ),
    "days without a year beside a date": table(
        "Bill date,From,To,kWh", lambda a, b, k: f"{b + timedelta(days=3)},{a:%d/%m},{b:%d/%m},{k}"
    ),
    "the year of the rows above them": "From,To,kWh\n"
    + "\n".join(("2025,,\n" if n == 0 else "") + f"{named(a)},{named(b)},{k}" for n, (a, b, k) in enumerate(SPANS)),
    "on-peak and off-peak": table(
        "Start,End,On-peak kWh,Off-peak kWh", lambda a, b, k: f"{a},{b},{k // 3},{k - k // 3}"
    ),
    "three parts": table(
        "Start,End,Peak usage (kWh),Shoulder usage (kWh),Off peak usage (kWh)",
        lambda a, b, k: f"{a},{b},{k // 3},{k // 5},{k - k // 3 - k // 5}",
    ),
    "day and night": table("from;to;day kWh;night kWh", lambda a, b, k: f"{a};{b};{k // 3};{k - k // 3}"),
    "tiers": table("Start,End,Tier 1 kWh,Tier 2 kWh", lambda a, b, k: f"{a},{b},{min(k, 600)},{max(k - 600, 0)}"),
    "totals, means and extremes below": table("Start,End,kWh", lambda a, b, k: f"{a},{b},{k}")
    + f"TOTAL,,{sum(KWH)}\nMonthly avg,,{sum(KWH) / 11:.0f}\nHighest,,{max(KWH)}\nLowest,,{min(KWH)}\n",
    "a total without a word": table("Start,End,kWh", lambda a, b, k: f"{a},{b},{k}") + f",,{sum(KWH)}\n",
    "German": table("Abrechnung von;Abrechnung bis;Verbrauch in kWh", lambda a, b, k: f"{a:%d.%m.%y};{b:%d.%m.%y};{k}"),
    "Dutch spans, both days in them": table(
        "Periode;Verbruik", lambda a, b, k: f"{a:%d-%m-%Y} t/m {b - timedelta(days=1):%d-%m-%Y};{k}"
    ),
    "French spans": table("Période;Conso (kWh)", lambda a, b, k: f"du {a:%d/%m/%Y} au {b:%d/%m/%Y};{k}"),
    "German spans": table("Zeitraum;Verbrauch", lambda a, b, k: f"vom {a:%d.%m.%Y} bis {b:%d.%m.%Y};{k}"),
    "about": table("Start,End,kWh", lambda a, b, k: f"{a},{b},about {k}"),
    "more or less": table("Start,End,kWh", lambda a, b, k: f"{a},{b},~{k} kWh"),
    "Spanish": table("Fecha inicio;Fecha fin;Consumo facturado", lambda a, b, k: f"{a:%d-%m-%Y};{b:%d-%m-%Y};{k} kWh"),
}


def read(folder: Path, text: str, name: str = "bills.csv") -> list[tuple[date, date, float | None]]:
    (folder / name).write_text(text, encoding="utf-8")
    return [(bill.start, bill.closes, bill.kwh) for bill in read_house(folder).bills]


@pytest.mark.parametrize("name", list(READ))
def test_it_is_read(tmp_path: Path, name: str) -> None:
    assert read(tmp_path, READ[name]) == WANTED


def test_the_year_in_the_name_of_the_file(tmp_path: Path) -> None:
    text = "Month,kWh\nJan,905\nFeb,921\nMar,870\n"
    assert read(tmp_path, text, "bills 2025.csv")[2] == (date(2025, 3, 1), date(2025, 4, 1), 870.0)


@pytest.mark.parametrize(
    "text",
    [
        table("Service period,kWh", lambda a, b, k: f"{named(a)} - {named(b)},{k}"),
        table("From,To,kWh", lambda a, b, k: f"{a:%d/%m},{b:%d/%m},{k}"),
    ],
)
def test_no_year_anywhere_is_one_question_whose_answers_work(tmp_path: Path, text: str) -> None:
    with pytest.raises(InputError) as caught:
        read(tmp_path, text)
    assert len(caught.value.faults) == 1
    assert "Add a column year" in caught.value.faults[0].remedy
    assert read(tmp_path, "2024/2025\n" + text) == WANTED
    head, *lines = text.splitlines()
    dated = [f"{head},year", *(f"{line},{b.year}" for line, (_, b, _) in zip(lines, SPANS, strict=True))]
    assert read(tmp_path, "\n".join(dated)) == WANTED


def test_a_title_of_other_years_is_not_believed(tmp_path: Path) -> None:
    text = table("Electricity 2023/2025\nFrom,To,kWh", lambda a, b, k: f"{a:%d/%m},{b:%d/%m},{k}")
    with pytest.raises(InputError, match="2023 and 2025 above it or in the name does not fit"):
        read(tmp_path, text)


def test_a_title_may_name_the_year_of_the_last_days_or_of_the_first(tmp_path: Path) -> None:
    text = table("Electricity 2025\nFrom,To,kWh", lambda a, b, k: f"{a:%m/%d},{b:%m/%d},{k}")
    assert read(tmp_path, text) == WANTED
    later = [(a + timedelta(days=31), b + timedelta(days=31), float(k)) for a, b, k in SPANS]
    lines = [f"{a:%m/%d},{b:%m/%d},{k:.0f}" for a, b, k in later]
    assert read(tmp_path, "\n".join(["Electricity 2025\nFrom,To,kWh", *lines])) == later


def test_sheets_of_a_year_each_with_days_under_a_word_for_money(tmp_path: Path) -> None:
    made = openpyxl.Workbook()
    made.remove(made.active)
    for year in (2025, 2024):
        sheet = made.create_sheet(str(year))
        sheet.append(["Bill", "kWh", "$"])
        for a, b, k in [span for span in [(date(2024, 11, 11), DAYS[0], 777), *SPANS] if span[1].year == year]:
            sheet.append([f"{a.month}/{a.day} - {b.month}/{b.day}", k, k / 8])
    made.save(tmp_path / "power.xlsx")
    house = read_house(tmp_path / "power.xlsx")
    assert [(bill.start, bill.closes, bill.kwh) for bill in house.bills][1:] == WANTED
    assert any("period is the column Bill" in notice for notice in house.notices)


def test_a_status_of_cancelled_is_the_kind_of_bill(tmp_path: Path) -> None:
    text = table("Start,End,kWh,Status", lambda a, b, k: f"{a},{b},{k},")
    text = text.replace(
        f"{DAYS[4]},{DAYS[5]},588,", f"{DAYS[4]},{DAYS[5]},988,CANCELLED\n{DAYS[4]},{DAYS[5]},588,Rebill"
    )
    (tmp_path / "bills.csv").write_text(text)
    kinds = [bill.bill_type for bill in read_house(tmp_path).bills]
    assert (kinds.count("cancelled"), kinds.count("corrected"), len(kinds)) == (1, 1, 12)


def test_demand_and_averages_are_no_parts(tmp_path: Path) -> None:
    text = table("Start,End,Peak demand kW,Off-peak demand kW", lambda a, b, k: f"{a},{b},4,3")
    with pytest.raises(InputError, match="column kwh is missing"):
        read(tmp_path, text)


@settings(deadline=None, max_examples=60)
@given(
    first=st.dates(date(2023, 1, 1), date(2024, 12, 31)),
    steps=st.lists(st.integers(27, 34), min_size=3, max_size=13),
    form=st.sampled_from(["%d/%m", "%m/%d", "%b %d", "%d %b"]),
    newest_first=st.booleans(),
    source=st.sampled_from(["title", "year", "bill date", "none"]),
)
def test_days_without_a_year_are_right_or_asked(
    tmp_path_factory: pytest.TempPathFactory,
    first: date, steps: list[int], form: str, newest_first: bool, source: str,
) -> None:  # fmt: skip
    days = [first]
    for step in steps:
        days.append(days[-1] + timedelta(days=step))
    rows = [(a, b, 500 + 7 * n) for n, (a, b) in enumerate(pairwise(days))]
    years = f"{days[0].year}" if days[0].year == days[-1].year else f"{days[0].year}/{days[-1].year}"
    head = {"title": f"Bills {years}\nfrom,to,kwh", "year": "from,to,kwh,year", "bill date": "from,to,kwh,bill date"}
    lines = [head.get(source, "from,to,kwh")]
    for a, b, kwh in reversed(rows) if newest_first else rows:
        more = {"year": f",{b.year}", "bill date": f",{b + timedelta(days=5)}"}.get(source, "")
        lines.append(f"{a.strftime(form)},{b.strftime(form)},{kwh}{more}")
    try:
        got = read(tmp_path_factory.mktemp("h"), "\n".join(lines))
    except InputError:
        return
    assert got == [(a, b, float(kwh)) for a, b, kwh in rows]
    assert source != "none"


def test_two_meters_side_by_side_are_asked_about(tmp_path: Path) -> None:
    """The second was taken for a bill made twice, and dropped."""
    text = table("Meter,Start,End,kWh", lambda a, b, k: f"A1,{a},{b},{k}\nB2,{a},{b},{k // 3}")
    with pytest.raises(InputError, match="A1 and B2 stand side by side") as caught:
        read(tmp_path, text)
    assert len(caught.value.faults) == 1
    summed = table("Start,End,kWh", lambda a, b, k: f"{a},{b},{k + k // 3}")
    assert [kwh for _, _, kwh in read(tmp_path, summed)] == [k + k // 3 for k in KWH]


def test_readings_alone_go_on_through_an_exchange(tmp_path: Path) -> None:
    lines, total = ["Date,Meter reading"], 41200
    for n, day in enumerate(DAYS):
        lines.append(f"{day},{total}")
        if n == 6:
            total = 12
            lines.append(f"{day},{total}")
        total += KWH[n] if n < len(KWH) else 0
    (tmp_path / "bills.csv").write_text("\n".join(lines))
    bills = read_house(tmp_path).bills
    assert [(b.start, b.end, (b.reading_end or 0.0) - (b.reading_start or 0.0)) for b in bills] == WANTED
    assert [b.meter for b in bills] == ["meter 1"] * 6 + ["meter 2"] * 5


def test_supply_and_delivery_are_the_amount(tmp_path: Path) -> None:
    text = table(
        "Start,End,kWh,Supply charges,Delivery charges", lambda a, b, k: f"{a},{b},{k},${k / 10:.2f},{k / 20:.2f}"
    )
    (tmp_path / "bills.csv").write_text(text)
    house = read_house(tmp_path)
    assert [float(bill.amount or 0) for bill in house.bills] == pytest.approx(
        [round(k / 10, 2) + round(k / 20, 2) for k in KWH], abs=0.011
    )
    assert any("amount is the sum of Supply charges and Delivery charges" in notice for notice in house.notices)


def long(day: date) -> str:
    return f"{day:%B} {day.day}, {day.year}"


BLOCKS = {
    "label: value": "\n\n".join(
        f"Statement date: {long(b + timedelta(days=3))}\nService from: {long(a)}\nService to: {long(b)}\n"
        f"Electricity used: {k} kWh\nAmount due: $1,{k}.10"
        for a, b, k in reversed(SPANS)
    ),
    "label and value by turns": "My account\n"
    + "\n".join(
        f"Billing period\n{named(a)}, {a.year} - {named(b)}, {b.year}\nUsage\n{k} kWh\nTotal\n$1,{k}.10\nView bill"
        for a, b, k in reversed(SPANS)
    ),
}


@pytest.mark.parametrize("name", list(BLOCKS))
@pytest.mark.parametrize("file", ["bills.csv", "bills.txt"])
def test_bills_pasted_from_a_web_page(tmp_path: Path, name: str, file: str) -> None:
    assert read(tmp_path, BLOCKS[name], file) == WANTED
    assert [float(bill.amount or 0) for bill in read_house(tmp_path).bills] == [1000 + k + 0.1 for k in KWH]


@pytest.mark.parametrize(
    ("head", "month"),
    [
        ("Mese;Anno;Consumo kWh;Importo €", "novembre"),
        ("Mois;Année;kWh;Euros", "novembre"),
        ("Maand;Jaar;Verbruik kWh;Bedrag", "november"),
        ("Månad;År;Förbrukning kWh;Belopp kr", "november"),
        ("Mes;Año;Consumo (kWh);Importe EUR", "noviembre"),
    ],
)
def test_months_beside_their_year_in_the_words_of_a_language(tmp_path: Path, head: str, month: str) -> None:
    (tmp_path / "bills.csv").write_text(f"{head}\n{month};2024;500;85,49\n")
    (bill,) = read_house(tmp_path).bills
    assert (bill.start, bill.kwh, str(bill.amount)) == (date(2024, 11, 1), 500.0, "85.49")


@pytest.mark.parametrize("name", ["Power factor", "PF"])
def test_a_power_factor_is_no_multiplier_of_the_meter(tmp_path: Path, name: str) -> None:
    (tmp_path / "bills.csv").write_text(table(f"Start,End,Billed Use,{name}", lambda a, b, k: f"{a},{b},{k},0.97"))
    bills = read_house(tmp_path).bills
    assert {bill.multiplier for bill in bills} == {None}
    assert [bill.kwh for bill in bills] == [float(kwh) for kwh in KWH]


def test_rounded_figures_are_told(tmp_path: Path) -> None:
    (tmp_path / "bills.csv").write_text(READ["about"])
    assert any("the kWh of 11 rows are rounded (about 871)" in notice for notice in read_house(tmp_path).notices)


def with_money(head: str, beside: Callable[[int], str]) -> str:
    rows = [f"{a},{b},{k},{beside(n)}" for n, (a, b, k) in enumerate(SPANS)]
    return "\n".join([f"start,end,kwh,{head}", *rows]) + "\n"


@pytest.mark.parametrize(
    ("head", "beside"),
    [
        (
            "Charges,Previous balance,Late fee,Total due",
            lambda n: f"{90 + n}.10,{n % 3 * 40}.25,{n % 2}.5,{90 + n + n % 3 * 40 + n % 2}.85",
        ),
        ("Charges,Gas,Total due", lambda n: f"{90 + n}.10,{30 + n}.00,{120 + 2 * n}.10"),
        ("Charges,Earlier balance,Paid back,Total due", lambda n: f"{90 + n}.10,{80 + n}.00,{50 + 2 * n}.00,{120}.10"),
    ],
)
def test_money_that_other_columns_state_is_left_out(tmp_path: Path, head: str, beside: Callable[[int], str]) -> None:
    (tmp_path / "bills.csv").write_text(with_money(head, beside))
    house = read_house(tmp_path)
    assert {bill.amount_due for bill in house.bills} == {None}
    assert [str(bill.amount) for bill in house.bills] == [f"{90 + n}.10" for n in range(len(SPANS))]
    (told,) = [notice for notice in house.notices if "what is asked beside the charges is" in notice]
    assert head.split(",")[1] in told


def test_money_that_no_column_states_stays_asked_about(tmp_path: Path) -> None:
    (tmp_path / "bills.csv").write_text(
        with_money("Charges,Previous balance,Total due", lambda n: f"{90 + n}.10,{n % 3 * 40},{95 + n + n % 3 * 40}.10")
    )
    assert [str(bill.amount_due) for bill in read_house(tmp_path).bills][:2] == ["95.10", "136.10"]


@pytest.mark.parametrize(
    ("note", "amount"),
    [
        ("incl $150 deposit", "82.98"),
        ("includes a late fee of 12.50", "220.48"),
        ("with 100.00 balance of last month", "132.98"),
        ("incl. 45 € deposit", "187.98"),
        ("with 2 late fees", "232.98"),
        ("incl 19% tax", "232.98"),
        ("incl the new fridge of 2024", "232.98"),
        ("deposit $150 paid apart", "232.98"),
        ("incl $500 deposit", "232.98"),
    ],
)
def test_a_note_of_money_that_is_not_of_electricity(tmp_path: Path, note: str, amount: str) -> None:
    (tmp_path / "bills.csv").write_text(
        with_money("total due,note", lambda n: f"232.98,{note}" if n == 2 else f"{80 + n}.25,")
    )
    house = read_house(tmp_path)
    assert str(house.bills[2].amount) == amount
    assert house.bills[2].note == note
    assert any("is not this period's electricity" in notice for notice in house.notices) == (amount != "232.98")


def test_charges_below_zero_on_every_bill_are_what_was_paid(tmp_path: Path) -> None:
    (tmp_path / "bills.csv").write_text(table("Start,End,kWh,Cost", lambda a, b, k: f"{a},{b},{k},-${k / 8:.2f}"))
    house = read_house(tmp_path)
    assert [float(bill.amount or 0) for bill in house.bills] == [float(f"{k / 8:.2f}") for k in KWH]
    assert any("it is what was paid" in notice for notice in house.notices)
