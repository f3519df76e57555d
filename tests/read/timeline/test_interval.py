"""Interval data: every layout that is read, and every row that is dropped, kept or moved, counted."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from reconcile.errors import InputError
from reconcile.house import House, Interval
from reconcile.read import read_house
from reconcile.read.household.settings import IntervalSettings
from reconcile.read.layouts.raw_tables import SMALL
from reconcile.read.tables.gate import Gate
from reconcile.read.timeline.interval_table import read_interval
from reconcile.read.wrappings.sources import IntervalFile
from reconcile.say import Voice
from reconcile.texts.interval import action_text, assumed_text

MakeHouse = Callable[..., Path]


def read(make_house: MakeHouse, text: str | dict[str, str], settings: str = "", place: str = "") -> Interval:
    files = {"interval.csv": text} if isinstance(text, str) else {"interval.csv": None, **text}
    house = f"[house]\ntimezone = 'America/Chicago'\n{place}[interval]\n{settings}"
    interval = read_house(make_house({"house.toml": house, **files})).interval
    assert interval is not None
    return interval


def counts(interval: Interval) -> dict[str, tuple[int, float]]:
    return {action.code: (action.count, round(action.kwh, 6)) for action in interval.actions}


def hours(first: str, values: list[object], header: str = "time,kwh", step: int = 60) -> str:
    start = datetime.fromisoformat(first)
    rows = [f"{start + timedelta(minutes=step * n):%Y-%m-%d %H:%M},{value}" for n, value in enumerate(values)]
    return "\n".join([header, *rows]) + "\n"


def assumed(interval: Interval) -> list[str]:
    return [assumed_text(one, Voice()) for one in interval.assumed]


def starts(interval: Interval) -> list[str]:
    return np.datetime_as_string(interval.starts, unit="m").tolist()


def test_plain_local_times_become_instants(make_house: MakeHouse) -> None:
    interval = read(make_house, hours("2025-01-07 00:00", [0.5, 0.4, 0.6]))
    assert starts(interval) == ["2025-01-07T06:00", "2025-01-07T07:00", "2025-01-07T08:00"]
    assert interval.kwh.tolist() == [0.5, 0.4, 0.6]
    assert interval.step_seconds == 3600
    assert interval.actions == ()
    assert assumed(interval) == [
        "Each time is taken as the start of its interval.",
        "The times carry no distance from UTC; they are taken as the clock of America/Chicago.",
    ]


@pytest.mark.parametrize(
    ("settings", "header", "values", "kwh"),
    [
        ("unit = 'Wh'\n", "time,usage", [500, 400], [0.5, 0.4]),
        ("", "time,usage (Wh)", [500, 400], [0.5, 0.4]),
        ("unit = 'kW'\n", "time,load", [2, 4], [0.5, 1.0]),
        ("", "time,kW", [2, 4], [0.5, 1.0]),
        ("", "Date Time,Usage_kWh", [0.5, 0.4], [0.5, 0.4]),
        ("unit = 'kWh'\n", "interval start,value", ["+.5", "4E-1"], [0.5, 0.4]),
    ],
)
def test_units(settings: str, header: str, values: list[object], kwh: list[float], make_house: MakeHouse) -> None:
    interval = read(make_house, hours("2025-01-07 00:00", values, header, step=15), settings)
    np.testing.assert_allclose(interval.kwh, kwh, rtol=1e-12)
    assert interval.step_seconds == 900


@pytest.mark.parametrize(
    ("written", "settings"),
    [
        ("2025-01-07T00:00-06:00", ""),
        ("2025-01-07T00:00:00-0600", ""),
        ("2025-01-07 06:00Z", ""),
        ("2025-01-07 06:00", "timezone = 'UTC'\n"),
        ("2025-01-07 01:00", "timezone = '-05:00'\n"),
        ("2025-01-07 07:00", "timezone = 'Europe/Rome'\n"),
        ("1/7/2025 12:00 AM", ""),
        ("2025/01/07 0:00", ""),
        ("2025-01-06 24:00", ""),
    ],
)
def test_times_as_they_are_written(written: str, settings: str, make_house: MakeHouse) -> None:
    later = written.replace("00:00", "01:00", 1) if "T" in written else ""
    rows = {
        "2025-01-07 06:00Z": "2025-01-07 07:00Z",
        "2025-01-07 06:00": "2025-01-07 07:00",
        "2025-01-07 01:00": "2025-01-07 02:00",
        "2025-01-07 07:00": "2025-01-07 08:00",
        "1/7/2025 12:00 AM": "1/7/2025 1:00 AM",
        "2025/01/07 0:00": "2025/01/07 1:00",
        "2025-01-06 24:00": "2025-01-07 01:00",
    }
    place = "" if "/7/" not in written else "[bills]\ndate_format = 'MM/DD/YYYY'\n"
    text = f"time,kwh\n{written},0.5\n{rows.get(written, later)},0.4\n"
    interval = read(make_house, text, settings, place)
    assert starts(interval) == ["2025-01-07T06:00", "2025-01-07T07:00"]


def test_stamps_at_the_end(make_house: MakeHouse) -> None:
    told = read(make_house, hours("2025-01-07 01:00", [0.5, 0.4]), "stamps = 'end'\n")
    named = read(make_house, hours("2025-01-07 01:00", [0.5, 0.4], "interval end,kwh"))
    assert starts(told) == starts(named) == ["2025-01-07T06:00", "2025-01-07T07:00"]


@pytest.mark.parametrize("name", ["Date/Time", "TIMESTAMP", "Usage Date", "Start Time (local)", "reading_date"])
def test_columns_of_times_are_known_by_their_names(name: str, make_house: MakeHouse) -> None:
    assert starts(read(make_house, hours("2025-01-07 00:00", [1, 2], f"{name},kWh")))[0] == "2025-01-07T06:00"


def test_a_column_that_says_utc_is_utc(make_house: MakeHouse) -> None:
    interval = read(make_house, hours("2025-01-07 00:00", [1, 2], "Timestamp (UTC),kWh"))
    assert starts(interval)[0] == "2025-01-07T00:00"
    assert "The times carry no distance from UTC; they are taken as the clock of UTC." in assumed(interval)


def test_start_and_end_beside_each_other(make_house: MakeHouse) -> None:
    text = "start,end,kwh\n2025-01-07 00:00,2025-01-07 01:00,1\n2025-01-07 01:00,2025-01-07 02:00,2\n"
    assert starts(read(make_house, text)) == ["2025-01-07T06:00", "2025-01-07T07:00"]


def test_a_channel_is_chosen_and_the_others_are_told(make_house: MakeHouse) -> None:
    text = "time,delivered,received\n2025-01-07 00:00,1,2\n2025-01-07 01:00,3,4\n"
    interval = read(make_house, text, "channel = 'received'\n")
    assert interval.kwh.tolist() == [2.0, 4.0]
    assert "Only the column received is read, not delivered." in assumed(interval)


def test_the_newest_first_is_turned_round(make_house: MakeHouse) -> None:
    text = "time,kwh\n2025-11-02 03:00,6\n2025-11-02 02:00,5\n2025-11-02 01:00,4\n2025-11-02 01:00,3\n"
    interval = read(make_house, text + "2025-11-02 00:00,2\n")
    assert interval.kwh.tolist() == [2.0, 3.0, 4.0, 5.0, 6.0]
    assert counts(interval) == {"clock-back": (1, 0.0)}


def test_blanks_and_gaps_are_left_out_and_counted(make_house: MakeHouse) -> None:
    text = "time,kwh\n2025-01-07 00:00,1\n2025-01-07 01:00,\n2025-01-07 02:00,NaN\n2025-01-07 05:00,2\n"
    interval = read(make_house, text + "2025-01-07 06:00,3\n")
    assert interval.kwh.tolist() == [1.0, 2.0, 3.0]
    assert counts(interval) == {"blank": (2, 0.0), "gap": (2, 0.0)}
    assert action_text(interval.actions[0], Voice()) == "2 intervals without a value were left out, not taken as zero."


def test_repeats_are_counted_once_and_the_larger_of_two_is_kept(make_house: MakeHouse) -> None:
    text = hours("2025-01-07 00:00", [1, 2, 3]) + "2025-01-07 01:00,2\n2025-01-07 02:00,0.5\n"
    interval = read(make_house, text)
    assert interval.kwh.tolist() == [1.0, 2.0, 3.0]
    assert counts(interval) == {"repeat": (1, 2.0), "conflict": (1, 0.5)}


@pytest.mark.parametrize("late", [[0, 0, 7, 0, 0], [3, 0, 5, 9, 2]])
def test_a_clock_that_drifts_is_put_on_its_steps(late: list[int], make_house: MakeHouse) -> None:
    rows = "".join(f"2025-01-07 0{n}:00:0{s},{n}\n" for n, s in enumerate(late))
    interval = read(make_house, "time,kwh\n" + rows)
    assert starts(interval) == [f"2025-01-07T{n:02d}:00" for n in range(6, 11)]
    assert counts(interval) == {"off-step": (sum(s > 0 for s in late), 0.0)}


def test_the_skipped_hour_written_as_zeros_is_left_out(make_house: MakeHouse) -> None:
    interval = read(make_house, hours("2025-03-09 00:00", [1, 2, 0, 4, 5]))
    assert interval.kwh.tolist() == [1.0, 2.0, 4.0, 5.0]
    assert counts(interval) == {"clock-forward": (1, 0.0)}
    assert np.all(np.diff(interval.starts) == np.timedelta64(3600, "s"))


def test_a_repeated_hour_that_stands_once_is_told(make_house: MakeHouse) -> None:
    interval = read(make_house, hours("2025-11-02 00:00", [1, 2, 3, 4]))
    assert counts(interval) == {"gap": (1, 0.0), "clock-back-once": (1, 0.0)}


def test_a_clock_of_standard_time_all_year_is_told(make_house: MakeHouse) -> None:
    interval = read(make_house, hours("2025-03-09 00:00", [1.0] * 48))
    assert len(interval.kwh) == 48
    assert assumed(interval)[-1] == (
        "The times never change to summer time; they are taken as the standard time of America/Chicago."
    )


def test_days_follow_the_house_through_a_clock_change(make_house: MakeHouse) -> None:
    interval = read(make_house, hours("2025-03-07 00:00", [9, 8, 7, 6], "date,kwh", step=1440))
    assert starts(interval) == ["2025-03-07T06:00", "2025-03-08T06:00", "2025-03-09T06:00", "2025-03-10T05:00"]
    assert interval.step_seconds == 86400
    assert interval.actions == ()
    same = read(make_house, "date,kwh\n2025-03-07,9\n2025-03-08,8\n2025-03-09,7\n2025-03-10,6\n")
    assert same == interval
    in_utc = "".join(f"{at}Z,{v}\n" for at, v in zip(starts(interval), (9, 8, 7, 6), strict=True))
    assert read(make_house, "time,kwh\n" + in_utc) == interval


def test_a_folder_of_files_is_laid_end_to_end(make_house: MakeHouse) -> None:
    interval = read(
        make_house,
        {
            "interval/2025-02.csv": hours("2025-01-07 03:00", [4, 5, 6]),
            "interval/2025-01.csv": hours("2025-01-07 00:00", [1, 2, 3, 4]),
            "interval/read me.txt": "downloaded in March",
        },
    )
    assert interval.kwh.tolist() == [1.0, 2.0, 3.0, 4.0, 5.0, 6.0]
    assert counts(interval) == {"repeat": (1, 4.0)}


def test_an_exchange_of_meters_from_hours_to_quarters_keeps_both(make_house: MakeHouse) -> None:
    hourly, quarters = [1.0, 2.0, 3.0], [0.1, 0.2, 0.3, 0.4] * 3
    files = {
        "interval/a.csv": hours("2025-01-07 00:00", hourly),
        "interval/b.csv": hours("2025-01-07 03:00", quarters, step=15),
    }
    interval = read(make_house, files)
    assert interval.kwh.tolist() == [*hourly, *quarters]
    assert interval.lengths.tolist() == [3600] * 3 + [900] * 12
    assert interval.step_seconds == 3600
    assert [(part.step_seconds, len(part.kwh)) for part in interval.segments] == [(3600, 3), (900, 12)]
    assert interval.actions == ()


def test_a_file_whose_step_changes_within_it(make_house: MakeHouse) -> None:
    hourly, quarters = [1.0, 2.0, 3.0], [0.1, 0.2, 0.3, 0.4] * 3
    both = hours("2025-01-07 00:00", [*hourly * 4]) + hours("2025-01-07 12:00", quarters * 2, header="", step=15)[1:]
    one = read(make_house, both)
    assert [(part.step_seconds, len(part.kwh)) for part in one.segments] == [(3600, 12), (900, 24)]
    assert one.kwh.sum() == pytest.approx(4 * 6 + 6 * 1.0)


def test_quarters_within_an_hour_already_there_count_once(make_house: MakeHouse) -> None:
    files = {
        "interval/a.csv": hours("2025-01-07 00:00", [1.0, 1.0, 5.0]),
        "interval/b.csv": hours("2025-01-07 01:00", [0.25] * 4 + [0.5] * 2, step=15),
    }
    interval = read(make_house, files)
    assert interval.kwh.tolist() == [1.0, 0.25, 0.25, 0.25, 0.25, 5.0]
    assert counts(interval) == {"repeat": (1, 1.0), "overlap": (2, 1.0)}


def test_a_few_readings_that_cannot_be_are_left_out_and_named(make_house: MakeHouse) -> None:
    values: list[object] = [1.0] * 40
    values[3], values[7], values[20] = -4166, -2, 9000
    interval = read(make_house, hours("2025-01-07 00:00", values))
    assert len(interval.kwh) == 37
    assert counts(interval) == {"beyond-service": (2, 4834.0), "negative": (1, -2.0), "stuck": (37, 37.0)}
    assert action_text(interval.actions[1], Voice()).startswith(
        "1 interval is below zero and was left out (interval.csv, row 9)"
    )


def test_a_cell_is_quoted_as_it_stands(make_house: MakeHouse) -> None:
    with pytest.raises(InputError) as caught:
        read(make_house, hours("2025-01-07 00:00", ["-4166"] * 48, "time,Wh"))
    assert caught.value.faults[0].read == "-4166"
    assert caught.value.faults[0].row == 2


def test_one_time_without_its_offset_among_many_is_named(make_house: MakeHouse) -> None:
    rows = hours("2025-01-07 00:00", [1.0] * 60).replace(":00,", ":00-06:00,")
    text = rows.replace("2025-01-08 03:00-06:00", "2025-01-08 03:00")
    with pytest.raises(InputError) as caught:
        read(make_house, text)
    (fault,) = caught.value.faults
    assert (fault.row, fault.read) == (29, "2025-01-08 03:00")


def test_a_reading_off_the_step_is_left_out_and_named(make_house: MakeHouse) -> None:
    interval = read(make_house, hours("2025-01-07 00:00", [1.5, 1.0] * 24) + "2025-01-09 00:31,1\n")
    assert counts(interval) == {"off-grid": (1, 1.0)}
    assert interval.actions[0].figures["rows"] == "50"


def test_many_overlaps_that_disagree_are_a_fault(make_house: MakeHouse) -> None:
    files = {
        "interval/a.csv": hours("2025-01-07 00:00", range(40)),
        "interval/b.csv": hours("2025-01-07 00:00", [50] * 40),
    }
    with pytest.raises(InputError, match="39 intervals are given twice with different values"):
        read(make_house, files)


def test_a_register_rolls_over_and_is_set_back(make_house: MakeHouse) -> None:
    up = [99_990 + n * 0.5 for n in range(20)] + [n * 0.5 for n in range(20)]
    interval = read(make_house, hours("2025-01-07 00:00", up))
    assert interval.kwh.tolist() == [0.5] * 39
    back = [5_000 + n * 0.5 for n in range(60)] + [10 + n * 0.5 for n in range(60)]
    interval = read(make_house, hours("2025-01-07 00:00", back))
    assert counts(interval)["reset"] == (1, 0.0)
    assert interval.kwh.sum() == pytest.approx(59.0)


def test_what_a_register_counted_over_a_gap_is_spread_and_told(make_house: MakeHouse) -> None:
    rows = hours("2025-01-07 00:00", [5_000 + n for n in range(48)]).splitlines()
    interval = read(make_house, "\n".join(rows[:20] + rows[23:]) + "\n")
    assert interval.kwh.sum() == pytest.approx(47.0)
    assert counts(interval)["spread"] == (4, 4.0)
    assert interval.estimated is not None
    assert interval.estimated.sum() == 4


def test_volts_and_estimates_are_kept(make_house: MakeHouse) -> None:
    rows = ["00:00,1,121.5,Estimated", "01:00,2,,Actual", "02:00,3,120,A"]
    text = "\n".join(["time,kwh,volts,Quality", *(f"2025-01-07 {row}" for row in rows)]) + "\n"
    interval = read(make_house, text)
    assert interval.volts is not None
    np.testing.assert_equal(interval.volts, [121.5, np.nan, 120.0])
    assert counts(interval) == {"estimated": (1, 1.0)}


def test_generation_may_send_energy_back(make_house: MakeHouse) -> None:
    interval = read(make_house, hours("2025-01-07 00:00", [1, -2]), place="generation = true\n")
    assert interval.kwh.tolist() == [1.0, -2.0]


def test_a_year_of_quarter_hours_is_read_in_little_more_time_than_a_bare_parse(tmp_path: Path) -> None:
    # tests/benchmarks/interval_speed.py measures the ratio (2.7 when this was written); this guards its order of size
    import io

    import pandas as pd

    rng = np.random.default_rng(5)
    text = hours("2024-01-01 00:00", [f"{v:.3f}" for v in rng.random(35_040)], step=15)
    path = tmp_path / "interval.csv"
    path.write_text(text, encoding="utf-8")

    def read_it() -> None:
        gate = Gate()
        interval, _ = read_interval([IntervalFile("interval.csv", path)], gate, House("A", ()), IntervalSettings())
        assert interval is not None
        assert len(interval.kwh) == 35_040

    def seconds(job: Callable[[], object]) -> float:
        taken = []
        for _ in range(7):
            begin = time.process_time()
            job()
            taken.append(time.process_time() - begin)
        return min(taken)

    assert seconds(read_it) < 6 * seconds(lambda: pd.read_csv(io.StringIO(text)))


@pytest.mark.parametrize("delimiter", [",", ";"])
def test_a_long_file_and_a_short_one_are_read_alike(delimiter: str, make_house: MakeHouse, tmp_path: Path) -> None:
    rng = np.random.default_rng(6)
    values: list[object] = [f"{v:.3f}" for v in rng.random(20_000)]
    values[17_000] = ""
    rows = hours("2025-01-07 00:00", values, step=15).replace(",", delimiter).splitlines()
    long = read(make_house, "Account;1\n\n".replace(";", delimiter) + "\n".join(rows) + f"\nTotal{delimiter}9\n")
    assert len("\n".join(rows)) > 2 * SMALL
    parts = {f"interval/{n:02d}.csv": "\n".join([rows[0], *rows[1 + n * 4000 : 4001 + n * 4000]]) for n in range(5)}
    (tmp_path / "house" / "interval.csv").unlink()
    short = read(make_house, {**parts})
    np.testing.assert_array_equal(long.starts, short.starts)
    np.testing.assert_allclose(long.kwh, short.kwh, rtol=1e-12)
    assert counts(long)["blank"] == counts(short)["blank"] == (1, 0.0)


def test_faults_of_a_long_file_have_their_rows(make_house: MakeHouse) -> None:
    rows = hours("2025-01-07 00:00", [0.5] * 20_000, step=15).splitlines()
    rows[15_000] = rows[15_000].replace("0.5", "low")
    rows[16_000] = "soon,0.5"
    with pytest.raises(InputError) as caught:
        read(make_house, "\n".join(rows))
    assert [(fault.row, fault.read) for fault in caught.value.faults] == [(16_001, "soon")]
    rows[16_000] = rows[15_999]
    with pytest.raises(InputError) as caught:
        read(make_house, "\n".join(rows))
    assert [(fault.row, fault.column, fault.read) for fault in caught.value.faults] == [(15_001, "kwh", "low")]
    rows[15_000] = rows[15_000].replace("low", "0.5,0.7,1")
    with pytest.raises(InputError) as caught:
        read(make_house, "\n".join(rows))
    assert caught.value.faults[0].row == 15_001


def test_a_comma_too_many_is_a_fault_and_no_smaller_number(make_house: MakeHouse) -> None:
    with pytest.raises(InputError, match="row 4: it has more columns"):
        read(make_house, "time,Wh\n2025-01-07 00:00,950\n2025-01-07 01:00,900\n2025-01-07 02:00,1,234\n")


@pytest.mark.parametrize(
    ("zone", "first"),
    [("America/Chicago", "2025-03-07"), ("America/Chicago", "2025-10-31"), ("America/Havana", "2025-03-07")],
)
def test_days_beside_their_hours_count_once_whatever_their_length(zone: str, first: str, make_house: MakeHouse) -> None:
    from zoneinfo import ZoneInfo

    begin = datetime.fromisoformat(first).replace(tzinfo=ZoneInfo(zone))
    end = (begin.replace(tzinfo=None) + timedelta(days=5)).replace(tzinfo=ZoneInfo(zone))
    at = np.arange(int(begin.timestamp()), int(end.timestamp()), 3600)
    values = np.round(np.random.default_rng(1).gamma(2.0, 0.3, len(at)), 3)
    local = [datetime.fromtimestamp(int(t), ZoneInfo(zone)) for t in at]
    days: dict[str, float] = {}
    for t, value in zip(local, values, strict=True):
        days[f"{t:%Y-%m-%d}"] = days.get(f"{t:%Y-%m-%d}", 0.0) + float(value)
    files = {
        "interval/hours.csv": "\n".join(
            ["time,kwh", *(f"{t.isoformat()},{v}" for t, v in zip(local, values, strict=True))]
        ),
        "interval/days.csv": "\n".join(["date,kwh", *(f"{day},{total:.3f}" for day, total in days.items())]),
    }
    house = {"house.toml": f"[house]\ntimezone = '{zone}'\n", "interval.csv": None, **files}
    interval = read_house(make_house(house)).interval
    assert interval is not None
    np.testing.assert_allclose(interval.kwh, values)
    assert counts(interval) == {"repeat": (5, round(float(values.sum()), 6))}


@pytest.mark.parametrize("last", [2, 4, 6])
def test_lines_below_a_last_page_of_few_rows_do_not_make_its_dates_unreadable(make_house: MakeHouse, last: int) -> None:
    header = "Date,Time,kWh\n"
    rows = [f"01/{13 + n // 24:02d}/2025,{n % 24:02d}:00,0.5\n" for n in range(24 + last)]
    text = f"{header}{''.join(rows[:24])}Page 1 of 2\n\n{header}{''.join(rows[24:])}Page 2 of 2\nEnd of report\n"
    assert len(read(make_house, text).kwh) == 24 + last
