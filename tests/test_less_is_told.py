"""Where less is counted than is usual every mouth says so: none speaks of a rise that is not there."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import cache

import numpy as np
import pytest
from speech import broken
from weigh_houses import house

from reconcile.answer import reconcile
from reconcile.kinds import Flag
from reconcile.report.views.asking_view import coming_back, phone_lines
from reconcile.report.views.first_view import decision_name, figures_beside
from reconcile.report.views.letter_view import letter
from reconcile.report.views.view import view
from reconcile.report.workbooks.answer_workbook import workbook_bytes
from reconcile.result import Reconciliation
from reconcile.say import Voice
from reconcile.texts.decisions import HEADLINES
from reconcile.texts.headline_parts import BELOW_LIST
from reconcile.texts.meter_words import meter_line
from reconcile.texts.page_words import NO_BILL
from reconcile.texts.phone import phone_words


@cache
def fallen(*, exchanged: bool = False) -> Reconciliation:
    """A house whose bills are four fifths of what they were from the thirteenth on, maybe of another meter since."""
    home = house(seed=1, factor=np.where(np.arange(18) < 12, 1.0, 0.8))
    bills = tuple(replace(bill, meter="A1" if i < 12 else "B2") for i, bill in enumerate(home.bills))
    return reconcile(replace(home, bills=bills) if exchanged else home)


def test_the_figures_beside_the_answer_are_of_the_low_bills() -> None:
    result = fallen()
    under = result.verdict.under
    assert under.bills
    assert not result.verdict.over.bills
    beside = figures_beside(result)
    assert NO_BILL not in beside
    assert beside[0] == (f"{abs(under.kwh):,.0f} kWh", "under usual")


def test_the_hours_are_to_show_what_fell() -> None:
    steps = {step.code: step for step in fallen().verdict.next_steps}
    outcomes = " ".join(f"{one.outcome} {one.then}" for one in steps["download"].would_show)
    assert "everything fell in proportion" in outcomes
    assert "may be fast" not in outcomes


def test_nothing_comes_back_because_less_was_billed_and_not_because_more_was_used() -> None:
    result = fallen()
    likeliest = max((c for c in result.causes if c.code != "none"), key=lambda c: c.probability)
    use = replace(likeliest, code="habit-step", probability=0.9)
    told = replace(result, causes=(use,), verdict=replace(result.verdict, rule="explained", next_steps=()))
    assert not any("whatever used it" in line for line in coming_back(told))


def test_a_single_high_bill_is_not_what_a_slow_meter_is_asked_about() -> None:
    result = fallen(exchanged=True)
    rows = (replace(result.rows[0], flag=Flag.OVER, excess_kwh=30.0), *result.rows[1:])
    verdict = replace(result.verdict, over=replace(result.verdict.over, bills=1, kwh=30.0))
    high = replace(result, rows=rows, verdict=verdict)
    assert result.verdict.requests
    assert figures_beside(high)[0][1] == "under usual"
    assert not any("over what this home" in line for line in phone_lines(high))
    assert not any("would be usual here" in point for point in letter(high)["points"])


@pytest.mark.parametrize(("slow", "told"), [(0.07, True), (0.02, False)])
def test_the_question_of_the_meter_names_a_slow_one_where_that_is_the_likelier(slow: float, told: bool) -> None:
    figures = {"fast": 0.001, "slow": slow, "percent": 12.0, "watts": 100.0, "run": ""}
    line = meter_line(figures, Voice())
    assert line.startswith("Is the meter fast? Very unlikely (under 1 %).")
    assert ("That it is slow is unlikely (about 7 %)." in line) is told


@pytest.mark.parametrize(("emptied", "unless"), [(True, ", unless people are at home there as before"), (False, "")])
def test_where_use_fell_the_question_is_of_a_slow_meter_however_unlikely(emptied: bool, unless: str) -> None:
    figures = {
        "fast": 0.001,
        "slow": 0.02,
        "percent": 12.0,
        "watts": 100.0,
        "run": "",
        "fell": True,
        "emptied": emptied,
    }
    said = "Is the meter fast? Very unlikely (under 1 %); that it is slow is very unlikely (about 2 %)"
    assert meter_line(figures, Voice()).startswith(f"{said}{unless}.")


def test_a_home_that_seems_left_shows_the_chance_of_a_slow_meter_beside_the_answer() -> None:
    result = fallen()
    verdict = replace(result.verdict, rule="falls", meter_slow_probability=0.008, meter_fast_probability=0.001)
    assert figures_beside(replace(result, verdict=verdict))[-1] == ("under 1 %", "chance that the meter is slow")


def test_the_workbook_says_of_a_slow_meter_what_the_page_says(tmp_path) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    result = fallen()
    path = tmp_path / "answer.xlsx"
    path.write_bytes(workbook_bytes(result))
    told = [row[1].value for row in openpyxl.load_workbook(path)["answer"].iter_rows(max_col=2)]
    assert {f"{size} {what}" for size, what in view(result)["figures"]} <= set(told)


def test_where_the_phone_waits_the_letter_waits_and_does_not_say_that_nothing_is_to_be_asked() -> None:
    calm = reconcile(house())
    verdict = replace(calm.verdict, rule="explained", decision="explained", cannot_tell=True)
    open_yet = replace(calm, verdict=verdict)
    assert any("Do not call yet" in line for line in phone_lines(open_yet))
    assert "nothing to ask of the billing desk yet" in letter(open_yet)["nothing"]


@pytest.mark.parametrize("bump", [0.45, -0.5])
def test_a_bill_that_only_stands_out_is_not_said_to_be_shown_by_the_records(bump: float) -> None:
    factor = np.ones(18)
    factor[8] += bump
    result = reconcile(house(factor=factor))
    assert result.verdict.decision == "paperwork"
    assert not result.findings
    assert decision_name(result) == "A reading may be off"
    row = result.rows[8]
    assert result.voice.span(row.start, row.end) in phone_lines(result)[0]
    assert not broken(result)


def test_a_call_about_a_meter_that_names_no_bill_says_that_it_is_about_the_meter() -> None:
    assert "about the electric meter at my address" in phone_words("field-test", "", ["Test it."], "", meter=True)[0]
    assert "about my electric bill of May 2" in phone_words("field-test", "", ["Test it."], "May 2", bills=1)[0]


def test_what_it_is_about_is_said_before_what_may_be_behind_it() -> None:
    low = {
        "bills": 2,
        "kwh": 300.0,
        "amount": None,
        "first": date(2024, 3, 1),
        "last": date(2024, 5, 1),
        "in_a_row": True,
    }
    figures = {"over": {"bills": 0, "kwh": 0.0, "amount": None}, "under": low, "rivals": ["a slow meter (about 48 %)"]}
    said = HEADLINES["meter-slow"](Voice(), figures)
    assert said.startswith("2 bills from Mar 1, 2024")
    assert said.index("under what this house") < said.index("what is behind it")


def test_bills_far_below_the_list_are_not_called_nothing_out_of_the_ordinary() -> None:
    calm = reconcile(house())
    verdict = replace(calm.verdict, rule="explained", headline=f"{BELOW_LIST} 36 % below what the list accounts for.")
    assert decision_name(replace(calm, verdict=verdict)) == "All bills lie below the list"


def test_the_call_names_the_bills_that_the_letter_names() -> None:
    factor = np.ones(18)
    factor[8:10] += (0.4, -0.4)
    result = reconcile(house(factor=factor))
    assert result.verdict.rule == "moved"
    named = letter(result)["named"]
    assert len(named) == 2
    span = result.voice.span(result.rows[named[0]].start, result.rows[named[-1]].end)
    assert f"my electric bills of {span}" in phone_lines(result)[0]
