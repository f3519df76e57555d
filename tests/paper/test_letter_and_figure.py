"""The letter holds facts, figures, requests and placeholders, and nothing else; the bridge is drawn as it is told."""

from __future__ import annotations

import io
import re
import sys
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from zipfile import ZipFile

import numpy as np
import pytest

from reconcile.answer import reconcile
from reconcile.cli import REFUND_RULES
from reconcile.errors import OutputError
from reconcile.house import Bill, House, Load, Meter
from reconcile.kinds import Decision, Flag, Hazard
from reconcile.money import account
from reconcile.money.refund import rules
from reconcile.paper import examine
from reconcile.read import read_house
from reconcile.report.drawn.bridge_figure import bridge_figure
from reconcile.report.drawn.over_time import bills_against_bands
from reconcile.report.pages.letter import columns, letter_html, letter_text
from reconcile.report.pages.letter_files import letter_docx, refund_note
from reconcile.report.views.letter_view import letter
from reconcile.report.views.view import view as report_view
from reconcile.result import Period, Reconciliation, Step, Verdict
from reconcile.say import Voice
from reconcile.texts.letter_words import NOTHING_AT_ALL
from reconcile.texts.money import bridge_sentence
from reconcile.texts.requests import METER_REQUESTS, REQUESTS
from reconcile.verdict.sums import summed

D = Decimal
SAMPLES = Path(__file__).parents[2] / "sample_bills"


def house_of(**changes):
    bills = []
    for k, kwh in enumerate((900, 880, 910, 1290, 905, 890)):
        start = date(2024, 1, 1) + timedelta(30 * k)
        bills.append(
            Bill(start, start + timedelta(30), kwh=float(kwh), amount=D(kwh) / 8, meter="77 <1204>", **changes)
        )
    return House("Hill Farm", tuple(bills), loads=(Load("a", watts=100.0),), meters=(Meter(),))


def result_of(house, decision=Decision.EXPLAINED, over=(), asks=()):
    facts = examine(house)
    rows = tuple(
        Period(
            b.start,
            b.end,
            b.days,
            float(kwh),
            Flag.OVER if i in over else Flag.WITHIN,
            None,
            900.0,
            800.0,
            1000.0,
            890.0,
            812.0,
            968.0,
            float(kwh) - 890,
            None,
        )
        for i, (b, kwh) in enumerate(zip(house.bills, facts.billed_kwh, strict=True))
    )
    steps = tuple(Step("Ask.", Hazard.PAPER, asks=key) for key in asks)
    verdict = Verdict(
        decision=decision,
        rule="",
        headline="",
        reasons=(),
        next_steps=steps,
        meter_line="",
        field_test_warranted=decision is Decision.FIELD_TEST,
        cannot_tell=False,
        meter_fast_probability=None,
        meter_slow_probability=None,
        over=summed(rows, Flag.OVER),
        smallest_visible_meter_error_percent=None,
    )
    return Reconciliation(house, rows, facts.findings, (), verdict, (), account(house, facts), None, None)


def estimated():
    house = house_of()
    bills = list(house.bills)
    bills[2] = replace(bills[2], read_type="estimated", reading_start=10_000.0, reading_end=10_910.0)
    return replace(house, bills=tuple(bills))


def test_the_letter_holds_the_facts_the_periods_the_readings_and_the_request():
    text = letter_text(result_of(estimated(), asks=("actual-reading",)))
    for wanted in (
        "[Your name]",
        "[Account number]",
        "[Service address]",
        "meter 77 <1204>",
        "closes with an estimated reading",
        "10910",
        "Take an actual reading of the meter.",
        "$113.75",
    ):
        assert wanted in text
    assert max(len(line) for line in text.split("\n")) <= 80


def test_a_test_is_asked_for_with_the_right_to_be_present():
    text = letter_text(result_of(house_of(), Decision.FIELD_TEST, over=(3,), asks=("meter-test",)))
    assert "be present" in text
    assert "light and at full load" in re.sub(r"\s+", " ", text)
    assert "charges 1,290 kWh" in text
    assert "810 to 970 kWh" in re.sub(r"\s+", " ", text)


