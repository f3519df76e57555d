"""Bills that charge one factor times their readings from some day on, and registers that go on elsewhere."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import accumulate, pairwise

import pytest

import reconcile
from reconcile.house import Bill, Event, House
from reconcile.paper import examine
from reconcile.report.pages.letter import letter_text
from reconcile.say import Voice
from reconcile.texts.findings import finding_text

READ = (704, 655, 612, 560, 545, 702, 811, 790, 655, 540, 571, 668, 721, 640)
DAYS = [date(2024, 2, 6) + timedelta(30 * k) for k in range(len(READ) + 1)]


def charged(factor: float, since: int, until: int = len(READ)) -> House:
    """Fourteen bills with their readings, of which those from one on charge a factor times what was read."""
    registers = [*accumulate(READ, initial=31_250)]
    kwh = [round(n * factor) if since <= k < until else n for k, n in enumerate(READ)]
    bills = (
        Bill(a, b, kwh=float(k), amount=Decimal(f"{12 + 0.16 * k:.2f}"), reading_start=float(r), reading_end=float(s))
        for (a, b), (r, s), k in zip(pairwise(DAYS), pairwise(registers), kwh, strict=True)
    )
    return House("Ash Row", tuple(bills))


@pytest.mark.parametrize("factor", [1.2, 1.047, 0.8])
def test_one_factor_from_a_day_on_is_one_finding_that_settles_its_bills(factor: float) -> None:
    result = reconcile.reconcile(charged(factor, 8))
    (finding,) = result.findings
    assert (finding.key, finding.periods, finding.settles) == ("multiplier/readings", tuple(range(8, 14)), True)
    assert finding.figures["used"] == pytest.approx(factor, abs=1e-3)
    headline = result.verdict.headline
    assert headline.startswith(f"Since {result.voice.day(DAYS[8])}, each of 6 bills charges {factor} times")
    assert result.verdict.next_steps[0].code == "multiplier"
    assert "1. Since" in letter_text(result)
    assert not [cause for cause in result.causes if cause.code != "none" and cause.probability > 0.5]


def test_mismatches_of_several_sizes_are_no_factor_and_a_factor_that_ended_has_no_since() -> None:
    house = charged(1.0, 0)
    off = {3: 1.2, 6: 1.31, 9: 0.9, 11: 1.08}
    bills = tuple(replace(b, kwh=float(round(b.kwh * off.get(k, 1.0)))) for k, b in enumerate(house.bills))
    assert {f.code for f in examine(replace(house, bills=bills)).findings if f.settles} == {"reading-mismatch"}
    (ended,) = (f for f in examine(charged(1.2, 4, 8)).findings if f.settles)
    assert (ended.key, ended.figures["since"]) == ("multiplier/readings", False)


def elsewhere(since: int, until: int = len(READ), by: float = -9000.0, **later: object) -> House:
    """The same bills, those from one on read from another register."""
    house = charged(1.0, 0)
    moved = tuple(
        replace(b, reading_start=b.reading_start + by, reading_end=b.reading_end + by, **later)
        if since <= k < until
        else b
        for k, b in enumerate(house.bills)
    )
    return replace(house, bills=moved)


@pytest.mark.parametrize("by", [-9000.0, 41_300.0])
def test_a_register_that_goes_on_elsewhere_is_asked_about_before_any_cause(by: float) -> None:
    house = elsewhere(6, by=by)
    more = (*house.bills[:6], *(replace(b, kwh=b.kwh * 2, reading_end=None) for b in house.bills[6:]))
    assert {f.key for f in examine(replace(house, bills=more)).findings} & {"reading-mismatch/unjoined"}
    result = reconcile.reconcile(house)
    (finding,) = result.findings
    assert (finding.key, finding.periods) == ("meter-number/jump", tuple(range(6, 14)))
    assert result.verdict.decision == "paperwork"
    assert "another home's meter" in result.verdict.headline
    assert result.verdict.next_steps[0].code == "compare-number"
    assert "whether the meter was exchanged about" in " ".join(letter_text(result).split())
    assert all(row.flag == "not-judged" for row in result.rows[6:])


def test_three_bills_of_another_register_leave_the_others_judged() -> None:
    (finding,) = examine(elsewhere(5, 8)).findings
    assert (finding.key, finding.periods) == ("meter-number/jump", (5, 6, 7))


def test_an_exchange_on_record_and_one_wrong_reading_are_no_jump() -> None:
    known = replace(elsewhere(6), events=(Event(DAYS[6], "meter-exchange"),))
    assert "meter-number/jump" not in {f.key for f in examine(known).findings}
    house = charged(1.0, 0)
    wrong = replace(house.bills[6], reading_start=house.bills[6].reading_start + 300)
    one = examine(replace(house, bills=(*house.bills[:6], wrong, *house.bills[7:])))
    assert not any(f.code == "meter-number" for f in one.findings)


def test_kwh_stand_on_both_bills_only_where_both_charge_as_many() -> None:
    house = charged(1.0, 0)
    for back, said in ((200.0, True), (750.0, False)):
        bill = house.bills[6]
        opens = replace(bill, reading_start=bill.reading_start - back, kwh=bill.kwh + back)
        (finding,) = examine(replace(house, bills=(*house.bills[:6], opens, *house.bills[7:]))).findings[:1]
        assert ("are on both bills" in finding_text(finding, Voice())) is said
