"""What the household's own lines change of an answer: a diary of any kind, an own reading, a list with a timer."""

import math
import random
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from speech import broken

import reconcile
from reconcile.house import Bill, Event, House, Load, RegisterReading
from reconcile.kinds import Decision
from reconcile.report.pages.letter import letter_text
from reconcile.report.screens.terminal import terminal_text
from reconcile.report.views.asking_view import phone_lines, risk_of_asking
from reconcile.report.views.first_view import decision_name
from reconcile.result import Reconciliation

DAYS = 30


def bills(count: int, a_day: Callable[[date], float], seed: int = 1, scatter: float = 0.03) -> tuple[Bill, ...]:
    """Bills of thirty days with a mild winter, readings in order, and 16 cents a kWh."""
    rng, first, at, out = random.Random(seed), date(2024, 1, 5), 20_000, []
    for k in range(count):
        start = first + timedelta(days=DAYS * k)
        habit = rng.gauss(1.0, scatter)
        kwh = 0.0
        for i in range(DAYS):
            day = start + timedelta(days=i)
            winter = max(math.cos(2.0 * math.pi * (day.timetuple().tm_yday - 15) / 365.25), 0.0)
            kwh += (15.0 + 4.0 * winter) * habit + a_day(day)
        moved = round(kwh)
        amount = Decimal(f"{9.5 + 0.16 * moved:.2f}")
        out.append(
            Bill(start, start + timedelta(days=DAYS), kwh=float(moved), amount=amount, reading_start=float(at),
                 reading_end=float(at + moved))
        )  # fmt: skip
        at += moved
    return tuple(out)


def without_readings(house: House) -> House:
    return replace(house, bills=tuple(replace(b, reading_start=None, reading_end=None) for b in house.bills))


def answer(house: House) -> Reconciliation:
    result = reconcile.reconcile(house)
    assert broken(result) == []
    return result


def since(day: date, kwh: float) -> Callable[[date], float]:
    return lambda at: kwh if at >= day else 0.0


def test_a_line_of_no_kind_at_the_very_day_is_quoted_first() -> None:
    pond = Event(date(2025, 2, 28), "other", note="put in the pond out back")
    result = answer(House("a home", bills(20, since(date(2025, 3, 1), 8.0)), events=(pond,)))
    assert "“put in the pond out back”" in result.verdict.headline
    first = next(step for step in result.verdict.next_steps if not step.optional)
    assert first.code == "began"
    assert "put in the pond out back" in first.text
    # it names no more than a question: the checks go on
    assert result.verdict.decision is Decision.OUTSIDE_CHECK


def test_a_new_thing_that_nobody_knows_ends_no_question_and_a_known_one_does() -> None:
    use = bills(20, since(date(2025, 3, 1), 8.0))
    odd = answer(House("a home", use, events=(Event(date(2025, 3, 1), "new-load", note="bought a glimmerbox"),)))
    known = answer(House("a home", use, events=(Event(date(2025, 3, 1), "new-load", note="bought a hot tub"),)))
    assert odd.verdict.decision is Decision.OUTSIDE_CHECK
    assert "“bought a glimmerbox”" in odd.verdict.headline
    assert known.verdict.decision is Decision.EXPLAINED


def test_days_away_in_the_diary_explain_low_bills_and_leave_nothing_to_do() -> None:
    gone = Event(date(2025, 2, 20), "away", until=date(2025, 5, 1), note="away at the coast")
    house = House(
        "a home", bills(19, lambda d: -11.0 if date(2025, 2, 20) <= d < date(2025, 5, 1) else 0.0), events=(gone,)
    )
    result = answer(without_readings(house))
    assert "given its days and the days away in your diary" in result.verdict.headline
    assert "check-low-reading" not in result.verdict.requests
    assert "Write it with its date" not in terminal_text(result, 100)


def test_a_lasting_fall_is_no_reading_to_be_checked() -> None:
    gone = Event(date(2025, 3, 28), "other", note="old garage freezer gone")
    result = answer(without_readings(House("a home", bills(20, since(date(2025, 4, 1), -5.0)), events=(gone,))))
    assert result.verdict.under.bills > 1
    assert not result.verdict.requests
    assert "“old garage freezer gone”" in result.verdict.headline


def test_use_that_doubles_asks_first_whether_the_meter_is_this_homes() -> None:
    result = answer(House("a home", bills(20, since(date(2025, 3, 1), 24.0))))
    first = result.verdict.next_steps[0]
    assert first.code == "meter-follows"
    assert first.cautions
    assert "counts another home" in result.verdict.headline
    some = answer(House("a home", bills(20, since(date(2025, 3, 1), 8.0))))
    assert all(step.code != "meter-follows" for step in some.verdict.next_steps)


