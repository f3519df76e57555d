"""Ways in which bills, lists and diaries come from kitchens, mail and portals: read whole, or told by their place."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from itertools import pairwise
from pathlib import Path

import openpyxl
import pytest

from reconcile.errors import InputError
from reconcile.house import House
from reconcile.read import read_house

BILLS = "start,end,kwh\n2024-12-01,2025-01-01,600\n2025-01-01,2025-02-01,610\n"
HouseOf = Callable[..., House]


@pytest.fixture
def house_of(tmp_path: Path) -> HouseOf:
    def made(**files: str) -> House:
        own = any(name.startswith("bills") for name in files)
        for name, text in (files if own else {"bills__csv": BILLS, **files}).items():
            (tmp_path / name.replace("__", ".")).write_text(text)
        return read_house(tmp_path)

    return made


def _faults(house_of: HouseOf, **files: str) -> list[str]:
    with pytest.raises(InputError) as told:
        house_of(**files)
    return [str(fault) for fault in told.value.faults]


TWO_ROWS = """\
Feb 14 2024 to Mar 16 2024\tkWh used\t635
\tAmount\t$98.27
Mar 16 2024 to Apr 14 2024\tkWh used\t528
\tAmount\t$83.39
Apr 14 2024 to May 15 2024\tkWh used\t753
\tAmount\t$114.67
"""


@pytest.mark.parametrize("heading", ["Bill\tItem\tValue\n", "Item\tWhat\tValue\n", "Bill\tItem\tAmount\n", ""])
def test_a_heading_over_bills_of_two_rows_takes_none_of_them(house_of: HouseOf, heading: str) -> None:
    house = house_of(bills__txt=heading + TWO_ROWS)
    assert [bill.kwh for bill in house.bills] == [635.0, 528.0, 753.0]
    assert [bill.amount for bill in house.bills] == [Decimal("98.27"), Decimal("83.39"), Decimal("114.67")]


@pytest.mark.parametrize(
    ("line", "count", "watts"),
    [
        ("space heater x2 1500 W", 2, 1500.0),
        ("TV x2 100 W 5 h", 2, 100.0),
        ("space heater 1500 W x2", 2, 1500.0),
        ("heater 2x1500 W", 2, 1500.0),
        ("heater 2 x 1500 W", 2, 1500.0),
        ("3 lamps 60 W each 4 h", 3, 60.0),
        ("bulbs 10 x 9W 4h", 10, 9.0),
        ("lamp (x3) 9W 4h", 3, 9.0),
        ("TVs (2) 80W 3 h/day", 2, 80.0),
        ("heater 1500 W", 1, 1500.0),
    ],
)
def test_how_many_of_a_load_wherever_it_is_written(house_of: HouseOf, line: str, count: int, watts: float) -> None:
    house = house_of(loads__txt=f"- {line}\n- fridge\n")
    assert (house.loads[0].count, house.loads[0].watts) == (count, watts)


@pytest.mark.parametrize("name", ["$ paid", "Paid ($)", "paid", "I paid", "amount paid"])
def test_what_was_paid_stands_for_the_charges_where_nothing_else_does(house_of: HouseOf, name: str) -> None:
    house = house_of(
        bills__csv=f"start,end,kwh,{name}\n2024-12-01,2025-01-01,600,68.5 USD\n2025-01-01,2025-02-01,610,70\n"
    )
    assert [bill.amount for bill in house.bills] == [Decimal("68.5"), Decimal("70")]


def test_a_payment_beside_the_charges_and_a_mark_of_it_are_no_charges(house_of: HouseOf) -> None:
    rows = "2024-12-01,2025-01-01,600,68.50,{}\n2025-01-01,2025-02-01,610,70.00,{}\n"
    for paid in (("100", "138.50"), ("yes", "no"), ("2025-01-12", "2025-02-13")):
        house = house_of(bills__csv="start,end,kwh,amount,paid\n" + rows.format(*paid))
        assert [bill.amount for bill in house.bills] == [Decimal("68.50"), Decimal("70.00")]
    house = house_of(bills__csv="start,end,kwh,paid\n2024-12-01,2025-01-01,600,yes\n2025-01-01,2025-02-01,610,no\n")
    assert [bill.amount for bill in house.bills] == [None, None]


@pytest.mark.parametrize(
    ("line", "first", "last", "kind"),
    [
        ("Dec 15 2024 - Jan 6 2025: family of 5 visiting", date(2024, 12, 15), date(2025, 1, 6), "guests"),
        ("2024-07-10 to 2024-07-24 away on vacation", date(2024, 7, 10), date(2024, 7, 24), "away"),
        ("Jul 10 - Jul 24, 2024: vacation", date(2024, 7, 10), date(2024, 7, 24), "away"),
        ("Dec 20 - Jan 5, 2025 guests", date(2024, 12, 20), date(2025, 1, 5), "guests"),
        ("from 10 July 2024 to 24 July 2024 away", date(2024, 7, 10), date(2024, 7, 24), "away"),
        ("2024-08-01 \N{EN DASH} 2024-08-05 \N{EN DASH} away", date(2024, 8, 1), date(2024, 8, 5), "away"),
        ("2024-07-10 - bought a freezer", date(2024, 7, 10), None, "new-load"),
        ("2025-01-01 Tom left for college", date(2025, 1, 1), None, "occupants"),
        ("2025-01-01 new tenants upstairs", date(2025, 1, 1), None, "occupants"),
        ("2025-01-01 my mother-in-law died", date(2025, 1, 1), None, "occupants"),
        ("2025-01-01 fridge in garage died, threw it out", date(2025, 1, 1), None, "removed-load"),
        ("2025-01-01 working from home now", date(2025, 1, 1), None, "occupants"),
    ],
)
def test_a_line_of_the_diary_has_its_last_day_and_its_kind(
    house_of: HouseOf, line: str, first: date, last: date | None, kind: str
) -> None:
    (event,) = house_of(events__txt=line + "\n").events
    assert (event.day, event.until, event.kind) == (first, last, kind)


def test_a_diary_of_days_and_notes_only(house_of: HouseOf) -> None:
    house = house_of(events__csv="date,note\n2024-07-10 to 2024-07-24,on vacation\n2024-09-01,Tom left for college\n")
    assert [(e.day, e.until, e.kind, e.note) for e in house.events] == [
        (date(2024, 7, 10), date(2024, 7, 24), "away", "on vacation"),
        (date(2024, 9, 1), None, "occupants", "Tom left for college"),
    ]
    assert any("2024-07-10 to 2024-07-24 is from 2024-07-10 until 2024-07-24" in notice for notice in house.notices)


def test_panels_in_the_list_make_electricity_and_use_none(house_of: HouseOf) -> None:
    rows = "2024-12-01,2025-01-01,-20\n2025-01-01,2025-02-01,610\n"
    house = house_of(bills__csv="start,end,kwh\n" + rows, loads__txt="fridge\nsolar panels 6 kW 4 h\nTV\n")
    assert [load.name for load in house.loads] == ["fridge", "TV"]
    assert house.generation
    assert any("solar panels 6 kW 4 h makes electricity" in notice for notice in house.notices)


@pytest.mark.parametrize("name", ["solar lights 5 W 4 h", "pool solar pump 200 W 4 h", "PV inverter 10 W 24 h"])
def test_what_only_goes_with_panels_is_a_load(house_of: HouseOf, name: str) -> None:
    house = house_of(loads__txt=f"fridge\n{name}\n")
    assert len(house.loads) == 2
    assert not house.generation


def test_a_bill_below_nothing_is_right_where_what_was_sent_out_stands_beside_it(house_of: HouseOf) -> None:
    text = "Start,End,Delivered (kWh),Received (kWh),Net kWh\n2024-05-01,2024-06-01,392,398,-6\n"
    house = house_of(bills__csv=text)
    assert [(b.kwh, b.delivered_kwh, b.received_kwh) for b in house.bills] == [
        (-6.0, 392.0, 398.0),
    ]


def _year_of(wrong: dict[int, str]) -> str:
    days = [f"2024-{month:02d}-03" for month in range(1, 13)] + ["2025-01-03", "2025-02-03"]
    rows = [f"{wrong.get(2 * n, a)},{wrong.get(2 * n + 1, b)},600" for n, (a, b) in enumerate(pairwise(days))]
    return "\n".join(["start,end,kwh", *rows]) + "\n"


@pytest.mark.parametrize(
    ("place", "typed", "meant", "column"),
    [
        (22, "2023-12-03", "2024-12-03", "start"),
        (23, "2024-01-03", "2025-01-03", "end"),
        (11, "2025-07-03", "2024-07-03", "end"),
    ],
)
def test_a_year_mistyped_is_asked_about_at_its_place(
    house_of: HouseOf, place: int, typed: str, meant: str, column: str
) -> None:
    (fault,) = _faults(house_of, bills__csv=_year_of({place: typed}))
    assert f"row {place // 2 + 2}, column {column}" in fault
    assert f"Did you mean {meant}?" in fault


def test_a_long_bill_that_fits_no_other_year_stands(house_of: HouseOf) -> None:
    text = _year_of({}) + "2025-02-03,2025-08-03,3600\n"
    assert len(house_of(bills__csv=text).bills) == 14


def test_every_bill_of_a_scan_without_its_kwh_is_told_at_once_with_what_stands_there(house_of: HouseOf) -> None:
    blocks = [
        f"Billing Period: {month:02d}/02/2024 to {month + 1:02d}/02/2024   Days: 30\n"
        f"kWh Used  {used}\nCurrent Charges  $ 141.30\n"
        for month, used in ((4, "862"), (5, "8S0"), (6, "851"), (7, "78O"))
    ]
    faults = _faults(house_of, bills__txt="\n".join(blocks))
    assert len(faults) == 2
    assert "'kWh Used  8S0'" in faults[0].replace('"', "'")
    assert "row 6" in faults[0]
    assert "'kWh Used  78O'" in faults[1].replace('"', "'")


def test_names_of_columns_that_people_use(house_of: HouseOf) -> None:
    house = house_of(
        bills__csv="Billed to,Prev read,Pres read,kWh,Actual/Est\n"
        "2025-01-03,100,700,600,Act\n2025-02-03,700,1310,610,Est\n"
    )
    last = house.bills[-1]
    assert (last.end, last.reading_start, last.reading_end, last.read_type) == (
        date(2025, 2, 3),
        700.0,
        1310.0,
        "estimated",
    )


def _book(path: Path, **sheets: list[list[object]]) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(path)
    return path


BILL_ROWS: list[list[object]] = [
    ["start", "end", "kwh"],
    [date(2024, 12, 1), date(2025, 1, 1), 600],
    [date(2025, 1, 1), date(2025, 2, 1), 610],
]


def test_a_sheet_of_what_we_have_is_the_list(tmp_path: Path) -> None:
    rows: list[list[object]] = [
        ["What we have", "How many", "Watts", "Hours/day"],
        ["Fridge", 1, 150, 24],
        ["TV", 2, 100, 5],
    ]
    house = read_house(_book(tmp_path / "bills.xlsx", Sheet1=BILL_ROWS, appliances=rows))
    assert [(load.name, load.count) for load in house.loads] == [("Fridge", 1), ("TV", 2)]


def test_a_sheet_that_is_not_read_is_told_as_such(tmp_path: Path) -> None:
    house = read_house(_book(tmp_path / "bills.xlsx", Sheet1=BILL_ROWS, shopping=[["Milk", 2], ["Bread", 1]]))
    assert "bills.xlsx, the sheet shopping is not read." in house.notices


def test_sums_that_were_never_worked_out_are_left_out_as_others_are(tmp_path: Path) -> None:
    total: list[object] = ["Total", None, "=SUM(C2:C3)"]
    house = read_house(_book(tmp_path / "bills.xlsx", Sheet1=[*BILL_ROWS, total]))
    assert [bill.kwh for bill in house.bills] == [600.0, 610.0]
    with pytest.raises(InputError, match="no stored value"):
        read_house(_book(tmp_path / "other.xlsx", Sheet1=[*BILL_ROWS, [date(2025, 2, 1), date(2025, 3, 1), "=C2+C3"]]))


def test_a_formula_never_worked_out_stops_nobody_in_a_column_that_is_not_needed(tmp_path: Path) -> None:
    rows: list[list[object]] = [
        [*row, note] for row, note in zip(BILL_ROWS, ["my own note", "=C2/31", "=C3/30"], strict=True)
    ]
    house = read_house(_book(tmp_path / "bills.xlsx", Sheet1=rows))
    assert [bill.kwh for bill in house.bills] == [600.0, 610.0]


SPANS = [
    (date(2024, month, 5), date(2024, month + 1, 4), 400 + 10 * month, Decimal(f"{60 + month}.25"))
    for month in range(1, 9)
]


def _us(day: date) -> str:
    return f"{day.month}/{day.day}/{day.year}"


def _long(day: date) -> str:
    return f"{day:%b} {day.day}, {day.year}"


WAYS = {
    "a page of an account": (
        "txt",
        "Billing history\n",
        lambda s, e, k, a: f"{_long(s)} - {_long(e)}\nView bill\n{k} kWh\n${a}\nPaid\n\n",
    ),
    "a table of an account": (
        "txt",
        "Billing period\tUsage\tAmount\tStatus\n",
        lambda s, e, k, a: f"{_long(s)} - {_long(e)}\t{k} kWh\t${a}\tPaid\n",
    ),
    "a sentence": (
        "txt",
        "Hi,\n",
        lambda s, e, k, a: f"From {_long(s)} to {_long(e)} we used {k} kWh and it cost ${a}.\n",
    ),
    "quoted mail": ("txt", "> Jo wrote:\n", lambda s, e, k, a: f"> {_us(s)}-{_us(e)}: {k} kWh, ${a}\n"),
    "a mean beside it": (
        "txt",
        "",
        lambda s, e, k, a: f"{_long(s)} through {_long(e)} | {k} kWh | avg {k / 30:.1f} kWh/day | ${a}\n",
    ),
    "a small table in each bill": (
        "txt",
        "",
        lambda s, e, k, a: (
            f"Meter   From   To   Usage\n88121   {_us(s)}   {_us(e)}   {k}\nCurrent electric charges   ${a}\n\n"
        ),
    ),
    "gas in columns": (
        "csv",
        "From,To,kWh,Electric,Gas,Total\n",
        lambda s, e, k, a: f"{_us(s)},{_us(e)},{k},{a},52.18,{a + 52}\n",
    ),
    "gas in columns, electricity": (
        "csv",
        "From,To,Usage kWh,Electricity $,Gas $,Water $,Amount\n",
        lambda s, e, k, a: f"{_us(s)},{_us(e)},{k},{a},52.18,30,{a + 82}\n",
    ),
    "gas in rows": (
        "csv",
        "Service,From,To,Usage,Unit,Cost\n",
        lambda s, e, k, a: f"Electric,{_us(s)},{_us(e)},{k},kWh,{a}\nGas,{_us(s)},{_us(e)},41,therms,52.18\n",
    ),
    "gas in rows by units": (
        "csv",
        "From,To,Usage,Unit,Cost\n",
        lambda s, e, k, a: f"{_us(s)},{_us(e)},{k},kWh,{a}\n{_us(s)},{_us(e)},41,therms,52.18\n",
    ),
    "a year over its bills": ("csv", "From,To,kWh,Cost\n2024,,,\n", lambda s, e, k, a: f"{_us(s)},{_us(e)},{k},{a}\n"),
    "charges by another name": (
        "csv",
        "From,To,kWh,Actual charges,Status\n",
        lambda s, e, k, a: f"{_us(s)},{_us(e)},{k},{a},Paid\n",
    ),
}


@pytest.mark.parametrize("way", WAYS)
def test_bills_are_read_as_they_are(house_of: HouseOf, way: str) -> None:
    ending, head, line = WAYS[way]
    house = house_of(**{f"bills__{ending}": head + "".join(line(*span) for span in SPANS)})
    assert [(bill.start, bill.end, bill.kwh, bill.amount) for bill in house.bills] == SPANS


def test_a_day_alone_above_each_bill_is_the_day_of_the_bill(house_of: HouseOf) -> None:
    text = "".join(f"{_long(e)}\nView bill\n{k} kWh\n${a}\nPaid\n\n" for _, e, k, a in SPANS)
    house = house_of(bills__txt="Billing history\n" + text)
    assert [(bill.end, bill.kwh, bill.amount) for bill in house.bills] == [span[1:] for span in SPANS]
    assert all(bill.edge_doubt_days > 0 for bill in house.bills)


def test_a_sum_that_holds_gas_is_no_charge_of_electricity(house_of: HouseOf) -> None:
    rows = "".join(f"{_us(s)},{_us(e)},{k},52.18,{a + 52}\n" for s, e, k, a in SPANS)
    house = house_of(bills__csv="From,To,kWh,Gas,Total\n" + rows)
    assert {bill.amount for bill in house.bills} == {None}
    assert any("not read" in notice and "the column Total" in notice for notice in house.notices)


def test_bills_of_gas_alone_are_refused(house_of: HouseOf) -> None:
    rows = "".join(f"Gas,{_us(s)},{_us(e)},41,52.18\n" for s, e, _, _ in SPANS)
    (fault,) = _faults(house_of, bills__csv="Service,From,To,Usage,Cost\n" + rows)
    assert "every row is of Gas" in fault


def test_parts_of_the_charges_are_no_energy(house_of: HouseOf) -> None:
    rows = "".join(f"{_us(s)},{_us(e)},{k},{a - 30},20,10,{a}\n" for s, e, k, a in SPANS)
    house = house_of(bills__csv="From,To,kWh,Energy $,Delivery $,Tax,Total $\n" + rows)
    assert [(bill.kwh, bill.amount) for bill in house.bills] == [span[2:] for span in SPANS]
    assert {bill.delivered_kwh for bill in house.bills} == {None}


def test_a_row_of_units_under_the_heading_is_no_bill(house_of: HouseOf) -> None:
    rows = "".join(f"{_us(s)},{_us(e)},{k},{a}\n" for s, e, k, a in SPANS)
    house = house_of(bills__csv="From,To,Usage,Cost\n,,kWh,$\n" + rows)
    assert [(bill.kwh, bill.amount) for bill in house.bills] == [span[2:] for span in SPANS]


@pytest.mark.parametrize(
    ("line", "hours"),
    [
        ("dryer 5000W 3 loads a week 45 min", 3 * 0.75 / 7),
        ("washer 500W 4 times a week 1h", 4 / 7),
        ("oven 2400 W 1 hour every other day", 0.5),
        ("TV 100 W 5 h a day", 5.0),
        ("TV 100 W 5 h", 5.0),
        ("microwave 1.1kW 15 min/day", 0.25),
    ],
)
def test_how_often_a_load_runs(house_of: HouseOf, line: str, hours: float) -> None:
    house = house_of(loads__txt=f"{line}\nfridge\n")
    assert house.loads[0].run_hours == pytest.approx(hours, rel=1e-6)


def test_hours_of_some_days_of_the_week(house_of: HouseOf) -> None:
    house = house_of(loads__csv="Item,Watts,Hours per day,Days per week\nDryer,5000,1,3\nTV,100,5,7\n")
    assert [load.run_hours for load in house.loads] == pytest.approx([3 / 7, 5.0])


def test_months_and_a_range_behind_a_name(house_of: HouseOf) -> None:
    house = house_of(
        loads__txt="pool pump 1.5hp 8h May-Sep\nheater 750-1500 W 4 h\n- 2 window ACs 900W each, summer, 6 h\n"
    )
    pump, heater, coolers = house.loads
    assert pump.months == frozenset(range(5, 10))
    assert heater.watts is not None
    assert 750.0 < heater.watts < 1500.0
    assert (coolers.count, coolers.watts) == (2, 900.0)


def test_always_on_behind_a_name_says_when_not_what(house_of: HouseOf) -> None:
    (fridge,) = house_of(loads__txt="fridge (150W, always on)\n").loads
    assert (fridge.watts, fridge.follows, fridge.share_on) == (150.0, "always", 0.4)


@pytest.mark.parametrize("days", [["Dec 14 - Jan 13", "Nov 13 - Dec 14"], ["12/14 - 1/13", "11/13 - 12/14"]])
def test_a_period_without_years_below_its_month_may_turn_the_year(days: list[str], tmp_path: Path) -> None:
    cards = zip(["January 2025", "December 2024"], days, ["905 kWh", "700 kWh"], strict=True)
    (tmp_path / "bills.txt").write_text("\n\n".join("\n".join(card) for card in cards), encoding="utf-8")
    bills = read_house(tmp_path).bills
    assert [(bill.start, bill.end) for bill in bills] == [
        (date(2024, 11, 13), date(2024, 12, 14)),
        (date(2024, 12, 14), date(2025, 1, 13)),
    ]
