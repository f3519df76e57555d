"""What comes first: what could hide beside a test, the step that settles this cause, and one run made again."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

import reconcile
from reconcile.facts import Finding
from reconcile.grounds.data_run import DataRun, could_hide
from reconcile.house import Bill, Event, Load
from reconcile.kinds import Flag
from reconcile.plan.first import one_digit
from reconcile.report.screens.terminal import terminal_text
from reconcile.report.views.view import view
from reconcile.result import Period, Reconciliation
from reconcile.say import Voice
from reconcile.texts import tell
from reconcile.texts.decisions import headline
from reconcile.texts.findings import finding_text
from reconcile.texts.headline_parts import in_season
from reconcile.texts.meter_words import meter_line, tells_of_meter
from reconcile.texts.page_words import TIED_OUT
from reconcile.texts.step_words import CHECKS
from reconcile.voices import voice_of

SAMPLES = Path(__file__).parents[1] / "sample_bills"


def test_a_run_that_agrees_with_a_right_meter_leaves_less_to_hide_than_the_bills() -> None:
    house = reconcile.read_house(SAMPLES / "fast_meter_checked")
    left = could_hide(33.0, DataRun(100.2, 2.5, "cannot-tell"), None, house)
    assert left.by == "run"
    assert left.percent == pytest.approx(4.5)
    figures = {"fast": 0.004, "percent": left.percent, "by": left.by, "watts": 130.0, "run": "cannot-tell"}
    line = meter_line(figures, Voice())
    assert tells_of_meter(line)
    assert "beside your field test: a meter less than about" in line
    # one that leans to a side leaves what it read and its doubt, and never more than the bills do
    leans = could_hide(33.0, DataRun(104.0, 2.5, "cannot-tell"), None, house)
    assert (leans.by, leans.percent) == ("run", pytest.approx(6.5))
    assert could_hide(5.0, DataRun(104.0, 2.5, "cannot-tell"), None, house).by == "bills"


def test_a_meter_that_is_likely_slow_is_told_however_large_a_fast_one_could_hide() -> None:
    for percent in (29.0, None):
        line = meter_line({"fast": 0.01, "slow": 0.98, "percent": percent, "watts": 200.0, "run": ""}, Voice())
        assert "that it is slow is very likely" in line
        assert tells_of_meter(line)


@pytest.mark.parametrize(
    ("closes", "billed", "instead"),
    [(26245.0, 1640.0, 25245.0), (25945.0, 1340.0, None), (25405.0, 800.0, None)],
)
def test_a_reading_another_by_one_digit_is_named_where_it_alone_makes_the_bill_usual(
    closes: float, billed: float, instead: float | None
) -> None:
    bill = Bill(date(2025, 3, 8), date(2025, 4, 7), kwh=billed, reading_start=24605.0, reading_end=closes)
    listed = (None, None, None, None)
    row = Period(bill.start, bill.end, 30, billed, Flag.OVER, *listed, 580.0, 440.0, 655.0, billed - 580.0, None)
    assert one_digit(bill, row) == instead


def misread_last(digit: float = 1000.0) -> Reconciliation:
    """The quiet sample, its readings by register, the last one misread by one digit."""
    house = reconcile.read_house(SAMPLES / "all_well")
    at, bills = 20000.0, []
    for bill in house.bills:
        kwh = float(bill.kwh or 0.0)
        bills.append(replace(bill, reading_start=at, reading_end=at + kwh))
        at += kwh
    last = bills[-1]
    kwh, closes = float(last.kwh or 0.0), float(last.reading_end or 0.0)
    bills[-1] = replace(last, kwh=kwh + digit, reading_end=closes + digit, amount=None)
    return reconcile.reconcile(replace(house, bills=tuple(bills)))


@pytest.mark.parametrize("kwh", [400.0, 1000.0])
def test_a_last_bill_that_may_be_misread_is_settled_by_a_reading_today(kwh: float) -> None:
    """Whatever the bills make likeliest of it: one bill tells a misread digit from a load by nothing."""
    result = misread_last(kwh)
    first, *rest = result.verdict.next_steps
    assert first.code == "read-today"
    assert first.cautions
    assert "compare" not in [step.code for step in rest]
    needed = [step.hazard for step in rest if not step.optional]
    assert needed == sorted(needed)
    assert "Read the meter today" in terminal_text(result, 96)


def test_at_an_exchange_the_removed_meters_own_record_comes_before_temperatures() -> None:
    result = reconcile.reconcile(reconcile.read_house(SAMPLES / "fast_meter"))
    codes = [step.code for step in result.verdict.next_steps if not step.optional]
    assert codes[0] in ("exchange-readings", "old-meter-test", "meter-test")


def test_one_run_alone_is_said_to_be_made_again_before_a_test_is_asked_for() -> None:
    result = reconcile.reconcile(reconcile.read_house(SAMPLES / "fast_meter_checked"))
    test = result.house.field_test
    assert test is not None
    assert test.once
    assert "make it twice more" in result.verdict.headline
    needed = [step.code for step in result.verdict.next_steps if not step.optional and step.hazard > 0]
    assert needed[0] == "run-again"
    thrice = replace(result.house, field_test=replace(test, runs=test.runs * 3))
    assert "twice more" not in reconcile.reconcile(thrice).verdict.headline


def test_a_sign_of_danger_says_once_that_no_bill_is_weighed() -> None:
    rows = view(reconcile.reconcile(reconcile.read_house(SAMPLES / "danger_sign")))["periods"]
    assert len(rows) > 5
    assert [bool(row["why"]) for row in rows] == [True, *[False] * (len(rows) - 1)]


def test_a_thing_of_the_diary_is_found_on_the_list_by_its_kind() -> None:
    """An electric car bought is the charger on the list: its start is asked for, not another line."""
    house = reconcile.read_house(SAMPLES / "new_load_in_may")
    thing = Event(date(2025, 5, 3), "new-load", note="bought an electric car")
    charger = Load("EV charger", watts=7200.0, run_hours=1.0)
    house = replace(house, events=(thing,), loads=(*house.loads, charger))
    steps = reconcile.reconcile(house).verdict.next_steps
    named = [step.text for step in steps if step.code == "named-in-diary"]
    assert all("your list has EV charger without a start" in text for text in named)
    figures = {"thing": "car", "day": thing.day, "listed": "always", "own": "EV charger", "fits": ()}
    told = CHECKS["named-in-diary"].do
    assert callable(told)
    assert "your list has EV charger without a start: give it May 3, 2025" in told(Voice(), figures)


def test_what_only_moves_between_bills_adds_no_energy_of_rounding() -> None:
    for name in ("all_well", "estimated_read", "mistyped_bill"):
        result = reconcile.reconcile(reconcile.read_house(SAMPLES / name))
        assert all(cause.kwh is None or cause.kwh == 0.0 or abs(cause.kwh) > 1e-6 for cause in result.causes)
        assert not any("kWh over these bills" in c["kwh"] and c["kwh"].startswith("0") for c in view(result)["causes"])


def test_an_estimate_among_other_bills_is_not_looked_at_before_what_lifts_these() -> None:
    house = reconcile.read_house(SAMPLES / "new_load_in_may")
    bills = [replace(bill, amount=None, reading_start=None, reading_end=None) for bill in house.bills]
    bills[2] = replace(bills[2], kwh=(bills[2].kwh or 0.0) + 60.0, read_type="estimated")
    bills[3] = replace(bills[3], kwh=(bills[3].kwh or 0.0) - 60.0)
    steps = [step.code for step in reconcile.reconcile(replace(house, bills=tuple(bills))).verdict.next_steps]
    assert steps.index("began") < steps.index("judge-together")


@pytest.mark.parametrize(("seconds", "every"), [(86400, "daily"), (3600, "hourly"), (900, "quarter-hourly")])
def test_interval_data_are_called_what_they_are(seconds: int, every: str) -> None:
    house = reconcile.read_house(SAMPLES / "hourly_data")
    assert house.interval is not None
    voice = voice_of(replace(house, interval=replace(house.interval, step_seconds=seconds)))
    assert tell(voice, TIED_OUT, "all", {"count": 9}) == f"The {every} data add up to all 9 bills that they cover."
    assert voice.of_readings("Download quarter-hourly readings.") == "Download quarter-hourly readings."
    moved = {"edge": date(2025, 3, 7), "moved": 300.0, "first_high": True, "written": None}
    said = finding_text(Finding("interval-mismatch", (1, 2), case="moved", figures=moved), voice)
    assert f"does not fit the {every} readings (interval data)" in said


def test_no_reader_is_told_of_hundreds_of_percent_of_heating() -> None:
    assert in_season(Voice(), {"heating": 390.0, "cooling": 250.0}) == (
        "heating that took several times what it should in its last season (cooling: several times as much)"
    )


@pytest.mark.parametrize("percent", [240.0, None])
def test_no_size_is_told_of_what_no_meter_makes(percent: float | None) -> None:
    line = meter_line({"fast": 0.01, "slow": 0.0, "percent": percent, "watts": None, "run": ""}, Voice())
    assert "no ordinary meter error would show" in line
    assert "240" not in line


def test_what_is_asked_is_told_beside_an_estimate_that_asks_nothing() -> None:
    side = {"bills": 0, "kwh": 0.0, "amount": None}
    figures = {
        "over": side, "under": side, "settling": "An estimate was put right.", "settling_asks": False, "asks": True,
        "cannot_tell": False, "open": True, "open_text": "A reading is asked about.", "open_rise": False,
        "dearest": "", "hidden_percent": None, "blind": False,
    }  # fmt: skip
    told = headline("records-account", figures, Voice())
    assert told.index("put right") < told.index("A reading is asked about.") < told.index("billing desk")
    assert "asked about" not in headline("records-account", {**figures, "settling_asks": True}, Voice())
