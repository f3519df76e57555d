"""Broken houses: each is refused with a fault that says where, what was read, and what to write instead."""

from __future__ import annotations

import pickle
from collections.abc import Callable
from pathlib import Path

import pytest

from reconcile.errors import Fault, InputError
from reconcile.read import read_house
from reconcile.read.tables.collector import MOST_ALIKE

BILLS = "start,end,kwh\n2025-01-07,2025-02-06,912\n"
TOML = "[house]\nname = 'A'\n"


def bills(line: str, header: str = "start,end,kwh") -> dict[str, str]:
    return {"bills.csv": f"{header}\n2025-01-07,2025-02-06,912\n{line}\n"}


def loads(line: str, header: str = "load,watts,run_hours") -> dict[str, str]:
    return {"loads.csv": f"{header}\n{line}\n"}


def toml(text: str) -> dict[str, str]:
    return {"house.toml": TOML + text}


def interval(text: str, settings: str = "") -> dict[str, str]:
    return {"interval.csv": text, "house.toml": TOML + settings}


HOURS = "".join(f"2025-01-0{day} {hour:02d}:00,{{}}\n" for day in (7, 8) for hour in range(24))

# name: (what is changed, file of the fault, its row, its column, part of its text)
BROKEN: dict[str, tuple[dict[str, str | bytes | None], str, int | None, str | None, str]] = {
    "no bills": ({"bills.csv": None}, "house", None, None, "there are no bills"),
    "empty bills": ({"bills.csv": ""}, "bills.csv", None, None, "nothing in it"),
    "header only": ({"bills.csv": "start,end,kwh\n"}, "bills.csv", 1, None, "a header but no bill"),
    "missing column": ({"bills.csv": "start,kwh\n2025-01-07,9\n"}, "bills.csv", 1, None, "column end is missing"),
    "unknown column": (bills("2025-02-06,2025-03-07,8,1", "start,end,kwh,amuont"), "bills.csv", 1, "amuont", "amount"),
    "column twice": (bills("2025-02-06,2025-03-07,8,1", "start,end,kwh,KWH"), "bills.csv", 1, None, "stands twice"),
    "stray value": (bills("2025-02-06,2025-03-07,801,12"), "bills.csv", 3, "number 4", "without a name"),
    "text in a number": (bills("2025-02-06,2025-03-07,lots"), "bills.csv", 3, "kwh", "text where a number"),
    "empty kwh": (bills("2025-02-06,2025-03-07,"), "bills.csv", 3, "kwh", "nothing is written"),
    "31 February": (bills("2025-02-06,2025-02-31,801"), "bills.csv", 3, "end", "no such day"),
    "month 13": (bills("2025-02-06,2025-13-01,801"), "bills.csv", 3, "end", "no such day"),
    "year 25": (bills("0025-02-06,2025-03-07,801"), "bills.csv", 3, "start", "year 25"),
    "not a date": (bills("in February,2025-03-07,801"), "bills.csv", 3, "start", "not a date"),
    "no date": (bills(",,801"), "bills.csv", 3, "end", "nothing is written"),
    "ambiguous date": (bills("2025-02-06,03/04/2025,801"), "bills.csv", 3, "end", "in more than one way"),
    "both orders": (bills("25/02/2025,03/27/2025,801"), "bills.csv", 3, "end", "no such day"),
    "wrong date_format": (
        bills("06/02/2025,31/03/25,801") | toml("[bills]\ndate_format = 'DD/MM/YYYY'\n"),
        "bills.csv",
        3,
        "end",
        "DD/MM/YYYY",
    ),
    "end before start": (bills("2025-03-07,2025-02-06,801"), "bills.csv", 3, "end", "ends before it begins"),
    "six years": (bills("2025-02-06,2031-03-07,801"), "bills.csv", 3, "end", "days long"),
    "negative kwh": (bills("2025-02-06,2025-03-07,-801"), "bills.csv", 3, "kwh", "below zero"),
    "infinite kwh": (bills("2025-02-06,2025-03-07,inf"), "bills.csv", 3, "kwh", "number"),
    "nan kwh": (bills("2025-02-06,2025-03-07,nan"), "bills.csv", 3, "kwh", "number"),
    "1e999 kwh": (bills("2025-02-06,2025-03-07,1e999"), "bills.csv", 3, "kwh", "not a finite number"),
    "1e300 kwh": (bills("2025-02-06,2025-03-07,1e300"), "bills.csv", 3, "kwh", "could not carry"),
    "more than the service": (
        bills("2025-02-06,2025-03-07,20000") | toml("service = 'split-phase'\nservice_amps = 100\n"),
        "bills.csv",
        3,
        "kwh",
        "could not carry",
    ),
    "open quote": (bills('2025-02-06,2025-03-07,"801'), "bills.csv", 3, None, "not proper CSV"),
    "a picture": ({"bills.csv": b"\x89PNG\r\n\x1a\n\x00\x00"}, "bills.csv", None, None, "not a text file"),
    "unknown read type": (
        bills("2025-02-06,2025-03-07,801,actaul", "start,end,kwh,read_type"),
        "bills.csv",
        3,
        "read_type",
        "Did you mean actual",
    ),
    "half a day": (bills("2025-02-06,2025-03-07,8,29.5", "start,end,kwh,days"), "bills.csv", 3, "days", "whole number"),
    "error cell": (bills("2025-02-06,2025-03-07,#REF!"), "bills.csv", 3, "kwh", "formula"),
    "control character": (
        bills("2025-02-06,2025-03-07,801,a\x07b", "start,end,kwh,note"),
        "bills.csv",
        3,
        "note",
        "cannot be printed",
    ),
    "unknown unit": (loads("Lamp,60 lumen,4"), "loads.csv", 2, "watts", "cannot become W"),
    "no unit at all": (loads("Lamp,60 furlongz,4"), "loads.csv", 2, "watts", "no unit: furlongz"),
    "amps without volts": (loads("Kiln,12 A,4"), "loads.csv", 2, "watts", "volts"),
    "tower of powers": (loads("Kiln,9**9**9**9 W,4"), "loads.csv", 2, "watts", "text where a number"),
    "negative watts": (loads("Lamp,-60,4"), "loads.csv", 2, "watts", "below 0"),
    "watts of a town": (loads("Lamp,9e9,4"), "loads.csv", 2, "watts", "above"),
    "duplicate load": (loads("Lamp,60,4\nlamp ,9,1"), "loads.csv", 3, "load", "also stands in row 2"),
    "nameless load": (loads(",60,4"), "loads.csv", 2, "load", "nothing is written"),
    "25 hours a day": (loads("Lamp,60,25"), "loads.csv", 2, "run_hours", "24 hours"),
    "hours without a rate": (loads("Lamp,60,50 %"), "loads.csv", 2, "run_hours", "no rate"),
    "a range of watts": (loads("Lamp,100W-60W,4"), "loads.csv", 2, "watts", "lower to its higher"),
    "a range of hours": (loads("Lamp,60,1.0-0.9"), "loads.csv", 2, "run_hours", "lower to its higher"),
    "no hours": (loads("Kiln,60,"), "loads.csv", 2, "run_hours", "nothing is written"),
    "nothing drawn": (loads("Kiln,,4"), "loads.csv", 2, "watts", "nothing says"),
    "two ways": (loads("Lamp,60,4,100", "load,watts,run_hours,kwh_per_year"), "loads.csv", 2, "kwh_per_year", "both"),
    "cycles missing": (loads("Washer,0.9", "load,kwh_per_cycle"), "loads.csv", 2, "cycles_per_week", "cycles a week"),
    "share on of 40": (loads("Lamp,60,4,40", "load,watts,run_hours,share_on"), "loads.csv", 2, "share_on", "above 1"),
    "half a lamp": (loads("Lamp,60,4,1.5", "load,watts,run_hours,count"), "loads.csv", 2, "count", "whole"),
    "month 13 of a load": (loads("Lamp,60,4,5-13", "load,watts,run_hours,months"), "loads.csv", 2, "months", "12"),
    "gone before it comes": (
        loads("Lamp,60,4,2025-03-01,2025-02-01", "load,watts,run_hours,from,until"),
        "loads.csv",
        2,
        "until",
        "gone before",
    ),
    "degree-days of a lamp": (
        loads("Lamp,60,4,0.5", "load,watts,run_hours,hours_per_degree_day"),
        "loads.csv",
        2,
        "hours_per_degree_day",
        "only heating and cooling",
    ),
    "balance in Fahrenheit": (
        loads("Furnace,600,heating,65", "load,watts,follows,balance_temperature"),
        "loads.csv",
        2,
        "balance_temperature",
        "no house begins",
    ),
    "unknown key": (toml("timezome = 'UTC'\n"), "house.toml", 3, "house.timezome", "Did you mean timezone"),
    "key outside its table": (
        {"house.toml": "timezone = 'UTC'\n"},
        "house.toml",
        1,
        "timezone",
        "Put it under [house]",
    ),
    "unknown table": (toml("[bnad]\ncoverage = 0.9\n"), "house.toml", 3, "bnad", "Did you mean band"),
    "unknown time zone": (toml("timezone = 'America/Chicgao'\n"), "house.toml", 3, "house.timezone", "America/Chicago"),
    "time zone up a folder": (toml("timezone = '../../etc/passwd'\n"), "house.toml", 3, "house.timezone", "not known"),
    "currency sign": (toml("currency = '$'\n"), "house.toml", 3, "house.currency", "three letters"),
    "not TOML": ({"house.toml": "[house]\nname = Elm\n"}, "house.toml", 2, None, "not proper TOML"),
    "deep TOML": ({"house.toml": "a = " + "[" * 5000}, "house.toml", None, None, "not proper TOML"),
    "digits of a meter": (toml("[meter]\ndigits = 50\n"), "house.toml", 4, "meter.digits", "above 10"),
    "a table as a value": (toml("[meter]\ndigits = {a = 1}\n"), "house.toml", 4, "meter.digits", "not a number"),
    "a value as a table": ({"house.toml": "house = 3\n"}, "house.toml", 1, "house", "table of keys"),
    "coverage in percent": (toml("[band]\ncoverage = 95\n"), "house.toml", 4, "band.coverage", "above"),
    "unknown service": (toml("service = 'split'\n"), "house.toml", 3, "house.service", "split-phase"),
    "date format without a year": (
        toml("[bills]\ndate_format = 'DD/MM'\n"),
        "house.toml",
        4,
        "bills.date_format",
        "day, month and year",
    ),
    "weather of no period": (
        {"weather.csv": "date,mean\n2019-01-01,3\n"},
        "weather.csv",
        None,
        None,
        "covers no billing period",
    ),
    "weather in Fahrenheit": (
        {"weather.csv": "date,mean\n2025-01-07,88\n"},
        "weather.csv",
        2,
        "mean",
        "never that cold or warm",
    ),
    "weather without means": ({"weather.csv": "date\n2025-01-07\n"}, "weather.csv", 1, None, "no column of temp"),
    "lows above highs": (
        {"weather.csv": "date,tmin,tmax\n2025-01-07,9,2\n"},
        "weather.csv",
        2,
        "tmin",
        "above the highest",
    ),
    "two stations": (
        {"weather.csv": "STATION,DATE,TAVG\nA1,2025-01-07,9\nB2,2025-01-07,8\n"},
        "weather.csv",
        3,
        "station",
        "more than one station",
    ),
    "one day twice": (
        {"weather.csv": "date,mean\n2025-01-07,9\n2025-01-07,8\n"},
        "weather.csv",
        3,
        "date",
        "stands twice",
    ),
    "unknown kind of event": (
        {"events.csv": "date,kind\n2025-01-07,party\n"},
        "events.csv",
        2,
        "kind",
        "not known here",
    ),
    "event ends early": (
        {"events.csv": "date,until,kind\n2025-01-07,2025-01-01,away\n"},
        "events.csv",
        2,
        "until",
        "ends before",
    ),
    "unknown file": (
        {"bill.csv": "a,b\n1,2\n", "bills.csv": None},
        "bill.csv",
        None,
        None,
        "Did you mean bills.csv",
    ),
    "two value columns": (
        interval("time,kwh house,kwh barn\n2025-01-07 00:00,1,2\n2025-01-07 01:00,1,2\n"),
        "interval.csv",
        1,
        None,
        "more than one column of values",
    ),
    "unknown channel": (
        interval("time,a,b\n2025-01-07 00:00,1,2\n2025-01-07 01:00,1,2\n", "[interval]\nchannel = 'c'\n"),
        "interval.csv",
        1,
        None,
        "no column c",
    ),
    "text in interval data": (
        interval("time,kwh\n2025-01-07 00:00,1\n2025-01-07 01:00,low\n"),
        "interval.csv",
        3,
        "kwh",
        "text where a number",
    ),
    "an hour that is none": (
        interval("time,kwh\n2025-01-07 00:00,1\n2025-01-07 27:00,1\n"),
        "interval.csv",
        3,
        "time",
        "not a date and a time",
    ),
    "half the offsets": (
        interval("time,kwh\n2025-01-07 00:00-06:00,1\n2025-01-07 01:00-06:00,1\n2025-01-07 02:00,1\n"),
        "interval.csv",
        4,
        "time",
        "distance from UTC",
    ),
    "many negative intervals": (
        interval("time,kwh\n" + HOURS.format(*[1, -1] * 24)),
        "interval.csv",
        3,
        "kwh",
        "below zero",
    ),
    "interval of a town": (
        interval("time,kwh\n" + HOURS.format(*[9000] * 48)),
        "interval.csv",
        2,
        "kwh",
        "could not carry",
    ),
    "monthly interval data": (
        interval("time,kwh\n2025-01-01 00:00,1\n2025-02-01 00:00,1\n"),
        "interval.csv",
        None,
        None,
        "days apart",
    ),
    "one interval": (interval("time,kwh\n2025-01-07 00:00,1\n"), "interval.csv", None, None, "fewer than two"),
    "interval twice": (
        {"interval/a.csv": "time,kwh\n2025-01-07 00:00,1\n2025-01-07 01:00,1\n"},
        "interval.csv",
        None,
        None,
        "Keep one of the two",
    ),
    "an interval workbook that is none": ({"interval.xlsx": b"PK\x03\x04"}, "interval.xlsx", None, None, "broken"),
    "an old interval workbook": ({"interval.xls": b"\xd0\xcf\x11\xe0"}, "interval.xls", None, None, "not a workbook"),
    "offset of a day": (
        toml("[interval]\ntimezone = '-25:00'\n"),
        "house.toml",
        4,
        "interval.timezone",
        "no clock is that far",
    ),
}


