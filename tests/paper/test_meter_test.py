"""A test of the meter by the utility, as the diary tells it: it ends the question of the meter."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

import reconcile
from reconcile.house import Bill, Event, House
from reconcile.kinds import Decision
from reconcile.paper import examine
from reconcile.read.household.meter_tests import registration_told, tells_of_a_test
from reconcile.report.pages.letter import letter_text

SEASONS = (500, 470, 510, 410, 470, 560, 760, 550, 460, 440, 400, 455)
DAYS = [date(2024, 1, 9) + timedelta(30 * k) for k in range(21)]
TESTED = DAYS[-1] + timedelta(20)


def house_of(percent: float | None) -> House:
    """Twenty bills, those from the twelfth on higher by three fifths, and the utility's test after the last."""
    bills = tuple(
        Bill(a, b, kwh=float(round(SEASONS[k % 12] * (1.6 if k >= 11 else 1.0))))
        for k, (a, b) in enumerate(pairwise(DAYS))
    )
    events = () if percent is None else (Event(TESTED, "meter-test", percent=percent),)
    return House("Test Lane", bills, events=events)


def test_a_meter_that_its_test_clears_is_asked_about_no_more() -> None:
    before, after = reconcile.reconcile(house_of(None)), reconcile.reconcile(house_of(100.1))
    assert before.verdict.meter_fast_probability > 0.05
    assert after.verdict.meter_fast_probability < 0.01
    steps = {step.code for step in after.verdict.next_steps}
    assert not steps & {"known-load", "meter-test", "be-sure"}
    assert after.verdict.could_hide.by == "run"
    assert after.verdict.could_hide.percent < 4.0


@pytest.mark.parametrize(("percent", "case"), [(160.0, "fast"), (70.0, "slow"), (100.1, "right"), (101.9, "right")])
def test_the_records_tell_what_the_test_found(percent: float, case: str) -> None:
    (found,) = [f for f in examine(house_of(percent)).findings if f.code == "meter-test"]
    assert found.case == case
    assert found.settles == (case != "right")
    if case != "right":
        billed = sum(bill.kwh for bill in house_of(percent).bills)
        assert found.kwh == pytest.approx(billed * (1.0 - 100.0 / percent), rel=1e-9)


def test_what_is_left_of_a_fast_meter_is_the_correction_of_the_bills() -> None:
    result = reconcile.reconcile(house_of(160.0))
    assert result.verdict.decision is Decision.PAPERWORK
    assert "registers 160 % of what is used; right is 98 to 102 %" in result.verdict.headline
    assert result.verdict.next_steps[0].asks == "correct-by-test"
    assert "Correct the bills by the result of the meter's test" in letter_text(result)
    assert "Test the meter" not in letter_text(result)


def test_bills_of_a_meter_taken_down_before_the_test_are_not_of_it() -> None:
    house = house_of(160.0)
    exchanged = replace(house, events=(Event(DAYS[11], "meter-exchange"), *house.events))
    (found,) = [f for f in examine(exchanged).findings if f.code == "meter-test"]
    assert found.periods == tuple(range(11, 20))


TELLS = {
    "utility tested the meter, 100.1 %": 100.1,
    "the power company tested our meter: 2.4% fast": 102.4,
    "meter tested by the utility, 30 % slow": 70.0,
    "result of meter test: -1.3 %": 98.7,
    "meter test result 99,6 %": 99.6,
    "meter tested ok": 100.0,
    "meter tested: within limits": 100.0,
    "utility tested the meter: 160 % fast, replaced it": 160.0,
}
OTHERS = (
    "asked the utility for a meter test",
    "meter test is scheduled",
    "I tested the meter with a heater, 104 %",
    "new meter installed",
    "tested the smoke alarms",
    "voltmeter tested",
)


@pytest.mark.parametrize("line", TELLS)
def test_a_line_of_ones_own_words_gives_its_result(line: str, tmp_path: Path) -> None:
    bills = "".join(f"{a},{b},{SEASONS[k % 12]}\n" for k, (a, b) in enumerate(pairwise(DAYS)))
    (tmp_path / "bills.csv").write_text("start,end,kwh\n" + bills)
    (tmp_path / "events.csv").write_text(f'date,what\n{TESTED},"{line}"\n')
    (event,) = reconcile.read_house(tmp_path).events
    assert event.kind == "meter-test"
    assert event.percent == pytest.approx(TELLS[line], rel=1e-9)


@pytest.mark.parametrize("line", OTHERS)
def test_other_lines_tell_of_no_test_by_the_utility(line: str) -> None:
    assert not tells_of_a_test(line)


@pytest.mark.parametrize(
    "line", ["meter tested", "meter test failed", "meter tested 60 % slow", "2 % fast, 3 % slow", "7 %"]
)
def test_a_result_that_cannot_be_told_is_not_made_up(line: str) -> None:
    assert registration_told(line) is None
