"""A line of the diary ends the question only where what it names could be what the bills show."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from reconcile.answer import reconcile
from reconcile.decide.told import diary_of_then, looked
from reconcile.house import Bill, Event, House, Load
from reconcile.read import read_house
from reconcile.result import Cause

SAMPLES = Path(__file__).parents[1] / "sample_bills"
MAY = date(2025, 5, 10)
"""The sample's load of some 440 W begins about then."""


@pytest.mark.parametrize(
    ("event", "settled"),
    [
        (Event(MAY, "new-load", note="hot tub"), True),
        (Event(MAY, "new-load"), True),
        (Event(MAY, "new-load", note="a new television"), False),
        (Event(MAY, "outage", note="storm"), False),
        (Event(MAY, "repair", note="the stove"), False),
        (Event(MAY, "other"), False),
    ],
    ids=["hot tub", "not named", "television", "outage", "repair", "other"],
)
def test_only_what_could_be_it_accounts_for_a_load(event: Event, settled: bool) -> None:
    house = read_house(SAMPLES / "new_load_in_may")
    verdict = reconcile(replace(house, events=(*house.events, event))).verdict
    assert (verdict.decision == "explained") == settled
    assert ("Your diary tells of something that fits" in verdict.headline) == settled


def test_a_television_bought_on_the_day_of_the_exchange_clears_no_meter() -> None:
    house = read_house(SAMPLES / "fast_meter")
    bought = Event(date(2025, 3, 9), "new-load", note="bought a new television")
    before, after = reconcile(house), reconcile(replace(house, events=(*house.events, bought)))
    assert before.verdict.meter_fast_probability == pytest.approx(after.verdict.meter_fast_probability)
    assert before.verdict.headline == after.verdict.headline


HEATER = Event(MAY, "new-load", load="space heater", note="the back room is cold")


def test_a_thing_that_the_diary_names_is_asked_about_first_by_its_name_and_day() -> None:
    """A heater takes more than is usual of heaters: the diary does not end the question, and is the first to ask."""
    house = read_house(SAMPLES / "new_load_in_may")
    result = reconcile(replace(house, events=(*house.events, HEATER)))
    assert result.verdict.decision == "outside-check"
    assert "space heater" in result.verdict.headline
    assert "May 10, 2025" in result.verdict.headline
    assert result.verdict.next_steps[0].text.startswith("Your diary: space heater, May 10, 2025; add it to the list")
    assert next(cause for cause in result.causes if cause.code == "constant-load").since == MAY
    assert all(step.code != "began" for step in result.verdict.next_steps)


KWH = (250, 230, 200, 170, 160, 190, 230, 270, 210, 330, 420, 470)
"""Bills of a year that rise twice, in May and in October."""


@pytest.mark.parametrize(("load", "first"), [("car charger", True), ("router", False)])
def test_what_came_on_a_day_on_which_the_rise_may_have_begun_is_asked_about_first_and_dates_it(
    load: str, first: bool
) -> None:
    edges = [date(2025, 1, 4) + timedelta(days=round(30.44 * i)) for i in range(len(KWH) + 1)]
    bills = tuple(Bill(a, b, kwh=float(kwh)) for (a, b), kwh in zip(pairwise(edges), KWH, strict=True))
    day = date(2025, 5, 16)
    result = reconcile(House("bare", bills, events=(Event(day, "new-load", load=load),)))
    cause = next(cause for cause in result.causes if cause.code == "constant-load")
    assert cause.since_low is not None
    assert cause.since_high is not None
    assert cause.since_low < day < cause.since_high
    assert (cause.since == day) == first
    assert (load in result.verdict.headline) == first
    assert (result.verdict.next_steps[0].code == "named-in-diary") == first


@pytest.mark.parametrize(
    ("tub", "asked"),
    [
        (None, "add it to the list of loads"),
        (Load("hot tub", watts=60.0, run_hours=1.0), "give it May 10, 2025 as its start"),
        (Load("hot tub", watts=60.0, run_hours=1.0, arrives=MAY), "check the watts and the hours a day of hot tub"),
    ],
    ids=["not listed", "listed", "listed with its day"],
)
def test_a_rise_that_the_diary_accounts_for_leaves_what_the_household_can_still_do(
    tub: Load | None, asked: str
) -> None:
    house = read_house(SAMPLES / "new_load_in_may")
    told = Event(MAY, "new-load", load="hot tub", note="at last")
    loads = house.loads if tub is None else (*house.loads, tub)
    verdict = reconcile(replace(house, loads=loads, events=(*house.events, told))).verdict
    assert verdict.decision == "explained"
    assert "hot tub: at last" in verdict.headline
    assert asked in verdict.next_steps[0].text
    assert all(step.code != "keep-reading" for step in verdict.next_steps)


HEATS = "heating-rise"


@pytest.mark.parametrize(
    ("note", "code", "of"),
    [
        ("thermostat showed AUX HEAT all day, outdoor unit does not run", HEATS, "backup-heat"),
        ("outdoor unit stands still", HEATS, "backup-heat"),
        ("no aux heat shows", HEATS, "noted"),
        ("thermostat showed AUX HEAT all day", "constant-load", "noted"),
        ("inverter shows a red light, error 301", "generation-fall", "panels"),
        ("cleaned the filter", HEATS, "done"),
        ("switched the heater in the shed off", "constant-load", "done"),
        ("meter does not react when the oven is on", "constant-load", "other-home"),
        ("the meter follows our kettle", "constant-load", "own-meter"),
        ("all off, the meter counts on; it does not move with our oven", "constant-load", "other-home"),
        ("meter turns whenever the neighbors run their sauna", "constant-load", "other-home"),
        ("read the meter: 40123", "constant-load", "noted"),
    ],
)
def test_what_a_line_tells_of_a_look(note: str, code: str, of: str) -> None:
    house = read_house(SAMPLES / "new_load_in_may")
    result = reconcile(house)
    last = max(row.end for row in result.rows)
    cause = replace(result.causes[0], code=code)  # type: ignore[arg-type]
    found = looked(replace(house, events=(Event(last, "other", note=note),)), result.rows, cause)
    assert found is not None
    assert found.code == of


def test_what_came_on_the_day_of_an_exchange_is_told_beside_an_old_meter_that_was_slow() -> None:
    house = read_house(SAMPLES / "fast_meter")
    day = date(2025, 3, 9)
    moved_in = Event(day, "occupants", note="my parents moved in")
    known = replace(house, events=(*house.events, moved_in))
    slow = Cause("old-meter-slow", 0.8, None, 30.0, "%", kwh=-900.0, since_low=day, since_high=day)
    assert diary_of_then(known, slow) == moved_in
    assert diary_of_then(replace(known, events=(replace(moved_in, kind="removed-load"),)), slow) is None
    assert diary_of_then(known, replace(slow, since_low=None)) is None
