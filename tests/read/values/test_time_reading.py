"""The parts of a time as they are written: letters of clocks, months, distances from UTC, hours and periods."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reconcile.read.layouts.clock_column import ClockColumn
from reconcile.read.values.calendar_order import day_numbers, settle
from reconcile.read.values.stamp_offsets import is_summer, offset_seconds, offsets_of, summer_offsets
from reconcile.read.values.time_cells import read_times
from reconcile.read.values.time_grammar import DATE_KIND, NO_OFFSET, SHORT_YEAR, UNSETTLED, ZONES, letters_of

CHICAGO = ZoneInfo("America/Chicago")

LETTERS = {
    "Europe/Lisbon": "wet west",
    "Europe/Berlin": "cet cest",
    "Europe/Helsinki": "eet eest",
    "Europe/London": "gmt bst",
    "America/St_Johns": "nst ndt",
    "America/Halifax": "ast adt",
    "America/New_York": "est edt",
    "America/Chicago": "cst cdt",
    "America/Denver": "mst mdt",
    "America/Los_Angeles": "pst pdt",
    "America/Anchorage": "akst akdt",
    "Pacific/Honolulu": "hst",
    "Australia/Perth": "awst",
    "Australia/Adelaide": "acst acdt",
    "Australia/Sydney": "aest aedt",
    "Pacific/Auckland": "nzst nzdt",
    "Asia/Tokyo": "jst",
    "Asia/Seoul": "kst",
    "Asia/Hong_Kong": "hkt",
    "Africa/Johannesburg": "sast",
    "UTC": "utc",
}


@pytest.mark.parametrize("zone", LETTERS)
def test_letters_of_clocks_are_those_of_zoneinfo(zone: str) -> None:
    for month in (1, 7):
        at = datetime(2025, month, 1, tzinfo=ZoneInfo(zone))
        name = (at.tzname() or "").casefold()
        assert name in LETTERS[zone].split()
        assert timedelta(hours=ZONES[name]) == at.utcoffset()


def test_every_letter_is_held() -> None:
    others = {"z": "utc", "mez": "cet", "mesz": "cest"}
    held = {name for names in LETTERS.values() for name in names.split()}
    assert set(ZONES) == held | set(others)
    assert all(ZONES[name] == ZONES[same] for name, same in others.items())
    assert letters_of(ZoneInfo("Asia/Kolkata"))["ist"] == 19_800
    assert letters_of(ZoneInfo("Europe/Dublin"))["ist"] == 3600


MONTHS = {
    "en": "January February March April May June July August September October November December",
    "de": "Januar Februar März April Mai Juni Juli August September Oktober November Dezember",
    "fr": "janvier février mars avril mai juin juillet août septembre octobre novembre décembre",
    "es": "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre",
    "it": "gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre dicembre",
    "pt": "janeiro fevereiro março abril maio junho julho agosto setembro outubro novembro dezembro",
    "nl": "januari februari maart april mei juni juli augustus september oktober november december",
    "sv": "januari februari mars april maj juni juli augusti september oktober november december",
    "da": "januar februar marts april maj juni juli august september oktober november december",
    "nb": "januar februar mars april mai juni juli august september oktober november desember",
}


@pytest.mark.parametrize("language", MONTHS)
@pytest.mark.parametrize("form", ["7 {} 2025 14:15", "07-{}-2025 14:15", "7. {} 2025 14:15", "7 de {} de 2025 14:15"])
def test_months_of_ten_languages(language: str, form: str) -> None:
    cells = np.array([form.format(name).encode() for name in MONTHS[language].split()])
    got = read_times(cells)
    days, bad = day_numbers(got.dates, "")
    assert not bad.any()
    assert days.tolist() == [(date(2025, month, 7) - date(1970, 1, 1)).days for month in range(1, 13)]
    assert set(got.seconds.tolist()) == {51_300}


@pytest.mark.parametrize(
    ("cell", "seconds", "offset"),
    [
        ("2025-03-07 14:15", 51_300, None),
        ("2025-03-07T14:15:30.250", 51_330, None),
        ("2025-03-07 2:15:30 PM", 51_330, None),
        ("2025-03-07 12:05 am", 300, None),
        ("2025-03-07 2 PM", 50_400, None),
        ("2025-03-07 14", 50_400, None),
        ("2025-03-07 14h15", 51_300, None),
        ("2025-03-07 14.15", 51_300, None),
        ("2025-03-07-14.15.30", 51_330, None),
        ("2025-03-07 02B:15", 8_100, None),
        ("2025-03-07 24:00", 86_400, None),
        ("20250307T141530Z", 51_330, 0),
        ("20250307141530", 51_330, None),
        ("07MAR2025:14:15:30", 51_330, None),
        ("Fri, 7 Mar 2025 14:15 +0530", 51_300, 19_800),
        ("2025-03-07 14:15 UTC-6", 51_300, -21_600),
        ("2025-03-07 14:15 (GMT-06:00)", 51_300, -21_600),
        ("2025-03-07T14:15:00-06:00[America/Chicago]", 51_300, -21_600),
        ("2025-03-07 14:15 NDT", 51_300, -9_000),
        ("2025年03月07日 14:15", 51_300, None),
        ("2025. 3. 7. 14:15", 51_300, None),
        ("2025-03-07 14:15 - 14:30", 51_300, None),
        ("2025-03-07 14:15 – 14:30", 51_300, None),
    ],
)
def test_a_time_in_one_cell(cell: str, seconds: int, offset: int | None) -> None:
    got = read_times(np.array([cell.encode()]))
    days, bad = day_numbers(got.dates, "mdy")
    assert not bad.any()
    assert days.tolist() == [(date(2025, 3, 7) - date(1970, 1, 1)).days]
    assert got.seconds.tolist() == [seconds]
    assert (None if got.offsets is None else got.offsets.tolist()) == (None if offset is None else [offset])
    assert got.until == (cell.count(":") == 2 and cell.endswith("14:30"))


@pytest.mark.parametrize(
    "cell",
    [
        *("soon", "", "2025-03-07 25:00", "2025-03-07 14:60", "2025-03-07 14:15:60", "2025-03-07 13 PM", "0 AM"),
        *("2025-03-07 0:15 PM", "2025-03-07 14:15 XYZ", "2025-3", "07/2025", "2025-03-07 14:15 +25:00", "7 foo 2025"),
        "\N{FULLWIDTH DIGIT TWO}025-03-07",
    ],
)
def test_what_is_no_time(cell: str) -> None:
    assert read_times(np.array([cell.encode() or b" "])).bad.all()


def column(*texts: str) -> ClockColumn:
    made = ClockColumn()
    half = len(texts) // 2
    for part in (texts[:half], texts[half:]):  # in two pieces, as a long file comes
        if part:
            made.add(np.array([text.encode() for text in part]))
    return made


@pytest.mark.parametrize(
    ("texts", "seconds", "counted", "spans"),
    [
        (("00:00", "00:15", "23:45"), (0, 900, 85_500), (0, 0, 0), False),
        (("12:00 AM", "1 PM", "11:30 p.m."), (0, 46_800, 84_600), (0, 0, 0), False),
        (("0", "15", "100", "2400"), (0, 900, 3600, 86_400), (0, 0, 0, 0), False),
        (("0015", "0030", "0045"), (900, 1800, 2700), (0, 0, 0), False),
        (("1", "2", "24"), (3600, 7200, 86_400), (3600, 7200, 86_400), False),
        (("HE01", "HE25"), (3600, 90_000), (3600, 90_000), False),
        (("1", "2", "48"), (0, 1800, 84_600), (1800, 3600, 86_400), True),
        (("1", "2", "50"), (0, 1800, 88_200), (1800, 3600, 90_000), True),
        (("0", "1", "47"), (0, 1800, 84_600), (1800, 3600, 86_400), True),
        (("1", "4", "96"), (0, 2700, 85_500), (900, 3600, 86_400), True),
        (("1", "288"), (0, 86_100), (300, 86_400), True),
        (("0", "0.25", "0.510416667"), (0, 21_600, 44_100), (0, 0, 0), False),
        (("00h-01h", "23h-00h"), (0, 82_800), (0, 0), True),
        (("00:00 - 00:15", "00:15 - 00:30"), (0, 900), (0, 0), True),
    ],
)
def test_a_column_of_clock_times(
    texts: tuple[str, ...], seconds: tuple[int, ...], counted: tuple[int, ...], spans: bool
) -> None:
    got = column(*texts).read()
    assert not got.bad.any()
    assert got.seconds.tolist() == list(seconds)
    assert got.counted.tolist() == list(counted)
    assert got.spans == spans
    assert got.ending == texts[0].startswith("HE")


@pytest.mark.parametrize("text", ["soon", "25:00", "13:60", "13:00:60", "0 AM", "2460", "1.5"])
def test_what_is_no_clock_time(text: str) -> None:
    assert column("00:00" if ":" in text or not text.isdigit() else "0100", text).read().bad.tolist() == [False, True]


@pytest.mark.parametrize(
    ("cell", "seconds"),
    [
        ("-6", -21_600),
        ("+05:30", 19_800),
        ("-0330", -12_600),
        ("5.75", 20_700),
        ("UTC+1", 3600),
        ("CDT", -18_000),
        ("14", 50_400),
    ],
)
def test_a_distance_in_a_column_of_its_own(cell: str, seconds: int) -> None:
    assert offset_seconds(cell) == seconds


@pytest.mark.parametrize("cell", ["15", "soon", "-99", "1:2:3", ""])
def test_what_is_no_distance(cell: str) -> None:
    assert offset_seconds(cell) is None
    assert offsets_of(([cell, "-6"], np.array([0, 1]))) is None


def test_summer_time_in_a_column_must_agree_with_the_clock() -> None:
    labels = (np.datetime64("2025-10-30T00:00", "s") + np.arange(0, 8 * 86_400, 3600)).astype(np.int64)
    summer = labels < np.datetime64("2025-11-02T01:00", "s").astype(np.int64)
    place = summer.astype(np.intp)
    offsets = summer_offsets(labels, (["N", "Y"], place), CHICAGO)
    assert offsets is not None
    assert offsets.tolist() == np.where(summer, -18_000, -21_600).tolist()
    assert summer_offsets(labels, (["Y", "N"], place), CHICAGO) is None
    assert summer_offsets(labels, (["N", "maybe"], place), CHICAGO) is None
    assert summer_offsets(labels, (["N", "Y"], place), ZoneInfo("America/Phoenix")) is None
    assert [is_summer(text) for text in ("S", "DST", "1", "W", "0", "std", "x")] == [True] * 3 + [False] * 3 + [None]


ORDERS = {"dmy": "%d/%m/%Y", "mdy": "%m/%d/%Y"}


@given(
    days=st.lists(st.dates(date(1995, 1, 1), date(2090, 12, 31)), min_size=1, max_size=20),
    order=st.sampled_from(["dmy", "mdy"]),
)
def test_days_by_their_order(days: list[date], order: str) -> None:
    got = read_times(np.array([f"{day:{ORDERS[order]}}".encode() for day in days]))
    numbers, bad = day_numbers(got.dates, order)
    assert not bad.any()
    assert numbers.tolist() == [(day - date(1970, 1, 1)).days for day in days]
    short = read_times(np.array([f"{day:{ORDERS[order].replace('%Y', '%y')}}".encode() for day in days]))
    numbers, bad = day_numbers(short.dates, order)
    within = [day.year >= 2000 for day in days]
    assert numbers[within].tolist() == [(day - date(1970, 1, 1)).days for day in days if day.year >= 2000]


def key(first: int, second: int, year: int, kind: int = UNSETTLED) -> int:
    return kind * DATE_KIND + year * 10_000 + first * 100 + second


@pytest.mark.parametrize(
    ("days", "wanted", "order", "open_", "clash"),
    [
        ([(13, 1, 2025)], None, "dmy", False, False),
        ([(1, 13, 2025)], None, "mdy", False, False),
        ([(1, 13, 2025)], "dmy", "mdy", False, False),  # what cannot be is not what was meant
        ([(1, 2, 2025)], "dmy", "dmy", False, False),
        ([(1, 2, 2025)], None, "mdy", True, False),
        ([(2, 2, 2025)], None, "dmy", False, False),
        ([(13, 1, 2025), (1, 13, 2025)], None, "mdy", False, True),
        ([(3, 1 + n, 2025) for n in range(12)], None, "mdy", False, False),
        ([(1 + n, 3, 2025) for n in range(12)], None, "dmy", False, False),
    ],
)
def test_all_dates_settle_their_order(
    days: list[tuple[int, int, int]], wanted: str | None, order: str, open_: bool, clash: bool
) -> None:
    got = settle(np.array([key(*day) for day in days], dtype=np.int32), wanted)
    assert (got.order, got.open is not None, bool(got.clash)) == (order, open_, clash)


@pytest.mark.parametrize(("cell", "year"), [((25, 3, 7), 2025), ((7, 3, 25), 2007)])
def test_a_short_year_may_stand_first(cell: tuple[int, int, int], year: int) -> None:
    numbers, bad = day_numbers(np.array([key(*cell, SHORT_YEAR)], dtype=np.int32), "ymd")
    assert not bad.any()
    assert (date(1970, 1, 1) + timedelta(days=int(numbers[0]))).year == year


@pytest.mark.parametrize("cell", ["2025-02-29", "2025-04-31", "2025-13-01", "2025-00-10", "2025-01-00", "1889-01-01"])
def test_days_that_are_none(cell: str) -> None:
    numbers, bad = day_numbers(read_times(np.array([cell.encode(), b"2024-02-29"])).dates, "")
    assert bad.tolist() == [True, False]
    assert numbers.tolist() == [0, (date(2024, 2, 29) - date(1970, 1, 1)).days]


def test_a_time_without_a_distance_among_others() -> None:
    got = read_times(np.array([b"2025-03-07 14:15Z", b"2025-03-07 14:15"]))
    assert got.offsets is not None
    assert got.offsets.tolist() == [0, NO_OFFSET]


def test_no_dates_at_all() -> None:
    numbers, bad = day_numbers(np.empty(0, dtype=np.int32), "")
    assert len(numbers) == len(bad) == 0
    assert settle(np.empty(0, dtype=np.int32), None).order == ""


@pytest.mark.parametrize("length", [1, 39, 40, 41, 200])
def test_long_runs_of_a_day_are_the_same_days(length: int) -> None:
    texts = [f"2025-03-{1 + n:02d}".encode() for n in range(5) for _ in range(length)]
    numbers, bad = day_numbers(read_times(np.array(texts)).dates, "", 86_400)
    first = (date(2025, 3, 1) - date(1970, 1, 1)).days * 86_400
    assert numbers.tolist() == [first + 86_400 * n for n in range(5) for _ in range(length)]
    assert not bad.any()
