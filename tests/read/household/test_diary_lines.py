"""A diary in plain lines of a person's own: the day stands anywhere, and no line is lost without a word."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from reconcile.read import read_house

BILLS = "start,end,kwh\n" + "".join(
    f"2024-{month:02d}-01,2024-{month + 1:02d}-01,{400 + month}\n" for month in range(1, 12)
)
LINES = {
    "Jul 10-24 2024 away": (date(2024, 7, 10), date(2024, 7, 24), "away"),
    "7/10/24 - 7/24/24 vacation": (date(2024, 7, 10), date(2024, 7, 24), "away"),
    "July 2024: new fridge": (date(2024, 7, 1), None, "new-load"),
    "new fridge July 2024": (date(2024, 7, 1), None, "new-load"),
    "kids home from college 2024-12-20 until 2025-01-05": (date(2024, 12, 20), date(2025, 1, 5), "occupants"),
    "sold hot tub 9/15/24": (date(2024, 9, 15), None, "removed-load"),
    "new smart meter 2024-09-10": (date(2024, 9, 10), None, "meter-exchange"),
    "thermostat set to 72 since Nov 1 2024": (date(2024, 11, 1), None, "thermostat"),
    "2024-11 started using space heater in office": (date(2024, 11, 1), None, "other"),
    "1 juin 2024 vacances": (date(2024, 6, 1), None, "away"),
    "vacances du 1er au 15 août 2024": (date(2024, 8, 1), date(2024, 8, 15), "away"),
    "12. Oktober 2024 neuer Zähler": (date(2024, 10, 12), None, "meter-exchange"),
    "01.06.2024 guests": (date(2024, 6, 1), None, "guests"),
    "10.-24.7.2024 Urlaub": (date(2024, 7, 10), date(2024, 7, 24), "away"),
    "neue Waschmaschine am 3. Mai 2024": (date(2024, 5, 3), None, "new-load"),
    "Mom moved in 9/2024": (date(2024, 9, 1), None, "occupants"),
    "pool opened 5/25/24, closed 9/20/24": (date(2024, 5, 25), date(2024, 9, 20), "other"),
    "Christmas 2024 the in-laws stayed": (date(2024, 12, 25), None, "guests"),
    "2024-10-01 switched to time-of-use": (date(2024, 10, 1), None, "price-plan"),
    "Solar installed Sept 2024": (date(2024, 9, 1), None, "new-load"),
}


def read(folder: Path, *lines: str, bills: str = BILLS):
    (folder / "bills.csv").write_text(bills, encoding="utf-8")
    if lines:
        (folder / "events.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return read_house(folder)


@pytest.mark.parametrize("line", LINES)
def test_the_day_of_a_line_is_found_wherever_it_stands(line: str, tmp_path: Path) -> None:
    events = read(tmp_path, line, "2024-10-13 new tv").events
    assert len(events) == 2
    assert LINES[line] in [(event.day, event.until, event.kind) for event in events]


def test_a_line_without_a_day_is_named_and_keeps_none_of_the_others_out(tmp_path: Path) -> None:
    house = read(tmp_path, "2024-10-13 new tv", "grandma moved in last summer", "2024-11-02 guests")
    assert [event.day.day for event in house.events] == [13, 2]
    assert any('row 2: "grandma moved in last summer" tells no day' in notice for notice in house.notices)


def test_a_day_without_its_year_is_no_month_of_another_year(tmp_path: Path) -> None:
    house = read(tmp_path, "2024-10-13 new tv", "Dec 20 - Jan 5 guests", "2024-11-02 guests")
    assert [event.day.year for event in house.events] == [2024, 2024]
    assert any("row 2" in notice and "tells no day" in notice for notice in house.notices)


def test_a_danger_is_heard_in_a_line_without_a_day(tmp_path: Path) -> None:
    assert read(tmp_path, "2024-10-13 new tv", "the meter was buzzing last night").dangers == ("buzzing",)


def test_a_danger_is_heard_in_a_line_of_text_below_the_bills(tmp_path: Path) -> None:
    assert read(tmp_path, bills=BILLS + "the meter was buzzing last night,,\n").dangers == ("buzzing",)


def test_a_month_in_a_table_is_a_day_of_it_and_a_line_without_a_day_is_left(tmp_path: Path) -> None:
    (tmp_path / "bills.csv").write_text("start,end,kwh\n2024-11-15,2024-12-14,812\n2024-12-14,2025-01-15,744\n")
    (tmp_path / "events.csv").write_text(
        "date,kind\nDec 2024,new heater\nmid December 2024,guests\nChristmas 2024,away\n"
        "sometime,new fridge\n2024-11-20,away\n"
    )
    house = read_house(tmp_path)
    assert [event.day.isoformat() for event in house.events] == ["2024-11-20", "2024-12-01", "2024-12-15", "2024-12-25"]
    assert any("mid December 2024 is 2024-12-15" in notice for notice in house.notices)
    assert any('"sometime new fridge" tells no day, and is left out' in notice for notice in house.notices)
