"""Whatever bytes stand in a file, a house is read or refused with faults: nothing else ever comes out."""

from __future__ import annotations

import io
import tempfile
import time
import zipfile
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reconcile.errors import InputError
from reconcile.house import House
from reconcile.read import read_house

BILLS = "start,end,kwh\n2025-01-07,2025-02-06,912\n2025-02-06,2025-03-07,801\n"
FILES = {
    "house.toml": "[house]\nname = 'A'\ntimezone = 'UTC'\nfloor_area = '150 m^2'\n[[meter]]\nfrom = 2025-01-01\n"
    "digits = 5\npulse_wh = 1\n[bills]\ndate_format = 'DD/MM/YYYY'\n[interval]\ntimezone = '-05:00'\n"
    "[[tariff]]\nvalid_from = 2025-01-01\n[[tariff.charge]]\nname = 'E'\n"
    "blocks = [{up_to_per_day = 9, price = 0.1}, {price = 1}]\n",
    "bills.csv": "start,end,kwh,amount,bill_date,bill_type,reading_start,days,meter\n"
    '2025-01-07,2025-02-06,912,131.20,07/02/2025,regular,100,30,"A, 1"\n',
    "loads.csv": "load,count,watts,run_hours,follows,months,from,efficiency,balance_temperature\n"
    'A,1,12 A * 120 V,40 min/day,clock,"11,12,1-2",2025-01-01,,\nB,2,0.75 hp,,always,,,0.8,\nC,1,9,,heating,,,,18\n',
    "weather.csv": "STATION,DATE,TAVG,TMAX,TMIN\nA,2025-01-07,5,,\nA,2025-01-08,,9,1\n",
    "interval.csv": "time,kwh\n2025-03-09 00:00,1\n2025-03-09 01:00,2\n2025-03-09 02:00-05:00,0\n",
    "events.csv": "date,until,kind,load,note\n2025-01-20,2025-01-27,away,,x\n",
    "readings.csv": "date,meter,register,value,type,event\n2025-01-07,A,total,100,actual,\n",
    "charges.csv": "start,company,part,name,quantity,rate,amount\n2025-01-07,A,supply,E,9,0.1,0.90\n",
    "field_test.toml": "[instrument.volts]\npercent_of_reading = 1\n[[run]]\nlabel = 'kiln'\nmeter_kw = 1.5\n"
    "legs = [{volts = 119, amps = 9}, {volts = 119, amps = 4}]\n[[main_off]]\npulses = 0\nseconds = 300\n",
}
# pieces that have broken readers before: huge numbers, other digits, half quotes, brackets, zone names
PIECES = st.sampled_from(
    [
        *("1e308", "-1e999", "9" * 400, "\u0663\u0664", "nan", "1_000", "0x10", "--5", "1,5", "\u2212 3"),
        *('"', "'", '"""', "[[", "]]", "{", "}", "=", "#REF!", "=1+1", "\x00", "\x1a", "\ufeff", "\ud7ff"),
        *("9999-12-31", "0001-01-01", "2025-02-30", "31/12/9999", "24:00", "23:59:60", "+14:00", "-99:99"),
        *("5-9", "13", "1-", ",,,,", ";", "\t", "\r", "\n\n", "%", "%Y%Y", "**9**9", "hour/day", "1/0 W", "()" * 30),
        *("UTC", "../..", "America", "/etc/localtime", "true", "inf", "a.b.c = 1", "[house.name]", "\u2028"),
    ]
)


def outcome(path: Path) -> House | InputError:
    try:
        return read_house(path)
    except InputError as error:
        refused = error
    assert refused.faults
    assert all(fault.file and fault.problem and fault.remedy for fault in refused.faults)
    assert str(refused)
    return refused


def outcome_of(files: dict[str, bytes]) -> House | InputError:
    with tempfile.TemporaryDirectory() as place:
        for name, data in files.items():
            Path(place, name).write_bytes(data)
        return outcome(Path(place))


def test_what_the_changes_are_made_to_is_in_order_but_for_one_row() -> None:
    error = outcome_of({name: text.encode() for name, text in FILES.items()})
    assert isinstance(error, InputError)
    assert [fault.file for fault in error.faults] == ["interval.csv"]


@pytest.mark.parametrize("name", FILES)
@given(data=st.binary(max_size=200))
@settings(max_examples=25, deadline=None)
def test_any_bytes(name: str, data: bytes) -> None:
    outcome_of({"bills.csv": BILLS.encode(), name: data})


