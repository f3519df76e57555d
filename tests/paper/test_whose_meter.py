"""Bills that go over to another meter than the household's own, and work at the meters in a house with seasons."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import pytest

import reconcile
from reconcile.house import Bill, Event, House, Meter, RegisterReading
from reconcile.paper import examine
from reconcile.report.pages.letter import letter_text
from reconcile.report.views.first_view import figures_beside

SEASONS = (500, 470, 510, 410, 470, 560, 760, 550, 460, 440, 400, 455)
DAYS = [date(2024, 1, 9) + timedelta(30 * k) for k in range(21)]


def house_of(own: str = "A7741", later: str = "A7714", times: float = 1.6) -> House:
    """Twenty bills, those from the fifteenth on of another meter."""
    bills = tuple(
        Bill(a, b, kwh=SEASONS[k % 12] * (times if k >= 14 else 1.0), meter=later if k >= 14 else "A7741")
        for k, (a, b) in enumerate(pairwise(DAYS))
    )
    return House("Two Doors", bills, meters=(Meter(number=own),))


def codes(house: House) -> set[str]:
    return {f.key for f in examine(house).findings}


def test_bills_of_a_meter_that_is_not_the_one_given_are_asked_about_first() -> None:
    result = reconcile.reconcile(house_of())
    assert result.verdict.next_steps[0].code == "compare-number"
    assert "bills are of meter A7714, before of A7741" in result.verdict.headline
    assert "Confirm which meter serves this address" in letter_text(result)
    assert figures_beside(result)[0][1] == "at issue: which meter they are of"
    assert "the meter was exchanged within it" not in letter_text(result)


def test_a_later_reading_of_the_own_meter_makes_it_another_homes() -> None:
    house = replace(
        house_of(), meters=(Meter(),), readings=(RegisterReading(DAYS[17], 24100.0, "A7741", type="customer"),)
    )
    result = reconcile.reconcile(house)
    assert "was read at home on" in result.verdict.headline
    assert result.verdict.next_steps[0].code == "which-meter"


@pytest.mark.parametrize(
    "house",
    [
        house_of(own="A7714"),
        replace(house_of(), meters=(Meter(number="A7741", ends=DAYS[14]), Meter(number="A7714", begins=DAYS[14]))),
        replace(house_of(), events=(Event(DAYS[14], "meter-exchange"),)),
    ],
)
def test_a_meter_that_was_exchanged_is_no_other_homes(house: House) -> None:
    assert "meter-number/since" not in codes(house)
    assert "meter-exchange" in codes(house)


def test_work_at_the_meters_is_seen_in_a_house_whose_summer_is_high() -> None:
    house = replace(
        house_of(later="A7741", times=1.9), events=(Event(DAYS[14], "other", note="crew at the meter bank"),)
    )
    assert "meter-work" in codes(house)
    both = Event(DAYS[14], "meter-exchange", note="utility changed both meters of the duplex")
    assert "meter-work" in codes(replace(house, events=(both,)))
    assert "meter-work" not in codes(replace(house, events=(replace(both, note="new meter"),)))
    calm = replace(house_of(later="A7741", times=1.2), events=house.events)
    assert "meter-work" not in codes(calm)


@pytest.mark.parametrize("times", [0.5, 1.9])
def test_no_test_is_asked_for_while_the_meter_may_be_another_homes(times: float) -> None:
    house = replace(house_of(later="A7741", times=times))
    alone = reconcile.reconcile(replace(house, events=(Event(DAYS[14], "meter-exchange", note="new meter"),)))
    both = Event(DAYS[14], "meter-exchange", note="utility changed both meters of the duplex")
    result = reconcile.reconcile(replace(house, events=(both,)))
    for one in (alone, result):
        assert one.verdict.rule != "bills-alone"
        assert "meter-test" not in one.verdict.requests
    assert result.verdict.next_steps[0].code == "meter-follows"
    assert "multiplier-times" in [step.code for step in alone.verdict.next_steps[:2]]


def test_bills_of_another_meter_are_told_beside_what_the_other_bills_show() -> None:
    house = house_of()
    more = replace(house, bills=(*house.bills[:12], replace(house.bills[12], kwh=760.0), *house.bills[13:]))
    result = reconcile.reconcile(more)
    assert "bills are of another home's meter" in result.verdict.headline
    assert "A change like this" not in result.verdict.headline
