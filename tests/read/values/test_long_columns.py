"""Long columns are read by what repeats in them: runs of a date, a day of clock times, one length of line."""

from __future__ import annotations

import itertools
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from reconcile.read.layouts.clock_column import MOST_A_DAY, ClockColumn
from reconcile.read.layouts.interval_layout import find_layout
from reconcile.read.layouts.raw_tables import cells_of
from reconcile.read.layouts.time_columns import TimeParts, _counted, read_time_columns
from reconcile.read.tables.gate import Gate
from reconcile.read.values import time_cells
from reconcile.read.values.dated_clocks import dated_clocks
from reconcile.read.values.number_cells import Marks, as_float, read_numbers
from reconcile.read.values.time_cells import joined, read_times


def test_runs_of_dates_are_read_as_single_cells_are() -> None:
    days = [f"{n % 12 + 1}/{n % 28 + 1}/2025" for n in range(40)]
    cells = np.array([day.encode() for day in days for _ in range(24)] + [b"", b"total"])
    long, each = read_times(cells), [read_times(cells[at : at + 1]) for at in range(len(cells))]
    assert long.dates.tolist() == [int(one.dates[0]) for one in each]
    assert long.seconds.tolist() == [0] * len(cells)
    assert not long.clock


def test_distances_from_utc_are_read_in_runs() -> None:
    stamps = np.datetime64("2025-03-09T00:00") + np.timedelta64(15, "m") * np.arange(400)
    texts = [f"{stamp}:00{'-05:00' if n < 217 else '-04:00'}".encode() for n, stamp in enumerate(stamps)]
    read = read_times(np.array(texts))
    assert read.offsets is not None
    assert read.offsets.tolist() == [-18000] * 217 + [-14400] * 183