@pytest.mark.parametrize("name", FILES)
@given(data=st.data())
@settings(max_examples=60, deadline=None)
def test_a_good_file_with_pieces_put_in_or_cut_out(name: str, data: st.DataObject) -> None:
    text = FILES[name]
    for _ in range(data.draw(st.integers(1, 4))):
        first = data.draw(st.integers(0, len(text)))
        last = data.draw(st.sampled_from((first, first, first + 1, first + 7, first + 40)))
        text = text[:first] + data.draw(PIECES | st.text(max_size=6)) + text[last:]
    whole = {other: content.encode() for other, content in FILES.items() if other in ("house.toml", "bills.csv", name)}
    outcome_of({**whole, name: text.encode("utf-8", "surrogatepass")})


@pytest.mark.parametrize(
    "cell", ["1," * 60_000 + "x", " " * 120_000 + "x", "1" * 130_000, "x " * 60_000, "(" * 100_000, "1-" * 60_000]
)
def test_a_cell_made_to_take_for_ever_is_refused_at_once(cell: str) -> None:
    begin = time.perf_counter()
    outcome_of(
        {
            "house.toml": f"[house]\nname = 'A'\nfloor_area = '{cell}'\n{cell}\n".encode(),
            "bills.csv": f'start,end,kwh,amount,bill_type\n"{cell}","{cell}","{cell}","{cell}","{cell}"\n'.encode(),
            "loads.csv": f'load,watts,run_hours,months\n"{cell}","{cell}","{cell}","{cell}"\n'.encode(),
            "interval.csv": f'time,"{cell}"\n"{cell}","{cell}"\n2025-01-07,"{cell}"\n'.encode(),
        }
    )
    assert time.perf_counter() - begin < 5.0


def book() -> dict[str, bytes]:
    made = openpyxl.Workbook()
    made.remove(made.active)
    for name, rows in {
        "house": [["house.name", "A"], ["meter[1].digits", 5], ["tariff.energy", 0.1]],
        "bills": [["start", "end", "kwh"], ["2025-01-07", "2025-02-06", 9], ["2025-02-06", "2025-03-07", "=1+1"]],
        "loads": [["load", "watts", "run_hours"], ["A", "60 W", 4]],
        "interval": [["time", "kwh"], ["2025-01-07 00:00", 1], ["2025-01-07 01:00", 1]],
        "field test": [["instrument.volts.percent_of_reading", 1], ["kind", "seconds", "pulses"], ["main off", 300, 0]],
    }.items():
        sheet = made.create_sheet(name)
        for row in rows:
            sheet.append(row)
    stream = io.BytesIO()
    made.save(stream)
    with zipfile.ZipFile(stream) as parts:
        return {name: parts.read(name) for name in parts.namelist()}


BOOK = book()


@given(data=st.data())
@settings(max_examples=60, deadline=None)
def test_a_workbook_with_its_parts_torn(data: st.DataObject) -> None:
    parts = dict(BOOK)
    name = data.draw(st.sampled_from(sorted(parts)))
    part = parts[name]
    first = data.draw(st.integers(0, len(part)))
    piece = data.draw(
        st.binary(max_size=4)
        | PIECES.map(lambda text: text.encode("utf-8", "surrogatepass"))
        | st.sampled_from(
            (b"<c", b"</v>", b'r="A1048576"', b'r="ZZZZ9"', b't="e"', b't="d"', b"&amp;#0;", b'ref="A1:B2"')
        )
    )
    parts[name] = part[:first] + piece + part[first + data.draw(st.integers(0, 30)) :]
    if data.draw(st.booleans()):
        del parts[data.draw(st.sampled_from(sorted(parts)))]
    with tempfile.TemporaryDirectory() as place:
        path = Path(place, "house.xlsx")
        with zipfile.ZipFile(path, "w") as made:
            for part_name, content in parts.items():
                made.writestr(part_name, content)
        outcome(path)


@given(data=st.data())
@settings(max_examples=40, deadline=None)
def test_a_workbook_with_its_bytes_torn(data: st.DataObject) -> None:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in BOOK.items():
            made.writestr(name, content)
    raw = bytearray(stream.getvalue())
    for _ in range(data.draw(st.integers(1, 6))):
        raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    with tempfile.TemporaryDirectory() as place:
        path = Path(place, "house.xlsx")
        path.write_bytes(raw[: data.draw(st.sampled_from((len(raw), len(raw) // 2)))])
        outcome(path)