def test_the_readings_on_site_stand_in_the_letter_with_what_is_enclosed(checked):
    text = " ".join(letter_text(checked).split())
    for words in (
        "flashes 100", "seconds 173.9", "plug-in W 1463", "house W before 256", "a flash is 1 Wh",
        "on [date] by [name]",
        "Enclosed: the record of the test", "found that meter Q-77150 registers",
        "the test record of the meter that was removed",
    ):  # fmt: skip
        assert words in text, words
    assert "Enclosed" in letter_html(checked)


def test_nothing_to_ask_is_said():
    assert letter_text(result_of(house_of())) == NOTHING_AT_ALL + "\n"
    assert NOTHING_AT_ALL in letter_html(result_of(house_of()))


def test_html_says_the_same_and_escapes():
    house = estimated()
    page = letter_html(result_of(house, asks=("actual-reading",)))
    assert "77 &lt;1204&gt;" in page
    assert "<1204>" not in page
    shown = re.sub(r"\s+", " ", re.sub(r"<style>.*?</style>|<[^>]+>", " ", page, flags=re.S)).replace("\xa0", " ")
    for wanted in ("Take an actual reading of the meter.", "closes with an estimated reading", "10910", "estimated"):
        assert wanted in shown


@pytest.mark.parametrize("word", ["error", "wrong", "fault", "mistake", "overcharge", "cheat", "illegal", "demand"])
def test_requests_accuse_nobody(word):
    every = {**REQUESTS, **METER_REQUESTS}
    assert word not in " ".join(request.letter for request in every.values()).casefold()
    asks = tuple(key for key, request in every.items() if "{" not in request.letter)
    result = result_of(house_of(), Decision.FIELD_TEST, over=(3,), asks=asks)
    assert word not in letter_text(result).casefold()


def test_the_bridge_is_drawn_as_it_is_told():
    house = house_of()
    result = result_of(house)
    bridge = result.money.bridge
    ax = bridge_figure(result)
    assert bridge_sentence(bridge, Voice()) in ax.get_label()
    shown = " ".join(t.get_text() for t in ax.texts)
    assert "Use" in shown
    widths = [p.get_width() for p in ax.patches]
    np.testing.assert_allclose(widths[0] + sum(widths[2:]), widths[1], rtol=1e-9, atol=1e-9)
    bare = replace(result, money=None)
    assert "no two bills" in bridge_figure(bare).get_label()


@pytest.fixture(scope="module")
def checked():
    return reconcile(read_house(SAMPLES / "fast_meter_checked"))


def test_the_letter_works_out_the_refund_by_the_rule_chosen_and_by_no_other(checked):
    owed = {one.rule.code: one for one in checked.money.refunds}
    assert set(owed) == set(REFUND_RULES) == set(rules())
    for code, one in owed.items():
        said = " ".join(letter_text(checked, code).split())
        assert f"By the rule of {one.rule.place}" in said
        assert f"{one.kwh:,.0f} kWh, ${one.amount:,.2f}, of" in said
        assert "123.1 % of what is used (give or take 2.7)" in said
    assert "By the rule" not in letter_text(checked)
    assert letter(checked)["requests"] == letter(checked, "PA")["requests"]


def test_no_refund_is_told_where_the_customer_would_owe_or_no_test_was_made(checked):
    slow = replace(checked.money, refunds=tuple(replace(one, kwh=-one.kwh) for one in checked.money.refunds))
    assert "By the rule" not in letter_text(replace(checked, money=slow), "PA")
    assert "would be owed by the customer" in refund_note(replace(checked, money=slow), "PA")
    untested = reconcile(read_house(SAMPLES / "fast_meter"))
    assert letter_text(untested, "PA") == letter_text(untested)
    assert "No refund is worked out" in refund_note(untested, "PA")


def test_a_rule_from_memory_is_said_to_be_so(checked):
    assert "from memory" in refund_note(checked, "CA")
    assert "Read its own text" in refund_note(checked, "CA")


@pytest.mark.parametrize("name", ["fast_meter_checked", "mistyped_bill", "danger_sign", "all_well"])
def test_the_document_says_what_the_text_says_and_is_the_same_each_time(name):
    from docx import Document

    result = reconcile(read_house(SAMPLES / name))
    data = letter_docx(result, "PA")
    assert {part.date_time for part in ZipFile(io.BytesIO(data)).infolist()} == {(2000, 1, 1, 0, 0, 0)}
    assert data == letter_docx(result, "PA")
    document = Document(io.BytesIO(data))
    said = " ".join(p.text for p in document.paragraphs)
    for part in letter_text(result, "PA").split("\n\n"):
        if not part.startswith("Bill  "):
            bare = re.sub(r"^[\d-]+\.? |(?<=\s)- ", "", " ".join(part.split()))
            assert bare in " ".join(said.split()), bare
    if letter(result)["bills"]:
        rows = [[cell.text for cell in row.cells] for row in document.tables[0].rows]
        keys = columns(letter(result))
        assert rows[1:] == [[bill[key] for key in keys] for bill in letter(result)["bills"]]


