"""Settings, bills, weather and diary: every key and column that formats name."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from reconcile.errors import Fault, InputError
from reconcile.house import Band, Bill, Event, House, Meter
from reconcile.paper.examine import examine
from reconcile.read import read_house
from reconcile.read.in_memory.check_house import check_house
from reconcile.read.tables.gate import Gate
from reconcile.read.wrappings.setting_keys import parse_toml

MakeHouse = Callable[..., Path]
Faults = Callable[[Path], tuple[Fault, ...]]


def test_every_key_of_the_settings(make_house: MakeHouse) -> None:
    text = """\
[house]
name = "Tern Point"
timezone = "Europe/Rome"
currency = "eur"
temperature_unit = "F"
floor_area = "1600 ft^2"
occupants = 3
bedrooms = 2
heating_fuel = "gas"
water_heating_fuel = "electric"
generation = true
service = "three-phase"
line_volts = 400
service_amps = 63
[site]
coldest_month_mean = 14
warmest_month_mean = 77
[danger]
shock = true
warm_meter = "yes"
buzzing = false
[[meter]]
number = 4711
until = 2025-02-20
type = "disk"
form = "2S"
digits = 5
multiplier = 40
disk_wh = 7.2
test_amps = 30
[[meter]]
number = "B-12"
from = 2025-02-20
step_kwh = 0.1
display = "kW demand"
tolerance_percent = 1.5
pulse_wh = 1
[band]
coverage = 0.9
month_to_month_percent = 8
unlisted_kwh_per_day = 2
unlisted_within_percent = 60
"""
    house = read_house(make_house({"house.toml": text, "weather.csv": None, "interval.csv": None}))
    assert (house.name, house.timezone, house.currency) == ("Tern Point", "Europe/Rome", "EUR")
    assert house.floor_area_m2 == pytest.approx(1600 * 0.3048**2, rel=1e-12)
    assert (house.occupants, house.bedrooms) == (3.0, 2.0)
    assert (house.heating_fuel, house.water_heating_fuel, house.generation) == ("gas", "electric", True)
    assert (house.service, house.line_volts, house.service_amps) == ("three-phase", 400.0, 63.0)
    assert (house.coldest_month_c, house.warmest_month_c) == (-10.0, 25.0)
    assert house.dangers == ("warm_meter", "shock")
    assert house.meters == (
        Meter(
            number="4711",
            ends=date(2025, 2, 20),
            type="disk",
            form="2S",
            digits=5,
            multiplier=40.0,
            disk_wh=7.2,
            test_amps=30.0,
        ),
        Meter(
            number="B-12",
            begins=date(2025, 2, 20),
            step_kwh=0.1,
            display="kW demand",
            tolerance_percent=1.5,
            pulse_wh=1.0,
        ),
    )
    assert house.band == Band(0.9, 8.0, 2.0, 60.0)


def test_a_bill_with_everything(make_house: MakeHouse) -> None:
    text = (
        "Start,End,kWh,Amount,Amount Due,budget amount,bill_date,bill_type,read_type,read_type_start,"
        "reading_start,reading_end,multiplier,meter,days,delivered_kwh,received_kwh,demand_kw,note\n"
        "2025-01-07,2025-02-06,-12,-3.40,95.00,90,2025-02-10,final,customer,estimated,"
        "100.5,101.5,40,A 7,30,28,40,5.2,moved out\n"
    )
    house = read_house(make_house({"bills.csv": text, "house.toml": "[house]\ngeneration = true\n"}))
    assert house.bills == (
        Bill(
            start=date(2025, 1, 7),
            end=date(2025, 2, 6),
            kwh=-12.0,
            amount=Decimal("-3.40"),
            amount_due=Decimal("95.00"),
            budget_amount=Decimal(90),
            bill_date=date(2025, 2, 10),
            bill_type="final",
            read_type="customer",
            read_type_start="estimated",
            reading_start=100.5,
            reading_end=101.5,
            multiplier=40.0,
            meter="A 7",
            printed_days=30,
            delivered_kwh=28.0,
            received_kwh=40.0,
            demand_kw=5.2,
            note="moved out",
            row=2,
        ),
    )


def test_bills_come_in_order_of_their_start_whatever_the_order_of_the_file(make_house: MakeHouse) -> None:
    text = "start,end,kwh\n2025-03-07,2025-04-08,3\n2025-01-07,2025-02-06,1\n2025-02-06,2025-03-07,2\n"
    bills = read_house(make_house({"bills.csv": text})).bills
    assert [(bill.kwh, bill.row) for bill in bills] == [(1.0, 3), (2.0, 4), (3.0, 2)]


def test_readings_stand_in_for_kwh(make_house: MakeHouse) -> None:
    text = "start,end,reading_start,reading_end\n2025-01-07,2025-02-06,100,900\n"
    (bill,) = read_house(make_house({"bills.csv": text})).bills
    assert (bill.kwh, bill.reading_end) == (None, 900.0)


def test_inclusive_dates_count_both_ends(make_house: MakeHouse) -> None:
    text = "start,end,kwh\n2025-01-07,2025-02-05,900\n2025-02-06,2025-02-06,9\n"
    bills = read_house(make_house({"bills.csv": text, "house.toml": "[bills]\ndates = 'inclusive'\n"})).bills
    assert [bill.days for bill in bills] == [30, 1]


@pytest.mark.parametrize(
    ("date_format", "written"),
    [
        ("DD/MM/YYYY", "03/04/2025"),
        ("MM/DD/YYYY", "04/03/2025"),
        ("DD.MM.YY", "03.04.25"),
        ("%d %b %Y", "3 Apr 2025"),
        ("D MMM YYYY", "3 Apr 2025"),
        ("DD/MM/YYYY", "2025-04-03"),
        (None, "2025-4-3"),
        (None, "2025/04/03"),
    ],
)
def test_dates_as_they_are_written(date_format: str | None, written: str, make_house: MakeHouse) -> None:
    settings = f"[bills]\ndate_format = '{date_format}'\n" if date_format else ""
    text = f"start,end,kwh\n2025-03-03,{written},900\n"
    (bill,) = read_house(make_house({"bills.csv": text, "house.toml": settings, "weather.csv": None})).bills
    assert bill.end == date(2025, 4, 3)


def test_a_date_that_can_be_read_in_one_way_needs_no_format(make_house: MakeHouse) -> None:
    text = "start,end,kwh\n01/31/2025,02/27/2025,900\n"
    (bill,) = read_house(make_house({"bills.csv": text, "weather.csv": None})).bills
    assert (bill.start, bill.end) == (date(2025, 1, 31), date(2025, 2, 27))


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_and_byte_order_marks_do_not_matter(mark: bytes, end: str, make_house: MakeHouse) -> None:
    text = "start,end,kwh,note\n2025-01-07,2025-02-06,900,\u00e9t\u00e9\n\n,,,\n2025-02-06,2025-03-07,8,x\n"
    bills = read_house(make_house({"bills.csv": mark + text.replace("\n", end).encode()})).bills
    assert [(bill.note, bill.row) for bill in bills] == [("\u00e9t\u00e9", 2), ("x", 5)]


def test_a_calendar_with_the_missing_days_counted(make_house: MakeHouse) -> None:
    text = "date,mean,tmin,tmax\n2025-01-09,,1,4\n2025-01-07,-3,,\n2025-01-10,,2,\n2025-01-12,5.5,,\n"
    weather = read_house(make_house({"weather.csv": text})).weather
    assert weather is not None
    assert weather.first == date(2025, 1, 7)
    np.testing.assert_array_equal(weather.mean_c, [-3.0, np.nan, 2.5, np.nan, np.nan, 5.5])
    assert weather.missing_days == 3


def test_daily_summaries_as_noaa_has_them(make_house: MakeHouse) -> None:
    # the columns of a daily-summaries download (from memory)
    text = (
        '"STATION","NAME","DATE","AWND","PRCP","TAVG","TMAX","TMIN"\n'
        '"ZZ0001","ALDER FIELD, XX ZZ","2025-01-07","4.5","0.00","50","60","41"\n'
        '"ZZ0001","ALDER FIELD, XX ZZ","2025-01-08","4.5","0.00",,"59","32"\n'
        '"ZZ0001","ALDER FIELD, XX ZZ","2025-01-09","4.5","0.00",,"59",\n'
        '"ZZ0001","ALDER FIELD, XX ZZ","2025-01-10","4.5","0.00","32",,\n'
    )
    house = read_house(make_house({"weather.csv": text, "house.toml": "[house]\ntemperature_unit = 'F'\n"}))
    assert house.weather is not None
    np.testing.assert_allclose(house.weather.mean_c, [10.0, 7.5, np.nan, 0.0], rtol=1e-12, atol=1e-12)
    assert house.notices == ()


def test_the_unit_taken_for_temperatures_is_told(make_house: MakeHouse) -> None:
    house = read_house(make_house({"house.toml": None}))
    assert house.notices == ("No temperature unit is set; degrees Celsius were taken.",)


def test_the_diary(make_house: MakeHouse) -> None:
    text = "date,until,kind,load,note\n2025-02-10,,New Load,lamps,\n2025-01-20,2025-01-27,away,,skiing\n"
    text += "2025-02-11,,repair,Kiln,\n"
    house = read_house(make_house({"events.csv": text}))
    assert house.events == (
        Event(date(2025, 1, 20), "away", date(2025, 1, 27), None, "skiing", 3),
        Event(date(2025, 2, 10), "new-load", None, "Lamps", "", 2),
        Event(date(2025, 2, 11), "repair", None, "Kiln", "", 4),
    )
    assert house.notices == ("The diary names Kiln, which is not in the list of loads.",)


def test_files_beside_the_house_are_let_be(make_house: MakeHouse) -> None:
    folder = make_house({"scan.pdf": b"%PDF", "README.md": b"\xff", "other.csv": b"\x00\xff"})
    (folder / "photos").mkdir()
    assert read_house(folder).notices == ("other.csv is not a file of a house and was not read.",)


def test_lines_of_nested_keys_are_known() -> None:
    gate = Gate()
    section = parse_toml(
        "[[tariff]]\nvalid_from = 2025-01-01\n[[tariff.charge]]\nname = 'A'\n[[tariff.charge]]\n"
        "name = 'B'\nblocks = [\n  {price = 1},\n]\n[[tariff]]\n[[tariff.charge]]\nname = 'C'\n",
        "house.toml",
        gate,
    )
    one, two = section.sections("tariff", gate)
    places = [charge["name"] for tariff in (one, two) for charge in tariff.sections("charge", gate)]
    assert [(cell.column, cell.row) for cell in places] == [
        ("tariff[1].charge[1].name", 4),
        ("tariff[1].charge[2].name", 6),
        ("tariff[2].charge[1].name", 12),
    ]
    block = one.sections("charge", gate)[1].sections("blocks", gate)[0]["price"]
    assert (block.column, block.row) == ("tariff[1].charge[2].blocks[1].price", 7)


@pytest.mark.parametrize(
    "site",
    [
        "coldest_month_mean = -3",
        "coldest_month_mean = 20\nwarmest_month_mean = 10",
        "coldest_month_mean = -3\nwarmest_month_mean = 95",
        "coldest_month_mean = -3\nwarmest_month_mean = 20\nmean = 9",
    ],
)
def test_a_year_of_temperatures_that_cannot_be_is_a_fault(make_house, faults_of, site):
    (fault,) = faults_of(make_house({"house.toml": f"[site]\n{site}\n"}))
    assert "site" in str(fault)


def test_a_house_in_memory_states_its_year_as_its_files_would():
    home = House("alder", (Bill(date(2025, 1, 7), date(2025, 2, 6), kwh=900.0),))
    home = replace(home, temperature_unit="F", coldest_month_c=-4.3, warmest_month_c=22.7)
    check_house(home)
    with pytest.raises(InputError, match="warmest"):
        check_house(replace(home, warmest_month_c=None))


@pytest.mark.parametrize(("column", "kept"), [("Balance", False), ("Amount due", False), ("Amount due", True)])
def test_what_is_left_to_pay_is_no_charge(tmp_path, column, kept):
    """A web page's list of paid bills ends in a column of zeros; only where one bill asks for something does it say."""
    rows = [
        f"2025-{m:02}-03,2025-{m + 1:02}-03,{600 + m},{90 + m}.00,{12 if kept and m == 2 else 0}" for m in range(1, 9)
    ]
    (tmp_path / "bills.csv").write_text("\n".join([f"start,end,kwh,Current charges,{column}", *rows]), encoding="utf-8")
    due = [bill.amount_due for bill in read_house(tmp_path).bills]
    assert [x is None for x in due] == [not kept] * 8


