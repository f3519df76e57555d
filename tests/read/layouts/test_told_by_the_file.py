"""What a download settles of itself, and is never asked: midnights, registers beside, numbers of rows, sums below."""

from __future__ import annotations

import io
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from interval_layouts import Made, Written, iso, make, table
from interval_reading import read, same

Rows = list[tuple[datetime, datetime, float]]


def written(header: str, rows: list[str], **more: object) -> Written:
    return Written({"interval.csv": table(header, rows)}, **more)  # type: ignore[arg-type]


def triples(made: Made) -> Rows:
    return list(zip(made.begins, made.ends, made.kwh.tolist(), strict=True))


def assert_read(made: Made, header: str, rows: list[str], **more: object) -> None:
    one = written(header, rows, **more)
    same(read(one.files, one.toml), made, one)


@pytest.mark.parametrize("newest_first", [False, True])
@pytest.mark.parametrize("name", ["Time", "End Time"])
def test_a_midnight_behind_the_last_hour_of_its_day_ends_it(name: str, newest_first: bool) -> None:
    made = make(1)
    rows = [f"{b:%Y-%m-%d} {e:%H:%M},{v:.3f}" for b, e, v in triples(made)]
    assert_read(made, f"{name},kWh", rows[::-1] if newest_first else rows)


def test_midnights_that_begin_their_days_stay_where_days_stand_newest_first() -> None:
    made = make(2, first=datetime(2025, 6, 12))
    days = [made.pairs[i : i + 24] for i in range(0, len(made.pairs), 24)]
    assert_read(made, "Time,kWh", [f"{iso(t)},{v:.3f}" for day in days[::-1] for t, v in day])


@pytest.mark.parametrize("which", ["start", "end"])
def test_the_register_beside_tells_which_end_a_time_is(which: str) -> None:
    made = make(3)
    sums = 4000 + np.concatenate([[0.0], np.cumsum(made.kwh)])
    edges = [*made.begins, made.ends[-1]]
    used = ["", *(f"{v:.3f}" for v in made.kwh)] if which == "end" else [*(f"{v:.3f}" for v in made.kwh), ""]
    rows = [f"{iso(t)},{s:.3f},{u}" for t, s, u in zip(edges, sums, used, strict=True)]
    assert_read(made, "Time,Meter reading (kWh),Usage (kWh)", rows)
    assert_read(made, "Time,Reading kWh,Usage (kWh)", rows)


def test_the_same_energy_in_two_units_is_read_once() -> None:
    made = make(4)
    assert_read(made, "Time,Energy (kWh),Energy (Wh)", [f"{iso(t)},{v:.2f},{1000 * v:.0f}" for t, v in made.pairs])


@pytest.mark.parametrize("name", ["Seq", "Line", "Record"])
def test_numbers_of_rows_are_no_energy(name: str) -> None:
    made = make(5)
    assert_read(made, f"{name},Time,Amount used", [f"{i},{iso(t)},{v:.3f}" for i, (t, v) in enumerate(made.pairs, 1)])


def test_the_number_of_a_channel_is_no_energy() -> None:
    made = make(6)
    assert_read(made, "Channel,Time,Consumption", [f"1,{iso(t)},{v:.3f}" for t, v in made.pairs])


@pytest.mark.parametrize("below", ["Sum,{0}", "Grand total,{0}", "Mean,{1}"])
def test_sums_below_a_table_whose_first_column_is_no_time_are_left_out(below: str) -> None:
    made = make(7)
    rows = [f"0412,{iso(t)},{v:.3f}" for t, v in made.pairs]
    assert_read(made, "Meter,Time,kWh", [*rows, below.format(f"{made.kwh.sum():.3f}", f"{made.kwh.mean():.3f}")])


def test_a_broken_date_is_a_fault_though_its_row_begins_with_total() -> None:
    made = make(8)
    rows = [f"Total use,{iso(t)},{v:.3f}" for t, v in made.pairs]
    rows[40] = rows[40].replace("2025-03-08", "2025-13-45")
    with pytest.raises(ValueError, match="no such day"):
        read(written("Kind,Time,kWh", rows).files)