def well_told(fault: Fault) -> bool:
    """Whether a fault says where, why, and what to do, as a person would."""
    return bool(
        fault.file
        and fault.problem
        and fault.problem[0].islower() | fault.problem[0].isdigit() | (fault.problem[:1] in "'")
        and not fault.problem.endswith(".")
        and fault.remedy.endswith(".")
        and (fault.read is None or len(fault.read) <= 60)
    )


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_house_is_refused_with_its_place_and_remedy(
    name: str, make_house: Callable[..., Path], faults_of: Callable[[Path], tuple[Fault, ...]]
) -> None:
    changes, file, row, column, text = BROKEN[name]
    faults = faults_of(make_house(changes))
    where = [(fault.file, fault.row, fault.column) for fault in faults]
    assert (file, row, column) in where, "\n".join(map(str, faults))
    told = [str(fault) for fault in faults if (fault.file, fault.row, fault.column) == (file, row, column)]
    assert any(text in line for line in told), told
    assert all(well_told(fault) for fault in faults), [str(fault) for fault in faults]
    assert {fault.file for fault in faults} <= {file, "house"}  # what is in order is not blamed


def test_the_house_in_order_has_no_fault(make_house: Callable[..., Path]) -> None:
    assert len(read_house(make_house()).bills) == 3