CARRIED = "the service could carry at most 34,560 kWh"  # 200 A x 240 V x 30 d
AMPS = '[house]\nservice = "split-phase"\nservice_amps = 200\n'


def test_readings_of_a_bill_tell_no_more_than_the_service_carries(make_house: MakeHouse, faults_of: Faults) -> None:
    bills = "start,end,reading_start,reading_end\n2025-01-07,2025-02-06,0,34000\n2025-02-06,2025-03-08,34000,69000\n"
    (fault,) = faults_of(make_house({"house.toml": AMPS, "bills.csv": bills}))
    assert CARRIED in fault.problem
    assert (fault.file, fault.row, fault.column) == ("bills.csv", 3, "reading_end")


def test_dated_readings_tell_no_more_than_the_service_carries(make_house: MakeHouse, faults_of: Faults) -> None:
    bills = "start,end,kwh\n2025-01-07,2025-02-06,\n2025-02-06,2025-03-08,800\n"
    readings = "date,value\n2025-01-07,100\n2025-02-06,60000\n2025-03-08,60800\n"
    (fault,) = faults_of(make_house({"house.toml": AMPS, "bills.csv": bills, "readings.csv": readings}))
    assert CARRIED in fault.problem
    assert (fault.file, fault.row, fault.column) == ("readings.csv", 3, "value")