@pytest.mark.parametrize(
    "pair", [("D", "R"), ("E1", "B1"), ("consumed", "produced"), ("Energy drawn", "Energy fed in")]
)
def test_directions_as_rows(pair: tuple[str, str]) -> None:
    made = make(9)
    both = zip(made.begins, made.kwh.tolist(), made.back.tolist(), strict=True)
    rows = [f"{iso(t)},{name},{x:.3f}" for t, v, b in both for name, x in zip(pair, (v, b), strict=True)]
    assert_read(made, "Time,Flow,kWh", rows, back=True)


def test_drawn_and_fed_in_as_columns() -> None:
    made = make(10)
    both = zip(made.begins, made.kwh.tolist(), made.back.tolist(), strict=True)
    assert_read(
        made,
        "Time,Energy drawn (kWh),Energy fed in (kWh)",
        [f"{iso(t)},{v:.3f},{b:.3f}" for t, v, b in both],
        back=True,
    )


def test_columns_of_a_day_numbered_beyond_a_hundred() -> None:
    made = make(11, step=300, first=datetime(2025, 6, 12))
    days = [made.kwh[i : i + 288] for i in range(0, len(made.kwh), 288)]
    rows = [
        f"{datetime(2025, 6, 12) + timedelta(days=i):%Y-%m-%d}," + ",".join(f"{v:.3f}" for v in day)
        for i, day in enumerate(days)
    ]
    assert_read(made, "Date," + ",".join(f"kWh_{n}" for n in range(1, 289)), rows)
    spare = [row + "," * 12 for row in rows]
    assert_read(made, "Date," + ",".join(f"I{n:02d}" for n in range(1, 301)), spare)


def test_values_of_a_day_that_look_like_clock_times_are_none() -> None:
    made = make(12, first=datetime(2025, 6, 12))
    kwh = np.where(np.arange(len(made.kwh)) % 24 == 0, 0.45, 0.987)
    kwh[24] = 2.37
    made.kwh = kwh
    rows = [
        f"{datetime(2025, 6, 12) + timedelta(days=i):%Y-%m-%d},"
        + ",".join(f"{v:.3f}".rstrip("0") for v in kwh[24 * i : 24 * i + 24])
        for i in range(4)
    ]
    assert_read(made, "Day," + ",".join(f"Hour {n}" for n in range(1, 25)), rows)


def test_the_decimal_sign_of_a_total_is_told_by_the_hours_beside_it() -> None:
    made = make(13, first=datetime(2025, 6, 12))
    days = [made.kwh[i : i + 24] for i in range(0, 96, 24)]
    rows = [
        f"{datetime(2025, 6, 12) + timedelta(days=i):%Y-%m-%d};" + ";".join(f"{v:.3f}" for v in [*day, day.sum()])
        for i, day in enumerate(days)
    ]
    assert_read(made, "Date;" + ";".join(f"{n:02d}:00" for n in range(24)) + ";Total", rows)


def test_a_unit_alone_in_the_row_below_the_names() -> None:
    made = make(14)
    rows = [",,kWh", *(f"1ND007,{iso(t)},{v:.3f}" for t, v in zip(made.ends[3:], made.kwh[3:].tolist(), strict=True))]
    interval = read({"interval.csv": table("Meter,End,Interval usage", rows)})
    np.testing.assert_array_equal(interval.starts.astype(np.int64), made.instants[3:])


def test_lines_of_dates_above_the_table_are_no_readings() -> None:
    made = make(15)
    rows = [
        "From,2025-03-07",
        "To,2025-03-11",
        "#,Start,End,Use",
        *(f"{i},{iso(b)},{iso(e)},{v:.3f}" for i, (b, e, v) in enumerate(triples(made), 1)),
    ]
    assert_read(made, "Meter number,5512093", rows)


def test_parts_of_a_day_beside_the_dates_of_a_workbook() -> None:
    from openpyxl import Workbook

    made, book = make(16, first=datetime(2025, 6, 12)), Workbook()
    book.active.append(["Date", "Time", "kWh"])
    for t, v in made.pairs:
        book.active.append([datetime(t.year, t.month, t.day), t.hour / 24, v])
    file = io.BytesIO()
    book.save(file)
    same(read({"interval.xlsx": file.getvalue()}), made, Written({}))


def test_a_line_of_text_below_days_side_by_side() -> None:
    made = make(17, first=datetime(2025, 6, 12), days=14)
    names = [f"{datetime(2025, 6, 12) + timedelta(days=i):%Y-%m-%d}" for i in range(14)]
    rows = [f"{h:02d}:00," + ",".join(f"{v:.3f}" for v in made.kwh[h::24]) for h in range(24)]
    assert_read(made, "Hour," + ",".join(names), [*rows, "", "This report is provided with no warranty."])


