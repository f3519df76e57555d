"""The money and the field test of an answer as plain words and numbers already rounded."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reconcile.kinds import Flag
from reconcile.paper.price_checks import rounding_can_do
from reconcile.rounding import to_step
from reconcile.say import Voice
from reconcile.texts.cause_words import NAMES as CAUSES
from reconcile.texts.field.field_test import places
from reconcile.texts.labels import BRIDGE, FINDINGS, spoken
from reconcile.texts.money import bridging, notes, shown_less, stake_text
from reconcile.verdict.sums import excess_step

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reconcile.result import Period, Reconciliation

Words = dict[str, Any]

LEAST_KWH = 0.5
"""Energy of a finding or a cause from which its amount is told: use moved between two bills is none in all [kWh]."""

ZONES = {
    "inside": ("●", "inside the limits"),
    "outside": ("▲", "outside the limits"),
    "cannot-tell": ("○", "cannot tell with these instruments"),
}
"""Shape and words for each zone of a test's verdict."""


def money_view(result: Reconciliation) -> Words | None:
    """Return what the answer says in money, or None where it says nothing.

    Returns
    -------
    dict or None
        Keys ``bridge, told, apart, disputed, notes``.
    """
    if result.money is None:
        return None
    voice, rows = result.voice, result.rows
    told = result.money.to_dict(voice)
    bridge = told["bridge"]
    recomputed = [_worked_out_bill(bill, rows, voice) for bill in told["recomputed"]]
    apart = [bill for bill in recomputed if bill["apart"]]
    step = excess_step(rows)
    marked = [i for i, row in enumerate(rows) if row.flag is Flag.OVER]
    disputed = [
        {
            "name": spoken(stake.code, {**FINDINGS, **CAUSES}),
            "dates": dates_of(voice, rows, stake.periods),
            "told": stake_text(stake, spoken(stake.code, {**FINDINGS, **CAUSES}), voice),
            "bridging": bridging(stake, marked, result.verdict.over.amount, voice)
            if marked
            else ""
            if len(stake.periods) >= len(rows)
            else shown_less(stake, sum(to_step(rows[i].excess_kwh or 0.0, step) for i in stake.periods), voice),
        }
        for stake in result.money.stakes
        if abs(stake.kwh) >= LEAST_KWH
    ]
    view = {
        "bridge": None if bridge is None else _bridge(bridge, rows, voice),
        "told": _worked_out(recomputed, len(apart)),
        "apart": apart,
        "disputed": disputed,
        "notes": list(notes(result.money.recomputed)),  # what rules would give stands under what might come back
    }
    return view if view["bridge"] or recomputed or disputed or view["notes"] else None


def _worked_out_bill(bill: Words, rows: Sequence[Period], voice: Voice) -> Words:
    """A bill and what the tariff gives, whose difference is that of the two as they are printed."""
    billed, ours = (None if bill[key] is None else voice.smallest(bill[key]) for key in ("billed", "ours"))
    difference = None if billed is None or ours is None else billed - ours
    row = rows[bill["period"]]
    rounding = rounding_can_do(sum(line["kind"] != "sum" for line in bill["lines"]))
    return {
        "dates": voice.span(row.start, row.end),
        "billed": voice.money(billed),
        "ours": voice.money(ours),
        "difference": voice.money(difference, sign=True),
        "apart": difference is not None and abs(difference) > rounding,
        "cents": bool(difference),
    }


def _worked_out(recomputed: Sequence[Words], apart: int) -> str:
    count = len(recomputed)
    if not count:
        return ""
    bills = "One bill was" if count == 1 else f"{count} bills were"
    agree = "it agrees" if count == 1 else "all agree"
    differ = "it differs" if count == 1 else f"{apart} differ{'s' if apart == 1 else ''} from what was billed"
    exactly = "but for the rounding of cents" if any(bill["cents"] for bill in recomputed) else "to the cent"
    return f"{bills} worked out from the tariff as typed: {differ if apart else f'{agree} {exactly}'}."


def _bridge(bridge: Words, rows: Sequence[Period], voice: Voice) -> Words:
    return {
        "sentence": bridge.get("sentence", ""),
        "from": dates_of(voice, rows, bridge["from_periods"]),
        "to": dates_of(voice, rows, bridge["to_periods"]),
        "from_amount": voice.money(bridge["from_amount"]),
        "to_amount": voice.money(bridge["to_amount"]),
        "parts": [
            {"name": spoken(part, BRIDGE), "amount": voice.money(amount, sign=True)}
            for part, amount in bridge["parts"].items()
        ],
        "total": voice.money(bridge["total"], sign=True),
        "weather_known": bridge.get("weather_known", True),
    }


def dates_of(voice: Voice, rows: Sequence[Period], periods: Sequence[int]) -> str:
    """Write from when to when some bills run."""
    chosen = [rows[i] for i in periods if i < len(rows)]
    return voice.span(chosen[0].start, chosen[-1].end) if chosen else ""


def field_test_view(result: Reconciliation) -> Words | None:
    """Return the judged field test in words, or None where there is none.

    Returns
    -------
    dict or None
        Keys ``headline, cautions, reasons, steps, runs, main_off, averages``.
    """
    if result.field_test is None:
        return None
    told, voice = result.field_test.to_dict(), result.voice
    return {
        "headline": told.get("headline", ""),
        "cautions": list(told.get("cautions", ())),
        "reasons": list(told.get("reasons", ())),
        "steps": list(told.get("next_steps", ())),
        "runs": [_run(run, voice) for run in told["runs"]],
        "main_off": [_main_off(reading, voice) for reading in told["main_off"]],
        "averages": [
            {
                "method": average["method"],
                "percent": _registration(average["percent"], average["expanded_percent"], voice),
            }
            for average in told.get("averages", ())
        ],
    }


def _run(run: Words, voice: Voice) -> Words:
    shape, zone = ZONES.get(run["zone"], ("○", run["zone"].replace("-", " ")))
    return {
        "label": run["label"],
        "measured": _watts(run["measured_w"], voice),
        "meter": _watts(run["meter_w"], voice),
        "registration": _registration(run["registration_percent"], run["expanded_percent"], voice),
        "shape": shape,
        "zone": zone,
        "notes": list(run["notes"]),
    }


def _main_off(reading: Words, voice: Voice) -> Words:
    shape, zone = ZONES.get(reading["zone"], ("○", reading["zone"].replace("-", " ")))
    if reading["watts"] is not None:
        told = f"{voice.watts(reading['watts'])} counted"
    else:
        told = f"at most {voice.watts(reading['at_most_watts'])} could have been counted"
    return {"told": told, "shape": shape, "zone": zone, "notes": list(reading.get("notes", ()))}


def _watts(value: float | None, voice: Voice) -> str:
    return "–" if value is None else voice.watts(value, doubt=abs(value) / 50)


def _registration(percent: float | None, expanded: float | None, voice: Voice) -> str:
    if percent is None:
        return "–"
    if expanded is None:
        return f"{voice.number(percent, 0.1)} %"
    step = places(expanded)
    return f"{voice.number(percent, step)} % (give or take {voice.number(expanded, step)})"
