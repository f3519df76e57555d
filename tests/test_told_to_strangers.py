"""What strangers met in the answers to their own houses, each as the smallest house that shows it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

import reconcile
from reconcile.answer import _site as site_of
from reconcile.decide.rules import Case, Site, decide, no_chances
from reconcile.decide.timer import Timer
from reconcile.facts import Facts, Finding
from reconcile.grounds.data_run import DataRun
from reconcile.grounds.stages import Certain
from reconcile.house import House, Load
from reconcile.interval.known_load import KnownLoad
from reconcile.kinds import Decision, Flag
from reconcile.loads.handbook import on_a_timer
from reconcile.paper.examine import examine
from reconcile.plan.next_steps import next_steps
from reconcile.plan.situation import Situation
from reconcile.plan.suspects import suspects
from reconcile.report.drawn.by_row import cause_chances, where_kwh_go
from reconcile.report.pages.letter import letter_text
from reconcile.report.views.asking_view import coming_back, phone_lines
from reconcile.report.views.first_view import causes_told, decision_name, first_step, sentences
from reconcile.report.views.money_view import money_view
from reconcile.report.views.view import view
from reconcile.result import Cause, Step
from reconcile.say import Voice
from reconcile.texts import tell
from reconcile.texts.cause_words import cause_text
from reconcile.texts.decisions import headline
from reconcile.texts.findings import finding_do, finding_text
from reconcile.texts.look_words import began
from reconcile.texts.meter_words import meter_line
from reconcile.texts.phone import phone_words
from reconcile.texts.requests import HOUSEHOLD, request
from reconcile.texts.step_words import CHECKS
from reconcile.verdict.carried import accounted
from reconcile.verdict.reasons import leading_of
from reconcile.verdict.sums import side, summed
from reconcile.weigh.measure import effort_of

SAMPLES = Path(__file__).parents[1] / "sample_bills"


def house(name: str) -> House:
    return reconcile.read_house(SAMPLES / name)


def test_a_meter_that_only_its_number_on_the_bills_tells_of_has_no_day_of_its_own() -> None:
    given = house("fast_meter")
    bills = tuple(replace(b, meter="A1" if b.start < date(2025, 3, 9) else "B2") for b in given.bills)
    bare = replace(given, bills=bills, meters=(), readings=(), events=())
    bare = replace(bare, meters=house("all_well").meters)
    found = next(f for f in examine(bare).findings if f.code == "meter-exchange")
    said = finding_text(found, Voice())
    assert "is the first from meter B2 (A1 before)" in said
    assert "was exchanged on" not in said
    dated = next(f for f in examine(given).findings if f.code == "meter-exchange")
    assert "was exchanged on March 9, 2025" in finding_text(dated, Voice())


def test_two_estimates_before_a_catch_up_are_two() -> None:
    figures = {"bill": (date(2025, 3, 1), date(2025, 4, 1)), "kwh": 1973.0, "days": 90, "per_day": 21.9, "estimates": 2}
    assert "and the 2 estimates before it" in tell(Voice(), HOUSEHOLD, "judge-together", figures)
    assert "and the estimate before it" in tell(Voice(), HOUSEHOLD, "judge-together", {**figures, "estimates": 1})
    found = Finding("catch-up", (3,), 470.0, figures=figures, household=("judge-together",))
    assert finding_do(found, Voice()).startswith("Add the bill of Mar 1 – Apr 1, 2025")


def test_a_sentence_does_not_end_at_an_abbreviation() -> None:
    text = HOUSEHOLD["estimates-in-a-row"]
    assert isinstance(text, str)
    told = first_step((Step(text, 0, code="estimates-in-a-row", minutes=5),))  # type: ignore[arg-type]
    assert told is not None
    assert told["text"] == text
    assert sentences("It reads 12 kWh. Look again (below). Then call.") == [
        "It reads 12 kWh.",
        "Look again (below).",
        "Then call.",
    ]


@pytest.mark.parametrize(("marked", "word"), [((3, 4, 5), "from"), ((3, 5, 8), "between")])
def test_bills_that_stand_apart_are_no_stretch(marked: tuple[int, ...], word: str) -> None:
    rows = tuple(
        replace(row, flag=Flag.OVER if i in marked else Flag.WITHIN, excess_kwh=100.0)
        for i, row in enumerate(reconcile.reconcile(house("bills_only")).rows)
    )
    over = summed(rows, Flag.OVER)
    figures = {"over": side(rows, Flag.OVER, over), "under": side(rows, Flag.UNDER, summed(rows, Flag.UNDER))}
    said = headline("lasting", {**figures, "exchange": None, "leading": "It began.", "named": None}, Voice())
    assert said.startswith(f"3 bills {word} ")


def test_use_moved_between_two_bills_is_no_energy_at_issue() -> None:
    result = reconcile.reconcile(house("fast_meter"))
    assert result.money is not None
    stake = result.money.stakes[0]
    moved = replace(result, money=replace(result.money, stakes=(replace(stake, kwh=-5.7e-14), stake)))
    told = money_view(moved)
    assert told is not None
    assert len(told["disputed"]) == 1


def test_no_plug_in_meter_is_asked_for_what_is_wired_in() -> None:
    assert "plug-in" not in effort_of(Load("pool pump", watts=1500.0, run_hours=8.0))
    assert "plug-in" in effort_of(Load("lamp", watts=1500.0, run_hours=8.0))
    assert "plug-in" not in effort_of(Load("central AC", watts=1170.0, follows="cooling"))


def test_whether_to_call_stands_in_one_short_sentence() -> None:
    (line,) = phone_words(Decision.OUTSIDE_CHECK, "", (), "")
    assert sentences(line)[0].startswith("Do not call yet")
    assert len(sentences(line)[0]) < 90


def dearer(name: str, part: float, last: int) -> House:
    """The house with every kWh dearer by a part in its last bills."""
    given = house(name)

    def price(i: int) -> float:
        return 0.13 * (1.0 + part) if i >= len(given.bills) - last else 0.13

    bills = tuple(
        replace(
            bill,
            amount=Decimal("9.50") + Decimal(str(round(price(i) * (bill.kwh or 0.0), 2))),
        )
        for i, bill in enumerate(given.bills)
    )
    return replace(given, bills=bills, tariffs=())


@pytest.mark.parametrize("estimated", [False, True])
def test_a_price_that_rose_is_told_first_and_asked_about_in_step_phone_and_letter_alike(estimated: bool) -> None:
    """An estimate of a year ago, which the next bill put right, does not stand in its place."""
    result = reconcile.reconcile(dearer("estimated_read" if estimated else "all_well", 0.3, 5))
    said, first = result.verdict.headline, result.verdict.next_steps[0]
    assert "A kWh costs 30 % more since" in said
    assert first.asks == first.code == "which-rate"
    asked = request("which-rate").letter
    assert any(asked[1:] in line for line in phone_lines(result))
    assert " ".join(asked.split()) in " ".join(letter_text(result).split())
    assert "a kWh costs about" in letter_text(result)
    assert "There is nothing to ask" not in said
    assert (said.index("A kWh costs") < said.index("estimated reading")) if estimated else True
    assert decision_name(result) != "Nothing out of the ordinary"
    assert "paid back" not in " ".join(coming_back(result))


def test_a_price_that_stood_is_asked_about_nowhere() -> None:
    result = reconcile.reconcile(dearer("all_well", 0.0, 5))
    assert "which-rate" not in result.verdict.requests
    assert "A kWh costs" not in result.verdict.headline


def test_what_one_page_says_twice_it_says_alike() -> None:
    """The picture's figures are the table's; causes of the picture, the list and the sum are the same."""
    result = reconcile.reconcile(house("fast_meter_checked"))
    words = view(result)
    table = {row["load"]: row["with_bills"].split(" (")[0] for row in words["loads"]}
    told = str(where_kwh_go(result).get_label()).split(": ")[1].removesuffix(".").split("; ")
    for load, kwh in (one.removesuffix(" kWh").rsplit(" ", 1) for one in told):
        assert table[load] == kwh
    chances = str(cause_chances(result).get_label())
    assert len(words["causes"]) == len(causes_told(result)) == chances.count("; ") + 1
    bare = view(reconcile.reconcile(house("bills_only")))
    assert not bare["listed"]
    assert not any("list of loads" in cause["text"] for cause in bare["causes"])


def test_a_listed_load_in_the_data_is_no_run_with_a_plug_in_meter() -> None:
    figures = {
        "run_percent": 119.5, "run_expanded": 3.7, "run_by": {"load": "Water heater", "listed": 4500.0, "seen": 5400.0},
        "over": {"bills": 0}, "under": {"bills": 0},
    }  # fmt: skip
    said = headline("run-outside", figures, Voice())
    assert "your Water heater, listed with 4,500 W, is seen to switch 5,400 W" in said
    assert "showed it" not in said
    assert "showed it" in headline("run-outside", {**figures, "run_by": None}, Voice())
    line = {"fast": 0.99, "percent": 9.0, "watts": 200.0, "run": "fast", "danger": False}
    assert "you listed for Water heater" in meter_line({**line, "by_load": "Water heater"}, Voice())
    assert "beside a plug-in meter showed" in meter_line({**line, "by_load": ""}, Voice())
    load = KnownLoad("Water heater", 4500.0, 5400.0, 1.2, 0.01, 0, 100)
    site, readings = site_of(
        Certain(House("Listed", ()), Facts(np.zeros(0)), None, None, ()), DataRun(119.5, 3.7, "outside", load)
    )
    assert site.by_list
    assert readings.load == figures["run_by"]


def test_a_load_that_runs_by_the_clock_is_told_with_its_hours_in_cause_and_steps() -> None:
    timer = Timer(1150.0, "9:00", "17:00", 8.0)
    figures = {
        "size": "410 W", "since": date(2025, 4, 19), "until": None, "fell": False, "hours": True, "a_day": 9.8,
        "timer": timer, "cause": "timed-load", "fits": ("pool pump",), "own": (), "heater": False,
    }  # fmt: skip
    for code in ("timed-load", "constant-load"):
        assert "about 1,200 W from 9:00 to 17:00 every day" in cause_text(code, 0.99, figures, Voice())
    begun, breakers = (CHECKS[code].do for code in ("began", "breakers"))
    assert not isinstance(begun, str)
    assert not isinstance(breakers, str)
    assert "look for a timer" in begun(Voice(), figures)
    assert "What fits: pool pump." in begun(Voice(), figures)
    assert breakers(Voice(), figures).startswith("Do it between 9:00 and 17:00.")


def test_a_load_of_one_month_of_the_year_is_told_by_its_times() -> None:
    rests = ((date(2024, 1, 1), date(2024, 12, 1)), (date(2024, 12, 31), date(2025, 12, 1)))
    timer = Timer(550.0, "17:00", "23:00", 6.0, rests=rests, day=date(2023, 12, 1))
    figures = {
        "size": "140 W", "since": date(2023, 12, 1), "until": None, "fell": False, "hours": True, "a_day": 3.3,
        "timer": timer, "cause": "timed-load", "fits": on_a_timer(550.0, (12,)), "own": (), "heater": False,
    }  # fmt: skip
    told = cause_text("timed-load", 0.99, figures, Voice())
    assert "every day, but only from December 1, 2023 to January 1, 2024," in told
    assert told.endswith("and since December 1, 2025 (about 140 W on average while it does).")
    over = cause_text("timed-load", 0.99, figures | {"until": date(2025, 12, 31)}, Voice())
    assert "and from December 1, 2025 to December 31, 2025 (about" in over
    asked = began(Voice(), figures)
    assert asked.startswith("Ask at home what runs then")
    assert "holiday lights" in asked
    assert not any("people" in then for _, then in CHECKS["runs-then"].outcomes)
    mostly = replace(timer, rests=rests[:1], day=date(2022, 12, 1))
    assert ", since December 1, 2023 (about 140 W on average)" in cause_text(
        "timed-load", 0.99, figures | {"timer": mostly}, Voice()
    )


def bare_figures(**more: object) -> dict[str, object]:
    rows = reconcile.reconcile(house("bills_only")).rows
    low = tuple(
        replace(row, flag=Flag.UNDER if i < 3 else Flag.WITHIN, excess_kwh=-100.0) for i, row in enumerate(rows)
    )
    figures = {
        "over": side(low, Flag.OVER, summed(low, Flag.OVER)),
        "under": side(low, Flag.UNDER, summed(low, Flag.UNDER)),
    }
    return {**figures, "exchange": None, "leading": "", "cannot_tell": False, "own_power": "", **more}


def test_several_low_bills_are_spoken_of_as_several_and_by_what_is_known_of_them() -> None:
    nothing = headline("odd-bill", bare_figures(), Voice())
    assert "their readings should be checked" in nothing
    named = headline("odd-bill", bare_figures(leading="More likely than not (about 63 %), less is used."), Voice())
    assert "cannot tell" not in named
    assert "(about 63 %)" in named
    away = headline("explained", bare_figures(clear=False, told=None, away="away"), Voice())
    assert "Your diary says that nobody was at home" in away
    open_yet = {"clear": False, "told": None, "over_since": False, "leading": ""}
    borne_out = headline("explained", bare_figures(**open_yet, tied=True), Voice())
    assert "no reading is off" in borne_out
    assert "may put it right" not in borne_out
    assert "may put it right" in headline("explained", bare_figures(**open_yet), Voice())


def test_a_slow_meter_is_named_where_it_is_not_the_likeliest() -> None:
    slow = {"chance": 0.2, "size": "30 %"}
    said = headline("falls", bare_figures(leading="A load is gone.", slow=slow), Voice())
    assert said.index("the meter registers about 30 % less") < said.index("what it did not count may be billed later")


def test_a_meter_that_may_well_be_fast_is_no_all_clear() -> None:
    odds = no_chances(none=0.6, fast=0.34)
    case = Case(False, 15, True, odds, Site(), False, False, False, 0, 0, 0, False, False)
    assert decide(case).name == "meter-maybe"
    assert decide(replace(case, odds=no_chances(none=0.9, fast=0.05))).name == "explained"


def test_the_sum_of_several_bills_is_not_told_with_a_cause_of_one() -> None:
    result = reconcile.reconcile(house("new_load_in_may"))
    one = replace(result.causes[0], code="single-period", probability=0.999)
    many = replace(result.causes[0], probability=0.57)
    assert leading_of((one, many), 0.5, 12) is many
    assert leading_of((one, many), 0.5, 1) is one
    assert leading_of((one, replace(many, probability=0.2)), 0.5, 12) is one


def test_use_that_moved_among_all_bills_that_stand_out_is_told_before_what_was_there_all_along() -> None:
    found = reconcile.reconcile(house("new_load_in_may")).causes[0]
    moved = replace(found, code="swap", probability=0.99, pattern_kwh=(0.0, -300.0, -300.0, 600.0))
    always = replace(found, code="unlisted", probability=0.7, since=None, until=None)
    assert leading_of((always, moved), 0.5, 3) is moved
    assert leading_of((always, moved), 0.5, 4) is always


def test_what_is_told_carries_what_the_bills_are_over_or_it_is_said_how_little() -> None:
    result = reconcile.reconcile(house("new_load_in_may"))
    rows = tuple(
        replace(row, flag=Flag.OVER if i == 3 else Flag.WITHIN, excess_kwh=1000.0 * (i == 3))
        for i, row in enumerate(result.rows)
    )
    large, small = (
        replace(result.causes[0], code=code, pattern_kwh=tuple(kwh * (i == 3) for i in range(len(rows))))
        for code, kwh in (("heating-rise", 700.0), ("constant-load", 90.0))
    )
    assert accounted(small, (small, large), (), rows)["told"] == [large, small]
    assert accounted(large, (small, large), (), rows)["told"] == [large]
    alone = accounted(small, (small,), (), rows)
    assert (alone["told"], alone["makes"], alone["made_good"]) == ([small], 90.0, None)
    late = Finding("catch-up", (3,), 880.0, settles=True)
    assert accounted(small, (small, large), (late,), rows)["told"] == [small]
    figures = bare_figures(leading="A new load.", why={**alone, "told": 1, "bills": 1, "made_good": 880.0})
    figures["over"] = {"bills": 1, "kwh": 1000.0, "amount": None, "span": (rows[3].start, rows[3].end)}
    said = headline("lasting", figures, Voice())
    assert "About 880 kWh of it put right estimates before it" in said
    assert "That makes about 90 kWh of what it is over." in said


def test_the_inverter_is_looked_at_before_the_meters_number() -> None:
    result = reconcile.reconcile(house("bills_only"))
    case = Case(
        False, 15, True, no_chances(none=0.0, generation=0.99), Site(), False, False, False, 0, 1, 0, False, False
    )
    situation = Situation(result.house, result.voice, decide(case), case)
    codes = [step.code for step in next_steps(situation)]
    assert codes[0] == "inverter"
    assert "compare" not in codes  # the meter is not in question


@pytest.mark.parametrize(
    ("months", "named"),
    [
        (frozenset(range(4, 11)), "pool pump"),
        (frozenset(), ""),  # it runs all the year: nothing was left on
        (frozenset({10, 11, 12, 1, 2, 3, 4}), ""),
    ],
)
def test_a_load_listed_for_other_months_that_takes_as_much_is_asked_about_as_left_on(
    months: frozenset[int], named: str
) -> None:
    house = reconcile.read_house(SAMPLES / "all_well")
    pump = Load("pool pump", watts=1100.0, run_hours=8.0, months=months or None)
    bills = house.bills
    cause = Cause(
        "timed-load", 0.99, date(2024, 11, 5), 352.0, "W", "", until=date(2025, 4, 3),
        pattern_kwh=tuple(100.0 if b.start >= date(2024, 11, 1) else 0.0 for b in bills),
    )  # fmt: skip
    found = suspects(replace(house, loads=(pump,)), np.zeros((len(bills), 2)), cause)
    assert found.left_on == named


def test_what_was_left_on_is_named_in_the_question() -> None:
    figures = {
        "size": "350 W", "cause": "timed-load", "since": date(2024, 11, 5), "a_day": 8.4, "hours": True, "fits": (),
        "own": (), "left_on": "pool pump", "heater": False, "warm_or_cold": "",
    }  # fmt: skip
    said = began(Voice("en_US", "USD"), figures)
    assert "Your pool pump would use as much if it was left on out of its listed months: was it?" in said