def test_every_fault_of_every_file_comes_out_at_once(
    make_house: Callable[..., Path], faults_of: Callable[[Path], tuple[Fault, ...]]
) -> None:
    faults = faults_of(
        make_house(
            {
                "house.toml": "[house]\ntimezone = 'Mars/Base'\ncurrency = 'gold'\n",
                "bills.csv": "start,end,kwh\n2025-02-31,2025-03-07,abc\n2025-04-01,2025-03-07,-5\n",
                "loads.csv": "load,watts,run_hours,share_on\nLamp,12 A,25,7\nLamp,1,1,1\n",
                "weather.csv": "date,mean\n2025-01-07,999\n",
                "events.csv": "date,kind\n2025-02-31,party\n",
                "interval.csv": "time,kwh\n2025-01-07 00:00,x\n2025-01-07 01:00,y\n",
            }
        )
    )
    assert {(fault.file, fault.column) for fault in faults} == {
        ("house.toml", "house.timezone"),
        ("house.toml", "house.currency"),
        ("bills.csv", "start"),
        ("bills.csv", "kwh"),
        ("bills.csv", "end"),
        ("loads.csv", "watts"),
        ("loads.csv", "run_hours"),
        ("loads.csv", "share_on"),
        ("loads.csv", "load"),
        ("weather.csv", "mean"),
        ("events.csv", "date"),
        ("events.csv", "kind"),
        ("interval.csv", "kwh"),
    }


