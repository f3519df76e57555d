from __future__ import annotations

import unicodedata
from collections.abc import Callable
from dataclasses import replace

import pytest

from reconcile.report.terminal import terminal_text
from reconcile.result import Reconciliation

Make = Callable[..., Reconciliation]


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


def test_colour_carries_nothing(make: Make) -> None:
    plain, bold = terminal_text(make()), terminal_text(make(), colour=True)
    assert "\x1b" not in plain
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


def test_one_screen_says_the_answer_the_first_steps_and_where_the_rest_is(make: Make) -> None:
    text = terminal_text(make(), full=False)
    assert len(text.splitlines()) < 45
    for words in ("about 18 % over", "What to do next", "What to say", "Is the meter fast?", "--full"):
        assert words in text
    assert "Each bill (" not in text