def test_work_at_the_meters_in_the_diary_asks_it_of_any_lasting_rise() -> None:
    work = Event(date(2025, 3, 1), "other", note="utility crew worked at the meter bank")
    result = answer(House("a home", bills(20, since(date(2025, 3, 1), 8.0)), events=(work,)))
    assert result.verdict.next_steps[0].code == "meter-follows"
    assert all("meter bank" not in step.text for step in result.verdict.next_steps)


def test_a_listed_pump_that_would_make_the_rise_if_it_never_stopped_is_named() -> None:
    pump = Load("Pool pump", watts=900.0, run_hours=8.0)
    rest = Load("Refrigerator", watts=150.0, run_hours=8.0)
    lights = Load("Lights", watts=300.0, run_hours=5.0)
    result = answer(House("a home", bills(20, since(date(2025, 3, 1), 14.4)), loads=(pump, rest, lights)))
    said = " ".join(step.text for step in result.verdict.next_steps)
    assert "Pool pump would use as much more if it never stopped" in said
    assert "your Lights" not in said


def test_an_own_reading_after_the_last_bill_is_said_and_not_asked_for_again() -> None:
    use = bills(16, lambda d: 0.0)
    last = use[-1]
    high = replace(last, kwh=(last.kwh or 0.0) + 380.0, reading_end=(last.reading_end or 0.0) + 380.0, amount=None)
    house = House("a home", (*use[:-1], high))
    assert any(step.code == "read-today" for step in answer(house).verdict.next_steps)
    own = RegisterReading(high.closes + timedelta(days=10), (high.reading_end or 0.0) + 160.0, type="customer")
    result = answer(replace(house, readings=(own,)))
    assert all(step.code != "read-today" for step in result.verdict.next_steps)
    assert "Your own reading of" in result.verdict.headline
    assert "16.0 kWh a day since" in result.verdict.headline


def test_a_misread_digit_is_named_in_the_answer_itself() -> None:
    use = bills(16, lambda d: 0.0)
    last = use[-1]
    high = replace(last, kwh=(last.kwh or 0.0) + 1000.0, reading_end=(last.reading_end or 0.0) + 1000.0, amount=None)
    assert "one digit may be misread" in answer(House("a home", (*use[:-1], high))).verdict.headline


def test_a_row_typed_twice_is_no_letter() -> None:
    use = bills(16, lambda d: 0.0)
    result = answer(House("a home", (*use[:8], use[7], *use[8:])))
    assert "is in the file more than once" in result.verdict.next_steps[0].text
    assert not result.verdict.requests
    assert "paid once" not in letter_text(result)


@pytest.mark.parametrize("seed", range(4))
def test_no_all_clear_stands_beside_a_rise_that_is_told(seed: int) -> None:
    result = answer(House("a home", bills(18, since(date(2024, 12, 1), 1.6), seed=seed, scatter=0.04)))
    told = [c for c in result.causes if c.code not in ("none", "unlisted") and c.probability >= 0.25]
    if any((c.kwh or 0.0) > 0.0 for c in told):
        assert not result.verdict.headline.startswith("Every bill is what")
        assert decision_name(result) != "Nothing out of the ordinary"
        assert "nothing to complain about" not in " ".join(phone_lines(result))


def test_the_risk_of_a_slow_meter_stands_beside_a_question_about_two_meters() -> None:
    change = Event(date(2024, 12, 30), "meter-exchange")
    use = tuple(
        replace(b, reading_start=None, reading_end=None) for b in bills(20, lambda d: 2.2 if d >= change.day else 0.0)
    )
    result = answer(House("a home", use, events=(change,)))
    assert "exchange-readings" in result.verdict.requests
    slow = max((c.probability for c in result.causes if c.code == "old-meter-slow"), default=0.0)
    assert slow >= 0.05
    assert risk_of_asking(result)


def test_a_fall_that_nobody_knows_of_asks_what_ended() -> None:
    result = answer(House("a home", bills(20, since(date(2025, 4, 1), -5.0))))
    assert result.verdict.under.bills > 1
    assert result.verdict.decision is Decision.EXPLAINED
    first = result.verdict.next_steps[0]
    assert (first.code, first.would_show[1].then) == (
        "ended",
        "the meter may count too little: have its readings checked. What it did not count may be billed later",
    )
    assert result.verdict.headline.endswith("the readings should be checked.")
    assert decision_name(result) == "Less was used, or counted, than usual"
    assert phone_lines(result)[0].startswith("Do not call yet: ask at home first.")