def test_many_faults_of_one_kind_are_counted_not_listed(
    make_house: Callable[..., Path], faults_of: Callable[[Path], tuple[Fault, ...]]
) -> None:
    lines = "".join(f"2025-01-{1 + n // 24:02d} {n % 24:02d}:00,x\n" for n in range(480))
    faults = faults_of(make_house({"interval.csv": "time,kwh\n" + lines}))
    (fault,) = faults
    assert (len(fault.also_in), fault.more) == (MOST_ALIKE - 1, 480 - MOST_ALIKE)
    assert f"rows 2 to {MOST_ALIKE + 1} and {480 - MOST_ALIKE} more" in fault.place


@pytest.mark.parametrize(
    ("path", "text"),
    [
        ("nowhere", "no such folder or file"),
        ("nul\x00character", "no such folder or file"),
        ("long" * 400, "no such folder or file"),
        ("house/loads.csv", "one file of a house"),
        ("house.pdf", "this is a printed bill"),
        ("house.xls", "not a workbook that can be opened"),
        ("house.xlsx", "not a workbook that can be opened"),
    ],
)
def test_a_path_that_is_no_house_is_refused(
    path: str,
    text: str,
    make_house: Callable[..., Path],
    tmp_path: Path,
    faults_of: Callable[[Path], tuple[Fault, ...]],
) -> None:
    make_house()
    for name in ("house.pdf", "house.xls", "house.xlsx"):
        (tmp_path / name).write_bytes(b"%PDF-1.4 no workbook")
    (fault,) = faults_of(tmp_path / path)
    assert text in fault.problem
    assert well_told(fault)


def test_a_folder_in_place_of_a_file_is_refused(
    make_house: Callable[..., Path], faults_of: Callable[[Path], tuple[Fault, ...]]
) -> None:
    folder = make_house({"bills.csv": None})
    (folder / "bills.csv").mkdir()
    assert [fault.file for fault in faults_of(folder)] == ["bills.csv"]


def test_an_error_with_all_its_faults_passes_between_processes(make_house: Callable[..., Path]) -> None:
    with pytest.raises(InputError) as caught:
        read_house(make_house(bills("2025-02-06,2025-13-07,x")))
    assert pickle.loads(pickle.dumps(caught.value)).faults == caught.value.faults
