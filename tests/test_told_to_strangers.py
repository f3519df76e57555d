"""What strangers met in the answers to their own houses, each as the smallest house that shows it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

import reconcile
from reconcile.facts import Finding
from reconcile.house import House, Load
from reconcile.kinds import Decision, Flag
from reconcile.paper.examine import examine
from reconcile.report.asking_view import coming_back, phone_lines
from reconcile.report.by_row import cause_chances, where_kwh_go
from reconcile.report.first_view import causes_told, decision_name, first_step, sentences
from reconcile.report.letter import letter_text
from reconcile.report.money_view import money_view
from reconcile.report.view import view
from reconcile.result import Step
from reconcile.say import Voice
from reconcile.sums import side, summed
from reconcile.texts import tell
from reconcile.texts.decisions import headline
from reconcile.texts.findings import finding_do, finding_text
from reconcile.texts.phone import phone_words
from reconcile.texts.requests import HOUSEHOLD
from reconcile.texts.step_words import request
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
