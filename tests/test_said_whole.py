"""What householders met who had not seen the code, each as a house whose answer must say otherwise."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
from speech import page_text

import reconcile
from reconcile.house import Bill, Event, House, Load
from reconcile.kinds import Hazard
from reconcile.loads.handbook import fits
from reconcile.plan.looks import weather_look
from reconcile.plan.situation import Situation
from reconcile.plan.worth import State
from reconcile.report.pages.letter import letter_text
from reconcile.report.screens.screen import Text, short, whole
from reconcile.report.views.asking_view import coming_back, phone_lines
from reconcile.report.views.call_view import call_of
from reconcile.report.views.first_view import causes_told, decision_name, figures_beside, since_line
from reconcile.report.views.letter_view import letter
from reconcile.report.views.view import view
from reconcile.result import Cause, Reconciliation
from reconcile.rounding import as_parts
from reconcile.say import Voice
from reconcile.texts import tell
from reconcile.texts.letter_words import nothing
from reconcile.texts.phone import phone_words
from reconcile.texts.reason_words import MORE_PARTS, ONE_PART, REASONS

SAMPLES = Path(__file__).parents[1] / "sample_bills"
NAMES = ("fridge", "heat pump heating", "central air conditioner", "lights", "washer", "dishwasher", "TV")


@cache
def sample(name: str) -> House:
    return reconcile.read_house(SAMPLES / name)


@cache
def answer(name: str) -> Reconciliation:
    return reconcile.reconcile(sample(name))


def with_use(house: House, watts: float, first: int, *, always: float = 0.0) -> House:
    """The house with so much more day and night from one bill on, and so much in all of them [W]."""
    bills = []
    for i, bill in enumerate(house.bills):
        more = 0.024 * bill.days * (always + (watts if i >= first else 0.0))
        amount = None if bill.amount is None else bill.amount + Decimal(str(round(0.152 * more, 2)))
        kwh = round((bill.kwh or 0.0) + more)
        bills.append(replace(bill, kwh=kwh, amount=amount, reading_start=None, reading_end=None))
    return replace(house, bills=tuple(bills), tariffs=())


@cache
def hourly_with(watts: float, first: int = 8) -> Reconciliation:
    """The sample of hourly readings with so much more day and night from one bill on [W], in bills and readings."""
    house = with_use(sample("hourly_data"), watts, first)
    data = house.interval
    assert data is not None
    later = data.starts >= np.datetime64(house.bills[first].start)
    kwh = data.kwh + np.where(later, watts / 1000.0 * data.step_seconds / 3600.0, 0.0)
    return reconcile.reconcile(replace(house, interval=replace(data, kwh=kwh)))


def step(result: Reconciliation, code: str) -> int:
    return [one.code for one in result.verdict.next_steps].index(code)


def test_what_is_listed_and_takes_more_than_listed_is_named_and_measured_with_what_it_costs() -> None:
    tub = Load("hot tub", watts=411.0, run_hours=24.0, follows="always", source="guessed")
    house = with_use(sample("all_well"), 220.0, 8, always=411.0)
    result = reconcile.reconcile(replace(house, loads=(*house.loads, tub)))
    assert "your hot tub may use more than listed" in result.verdict.next_steps[step(result, "began")].text
    own = result.verdict.next_steps[step(result, "measure-own")]
    assert own.text.startswith("Your hot tub may use more than listed.")
    assert "a month" in own.would_show[0].then
    assert step(result, "measure-own") < step(result, "breakers") or own.hazard < 3


@pytest.mark.parametrize(("watts", "months"), [(300.0, (7,)), (500.0, (12,))])
def test_what_fits_is_of_the_season(watts: float, months: tuple[int, ...]) -> None:
    told = fits(watts, months)
    assert told
    assert not {"heat tape", "engine block heater"} & set(told) or 12 in months
    assert "pool pump" not in told or 12 not in months


@pytest.mark.parametrize(("names", "vague"), [(NAMES, None), (("electric furnace",), True)])
def test_a_list_of_bare_names_never_hides_more_than_no_list(
    tmp_path: Path, names: tuple[str, ...], vague: bool | None
) -> None:
    bills = (SAMPLES / "bills_only" / "bills.csv").read_text()
    (tmp_path / "bills.csv").write_text(bills)
    bare = reconcile.reconcile(reconcile.read_house(tmp_path)).verdict
    (tmp_path / "loads.csv").write_text("load\n" + "".join(f"{name}\n" for name in names))
    result = reconcile.reconcile(reconcile.read_house(tmp_path))
    seen, alone = result.verdict.smallest_visible_meter_error_percent, bare.smallest_visible_meter_error_percent
    assert seen is not None
    assert alone is not None
    assert seen <= alone * 1.001
    # what is left out is told
    told = any("too vague" in notice for notice in result.notices)
    assert told == (seen == pytest.approx(alone, rel=1e-9))
    assert vague is None or told == vague


def test_a_sharp_list_is_used() -> None:
    assert not any("too vague" in notice for notice in answer("cold_winter").notices)


@pytest.mark.parametrize(("part", "by_list"), [(1.0, True), (0.75, False)])
def test_bills_far_from_the_list_are_not_said_to_be_what_its_loads_use(part: float, by_list: bool) -> None:
    house = replace(sample("cold_winter"), tariffs=(), charges=())
    plain = [replace(bill, amount=None, reading_start=None, reading_end=None) for bill in house.bills]
    bills = [replace(bill, kwh=(bill.kwh or 0.0) * part) for bill in plain]
    told = reconcile.reconcile(replace(house, bills=tuple(bills))).verdict.headline
    assert told.startswith("Every bill is what this house ")
    assert ("its loads" in told) == by_list
    below = re.search(r"about 2\d % below what the list of loads alone expects", told)
    assert (below is not None) != by_list


def test_printed_temperatures_are_asked_for_before_hours_are_downloaded() -> None:
    result = answer("bills_only")
    assert step(result, "more-weather") < step(result, "download")
    bills = tuple(replace(bill, mean_temperature_c=10.0 + i) for i, bill in enumerate(sample("bills_only").bills))
    known = reconcile.reconcile(replace(sample("bills_only"), bills=bills))
    assert "more-weather" not in {one.code for one in known.verdict.next_steps}


def test_a_cold_winter_is_called_cold_and_the_dearest_bill_is_explained() -> None:
    result = answer("cold_winter")
    dearest = max(result.house.bills, key=lambda bill: bill.amount or 0)
    assert f"The bill of {result.voice.span(dearest.start, dearest.end)} asks" in result.verdict.headline
    assert "the cold makes" in result.verdict.headline
    told = [block.text for block in short(result, lambda block: 1) if isinstance(block, Text)]
    assert any("that you may leave out" in line for line in told)
    assert not any("more step" in line for line in told)


def test_dearer_kwh_are_named_in_the_answer_and_on_the_telephone() -> None:
    house = replace(sample("bills_only"), tariffs=())
    bills = tuple(
        replace(bill, amount=Decimal(str(round((bill.kwh or 0.0) * (0.13 if i < 8 else 0.20), 2))))
        for i, bill in enumerate(house.bills)
    )
    result = reconcile.reconcile(replace(house, bills=bills))
    assert result.money is not None
    assert "A kWh costs" in result.verdict.headline
    assert any("A kWh costs" in line for line in phone_lines(result))


def test_the_diary_is_told_with_what_it_tells_of() -> None:
    house = with_use(sample("bills_only"), 300.0, 9)
    day = house.bills[9].start
    result = reconcile.reconcile(replace(house, events=(Event(day, "new-load", note="bought a used hot tub"),)))
    assert not result.verdict.headline.startswith("Your diary")
    assert "“bought a used hot tub”" in result.verdict.headline


def test_no_chance_is_told_that_the_bills_could_not_move() -> None:
    house = replace(sample("bills_only"), bills=sample("bills_only").bills[:7])
    result = reconcile.reconcile(house)
    assert result.verdict.smallest_visible_meter_error_percent is None
    hidden = ("Cannot tell", "whether the meter is fast: an error of any ordinary size could hide")
    assert hidden in figures_beside(result)
    assert "These bills cannot tell" in result.verdict.meter_line


def test_no_corrected_bill_is_asked_for_where_nothing_is_found_wrong() -> None:
    house = with_use(sample("bills_only"), 3000.0, 99)
    bills = list(house.bills)
    bills[7] = replace(bills[7], kwh=3.0 * (bills[7].kwh or 0.0), amount=None)
    result = reconcile.reconcile(replace(house, bills=tuple(bills)))
    assert "check-reading" in result.verdict.requests
    assert coming_back(result)[0].startswith("If a reading")


def test_a_bill_apart_is_not_called_accounted_for() -> None:
    result = answer("mistyped_bill")
    none = next(cause for cause in result.causes if cause.code == "none")
    assert "apart from the bill of Jan 4" in none.text
    assert none.text in result.verdict.reasons


def test_chances_over_one_hundred_are_said_to_be_so_and_are_no_sum_in_a_line() -> None:
    words = view(answer("fast_meter"))
    of = [round(100 * cause.probability) for cause in causes_told(answer("fast_meter"))]
    assert any("may act at once" in line and f"(here to {sum(of)} %)" in line for line in words["chances"])
    assert not any(" + " in line for line in words["chances"])


def test_an_unlikely_load_of_a_few_watts_is_no_cause_that_is_told() -> None:
    result = answer("fast_meter")
    cause = replace(result.causes[0], code="constant-load", probability=0.06, size=0.9, unit="W")
    small, larger = (replace(result, causes=(replace(cause, size=watts),)) for watts in (0.9, 90.0))
    assert (len(causes_told(small)), len(causes_told(larger))) == (0, 1)


@pytest.mark.parametrize("name", ["fast_meter", "fast_meter_checked", "new_load_in_may", "cold_winter"])
def test_what_a_decision_is_called_does_not_calm_over_a_rise(name: str) -> None:
    calm = decision_name(answer(name)) == "Nothing out of the ordinary"
    assert calm == (name == "cold_winter")


def test_a_test_is_the_first_thing_asked_where_the_meter_was_found_fast() -> None:
    """But one run alone is first made again, as the judge of the test says."""
    once = answer("fast_meter_checked")
    codes = [step.code for step in once.verdict.next_steps]
    assert codes.index("run-again") < codes.index("meter-test")
    again = once.verdict.next_steps[codes.index("run-again")]
    assert again.hazard is Hazard.PLUG_IN
    assert again.cautions
    test = once.house.field_test
    assert test is not None
    thrice = reconcile.reconcile(replace(once.house, field_test=replace(test, runs=test.runs * 3)))
    assert thrice.verdict.next_steps[0].code == "meter-test"


def test_letter_and_telephone_say_why_the_old_meters_record_is_asked_for() -> None:
    result = answer("fast_meter")
    assert "old-meter-test" in result.verdict.requests
    calm = replace(result, verdict=replace(result.verdict, over=replace(result.verdict.over, bills=0, kwh=0.0)))
    said = since_line(calm)
    assert said.startswith("By these bills the new meter counts about")
    assert "since March 9, 2025" in said
    assert said in letter_text(calm).replace("\n   ", " ")
    # and a letter says it where the bills marked high say it as well: the table alone is no ground for a test
    assert since_line(result) == ""
    assert since_line(result, whole=True) in letter_text(result).replace("\n   ", " ")


def test_what_belongs_to_a_rise_less_likely_than_not_is_marked_and_not_counted() -> None:
    result = reconcile.reconcile(with_use(sample("bills_only"), 450.0, 9))
    parts = {row.part_of for row in result.rows if row.part_of is not None}
    assert len(parts) == 1
    assert result.causes[parts.pop()].probability < 0.5
    assert not any("part of a lasting change" in reason for reason in result.verdict.reasons)


def test_a_line_far_below_what_is_usual_of_its_kind_is_looked_at_first_where_the_list_is_short() -> None:
    house = sample("all_well")
    heater = Load("electric water heater", watts=4500.0, run_hours=0.1, source="guessed", hours_within_percent=20.0)
    others = tuple(load for load in house.loads if "water heater" not in load.name.casefold())
    result = reconcile.reconcile(replace(with_use(house, 0.0, 99, always=650.0), loads=(*others, heater)))
    assert max(result.causes, key=lambda c: c.probability).code == "unlisted"
    assert "electric water heater" in result.verdict.next_steps[step(result, "listed-low")].text
    assert not any("more in all" in what for _, what in figures_beside(result))
    assert any(size.endswith(" W") and "not on the list" in what for size, what in figures_beside(result))


def test_a_portable_heater_is_thought_of_in_the_cold_months_and_its_size_is_one_figure() -> None:
    """A heater of 1.5 kW for some eight hours a day looks in the bills like 500 W day and night."""
    assert "portable heater" in fits(400.0, (11, 12, 1, 2))
    assert "a second portable heater" in fits(400.0, (12,), ("portable heater",))
    assert not any("portable heater" in kind for kind in fits(400.0, (6, 7)))
    result = reconcile.reconcile(with_use(sample("all_well"), 380.0, 8))
    load = next(cause for cause in result.causes if cause.code == "constant-load")
    size, a_day = load.text.split(": ")[1].split(" round")[0], load.text.split("been about ")[1].split(" kWh")[0]
    began, breakers = (result.verdict.next_steps[step(result, code)].text for code in ("began", "breakers"))
    assert f"about {a_day} kWh a day: {size} day and night" in began
    assert f"about {size} or more" in breakers


def test_bills_alone_never_tell_the_hours_of_the_day() -> None:
    house = with_use(sample("all_well"), 380.0, 8)
    bare, hourly = reconcile.reconcile(house), hourly_with(380.0)
    told = next(cause for cause in bare.causes if cause.code == "constant-load").text
    watts = float(told.split(": ")[1].split(" W round")[0])
    assert float(told.split("been about ")[1].split(" kWh")[0]) == pytest.approx(0.024 * watts, rel=0.02)
    assert told.endswith(f"{watts:.0f} W round the clock, or a bigger load or people for some hours.")
    night = next(cause for cause in hourly.causes if cause.code == "constant-load").text
    assert "draws about" in night
    assert "kWh" not in night
    assert hourly.house.hours_known
    assert not house.hours_known


def test_the_two_readings_of_an_exchange_add_up_to_their_news_as_printed() -> None:
    verdict = answer("fast_meter").verdict
    whole, new, old = (int(part.split(" %")[0]) for part in verdict.headline.split("(about ")[2:5])
    assert whole == new + old
    assert f"(about {new} %)" in " ".join(verdict.reasons)
    assert any("old meter registered" in reason for reason in verdict.reasons)
    for chances in ((0.8333, 0.7656, 0.0742), (0.62, 0.71, 0.2), (0.999, 0.644, 0.356), (0.985, 0.92, 0.07)):
        all_, fast = as_parts(*chances)
        assert abs(round(100 * all_) - round(100 * fast) - round(100 * chances[2])) <= (1 if chances[0] > 0.99 else 0)
        assert abs(all_ - chances[0]) < 0.02


def test_the_letter_of_a_proved_meter_names_every_bill_it_counted() -> None:
    result = answer("fast_meter_checked")
    said = letter(result)
    since = [row for row in result.rows if row.start >= date(2025, 3, 9)]
    assert len(since) > result.verdict.over.bills
    assert len(said["bills"]) == len(since) + 1
    assert any(f"The {len(since)} bills of this meter" in point for point in said["points"])
    total, over = said["bills"][-1], sum(float(bill["over"] or 0) for bill in said["bills"][:-1])
    assert float(total["kwh"].replace(",", "")) == sum(float(b["kwh"].replace(",", "")) for b in said["bills"][:-1])
    assert float(total["over"].replace(",", "")) == over == result.verdict.over.kwh


def test_a_meter_that_may_always_have_been_fast_is_dated_nowhere() -> None:
    checked = sample("fast_meter_checked")
    test = checked.field_test
    assert test is not None
    use = [
        round(12.0 * bill.days * (1.0 + 0.06 * (i >= 8)) + 15.0 * (i * 7 % 5)) for i, bill in enumerate(checked.bills)
    ]
    bills = tuple(
        Bill(bill.start, bill.end, kwh=kwh, amount=Decimal(1200 + 15 * kwh) / 100)
        for bill, kwh in zip(checked.bills, use, strict=True)
    )
    result = reconcile.reconcile(
        House("open", bills, meters=checked.meters[1:], field_test=replace(test, runs=test.runs * 3))
    )
    always = next(cause.probability for cause in result.causes if cause.code == "meter-always")
    assert 0.15 < always < 0.95
    calm = replace(result, verdict=replace(result.verdict, over=replace(result.verdict.over, bills=0, kwh=0.0)))
    assert "do not tell since when" in since_line(calm)
    size = next(size for size, what in figures_beside(calm) if "by the meter found fast" in what)
    assert re.fullmatch(r"[0-9,]+ to [0-9,]+ kWh \(.*since when is open\)", size)


def test_a_load_of_the_summer_alone_sends_nobody_to_look_at_the_heating() -> None:
    result = reconcile.reconcile(with_use(sample("all_well"), 380.0, 8))
    load = next(cause for cause in result.causes if cause.code == "constant-load")
    heats = replace(result.house, loads=(*result.house.loads, Load("furnace fan", watts=500.0, follows="heating")))
    summer = replace(load, code="timed-load", since=date(2025, 6, 9), until=date(2025, 9, 23))
    situation = SimpleNamespace(house=heats, leading=summer, weights={State.WEATHER: 0.25})
    assert weather_look(cast(Situation, situation)) == []


@pytest.mark.parametrize(("month", "watts", "looks"), [(12, 2700.0, 1), (12, 150.0, 0), (6, 2700.0, 0)])
def test_a_large_load_that_began_in_the_cold_sends_to_the_thermostat(month: int, watts: float, looks: int) -> None:
    """Backup heat stood as a load round the clock, and sent to the breakers and nobody to look at AUX or EM HEAT."""
    loads = (Load("heat pump", watts=3000.0, follows="heating"),)
    house = replace(sample("all_well"), heating_fuel="electric", loads=loads)
    load = Cause("constant-load", 1.0, date(2024, month, 9), watts, "W")
    situation = SimpleNamespace(house=house, leading=load, weights={}, voice=Voice())
    found = weather_look(cast(Situation, situation))
    assert [step.code for step in found] == ["heating-look"] * looks
    assert all("EM HEAT" in step.text for step in found)


def test_nothing_on_a_page_is_written_between_backticks_and_what_may_be_left_out_is_called_so() -> None:
    for name in ("all_well", "bills_only", "new_load_in_may", "fast_meter_checked"):
        page = page_text(answer(name))
        assert "`" not in page
        if any(one.optional for one in answer(name).verdict.next_steps):
            assert "What you may do besides" in page


def test_nobody_is_asked_to_read_nights_that_the_hourly_data_tell() -> None:
    told = hourly_with(380.0)
    assert "quiet" not in {one.code for one in told.verdict.next_steps}
    bare = reconcile.reconcile(replace(told.house, interval=None))
    assert "quiet" in {one.code for one in bare.verdict.next_steps}


def test_a_quiet_night_sends_to_what_runs_by_day_and_not_to_the_meter() -> None:
    result = reconcile.reconcile(with_use(sample("all_well"), 380.0, 8))
    quiet = result.verdict.next_steps[step(result, "quiet")]
    assert "by day" in quiet.would_show[1].then
    assert "meter" not in quiet.would_show[1].then


def test_hourly_readings_are_never_offered_to_be_sure_of_the_meter_that_counts_them() -> None:
    verdict = answer("all_well").verdict
    sure = next(one for one in verdict.next_steps if one.code == "be-sure")
    assert "hourly" not in sure.text
    assert any("hourly" in one.text for one in verdict.next_steps if one.optional and one is not sure)
    checked = {one.code for one in answer("fast_meter_checked").verdict.next_steps}
    assert not {"be-sure", "see-hours"} & checked


def test_what_is_usual_of_meters_is_not_told_as_what_the_bills_say() -> None:
    """Where a meter a quarter fast could hide, these bills have said nothing of it."""
    result = answer("bills_only")
    seen = result.verdict.smallest_visible_meter_error_percent
    assert seen is not None
    assert seen > 25.0
    assert "These bills cannot tell" in result.verdict.meter_line
    assert "Before looking, meters are rarely wrong" in result.verdict.meter_line
    size, what = figures_beside(result)[-1]
    assert (size, "could hide" in what) == ("Cannot tell", True)


def test_no_hours_are_asked_for_from_before_an_exchange_of_a_meter_with_a_disk() -> None:
    """The change falls on the exchange: a run beside a plug-in meter tells, and hours of the new meter alone do not."""
    steps = answer("fast_meter").verdict.next_steps
    assert not any(one.code == "download" for one in steps)
    run = next(one for one in steps if one.code == "known-load")
    assert all(one.optional for one in steps if "hourly" in one.text and one is not run)


def test_letter_and_telephone_ask_for_the_readings_that_the_step_asks_for() -> None:
    result = answer("mistyped_bill")
    for said in (letter_text(result), " ".join(phone_lines(result))):
        assert "which register readings the bill rests on" in " ".join(said.split())


def test_a_listed_load_that_came_within_the_bills_and_makes_the_rise_is_named() -> None:
    """Every bill is as usual, and the last asks more than the year before: the list says by what."""
    house = sample("all_well")
    came = house.bills[-6].start
    heater = Load("space heater", watts=1500.0, run_hours=12.0, source="measured", arrives=came)
    more = with_use(house, 750.0, len(house.bills) - 6)
    headline = reconcile.reconcile(replace(more, loads=(*house.loads, heater))).verdict.headline
    assert "of it by the space heater on your list from" in headline


def test_with_a_sign_of_danger_nothing_is_computed_about_bills() -> None:
    result = answer("danger_sign")
    assert not result.causes
    assert result.money is None
    assert all(row.usual_kwh is None and row.flag == "not-judged" for row in result.rows)
    assert "meter" not in " ".join(result.verdict.reasons)
    said = " ".join(block.text for block in whole(result) if isinstance(block, Text))
    assert "kWh" not in said
    assert "call the utility's emergency line" in said.casefold()


def test_a_summer_bill_is_never_compared_with_one_of_march() -> None:
    made = answer("new_load_in_may").money
    assert made is not None
    assert made.bridge is not None
    apart = (made.bridge.to_dates[0] - made.bridge.from_dates[0]).days
    assert abs(apart - 365) <= 25


@pytest.mark.parametrize("which", [ONE_PART, MORE_PARTS])
def test_bills_that_may_be_part_of_a_change_are_not_said_to_go_with_those_marked(which: dict[str, str]) -> None:
    said = tell(Voice(), REASONS, "part", {"count": 3, **which})
    assert "same" not in said
    assert "high" not in said


def test_where_use_fell_nobody_is_sent_after_a_load() -> None:
    """A fall of three quarters ended with "if a load is found that should not run, switch it off"."""
    usual = [467, 562, 514, 481, 641, 668, 812, 760, 700, 590, 480, 520, 560, 470, 500, 530]
    first, month = date(2022, 6, 4), timedelta(days=30)
    bills = tuple(
        Bill(first + i * month, first + (i + 1) * month, float(round(kwh * (0.2 if i >= 8 else 1.0))))
        for i, kwh in enumerate(usual)
    )
    answer = reconcile.reconcile(House("less", bills))
    assert answer.verdict.rule == "falls"
    said = " ".join(phone_words(call_of(answer), "", (), ""))
    assert "a load is found" not in said
    assert "ask at home" in said
    assert nothing(call_of(answer)) == nothing("outside-check")


@pytest.mark.parametrize(("high", "told"), [((6,), "Its reading should"), ((6, 9), "Their readings should")])
def test_of_several_bills_the_readings_are_checked(high, told):
    """Bills stood over their range, and "its reading" was to be checked."""
    house = reconcile.read_house(SAMPLES / "all_well")
    bills = tuple(
        replace(b, kwh=b.kwh * (1.5 if k in high else 1.0), amount=None, reading_start=None, reading_end=None)
        for k, b in enumerate(house.bills)
    )
    verdict = reconcile.reconcile(replace(house, tariffs=(), bills=bills)).verdict
    assert verdict.rule == "odd-bill"
    assert told in verdict.headline