@pytest.mark.parametrize("given", [True, False])
def test_offsets_tell_the_time_zone_that_the_household_does_not(given: bool) -> None:
    rows = [f"{t:%Y-%m-%dT%H:%M}+01:00,{v:.3f}" for t, v in make(18, first=datetime(2025, 1, 7)).pairs]
    named = "timezone = 'Europe/Berlin'\n" if given else ""
    interval = read({"interval.csv": table("Time,kWh", rows)}, house=f"[house]\n{named}")
    told = [one.figures["zone"] for one in interval.assumed if one.code == "zone-told"]
    assert told == ([] if given else ["Europe/Berlin"])


def test_net_beside_two_registers_is_left() -> None:
    made = make(19)
    both = zip(made.begins, made.kwh.tolist(), made.back.tolist(), strict=True)
    rows = [f"{iso(t)},{v:.3f},{b:.3f},{v - b:.3f}" for t, v, b in both]
    assert_read(made, "Time,1.8.0 (kWh),2.8.0 (kWh),Net (kWh)", rows, back=True)


def test_days_of_a_spreadsheet_below_lines_with_dates() -> None:
    made = make(20)
    days = [(t.replace(tzinfo=None) - datetime(1899, 12, 30)).total_seconds() / 86_400 for t in made.begins]
    rows = [
        "From,2025-03-07",
        "To,2025-03-11",
        "",
        "Date,kWh",
        *(f"{d:.6f},{v:.3f}" for d, v in zip(days, made.kwh, strict=True)),
    ]
    assert_read(made, "Meter number,5512093", rows)


def test_days_side_by_side_below_lines_with_dates() -> None:
    made = make(23, first=datetime(2025, 6, 12), days=14)
    days = [f"{datetime(2025, 6, 12) + timedelta(days=i):%m/%d/%Y}" for i in range(14)]
    hours = [f"{h:02d}:00," + ",".join(f"{v:.3f}" for v in made.kwh[h::24]) for h in range(24)]
    rows = ["From,2025-06-12", "To,2025-06-26", "", "Unit: kWh", "Hour," + ",".join(days), *hours]
    assert_read(made, "Meter number,5512093", rows)


def test_a_line_longer_than_any_of_a_table_is_a_fault_of_its_row() -> None:
    rows = [f"AB12,{iso(t)},{v:.3f}" for t, v in make(21).pairs]
    rows[30] = "x" * 150_000 + rows[30]
    with pytest.raises(ValueError, match=r"row 32: this line has more than 20000 letters"):
        read(written("Meter,Time,kWh", rows).files)


@pytest.mark.parametrize("first", [datetime(2025, 4, 3), datetime(2025, 10, 2)])
def test_hours_of_a_clock_that_moves_by_half_an_hour(first: datetime) -> None:
    zone = ZoneInfo("Australia/Lord_Howe")
    kwh = [0.5 + 0.01 * (n % 7) for n in range(6 * 24)]
    days = [first + timedelta(days=n) for n in range(6)]
    rows = [f"{day:%Y-%m-%d}," + ",".join(f"{v:.2f}" for v in kwh[24 * n : 24 * n + 24]) for n, day in enumerate(days)]
    files = {"interval.csv": table("Date," + ",".join(f"{h:02d}:00" for h in range(24)), rows)}
    interval = read(files, house="[house]\ntimezone = 'Australia/Lord_Howe'\n")
    assert interval.kwh.sum() == pytest.approx(sum(kwh))
    midnights = [int(day.replace(tzinfo=zone).timestamp()) for day in days]
    assert np.isin(midnights, interval.starts.astype(np.int64)).all()
    assert "standard-time" not in [one.code for one in interval.assumed]


def test_utf_16_of_which_every_other_line_is_a_byte_late_is_refused() -> None:
    rows = "".join(f"Day|{iso(t)}|{v:.3f}\n" for t, v in make(22).pairs)
    torn = ("\ufeffDay|Time|kWh\n" + rows).encode("utf-16-be").replace(b"\n", b"\r\r")
    with pytest.raises(ValueError, match="a torn one"):
        read({"interval.csv": torn})
