from __future__ import annotations

import re
import sys
import unicodedata
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from reconcile.answer import reconcile
from reconcile.read import read_house
from reconcile.report.screens.terminal import terminal_text
from reconcile.result import Reconciliation
from reconcile.texts.page_words import SIGNS_LINE

Make = Callable[..., Reconciliation]
BILLS = Path(__file__).parents[2] / "sample_bills"


@cache
def answer(sample: str) -> Reconciliation:
    return reconcile(read_house(BILLS / sample))


def columns(line: str) -> int:
    return sum(2 if unicodedata.east_asian_width(letter) in "WF" else 1 for letter in line)


@pytest.mark.parametrize("width", [40, 60, 80, 100])
@pytest.mark.parametrize(("periods", "loads"), [(1, 0), (3, 3), (12, 8), (60, 30)])
def test_it_fits_its_width(make: Make, periods: int, loads: int, width: int) -> None:
    text = terminal_text(make(periods, loads), width)
    assert max(columns(line) for line in text.splitlines()) <= width


def test_wide_letters_fit_too(make: Make) -> None:
    result = make(12, 2)
    loud = replace(result, house=replace(result.house, name="冷蔵庫" * 40), notices=("冷蔵庫" * 90,))
    assert max(columns(line) for line in terminal_text(loud).splitlines()) <= 100


def said(text: str) -> str:
    """Words of a screen, without color, frames and line ends."""
    return " ".join(re.sub(r"\x1b\[[\d;]*m|[\u2500-\u257f]", " ", text).split())


@pytest.mark.parametrize("width", [40, 80, 100])
@pytest.mark.parametrize("full", [True, False])
def test_colour_carries_nothing(make: Make, width: int, full: bool) -> None:
    plain, styled = (terminal_text(make(), width, colour, full=full) for colour in (False, True))
    assert "\x1b" not in plain
    assert "\x1b[" in styled
    assert said(styled) == said(plain)
    bare = re.sub(r"\x1b\[[\d;]*m", "", styled)
    assert max(columns(line) for line in bare.splitlines()) <= width


def test_a_terminal_without_rich_gets_the_same_words(make: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "rich", None)
    monkeypatch.delitem(sys.modules, "reconcile.report.screens.styled", raising=False)
    for name in [name for name in sys.modules if name.startswith("rich.")]:
        monkeypatch.setitem(sys.modules, name, None)
    plain, bold = terminal_text(make()), terminal_text(make(), colour=True)
    assert bold.replace("\x1b[1m", "").replace("\x1b[0m", "") == plain
    assert bold != plain


def test_the_answer_comes_first_then_what_to_do_and_say_then_why(make: Make) -> None:
    text = terminal_text(make())
    places = [
        text.index(words)
        for words in ("about 18 % over", "What to do next", "What to say", "Why:", "Each bill", "What was assumed")
    ]
    assert places == sorted(places)


def test_cautions_stand_before_their_step(make: Make) -> None:
    text = " ".join(terminal_text(make()).split())
    for step in make().verdict.next_steps:
        for caution in step.cautions:
            assert text.index(caution) < text.index(step.text)


def test_danger_is_the_first_thing_printed(make: Make) -> None:
    result = make()
    verdict = replace(result.verdict, decision="urgent", headline="Touch nothing and call now.")
    lines = terminal_text(replace(result, verdict=verdict)).splitlines()
    assert set(lines[0]) == {"*"}
    assert "Touch nothing and call now." in lines[1]


def test_every_period_has_its_mark(make: Make) -> None:
    result = make()
    text = terminal_text(result)
    assert text.count("▲ high") == sum(row.flag == "over" for row in result.rows)
    assert text.count("○ not judged") == 1


def test_no_text_steers_the_terminal(hostile_answer: Reconciliation) -> None:
    result = replace(hostile_answer, notices=("a\x1b[31mred\u202eback\x07",))
    text = terminal_text(result)
    assert "red" in text
    assert not [letter for letter in text if unicodedata.category(letter) in ("Cc", "Cf") and letter != "\n"]


def test_one_screen_says_the_answer_the_first_step_and_where_the_rest_is(make: Make) -> None:
    text = terminal_text(make(), full=False)
    for words in (
        "about 18 % over",
        "What to do first",
        "What to say",
        "Is the meter fast?",
        "--full",
        SIGNS_LINE[:30],
    ):
        assert words in text
    assert "Each bill (" not in text


WRITTEN = 2
"""Lines that name the files, after the answer."""


@pytest.mark.parametrize("colour", [False, True])
@pytest.mark.parametrize("sample", sorted(path.parent.name for path in BILLS.glob("*/bills.csv")))
def test_the_answer_and_its_files_fill_no_more_than_a_screen(sample: str, colour: bool) -> None:
    result = answer(sample)
    text = terminal_text(result, 80, colour, full=False)
    assert len(text.splitlines()) + WRITTEN + 1 <= 24 or result.verdict.decision == "urgent", text
    for words in (result.verdict.headline, *(step.text for step in result.verdict.next_steps[:1] if not step.optional)):
        assert " ".join(words.split()) in said(text)


def test_the_answer_stands_once_more_where_a_long_one_ends(make: Make) -> None:
    text = said(terminal_text(make()))
    assert text.endswith(" ".join(make().verdict.headline.split()))
    assert text.count(" ".join(make().verdict.headline.split())) == 2


def test_what_needs_the_main_on_does_not_stand_under_main_off() -> None:
    result = answer("new_load_in_may")
    assert "breakers" in {step.code for step in result.verdict.next_steps}
    text = said(terminal_text(result))
    assert "Breaker by breaker, the main on, every cover on:" in text
    assert "Main breaker off" not in text.partition("Find the circuit")[0]