def test_a_register_that_went_round_is_let_through(make_house: MakeHouse) -> None:
    bills = "start,end,reading_start,reading_end\n2025-01-07,2025-02-06,99500,400\n2025-02-06,2025-03-08,400,1100\n"
    assert len(read_house(make_house({"house.toml": AMPS, "bills.csv": bills})).bills) == 2


def test_a_line_of_the_diary_that_lacks_its_day_is_a_fault_not_a_remark(
    make_house: MakeHouse, faults_of: Faults
) -> None:
    (fault,) = faults_of(make_house({"events.csv": "date,kind,note\n,repair,\n2025-02-01,guests,\n"}))
    assert (fault.file, fault.row, fault.column) == ("events.csv", 2, "date")


GIVEN_BACK = (
    "start,end,kwh,amount\n2025-01-07,2025-02-06,300,60.00\n2025-02-06,2025-03-07,280,57.00\n"
    "2025-03-07,2025-04-07,{before},{asked}\n2025-04-07,2025-05-06,{less},{back}\n2025-05-06,2025-06-05,260,54.00\n"
    "2025-06-05,2025-07-07,310,61.50\n2025-07-07,2025-08-06,290,58.50\n"
)


def test_a_bill_that_gives_back_what_the_one_before_charged_too_much_is_read(make_house: MakeHouse) -> None:
    house = read_house(make_house({"bills.csv": GIVEN_BACK.format(less=-40, before=620, asked="108.00", back="9.00")}))
    assert [bill.kwh for bill in house.bills][2:4] == [620.0, -40.0]
    assert [finding.code for finding in examine(house).findings] == ["negative-use"]


def test_what_is_given_back_at_the_price_of_the_other_bills_holds_no_charge(make_house: MakeHouse) -> None:
    text = GIVEN_BACK.format(before=1900, asked="300.00", less=-1600, back="-225.00")  # 15 a bill and 0.15 a kWh
    house = read_house(make_house({"bills.csv": text}))
    assert "other-charge" not in [finding.code for finding in examine(house).findings]


@pytest.mark.parametrize(
    "rows",
    [
        {"before": 120, "asked": "33.00", "back": "9.00"},  # low before it: as of panels
        {"before": 620, "asked": "108.00", "back": "70.00"},  # as dear as 40 and more: a sign mistyped
        {"before": 620, "asked": "108.00", "back": ""},
    ],
)
def test_of_other_kwh_below_zero_the_sign_is_asked(make_house: MakeHouse, rows: dict[str, object]) -> None:
    with pytest.raises(InputError, match=r"energy cannot be below zero .* write the amounts of all bills"):
        read_house(make_house({"bills.csv": GIVEN_BACK.format(less=-40, **rows)}))
