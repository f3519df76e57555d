"""A multiplier that begins with a new meter is a fault of the record, and accuses no meter."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

import numpy as np
import pytest

import reconcile
from reconcile.grounds.stages import certain, weighed
from reconcile.house import Bill, Event, House, Interval
from reconcile.kinds import Flag
from reconcile.paper import examine
from reconcile.report.pages.letter import letter_text
from reconcile.report.views.first_view import figures_beside
from reconcile.texts.findings import finding_text

OLD = (597, 496, 483, 558, 527, 541, 557, 566, 658)
NEW = (720, 740, 660, 593, 542, 498)


def exchanged(times: float = 2.0, *, paid: bool = True, printed: float | None = None) -> House:
    """Nine bills of one meter and six of another, each of which charges its readings so many times."""
    bills, register, day = [], 1000.0, date(2024, 9, 5)
    for k, moved in enumerate((*OLD, *NEW)):
        if k == len(OLD):
            register = 0.0
        new = k >= len(OLD)
        kwh = moved * (times if new else 1.0)
        amount = Decimal("11.20") + Decimal("0.15") * Decimal(str(kwh if paid else moved))
        bills.append(
            Bill(
                day + timedelta(31 * k),
                day + timedelta(31 * (k + 1)),
                reading_start=register,
                reading_end=register + moved,
                kwh=kwh,
                amount=round(amount, 2),
                meter="B-2" if new else "A-1",
                multiplier=None if printed is None else (printed if new else 1.0),
            )
        )
        register += moved
    return House("Gate End", tuple(bills))


def test_bills_that_all_charge_twice_their_readings_accuse_no_meter() -> None:
    result = reconcile.reconcile(exchanged())
    (finding,) = (f for f in result.findings if f.settles)
    assert (finding.key, finding.periods) == ("multiplier/readings", tuple(range(9, 15)))
    assert finding.kwh == pytest.approx(sum(NEW), rel=1e-9)
    assert not [c for c in result.causes if "meter" in c.code and c.probability > 0.05]
    assert "A multiplier of 2 begins with meter B-2" in result.verdict.headline
    assert figures_beside(result)[0][0] in result.verdict.headline  # a fact of the records is told in one form
    assert "multiplier" in [step.code for step in result.verdict.next_steps]
    text = letter_text(result)
    assert "Confirm the multiplier of the meter" in " ".join(text.split())
    assert "were billed" in finding_text(finding, result.voice)


def test_bills_paid_for_by_their_readings_were_mistyped_and_nothing_is_asked() -> None:
    result = reconcile.reconcile(exchanged(paid=False))
    assert result.verdict.requests == ()
    assert [s.code for s in result.verdict.next_steps if not s.optional] == ["kwh-of-each-mistyped"]


def test_one_bill_of_twice_its_readings_is_no_multiplier() -> None:
    house = exchanged()
    bills = [replace(b, kwh=b.reading_end - b.reading_start) if k != 11 else b for k, b in enumerate(house.bills)]
    assert [f.code for f in examine(replace(house, bills=tuple(bills))).findings if f.settles] == ["reading-mismatch"]


def test_a_printed_multiplier_that_begins_with_a_meter_is_asked_about_where_the_register_alone_is_as_before() -> None:
    house = exchanged(printed=2.0)
    result = reconcile.reconcile(house)
    (finding,) = (f for f in result.findings if f.settles)
    assert (finding.key, finding.periods) == ("multiplier/as-if", tuple(range(9, 15)))
    assert "multiplier" in finding.asks
    assert figures_beside(result)[0][1] == "at issue, by the multiplier"
    assert not any(cause.code == "meter-step" and cause.probability > 0.2 for cause in result.causes)
    same = replace(house, bills=tuple(replace(b, kwh=b.reading_end - b.reading_start) for b in house.bills))
    halved = replace(  # the new register counts half as fast: 2 is right
        same,
        bills=tuple(
            replace(b, reading_end=b.reading_start + (b.reading_end - b.reading_start) / b.multiplier)
            for b in same.bills
        ),
    )
    assert not [f for f in examine(halved).findings if f.code == "multiplier"]


def a_year_and_more(times: float, *, printed: float | None = None, day: int = 12, readings: bool = False) -> House:
    """Twenty bills without readings, those from the thirteenth on so many times those of the year before."""
    seasons = (700, 640, 500, 590, 680, 800, 1030, 900, 780, 560, 570, 760)
    kwh = [seasons[k % 12] * (times if k >= day else 1.0) * (1.0 + 0.02 * (-1) ** k) for k in range(20)]
    first = date(2024, 1, 9)
    days = [first + timedelta(30 * k) for k in range(21)]
    bills = tuple(
        Bill(a, b, kwh=e, multiplier=None if printed is None else (printed if k >= day else 1.0))
        for k, (a, b, e) in enumerate(zip(days, days[1:], kwh, strict=False))
    )
    return House("Gate End", bills, events=(Event(days[day], "meter-exchange"),))


@pytest.mark.parametrize("times", [2.0, 3.0, 0.5, 4.0, 0.1, 0.025])
def test_bills_about_twice_those_of_the_season_since_an_exchange_ask_for_the_multiplier_first(times: float) -> None:
    result = reconcile.reconcile(a_year_and_more(times))
    (finding,) = (f for f in result.findings if f.code == "multiplier")
    assert (finding.case, finding.settles, finding.figures["times"]) == (
        "perhaps",
        not 0.5 <= times <= 2.0,
        pytest.approx(times),
    )
    assert "multiplier-times" in [step.code for step in result.verdict.next_steps[:2]]
    assert "multiplier of the new meter" in letter_text(result)


def test_a_load_that_trebles_the_bills_of_a_small_home_is_settled_by_no_multiplier() -> None:
    house = a_year_and_more(1.0)
    small = tuple(
        replace(bill, kwh=round(0.3 * (bill.kwh or 0.0)) + (432.0 if k >= 12 else 0.0))
        for k, bill in enumerate(house.bills)
    )
    result = reconcile.reconcile(replace(house, bills=small))
    (finding,) = (f for f in result.findings if f.code == "multiplier")
    assert (finding.figures["times"], finding.settles) == (3.0, False)
    assert result.verdict.decision == "outside-check"


def test_an_emptied_home_is_no_multiplier_that_was_left_out() -> None:
    house = a_year_and_more(1.0)
    left = tuple(replace(bill, kwh=60.0 if k >= 12 else bill.kwh) for k, bill in enumerate(house.bills))
    assert not [f for f in examine(replace(house, bills=left)).findings if f.code == "multiplier"]


def test_what_had_changed_before_the_exchange_is_settled_by_no_multiplier() -> None:
    house = a_year_and_more(4.0)
    risen = tuple(
        replace(bill, kwh=4.0 * (bill.kwh or 0.0) if k in (10, 11) else bill.kwh) for k, bill in enumerate(house.bills)
    )
    result = reconcile.reconcile(replace(house, bills=risen))
    (finding,) = (f for f in result.findings if f.code == "multiplier")
    assert (finding.case, finding.settles) == ("perhaps", False)
    assert result.verdict.next_steps[0].code == "multiplier-times"


def test_the_bill_of_an_exchange_is_not_weighed_where_the_readings_after_it_tell_a_multiplier() -> None:
    house = exchanged(10.0)
    first = replace(house.bills[len(OLD)], reading_start=None, reading_end=None)
    bills = (*house.bills[: len(OLD)], first, *house.bills[len(OLD) + 1 :])
    inside = replace(house, bills=bills, events=(Event(first.start + timedelta(3), "meter-exchange"),))
    result = reconcile.reconcile(inside)
    assert [f.case for f in result.findings if f.code == "multiplier"] == ["readings"]
    assert set(result.periods["flag"][len(OLD) :]) == {Flag.NOT_JUDGED}
    assert "old-slow" not in {step.code for step in result.verdict.next_steps}


@pytest.mark.parametrize("times", [1.0, 1.3, 1.5])
def test_more_use_since_an_exchange_is_no_multiplier(times: float) -> None:
    assert not [f for f in examine(a_year_and_more(times)).findings if f.code == "multiplier"]


def test_a_printed_multiplier_is_seen_where_the_exchange_fell_within_a_bill() -> None:
    house = a_year_and_more(2.0, printed=2.0)
    inside = replace(house, events=(Event(house.bills[12].start + timedelta(7), "meter-exchange"),))
    (finding,) = (f for f in examine(inside).findings if f.code == "multiplier")
    assert (finding.case, finding.figures["begins"], finding.periods) == ("as-if", 2.0, tuple(range(12, 20)))
    assert "begins with the new meter" in finding_text(finding, reconcile.reconcile(inside).voice)


def test_the_bill_within_which_the_meter_came_is_no_more_weighed_than_those_after_it() -> None:
    house = a_year_and_more(10.0)
    first = house.bills[12]
    bills = (*house.bills[:12], replace(first, kwh=first.kwh / 10.0 * 1.4), *house.bills[13:])
    inside = replace(house, bills=bills, events=(Event(first.closes - timedelta(1), "meter-exchange"),))
    (finding,) = (f for f in examine(inside).findings if f.code == "multiplier")
    assert (finding.case, finding.periods) == ("as-if", tuple(range(12, 20)))


def _jumping(times: float, base: float = 1.0, since: int = 12) -> House:
    """Twenty bills without readings; those from ``since`` on are ``times`` what they would be."""
    days = [date(2024, 1, 9) + timedelta(30 * k) for k in range(21)]
    usual = (500, 470, 510, 410, 470, 560, 760, 550, 460, 440, 400, 455)
    kwh = [base * usual[k % 12] * (times if k >= since else 1.0) for k in range(20)]
    return House("Ten Times", tuple(Bill(a, b, kwh=x) for (a, b), x in zip(pairwise(days), kwh, strict=True)))


@pytest.mark.parametrize("times", [10.0, 40.0])
def test_bills_that_jump_tenfold_for_good_are_held_against_a_multiplier_though_no_exchange_is_told(
    times: float,
) -> None:
    result = reconcile.reconcile(_jumping(times))
    (found,) = [f for f in result.findings if f.code == "multiplier"]
    assert found.key == "multiplier/as-if"
    assert found.periods == tuple(range(12, 20))
    assert result.verdict.decision == "paperwork"
    assert "multiplier" in result.verdict.requests
    assert "as if a multiplier or a decimal place were wrong" in result.verdict.headline


@pytest.mark.parametrize(
    "house",
    [_jumping(3.0), _jumping(10.0, base=0.1), _jumping(5.5), _jumping(10.0, since=2)],
    ids=["a large load", "an empty home moved into", "no usual multiplier", "too few before"],
)
def test_what_may_be_used_is_no_multiplier(house: House) -> None:
    assert not [f for f in examine(house).findings if f.code == "multiplier"]


@pytest.mark.parametrize("exchange", [None, 16], ids=["no exchange", "an exchange after it began"])
@pytest.mark.parametrize("since", [9, 14])
def test_as_much_more_a_day_for_good_is_a_load_however_many_times_it_is(since: int, exchange: int | None) -> None:
    house = _jumping(1.0)
    bills = tuple(replace(b, kwh=b.kwh + 4.5 * 24 * b.days * (k >= since)) for k, b in enumerate(house.bills))
    events = () if exchange is None else (Event(bills[exchange].start, "meter-exchange"),)
    assert not [f for f in examine(replace(house, bills=bills, events=events)).findings if f.code == "multiplier"]


def test_a_multiplier_that_began_before_an_exchange_is_that_of_all_bills_since() -> None:
    house = _jumping(10.0)
    (found,) = (
        f
        for f in examine(replace(house, events=(Event(house.bills[16].start, "meter-exchange"),))).findings
        if f.code == "multiplier"
    )
    assert (found.key, found.periods) == ("multiplier/as-if", tuple(range(12, 20)))


@pytest.mark.parametrize(
    ("before", "own", "within"),
    [
        pytest.param((24, 25, 22, 27, 24, 24), (275, 261, 270, 288, 281), 81, id="a bill within"),
        pytest.param((12, 13, 15), (146, 125, 141, 122, 137, 134), 54, id="three bills before"),
        pytest.param((39, 31, 28, 29, 26, 28), (426, 800, 941, 1012, 603, 389), 81, id="electric heat after a summer"),
        pytest.param(
            (35, 49, 48, 54, 49, 43, 31, 26), (216, 236, 261, 324, 420, 656, 630, 491, 476), 121, id="a cold year"
        ),
    ],
)
def test_bills_tenfold_since_an_exchange_are_a_multiplier_whatever_the_season(
    before: tuple[int, ...], own: tuple[int, ...], within: int
) -> None:
    rates = (*before, within, *own)
    days = [date(2024, 4, 9) + timedelta(30 * k) for k in range(len(rates) + 1)]
    bills = tuple(Bill(a, b, kwh=30.0 * rate) for (a, b), rate in zip(pairwise(days), rates, strict=True))
    exchange = Event(days[len(before)] + timedelta(21), "meter-exchange")
    result = reconcile.reconcile(House("Gate End", bills, events=(exchange,)))
    (found,) = [f for f in result.findings if f.code == "multiplier"]
    assert (found.key, found.periods) == ("multiplier/as-if", tuple(range(len(before), len(rates))))
    assert "multiplier" in result.verdict.requests
    assert not result.causes or max(c.probability for c in result.causes if c.code != "none") < 0.5


def lost(times: float = 40.0) -> House:
    """The old meter charges so many times its readings, the new one their difference; the registers run on alike."""
    bills, register, day = [], 1496.0, date(2023, 4, 22)
    for k, moved in enumerate((24, 30, 35, 30, 28, 21, 16, 13, 13, 27, 31, 38, 30, 23)):
        new = k >= 9
        if k == 9:
            register = 0.0
        start, end = day + timedelta(31 * k), day + timedelta(31 * (k + 1))
        kwh = moved * (1.0 if new else times)
        amount = round(Decimal("11.74") + Decimal("0.1475") * Decimal(str(kwh)), 2)
        meter = "N906523" if new else "K156072"
        bills.append(
            Bill(start, end, reading_start=register, reading_end=register + moved, kwh=kwh, amount=amount, meter=meter)
        )
        register += moved
    return House("Mill Lane", tuple(bills))


def test_a_multiplier_that_was_lost_with_the_old_meter_does_not_accuse_its_bills() -> None:
    """The letter asked to correct the old meter's bills and was silent about the new one's."""
    result = reconcile.reconcile(lost())
    (finding,) = (f for f in result.findings if f.settles)
    assert (finding.key, finding.periods) == ("multiplier/lost", tuple(range(9, 14)))
    assert finding.kwh is None
    assert not any(row.flag == "over" for row in result.rows)
    said = finding_text(finding, result.voice)
    assert "40 times" in said
    assert "may be billed later" in said
    text = " ".join(letter_text(result).split())
    assert "Confirm which multiplier belongs to the meter, before January 26, 2024 and since" in text
    assert "correct the bills" not in text
    assert result.verdict.decision == "paperwork"
    (step,) = (step for step in result.verdict.next_steps if step.asks == "multiplier-of-both")
    assert any("Touch nothing" in caution for caution in step.cautions)  # it sends to the meter's face


def test_a_multiplier_that_was_lost_without_an_exchange_does_not_accuse_the_bills_before() -> None:
    house = lost()
    bills = tuple(replace(b, meter="K156072") for b in house.bills[:9])
    for b in house.bills[9:]:
        shift = house.bills[8].reading_end
        opens, closes = b.reading_start + shift, b.reading_end + shift
        bills += (replace(b, meter="K156072", reading_start=opens, reading_end=closes),)
    result = reconcile.reconcile(replace(house, bills=bills))
    (finding,) = (f for f in result.findings if f.settles)
    assert (finding.key, finding.periods, finding.kwh) == ("multiplier/lost", tuple(range(9, 14)), None)
    assert "exchange" not in finding_text(finding, result.voice)
    assert "correct the bills" not in " ".join(letter_text(result).split())


def test_hours_that_fell_with_the_multiplier_are_no_slow_meter() -> None:
    """They add up to the bills without it: the fall was told as a meter that registers 90 % less."""
    house = lost(10.0)
    rng = np.random.default_rng(5)
    day = 0.7 + np.array([0.3, 0.2, 0.2, 0.2, 0.2, 0.3, 0.6, 0.8, 0.6, 0.5, 0.5, 0.5, 0.6, 0.6, 0.6, 0.7] + [1.2] * 8)
    hours = []
    for bill in house.bills:
        made = rng.gamma(9.0, np.tile(day, bill.days) / 9.0)
        hours.append(made / made.sum() * bill.kwh)
    starts = np.datetime64(house.bills[0].start, "s") + np.arange(sum(map(len, hours))) * np.timedelta64(3600, "s")
    with_hours = replace(house, timezone="UTC", interval=Interval(starts, np.concatenate(hours), 3600))
    known = certain(with_hours)
    weighing = weighed(known, {}).weighing
    assert known.intervals.evidence
    assert len(weighing.data.residual) == weighing.judged.sum()  # nothing but bills is heard
    assert reconcile.reconcile(with_hours).verdict.decision == "paperwork"
