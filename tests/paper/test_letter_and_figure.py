"""The letter holds facts, figures, requests and placeholders, and nothing else; the bridge is drawn as it is told."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import numpy as np
import pytest

from reconcile.house import Bill, House, Load, Meter
from reconcile.kinds import Decision, Flag, Hazard
from reconcile.money import account
from reconcile.paper import examine
from reconcile.report.bridge_figure import bridge_figure
from reconcile.report.letter import letter_html, letter_text
from reconcile.result import Period, Reconciliation, Step, Verdict
from reconcile.say import Voice
from reconcile.texts.letter_words import NOTHING_AT_ALL
from reconcile.texts.money import bridge_sentence
from reconcile.texts.requests import REQUESTS
from reconcile.texts.step_words import METER_REQUESTS
from reconcile.verdict import summed

D = Decimal


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
    asks = (*REQUESTS, *METER_REQUESTS)
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