@pytest.mark.parametrize("period", [24, 96, 1440])
@pytest.mark.parametrize("odd", [None, 100, 1900])
@pytest.mark.parametrize("seconds", ["", ":00 PM"])
def test_clock_times_of_many_days(period: int, odd: int | None, seconds: str) -> None:
    minutes = [n * (1440 // period) % (720 if seconds else 1440) for n in range(period)]
    texts = [f"{m // 60 or (12 if seconds else 0)}:{m % 60:02d}{seconds}" for m in minutes]
    cells = (texts * (2 * MOST_A_DAY // period + 2))[: 2 * MOST_A_DAY]
    if odd is not None:
        cells[odd] = "noon"
    column = ClockColumn()
    column.add(np.array([cell.encode() for cell in cells]))
    column.add(np.array([cell.encode() for cell in cells[:7]]))
    read = column.read()
    wanted = [m * 60 + (43200 if seconds else 0) for m in minutes]
    every = (wanted * (len(cells) // period + 1))[: len(cells)]
    assert read.bad.sum() == (odd is not None)
    here = [at for at in range(len(cells)) if at != odd]
    assert read.seconds[here].tolist() == [every[at] for at in here]
    assert read.seconds[-7:].tolist() == wanted[:7]


def test_clock_times_that_come_again_are_decoded_once() -> None:
    column = ClockColumn()
    for cells in ([b"1:00", b"2:00 "], [b"2:00", b"3:00"], [b"1:00", b" 3:00"]):
        column.add(np.array(cells))
    assert column.texts == ["1:00", "2:00", "3:00"]
    assert column.read().seconds.tolist() == [3600, 7200, 7200, 10_800, 3600, 10_800]


def test_epoch_seconds_are_dates_of_utc() -> None:
    stamps = np.datetime64("2024-02-28T23:30") + np.timedelta64(30, "m") * np.arange(200)
    seconds = stamps.astype("datetime64[s]").astype(np.int64)
    whole = _counted(np.array([str(s).encode() for s in seconds]), "epoch")
    parts = _counted(np.array([f"{s}.0".encode() for s in seconds]), "epoch")
    thousandths = _counted(np.array([f"{s}000".encode() for s in seconds]), "epoch")
    written = read_times(np.array([str(stamp).encode() for stamp in stamps]))
    for read in (whole, parts, thousandths):
        assert read.dates.tolist() == written.dates.tolist()
        assert read.seconds.tolist() == written.seconds.tolist()
        assert read.offsets is not None
        assert not read.offsets.any()


@pytest.mark.parametrize("cells", [["0,50", "1,25", "-12,5", "", "7"], ["0,500", "1,250"], ["10,1"] * 30])
def test_decimal_commas_are_read_at_once(cells: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("reconcile.read.values.number_cells._marked_float", None)  # not cell by cell
    got = read_numbers([np.array([cell.encode() for cell in cells])], ";")
    assert got.marks == Marks(",", "")
    wanted = [as_float(cell, Marks(",", "")) for cell in cells]
    assert np.array_equal(got.values[0], np.array(wanted, dtype=float), equal_nan=True)


@pytest.mark.parametrize(
    ("cells", "marks"),
    [
        (["1,250", "2,500"], Marks(open="1,250")),
        (["1,250", "987"], Marks(".", ",")),
        (["1,250", "0.5"], Marks(".", ",")),
        (["1,234,567", "1"], Marks(".", ",")),
    ],
)
def test_commas_that_may_be_thousands_are_not(cells: list[str], marks: Marks) -> None:
    assert read_numbers([np.array([cell.encode() for cell in cells])], ";").marks == marks


def test_a_short_column_is_not_looked_at_for_runs() -> None:
    assert read_times(np.array([b"2025-01-01"] * (time_cells.LONG - 1))).dates.size == time_cells.LONG - 1


@pytest.mark.parametrize("odd", [None, b"1/9/2025 99:15 AM", b"total", b"1/9/2025 1:15 AM -05:00", b""])
@pytest.mark.parametrize("skipped", [0, 61])
def test_days_with_clock_times_of_all_lengths_are_read_as_single_cells_are(odd: bytes | None, skipped: int) -> None:
    every = np.datetime64("2025-01-07T00:00") + np.timedelta64(15, "m") * np.arange(1100)
    stamps = np.delete(every, slice(300, 300 + skipped)).astype(object)
    texts = [f"{s.month}/{s.day}/{s.year} {s.hour % 12 or 12}:{s:%M}{s: %p}".encode() for s in stamps]
    texts = texts if odd is None else [*texts[:500], odd, *texts[501:]]
    cells = np.array(texts)
    long, each = read_times(cells), [read_times(cells[at : at + 1]) for at in range(len(cells))]
    assert long.dates.tolist() == [int(one.dates[0]) for one in each]
    assert long.seconds[~long.bad].tolist() == [int(one.seconds[0]) for one in each if not one.bad[0]]
    assert long.distances.tolist() == [int(one.distances[0]) for one in each]
    assert long.bad.sum() == (odd is not None and b"-05" not in odd)


@pytest.mark.parametrize("odd_end", [None, 12])
def test_an_end_is_read_also_where_it_is_not_the_next_beginning(odd_end: int | None) -> None:
    stamps = np.datetime64("2025-01-07T00:00") + np.timedelta64(1, "h") * np.arange(49)
    texts = [str(stamp).replace("T", " ") for stamp in stamps]
    rows = [[begin, end, "1"] for begin, end in itertools.pairwise(texts)]
    if odd_end is not None:
        rows[odd_end][1] = f"{rows[odd_end][0][:14]}30"
    table = cells_of("a.csv", None, list(enumerate([["start", "end", "kwh"], *rows], 1)))
    parts = TimeParts(table, find_layout(table), ZoneInfo("UTC"))
    for some in (rows[:30], rows[30:]):
        parts.add({at: np.array([row[at].encode().ljust(24, b"\0") for row in some], dtype="S24") for at in (0, 1)})
    for at, read in enumerate((joined(parts.dates[0]), parts.ends())):
        each = [read_times(np.array([row[at].encode()])) for row in rows]
        assert read.dates.tolist() == [int(one.dates[0]) for one in each]
        assert read.seconds.tolist() == [int(one.seconds[0]) for one in each]
    timed = read_time_columns(parts, np.arange(2, 50, dtype=np.int32), Gate(), ZoneInfo("UTC"))
    assert timed is not None
    assert timed.lengths is not None
    assert timed.lengths.tolist() == [1800 if at == odd_end else 3600 for at in range(48)]


@pytest.mark.parametrize(
    "form", ["%b {d}, %Y {h}:%M %p", "{d} %b %Y {h}:%M", "{d}/{m}/%Y {h}:%M - {h}:59", "%a {m}/{d}/%Y {h}:%M"]
)
def test_days_with_blanks_in_them_are_read_as_single_cells_are(form: str) -> None:
    stamps = (np.datetime64("2025-08-27T00:00") + np.timedelta64(15, "m") * np.arange(1500)).astype(object)
    texts = [s.strftime(form).format(d=s.day, m=s.month, h=s.hour) for s in stamps]
    cells = np.array([text.encode() for text in texts])
    long, each = read_times(cells), [read_times(cells[at : at + 1]) for at in range(len(cells))]
    assert long.dates.tolist() == [int(one.dates[0]) for one in each]
    assert long.seconds.tolist() == [int(one.seconds[0]) for one in each]
    assert long.until == each[0].until


def test_a_blank_behind_days_is_no_clock() -> None:
    cells = np.array([f"{n % 12 + 1}/{n % 28 + 1}/2025 ".encode() for n in range(20) for _ in range(96)])
    assert dated_clocks(cells.astype("S16").view(np.uint8).reshape(-1, 16)) is None
    assert not read_times(cells).clock


def test_minutes_of_one_length_for_hours_on_end_are_of_days_and_clock_times() -> None:
    stamps = (np.datetime64("2025-01-07T01:00") + np.timedelta64(1, "m") * np.arange(3 * 1440)).astype(object)
    texts = [f"{s.month}/{s.day}/{s.year} {s.hour % 12 or 12}:{s:%M %p}" for s in stamps]
    assert len({len(text) for text in texts[:500]}) == 1
    cells = np.array([text.encode() for text in texts])
    assert dated_clocks(cells.astype("S24").view(np.uint8).reshape(-1, 24)) is not None
    assert read_times(cells).seconds.tolist() == [60 * ((at + 60) % 1440) for at in range(len(cells))]
