"""Clock times become instants, whatever a meter writes in the hours that a clock change skips or repeats."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reconcile.clock import changes, offsets_at
from reconcile.read.values import local_stamps as clock

CHICAGO = ZoneInfo("America/Chicago")
# clock changes of every kind: whole and half hours, at midnight, on both hemispheres, and none
ZONES = (
    "America/Chicago",
    "Europe/Rome",
    "Australia/Lord_Howe",
    "America/Havana",
    "Asia/Beirut",
    "Africa/Casablanca",
    "America/St_Johns",
    "Asia/Kolkata",
)


def local(instants: np.ndarray, zone: ZoneInfo) -> np.ndarray:
    """Seconds of the local clock at instants, by the standard library."""
    clocks = [datetime.fromtimestamp(at, UTC).astimezone(zone) for at in instants.tolist()]
    return np.array([int(c.replace(tzinfo=UTC).timestamp()) for c in clocks], dtype=np.int64)


def seconds(text: str) -> np.ndarray:
    return np.array(text.split(), dtype="datetime64[s]").astype(np.int64)


def placed(text: str, stamps: str, values: list[float] | None = None) -> clock.Placed:
    labels = seconds(text)
    loaded = np.ones(len(labels), bool) if values is None else np.array(values) > 0
    return clock.place(labels, CHICAGO, stamps, loaded)


def utc(text: str) -> list[int]:
    return seconds(text).tolist()


@given(
    zone=st.sampled_from(ZONES),
    day=st.dates(datetime(2018, 1, 1).date(), datetime(2025, 12, 31).date()),
    step=st.sampled_from((900, 1800)),
    days=st.integers(1, 200),
)
@settings(max_examples=30, deadline=None)
def test_the_clock_on_the_wall_is_read_back_exactly(zone: str, day: object, step: int, days: int) -> None:
    first = int(datetime(day.year, day.month, day.day, tzinfo=UTC).timestamp())  # type: ignore[attr-defined]
    starts = np.arange(first, first + days * 86400, step, dtype=np.int64)
    home = ZoneInfo(zone)
    loaded = np.ones(len(starts), bool)
    read = clock.place(local(starts, home), home, "start", loaded)
    np.testing.assert_array_equal(read.instants, starts)
    assert not read.skipped.any()
    assert not read.standard_time
    ends = starts + step
    np.testing.assert_array_equal(clock.place(local(ends, home), home, "end", loaded).instants, ends)


def test_hourly_ends_of_the_wall_clock_are_read_back_exactly() -> None:
    ends = np.arange(1_730_500_000 // 3600 * 3600, 1_730_500_000 + 90 * 3600, 3600, dtype=np.int64)
    read = clock.place(local(ends, CHICAGO), CHICAGO, "end", np.ones(len(ends), bool))
    np.testing.assert_array_equal(read.instants, ends)
    assert read.back_twice == 1


def test_ends_that_call_the_last_of_the_first_hour_two_o_clock() -> None:
    # 2 November 2025 in Chicago: 2:00 becomes 1:00 at 07:00 UTC; each pass is written 1:30, 2:00
    read = placed("2025-11-02T01:00 2025-11-02T01:30 2025-11-02T02:00 2025-11-02T01:30 2025-11-02T02:00", "end")
    assert read.instants.tolist() == utc(
        "2025-11-02T06:00 2025-11-02T06:30 2025-11-02T07:00 2025-11-02T07:30 2025-11-02T08:00"
    )


def test_a_repeated_hour_in_pairs_is_told_apart() -> None:
    read = placed("2025-11-02T01:00 2025-11-02T01:00 2025-11-02T01:30 2025-11-02T01:30 2025-11-02T02:00", "start")
    assert read.instants.tolist() == utc(
        "2025-11-02T06:00 2025-11-02T07:00 2025-11-02T06:30 2025-11-02T07:30 2025-11-02T08:00"
    )
    assert (read.back_twice, read.back_once) == (2, 0)


def test_a_repeated_hour_that_stands_once_is_the_first() -> None:
    read = placed("2025-11-02T00:30 2025-11-02T01:00 2025-11-02T01:30 2025-11-02T02:00", "start")
    assert read.instants.tolist() == utc("2025-11-02T05:30 2025-11-02T06:00 2025-11-02T06:30 2025-11-02T08:00")
    assert (read.back_twice, read.back_once) == (0, 2)


def test_zeros_in_the_skipped_hour_are_marked() -> None:
    read = placed("2025-03-09T01:00 2025-03-09T02:00 2025-03-09T03:00", "start", [1.0, 0.0, 1.0])
    assert read.skipped.tolist() == [False, True, False]
    assert read.instants[[0, 2]].tolist() == utc("2025-03-09T07:00 2025-03-09T08:00")
    assert not read.standard_time


def test_energy_in_the_skipped_hour_tells_a_clock_that_never_changes() -> None:
    read = placed("2025-03-09T01:00 2025-03-09T02:00 2025-03-09T03:00 2025-07-01T00:00", "start")
    assert read.standard_time
    assert read.instants.tolist() == utc("2025-03-09T07:00 2025-03-09T08:00 2025-03-09T09:00 2025-07-01T06:00")


@pytest.mark.parametrize("label", ["2025-03-09T02:00", "2025-03-09T03:00"])
def test_the_interval_that_ends_at_the_skip_may_be_called_either(label: str) -> None:
    read = placed(f"2025-03-09T01:00 {label} 2025-03-09T04:00", "end")
    assert read.instants.tolist() == utc("2025-03-09T07:00 2025-03-09T08:00 2025-03-09T09:00")
    assert not read.skipped.any()


@given(
    zone=st.sampled_from((*ZONES, "America/New_York", "Pacific/Apia", "Asia/Kathmandu", "Europe/Dublin", "UTC")),
    instants=st.lists(st.integers(-600_000_000, 4_000_000_000), min_size=1, max_size=40),
)
@settings(max_examples=60, deadline=None)
def test_offsets_are_those_of_zoneinfo_at_any_instant(zone: str, instants: list[int]) -> None:
    home = ZoneInfo(zone)
    wanted = [datetime.fromtimestamp(at, UTC).astimezone(home).utcoffset() for at in instants]
    got = offsets_at(np.array(instants, dtype=np.int64), home)
    assert got.tolist() == [offset.total_seconds() for offset in wanted if offset is not None]


def test_a_change_at_a_minute_past_midnight_is_found_to_the_second() -> None:
    # Newfoundland changed at 00:01 local time from 1987 to 2011 (the tz database)
    home = ZoneInfo("America/St_Johns")
    first = int(datetime(2008, 1, 1, tzinfo=UTC).timestamp())
    found = changes(first, first + 366 * 86_400, home)
    assert [datetime.fromtimestamp(c.instant, UTC).isoformat()[:16] for c in found] == [
        "2008-03-09T03:31",
        "2008-11-02T02:31",
    ]
    starts = np.arange(found[0].instant - 86_400, found[0].instant + 86_400, 60, dtype=np.int64)
    read = clock.place(local(starts, home), home, "start", np.ones(len(starts), bool))
    np.testing.assert_array_equal(read.instants, starts)


def test_labels_in_no_order_are_placed_all_the_same() -> None:
    starts = np.arange(1_740_000_000 // 900 * 900, 1_760_000_000, 900, dtype=np.int64)
    order = np.random.default_rng(0).permutation(len(starts))
    read = clock.place(local(starts[order], CHICAGO), CHICAGO, "start", np.ones(len(starts), bool))
    np.testing.assert_array_equal(read.instants, starts[order])
