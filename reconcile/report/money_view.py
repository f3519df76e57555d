"""The money and the field test of an answer as plain words and numbers already rounded."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reconcile.report.words import (
    BRIDGE,
    CAUSES,
    FINDINGS,
    give_or_take,
    money,
    number,
    span,
    spoken,
    step_of,
    two_figures,
)
from reconcile.say import Voice
from reconcile.texts.money import stake_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reconcile.result import Period, Reconciliation

Words = dict[str, Any]

ZONES = {
    "inside": ("●", "inside the limits"),
    "outside": ("▲", "outside the limits"),
    "cannot-tell": ("○", "cannot tell with these instruments"),
}
"""Shape and words for each zone of a test's verdict."""


def money_view(result: Reconciliation) -> Words | None:
    """Return what the answer says in money, or None where it says nothing.

    Parameters
    ----------
    result : Reconciliation

    Returns
    -------
    dict or None
        Keys ``bridge, told, apart, disputed, notes``.
    """
    if result.money is None:
        return None
    told = result.money.to_dict(Voice(result.house.locale, result.house.currency))
    currency, rows = result.house.currency, result.rows
    bridge = told["bridge"]
    recomputed = [
        {
            "dates": span(rows[bill["period"]].start, rows[bill["period"]].end),
            "billed": money(bill["billed"], currency),
            "ours": money(bill["ours"], currency),
            "difference": money(bill["difference"], currency, sign=True),
        }
        for bill in told["recomputed"]
    ]
    apart = [row for row, bill in zip(recomputed, told["recomputed"], strict=True) if bill["difference"]]
    voice = Voice(result.house.locale, result.house.currency)
    disputed = [
        {
            "name": spoken(stake.code, {**FINDINGS, **CAUSES}),
            "dates": _dates(rows, stake.periods),
            "told": stake_text(stake, spoken(stake.code, {**FINDINGS, **CAUSES}), voice),
        }
        for stake in result.money.stakes
    ]
    view = {
        "bridge": None if bridge is None else _bridge(bridge, rows, currency),
        "told": _worked_out(len(recomputed), len(apart)),
        "apart": apart,
        "disputed": disputed,
        "notes": list(told.get("notes", ())),
    }
    return view if view["bridge"] or recomputed or disputed or view["notes"] else None


def _worked_out(count: int, apart: int) -> str:
    if not count:
        return ""
    bills = "One bill was" if count == 1 else f"{count} bills were"
    agree = "it agrees" if count == 1 else "all agree"
    differ = "it differs" if count == 1 else f"{apart} differ{'s' if apart == 1 else ''} from what was billed"
    return f"{bills} worked out from the tariff as typed: {differ if apart else f'{agree} to the cent'}."


def _bridge(bridge: Words, rows: Sequence[Period], currency: str) -> Words:
    return {
        "sentence": bridge.get("sentence", ""),
        "from": _dates(rows, bridge["from_periods"]),
        "to": _dates(rows, bridge["to_periods"]),
        "from_amount": money(bridge["from_amount"], currency),
        "to_amount": money(bridge["to_amount"], currency),
        "parts": [
            {"name": spoken(part, BRIDGE), "amount": money(amount, currency, sign=True)}
            for part, amount in bridge["parts"].items()
        ],
        "total": money(bridge["total"], currency, sign=True),
        "weather_known": bridge.get("weather_known", True),
    }


def _dates(rows: Sequence[Period], periods: Sequence[int]) -> str:
    chosen = [rows[i] for i in periods if i < len(rows)]
    return span(chosen[0].start, chosen[-1].end) if chosen else ""


def field_test_view(result: Reconciliation) -> Words | None:
    """Return the judged field test in words, or None where there is none.

    Parameters
    ----------
    result : Reconciliation

    Returns
    -------
    dict or None
        Keys ``headline, cautions, reasons, steps, runs, main_off, averages``.
    """
    if result.field_test is None:
        return None
    told = result.field_test.to_dict()
    return {
        "headline": told.get("headline", ""),
        "cautions": list(told.get("cautions", ())),
        "reasons": list(told.get("reasons", ())),
        "steps": list(told.get("next_steps", ())),
        "runs": [_run(run) for run in told["runs"]],
        "main_off": [_main_off(reading) for reading in told["main_off"]],
        "averages": [
            {"method": average["method"], "percent": _registration(average["percent"], average["expanded_percent"])}
            for average in told.get("averages", ())
        ],
    }


def _run(run: Words) -> Words:
    shape, zone = ZONES.get(run["zone"], ("○", run["zone"].replace("-", " ")))
    return {
        "label": run["label"],
        "measured": _watts(run["measured_w"]),
        "meter": _watts(run["meter_w"]),
        "registration": _registration(run["registration_percent"], run["expanded_percent"]),
        "shape": shape,
        "zone": zone,
        "notes": list(run["notes"]),
    }


def _main_off(reading: Words) -> Words:
    shape, zone = ZONES.get(reading["zone"], ("○", reading["zone"].replace("-", " ")))
    if reading["watts"] is not None:
        told = f"{two_figures(reading['watts'])} W counted"
    else:
        told = f"at most {two_figures(reading['at_most_watts'])} W could have been counted"
    return {"told": told, "shape": shape, "zone": zone, "notes": list(reading.get("notes", ()))}


def _watts(value: float | None) -> str:
    return "–" if value is None else f"{number(value, step_of(abs(value) / 50))} W"


def _registration(percent: float | None, expanded: float | None) -> str:
    if percent is None:
        return "–"
    if expanded is None:
        return f"{number(percent, 0.1)} %"
    return f"{give_or_take(percent, percent - expanded, percent + expanded)} %"
