"""A quiet reading as it is asked for: the register and the time in the evening, and both again in the morning."""

from __future__ import annotations

from datetime import date, datetime, time

import pytest

from reconcile.read.tables.cells import Grid

from .written import HOUSE, read

HEAD = ["kind", "date", "seconds", "evening time", "kWh at start", "morning time", "kWh at end", "left on"]


def quiet(*values: object, head: list[str] | None = None) -> Grid:
    return Grid("field-test.xlsx", "field test", [(1, head or HEAD), (2, ["quiet", *values])])


@pytest.mark.parametrize(
    ("evening", "morning", "seconds"),
    [
        ("22:40", "06:55", 29_700),
        ("10:40 pm", "6:55 am", 29_700),
        (time(22, 40), time(6, 55), 29_700),
        (datetime(1899, 12, 30, 22, 40), "6.55", 29_700),
        (22.0 / 24.0 + 40.0 / 1440.0, "0655", 29_700),
        ("00:10", "06:10", 21_600),
        ("11 pm", "7 am", 28_800),
    ],
)
def test_two_readings_and_two_times_are_enough(evening: object, morning: object, seconds: int) -> None:
    test, gate = read(quiet(date(2025, 11, 20), None, evening, 48213.4, morning, 48214.2, "Refrigerator"))
    assert [str(fault) for fault in gate.faults] == []
    assert test.quiet[0].registered.seconds == seconds
    assert test.quiet[0].registered.register_end == 48214.2


def test_a_clock_set_back_in_the_night_counts() -> None:
    test, gate = read(quiet(date(2025, 11, 1), None, "22:00", 10.0, "06:00", 11.0, None), HOUSE)
    assert gate.faults == []
    assert HOUSE.timezone == "America/Chicago"
    assert test.quiet[0].registered.seconds == 9 * 3600


@pytest.mark.parametrize(
    ("values", "column", "says"),
    [
        ((None, None, 1.0, None, 2.0, None), "seconds", "Write evening time and morning time, as 22:40 and 06:55"),
        ((None, "22:40", 1.0, None, 2.0, None), "morning time", "evening time alone tells no length"),
        ((None, "late", 1.0, "06:55", 2.0, None), "evening time", "Write it as 22:40 or 10:40 pm"),
        ((None, "22:40", 1.0, "22:55", 2.0, None), "morning time", "write seconds"),
        ((600, "22:40", 1.0, "06:55", 2.0, None), "seconds", "29700 s apart"),
        ((None, "22:40", 1.0, "06:55", None, None), "kWh at end", "Write kWh at end too"),
    ],
)
def test_faults_speak_in_the_words_of_the_sheet(values: tuple[object, ...], column: str, says: str) -> None:
    _, gate = read(quiet(date(2025, 11, 20), *values))
    assert [fault.column for fault in gate.faults] == [column]
    assert says in str(gate.faults[0])
    assert "register_" not in str(gate.faults[0])


def test_the_times_as_keys() -> None:
    test, gate = read(
        '[[quiet]]\nregister_start = 1.0\nregister_end = 2.0\ntime_start = 22:40:00\ntime_end = "06:55"\n'
    )
    assert gate.faults == []
    assert test.quiet[0].registered.seconds == 29_700


def test_too_many_readings_are_refused_in_a_file_and_in_memory() -> None:
    from dataclasses import replace

    from reconcile.errors import InputError
    from reconcile.house.site import FieldTest, Quiet, Registered
    from reconcile.read.in_memory.check_house import check_house

    rows = [(n, ["quiet", None, 600, None, 1.0, None, 2.0, None]) for n in range(2, 600)]
    _, gate = read(Grid("field-test.xlsx", "field test", [(1, HEAD), *rows]))
    assert ["more than 500 readings" in fault.problem for fault in gate.faults] == [True]
    many = FieldTest(quiet=(Quiet(Registered(meter_kw=0.2)),) * 501)
    with pytest.raises(InputError, match="more than 500 readings"):
        check_house(replace(HOUSE, field_test=many))