@pytest.mark.recalculates
def test_the_document_is_one_page(tmp_path, office):
    from pypdf import PdfReader

    letters = [tmp_path / f"{name}.docx" for name in ("fast_meter_checked", "mistyped_bill", "fast_meter")]
    for path in letters:
        path.write_bytes(letter_docx(reconcile(read_house(SAMPLES / path.stem)), "PA"))
    office("pdf", tmp_path, *letters)
    assert [len(PdfReader(path.with_suffix(".pdf")).pages) for path in letters] == [1, 1, 1]


@pytest.mark.browser
@pytest.mark.parametrize("name", ["fast_meter_checked", "mistyped_bill", "fast_meter"])
def test_the_page_is_one_page_with_its_picture(name, browser):
    page = letter_html(reconcile(read_house(SAMPLES / name)), "PA")
    assert "<img" in page
    assert len(browser.printed(page).pages) == 1


def test_what_is_only_inferred_is_not_drawn_in_the_letter():
    result = reconcile(read_house(SAMPLES / "fast_meter"))
    assert "a fast meter" in bills_against_bands(result).get_label()
    assert "a fast meter" not in letter_html(result)


def test_a_document_without_its_library_says_what_to_install(checked, monkeypatch):
    monkeypatch.setitem(sys.modules, "docx", None)
    with pytest.raises(OutputError, match=r"pip install 'reconcile\[docx\]'"):
        letter_docx(checked)


def of_kwh(kwh, *, skip=None):
    """A house of these bills, one of them left out."""
    day, bills = date(2024, 2, 12), []
    for i, one in enumerate(kwh):
        end = day + timedelta(30 + i % 2)
        if i != skip:
            bills.append(Bill(day, end, kwh=float(one), amount=Decimal(f"{12 + 0.15 * one:.2f}")))
        day = end
    return House("x", tuple(bills))


STEADY = [702, 688, 715, 697, 706, 692, 710, 699, 703, 695, 708, 700, 691, 712, 698, 705]


@pytest.mark.parametrize("change", [{9: -300}, {9: 300}, {6: -300, 7: 300}, {6: 95, 7: -95}, {3: -260}])
def test_a_letter_names_every_bill_whose_readings_it_asks_about(change):
    house = of_kwh([one + change.get(i, 0) for i, one in enumerate(STEADY)])
    result = reconcile(house)
    asked = {"check-reading", "check-low-reading"} & set(result.verdict.requests)
    said = letter(result)
    assert asked or not said["requests"]
    if not asked:
        return
    voice = result.voice
    (line,) = [one for one in said["requests"] if "opening and closing readings" in one]
    assert "stands out" not in line
    named = [i for i in change if voice.span(house.bills[i].start, house.bills[i].end) in line]
    assert named
    for i in named:
        span = voice.span(house.bills[i].start, house.bills[i].end)
        assert span in " ".join(said["points"])
        assert span in [row["dates"] for row in said["bills"]]
    assert not [point for point in said["points"] if " asks for $" in point]


def test_a_low_bill_is_asked_about_with_the_caution_that_it_may_rise():
    result = reconcile(of_kwh([one - 300 * (i == 9) for i, one in enumerate(STEADY)]))
    (step,) = [step for step in result.verdict.next_steps if step.asks == "check-low-reading"]
    assert "billed later" in step.text
    assert "own-readings" not in [step.code for step in result.verdict.next_steps]


def test_days_without_a_bill_are_named_themselves_and_in_the_answer():
    house = of_kwh([one - 300 * (i == 12) for i, one in enumerate(STEADY)], skip=6)
    result = reconcile(house)
    found = next(f for f in report_view(result)["findings"] if f["name"] == "Days without a bill")
    assert found["periods"] == [result.voice.span(house.bills[5].end, house.bills[6].start)]
    assert result.verdict.rule == "odd-bill"
    assert "between the bill to" in result.verdict.headline
