"""Answers made by hand, so that every rendering can be tried on any number of periods and loads."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from reconcile.answer import reconcile
from reconcile.facts import Finding
from reconcile.house import Bill, House, Load
from reconcile.kinds import Decision
from reconcile.read import read_house
from reconcile.result import (
    Cause,
    LoadShare,
    Measure,
    Outcome,
    Over,
    Period,
    Reconciliation,
    Step,
    Verdict,
    Visible,
)

LOAD_NAMES = (
    "Heat pump, ground floor and the children's rooms",
    "Water heater",
    "Refrigerator in the kitchen",
    "Chest freezer (garage)",
    "Cooking range",
    "Clothes dryer",
    "Washing machine, 40 °C mostly",
    "Lights",
    "Well pump",
    "Television, amplifier and the two game machines beside it",
    "Modem and router",
    "Dehumidifier, cellar",
)


def make(periods: int = 12, loads: int = 8, *, seed: int = 3, **changes: Any) -> Reconciliation:
    """Build an answer: a step of 18 % from two thirds of the way on, one estimated reading, one period not judged."""
    dice = np.random.default_rng(seed)
    names = [LOAD_NAMES[i] if i < len(LOAD_NAMES) else f"Load number {i + 1}" for i in range(loads)]
    start = date(2024, 1, 9)
    days = [int(d) for d in dice.integers(28, 34, periods)]
    edges = [start + timedelta(days=sum(days[:i])) for i in range(periods + 1)]
    season = np.array([1.0 + 0.6 * np.cos(2 * np.pi * (edge.timetuple().tm_yday - 20) / 365) for edge in edges[:-1]])
    share = dice.dirichlet(np.full(loads, 1.2)) if loads else np.zeros(0)
    expected = 26.0 * np.array(days) * season
    usual = expected * 1.08
    onset = max(1, (2 * periods) // 3) if periods > 1 else 0
    rise = np.array([0.18 * usual[i] if i >= onset else 0.0 for i in range(periods)])
    billed = np.round(usual + rise + dice.normal(0, 12, periods))
    excess = billed - usual
    rows = []
    for i in range(periods):
        off = periods >= 6 and i == 2
        flag = "not-judged" if off else "over" if excess[i] > 75 else "under" if excess[i] < -75 else "within"
        rows.append(
            Period(
                start=edges[i],
                end=edges[i + 1],
                days=days[i],
                billed_kwh=float(billed[i]),
                flag=flag,
                why_not_judged="the reading was estimated and no true one followed" if off else None,
                expected_kwh=float(expected[i]),
                low_kwh=float(expected[i] * 0.72),
                high_kwh=float(expected[i] * 1.31),
                usual_kwh=None if off else float(usual[i]),
                usual_low_kwh=None if off else float(usual[i] - 70),
                usual_high_kwh=None if off else float(usual[i] + 72),
                excess_kwh=None if off else float(excess[i]),
                excess_amount=None if off else Decimal(str(round(float(excess[i]) * 0.148, 2))),
                read_type="estimated" if off else "actual",
            )
        )
    house = House(
        name="Larkmoor Cottage",
        bills=tuple(
            Bill(start=r.start, end=r.end, kwh=r.billed_kwh, amount=Decimal("100.00"), row=i + 2)
            for i, r in enumerate(rows)
        ),
        loads=tuple(Load(name=name, watts=600.0 + 10 * i, run_hours=3.0, count=1) for i, name in enumerate(names)),
    )
    total = float(expected.sum())
    shares = (
        *tuple(
            LoadShare(
                load=name,
                expected_kwh=total * float(share[i]),
                reconciled_kwh=total * float(share[i]) * 1.1,
                low_kwh=total * float(share[i]) * 0.8,
                high_kwh=total * float(share[i]) * 1.4,
                share_of_doubt=float(share[i]) * 0.9,
                effort=("plug-in meter for a week", "read the nameplate", "count its hours for a week")[i % 3],
            )
            for i, name in enumerate(names)
        ),
        LoadShare(
            "not on the list", total * 0.05, total * 0.06, total * 0.01, total * 0.12, 0.1, "add what is missing"
        ),
    )
    since = edges[onset]
    causes = (
        Cause(
            "meter-step",
            0.81,
            since,
            18.0,
            "%",
            f"Everything rises by about 18 % (13 to 23 %) from {since:%d %b %Y} on, as a fast meter would show it.",
            13.0,
            23.0,
            float(rise.sum()),
            tuple(float(r) for r in rise),
        ),
        Cause(
            "constant-load",
            0.14,
            since,
            160.0,
            "W",
            "About 160 W round the clock that began then.",
            110.0,
            210.0,
        ),
        Cause("none", 0.03, None, None, "", "No cause is needed."),
        Cause("heating-rise", 0.02, since, 9.0, "%", "Heating rose by about 9 %."),
    )
    verdict = Verdict(
        decision=Decision.OUTSIDE_CHECK,
        rule="lasting",
        meter_line="Is the meter fast? Likely (about 81 %).",
        cannot_tell=False,
        meter_fast_probability=0.81,
        meter_slow_probability=0.01,
        over=Over(3, 540.0, None),
        headline=(
            "The last bills are about 18 % over what this house usually uses; a meter that runs fast or a new "
            "round-the-clock load would both look like this. Check from outside first: nothing has to be opened."
        ),
        field_test_warranted=False,
        reasons=(
            "A fast meter is likely (about 80 %), a round-the-clock load unlikely (about 15 %).",
            "Weather explains nothing of it: degree-days were as in the year before.",
        ),
        next_steps=(
            Step(
                "Compare the meter number on the wall with the one on the bill.",
                0,
                (),
                would_show=(Outcome("it shows", "The bill is for your meter"),),
            ),
            Step(
                "Write down the register at the same hour on eight days.",
                1,
                (),
                would_show=(Outcome("it shows", "Use per day, without the bill"),),
            ),
            Step(
                "Run one known heater through a plug-in meter: off, on, off.",
                2,
                ("Use a heater with an undamaged cord, plugged straight into the wall, and stay with it.",),
                would_show=(Outcome("it shows", "Whether the meter counts what the heater takes"),),
            ),
            Step(
                "Switch the main breaker off with every cover on, and watch the display for five minutes.",
                3,
                (
                    "Ask anyone who depends on powered medical equipment first: this stops it.",
                    "If the breaker is warm, buzzes, or does not feel right, leave it and call an electrician.",
                ),
                would_show=(Outcome("it shows", "Whether anything is counted with nothing connected"),),
            ),
            Step(
                "Ask the utility for its own meter test; it is often free.",
                4,
                (),
                would_show=(Outcome("it shows", "The meter's registration"),),
            ),
        ),
        smallest_visible_meter_error_percent=9.0,
        smallest_visible_constant_watts=95.0,
    )
    visible = Visible(
        onset=tuple(range(periods)),
        meter_percent=tuple(
            None if i == periods - 1 and periods > 1 else 7.0 + 30.0 / (1 + min(i + 1, periods - i))
            for i in range(periods)
        ),
        constant_watts=tuple(60.0 + 200.0 / (1 + min(i + 1, periods - i)) for i in range(periods)),
    )
    findings = (
        (
            Finding(
                "estimated-read",
                (2,),
                settles=True,
                figures={
                    "count": 1,
                    "bill": (house.bills[2].start, house.bills[2].end),
                    "closes": house.bills[2].end,
                    "kwh": house.bills[2].kwh,
                    "read_since": False,
                },
                asks=("actual-reading",),
            ),
        )
        if periods >= 6
        else ()
    )
    made = Reconciliation(
        house=house,
        rows=tuple(rows),
        findings=findings,
        causes=causes,
        verdict=verdict,
        loads=shares,
        money=None,
        interval=None,
        field_test=None,
        visible=visible,
        measures=tuple(Measure(s.load, s.effort, 9.0 * 0.8 ** (i + 1)) for i, s in enumerate(shares[: min(3, loads)])),
        load_kwh=(
            *tuple(tuple(float(e) * float(share[j]) for e in expected) for j in range(loads)),
            tuple(float(e) * 0.05 for e in expected),
        ),
        notices=("Dates are taken as dates of reading.",),
    )
    return replace(made, **changes)


@pytest.fixture(name="make")
def make_answer() -> Callable[..., Reconciliation]:
    """Return the builder of answers."""
    return make


HOSTILE = (
    "<script>alert(1)</script>",
    "=1+1",
    "+cmd|' /C calc'!A0",
    "@SUM(A1)",
    "-2+3",
    '"><img src=x onerror=alert(1)>',
    "{{ 7 * 7 }}{% raw %}",
    "an ordinary name",
)
"""Texts that would do something if a page, a workbook, a template or a terminal took them for its own."""

PLAIN = ("alder", "birch", "cedar", "elder", "hazel", "larch", "maple", "rowan", "willow")
"""As many harmless texts, none of which reads as another part of one load."""

CONTROLS = "a\x1b[31mred\u202eback"
"""The gate refuses it; should it come by another way, no rendering may be steered by it."""

FORMULA = '=HYPERLINK("http://bad.example/","here")'


def write_house(folder: Path, texts: tuple[str, ...]) -> Path:
    """Write a house of twelve bills with a step, whose every free text is one of ``texts``."""
    folder.mkdir()
    dice = np.random.default_rng(7)

    def text(i: int) -> str:
        return texts[i % len(texts)]

    settings = [
        "[house]",
        f"name = {json.dumps(text(0))}",
        'temperature_unit = "C"',
        "[meter]",
        f"number = {json.dumps(text(1))}",
    ]
    settings += [
        "[[tariff]]",
        "valid_from = 2023-01-01",
        "[[tariff.charge]]",
        f"name = {json.dumps(text(3))}",
        "per_kwh = 0.15",
    ]
    (folder / "house.toml").write_text("\n".join(settings) + "\n", encoding="utf-8")
    start = date(2024, 1, 9)
    edges = [start + timedelta(days=30 * i) for i in range(13)]
    meters = [text(1)] * 8 + [text(2)] * 4
    with open(folder / "bills.csv", "w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file)
        rows.writerow(["start", "end", "kwh", "amount", "read_type", "meter", "note"])
        for i in range(12):
            kwh = 420 + int(dice.integers(-9, 10)) + (150 if i >= 8 else 0)
            kind = "estimated" if i == 4 else "actual"
            rows.writerow([edges[i], edges[i + 1], kwh, round(kwh * 0.15, 2), kind, meters[i], text(i)])
    with open(folder / "loads.csv", "w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file)
        rows.writerow(["load", "watts", "run_hours", "source", "note"])
        for i, words in enumerate(texts):
            rows.writerow([f"{words} {i}" if len(set(texts)) < len(texts) else words, 150, 10, "nameplate", words])
    with open(folder / "events.csv", "w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file)
        rows.writerow(["date", "kind", "note"])
        rows.writerow([edges[8], "other", text(5)])
    return folder


@pytest.fixture
def hostile_answer(tmp_path: Path) -> Reconciliation:
    """Return the answer for a house whose every free text tries to be more than text.

    The gate refuses control characters in files and in memory; they are put in behind it.
    """
    answer = reconcile(read_house(write_house(tmp_path / "hostile", (*HOSTILE, FORMULA))))

    def steering(name: str) -> str:
        return CONTROLS if name == "an ordinary name" else name

    house = replace(answer.house, loads=tuple(replace(x, name=steering(x.name)) for x in answer.house.loads))
    changed = replace(
        answer,
        house=house,
        loads=tuple(replace(x, load=steering(x.load)) for x in answer.loads),
        measures=tuple(replace(x, load=steering(x.load)) for x in answer.measures),
    )
    assert sum(x.name == CONTROLS for x in house.loads) == sum(x.load == CONTROLS for x in changed.loads) == 1
    return changed


@pytest.fixture
def plain_house(tmp_path: Path) -> House:
    """Return the same house with harmless texts."""
    return read_house(write_house(tmp_path / "plain", PLAIN))