@pytest.mark.parametrize(
    ("note", "ends"),
    [
        ("our meter does not follow our oven; it runs when the neighbor cooks", "Tell the billing desk."),
        ("the meter never reacts to our kettle", "Tell the billing desk."),
        ("all switched off: the meter stops when we do, and follows the oven", "so it is this home's meter."),
    ],
)
def test_what_was_seen_at_the_meter_ends_the_question_whose_it_is(note: str, ends: str) -> None:
    use = bills(20, since(date(2025, 3, 1), 24.0))
    seen = Event(use[-1].closes - timedelta(days=60), "other", note=note)
    result = answer(House("a home", use, events=(seen,)))
    assert note in result.verdict.headline
    assert ends in result.verdict.headline
    assert "look at that first" not in result.verdict.headline
    codes = [step.code for step in result.verdict.next_steps]
    assert "meter-follows" not in codes
    assert (codes[0] == "other-home") == (ends == "Tell the billing desk.")
    assert ("Check on site which home this meter serves" in letter_text(result)) == ("other-home" in codes)


def test_a_repair_after_the_last_bill_is_checked_by_reading_the_meter() -> None:
    use = bills(20, since(date(2025, 3, 1), 8.0))
    mended = Event(use[-1].closes + timedelta(days=9), "repair", note="electrician mended the buried cable to the shed")
    result = answer(House("a home", use, events=(mended,)))
    assert "“electrician mended the buried cable to the shed”" in result.verdict.headline
    codes = [step.code for step in result.verdict.next_steps]
    assert codes[0] == "done"
    assert not {"began", "own-readings"} & set(codes)


def at_an_exchange(a_day: Callable[[date], float], *events: Event) -> Reconciliation:
    change = Event(date(2024, 12, 30), "meter-exchange")
    use = tuple(replace(b, reading_start=None, reading_end=None) for b in bills(20, a_day))
    return answer(House("a home", use, events=(change, *events)))


def test_an_exchange_of_which_no_bill_speaks_asks_nothing() -> None:
    calm = at_an_exchange(lambda d: 0.0)
    assert not calm.verdict.requests
    assert calm.verdict.headline.startswith(("Every bill is what", "No bill stands out"))
    # nor beside a load that begins months after it, for a time
    load = at_an_exchange(lambda d: 9.0 if date(2025, 5, 10) <= d < date(2025, 7, 9) else 0.0)
    assert "exchange-readings" not in load.verdict.requests
    assert "exchange-readings" in at_an_exchange(lambda d: 2.6 if d >= date(2024, 12, 30) else 0.0).verdict.requests


def test_two_meters_that_disagree_are_the_news_beside_guests_of_the_diary() -> None:
    guests = Event(date(2025, 7, 1), "guests", until=date(2025, 7, 26), note="family of four visiting")
    changed = date(2024, 12, 30)
    result = at_an_exchange(
        lambda d: (2.6 if d >= changed else 0.0) + (9.0 if guests.day <= d < date(2025, 7, 26) else 0.0), guests
    )
    assert "the old and the new meter disagree" in result.verdict.headline
    assert "exchange-readings" in result.verdict.requests


def test_bills_doubled_at_an_exchange_are_told_as_bills_and_their_multiplier_is_the_first_step() -> None:
    use = bills(20, lambda d: 0.0)
    change = Event(use[11].start, "meter-exchange")
    use = tuple(
        replace(
            b,
            kwh=(b.kwh or 0.0) * (2.0 if b.start >= change.day else 1.0),
            amount=None,
            reading_start=None,
            reading_end=None,
        )
        for b in use
    )
    result = answer(House("a home", use, events=(change,)))
    assert "multiplier" in result.verdict.meter_open
    assert result.to_dict()["verdict"]["meter_open"] == list(result.verdict.meter_open)
    assert "the meter registers" not in result.verdict.headline
    assert result.verdict.next_steps[0].asks in ("multiplier", "multiplier-times")
    assert "multiplier" in result.verdict.meter_line
    assert "chance that the meter is fast" not in terminal_text(result, 200)


def test_days_without_power_explain_a_low_bill_and_a_thing_that_is_over_a_high_one() -> None:
    storm = Event(date(2025, 3, 2), "outage", until=date(2025, 3, 22), note="ice storm")
    low = bills(19, lambda d: -16.0 if storm.day <= d < date(2025, 3, 22) else 0.0)
    result = answer(without_readings(House("a home", low, events=(storm,))))
    assert "the power was off then: that explains it" in result.verdict.headline
    assert not result.verdict.requests
    heater = Event(date(2025, 3, 2), "new-load", until=date(2025, 3, 28), load="space heater", note="left on")
    high = bills(19, lambda d: 8.0 if heater.day <= d < date(2025, 3, 28) else 0.0)
    told = answer(House("a home", high, events=(heater,)))
    assert "Your diary tells of something that fits" in told.verdict.headline
    assert told.verdict.next_steps[0].code == "confirm"
    assert not told.verdict.requests


def test_who_moved_in_is_asked_about_before_another_homes_meter() -> None:
    rented = Event(date(2025, 2, 28), "other", note="rented out by the week")
    result = answer(House("a home", bills(20, since(date(2025, 3, 1), 24.0)), events=(rented,)))
    first = result.verdict.next_steps[0]
    assert first.code == "began"
    assert "(“rented out by the week”) fits: about 24 kWh a day more" in first.text
    assert "counts another home" not in result.verdict.headline


def test_a_meter_taken_down_that_was_slow_is_no_question_for_the_desk() -> None:
    use = bills(20, lambda d: 0.0)
    change = Event(use[11].start, "meter-exchange")
    times = [1.0 if b.start >= change.day else 0.7 for b in use]
    use = tuple(replace(b, kwh=t * (b.kwh or 0.0), amount=None) for b, t in zip(use, times, strict=True))
    result = answer(without_readings(House("a home", use, events=(change,))))
    slow = next((c for c in result.causes if c.code == "old-meter-slow"), None)
    if slow is not None and slow.probability >= 0.5 and (result.verdict.meter_fast_probability or 0.0) < 0.05:
        assert result.verdict.next_steps[0].code == "old-slow"
        assert not {"exchange-readings", "old-meter-test"} & set(result.verdict.requests)
    else:
        assert "exchange-readings" in result.verdict.requests


def low_in_december(*events: Event) -> Reconciliation:
    """A home with one low bill, that of December 2024, and what its diary says."""
    made = bills(18, lambda day: -4.0 if date(2024, 11, 30) <= day < date(2024, 12, 30) else 0.0)
    return answer(House("Low once", made, events=events, loads=(Load("refrigerator", watts=150.0, follows="always"),)))


@pytest.mark.parametrize(
    "event", [Event(date(2024, 12, 3), "new-load", load="electric car"), Event(date(2024, 12, 3), "guests")]
)
def test_what_raises_bills_accounts_for_none_that_is_low(event: Event) -> None:
    def low(result: Reconciliation) -> float:
        causes = (c for c in result.causes if c.code == "single-period" and (c.kwh or 0.0) < 0.0)
        return sum(c.probability for c in causes)

    silent, told = low_in_december(), low_in_december(event)
    assert silent.verdict.over.bills == 0
    assert low(silent) > 0.1
    assert low(told) == pytest.approx(low(silent), abs=0.05)
    assert "diary" not in told.verdict.headline


def test_a_thing_taken_away_within_a_low_bill_is_quoted() -> None:
    told = low_in_december(Event(date(2024, 12, 16), "removed-load", note="old freezer gone"))
    assert "old freezer gone" in told.verdict.headline


@pytest.mark.parametrize(("odd", "asked"), [(10, False), (17, True)])
def test_nobody_reads_the_meter_today_for_a_bill_that_others_have_followed(odd: int, asked: bool) -> None:
    first = date(2024, 1, 5) + timedelta(days=DAYS * odd)
    made = bills(18, lambda day: 9.0 if first <= day < first + timedelta(days=DAYS) else 0.0)
    once = House("High once", made, loads=(Load("refrigerator", watts=150.0, follows="always"),))
    steps = [step.code for step in answer(without_readings(once)).verdict.next_steps]
    assert "check-reading" in steps
    assert ("own-readings" in steps) is asked


def test_a_meter_that_may_be_slow_is_asked_about_at_home_first() -> None:
    result = answer(House("a home", bills(20, since(date(2025, 3, 1), -9.0))))
    assert result.verdict.rule == "meter-slow"
    steps = [step for step in result.verdict.next_steps if not step.optional]
    assert steps[0].code == "ended"
    assert "Ask at home what ended about" in steps[0].text
    assert [step.hazard for step in steps] == sorted(step.hazard for step in steps)
