"""One answer as plain words and numbers already rounded: what the page and the terminal print."""

from __future__ import annotations

import re
from decimal import ROUND_HALF_UP, Decimal
from typing import TYPE_CHECKING, Any

from reconcile.report.interval_view import signals, usual_days
from reconcile.report.letter import asked
from reconcile.rounding import to_step
from reconcile.say import Voice
from reconcile.texts.cause_words import NAMES
from reconcile.texts.decisions import FLAGS
from reconcile.texts.decisions import NAMES as DECISIONS
from reconcile.texts.findings import finding_do, finding_text
from reconcile.texts.glossary_words import GLOSSARY, LIVE
from reconcile.texts.interval import action_text, assumed_text
from reconcile.texts.interval_findings import reads_text
from reconcile.texts.labels import FINDINGS, HAZARDS, SIGNS, spoken
from reconcile.texts.phone import phone_words
from reconcile.verdict import excess_step
from reconcile.weigh.constants import FAMILY_LEVEL

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reconcile.result import Cause, Period, Reconciliation, Step

Words = dict[str, Any]


def view(result: Reconciliation) -> Words:
    """Return everything an answer says, in order, as text.

    Parameters
    ----------
    result : Reconciliation

    Returns
    -------
    dict
        Keys ``house, range, decision, urgent, signs, headline, reasons, steps, periods, findings, causes,
        loads, measures, visible, interval, notices, family, coverage``.
    """
    verdict, voice = result.verdict, result.voice
    return {
        "house": result.house.name,
        "range": _range(result),
        "decision": spoken(
            "cannot-tell"
            if verdict.blind or (verdict.rule == "explained" and verdict.cannot_tell)
            else verdict.decision,
            DECISIONS,
        ),
        "urgent": verdict.decision == "urgent",
        "signs": [spoken(sign, SIGNS) for sign in result.house.dangers],
        "headline": verdict.headline,
        "meter_line": verdict.meter_line,
        "three": _three(result),
        "first": _first(verdict.next_steps),
        "stop": [step.text for step in verdict.next_steps] if verdict.decision == "urgent" else [],
        "phone": _phone(result),
        "letter_ready": bool(verdict.requests),
        "should_cost": _should_cost(result),
        "bills_caption": _bills_caption(result),
        "reasons": list(verdict.reasons),
        "steps": _steps(verdict.next_steps, by_place=verdict.decision != "urgent"),
        "periods": _periods(result),
        "findings": [
            {
                "name": spoken(finding.code, FINDINGS),
                "periods": [_span(result, result.rows[i]) for i in finding.periods if i < len(result.rows)],
                "text": finding_text(finding, result.voice),
                "do": finding_do(finding, result.voice),
                "kwh": "" if finding.kwh is None else f"{voice.number(finding.kwh)} kWh",
                "amount": "" if finding.amount is None else voice.money(finding.amount),
            }
            for finding in result.findings
        ],
        "causes": [_cause(cause, result) for cause in result.causes if cause.probability >= 0.02],
        "loads": _loads(result),
        "measures": [] if verdict.decision == "urgent" else _measures(result),
        "visible": _visible(result),
        "interval": _interval(result),
        "notices": list(result.notices),
        "words": _GLOSSARY,
        "live": LIVE,
        "family": voice.number(100 * FAMILY_LEVEL),
        "coverage": f"{voice.number(100 * result.house.band.coverage)} %",
    }


def _three(result: Reconciliation) -> Words:
    """The three figures beside the answer."""
    over, voice = result.verdict.over, result.voice
    step = excess_step(result.rows)
    fast = result.verdict.meter_fast_probability
    return {
        "kwh": f"{voice.number(over.kwh, step)} kWh",
        "money": voice.about_money(over.amount) if over.amount is not None else "–",
        "meter": voice.chance_percent(fast).removeprefix("about ") if fast is not None else "–",
    }


_GLOSSARY = [
    {"name": voiced.capitalize() if voiced.islower() else voiced, "meaning": word.meaning}
    for word in GLOSSARY
    if word.told
    for voiced in [word.word if word.on_the_page == "as is" else word.on_the_page]
]
_SENTENCE = re.compile(r"(?<=[.!?])\s+(?=[A-Z])")


def _first(steps: Sequence[Step]) -> Words | None:
    """The first thing to do in one sentence, with what stands before it; all of it is among the steps again."""
    wanted = next((step for step in steps if not step.optional), None)
    if wanted is None:
        return None
    return {
        "text": _SENTENCE.split(wanted.text, maxsplit=1)[0],
        "cautions": list(wanted.cautions),
        "minutes": f"{wanted.minutes} minutes" if wanted.minutes else "",
        "nothing": wanted.code == "keep-reading",
    }


def _phone(result: Reconciliation) -> list[str]:
    voice, rows = result.voice, result.rows
    marked = [row for row in rows if row.flag == "over"]
    seen = ""
    if marked:
        size = _three(result)["kwh"]
        bills = "One bill is" if len(marked) == 1 else f"{len(marked)} bills are"
        seen = f"{bills} {size} over what this home usually uses."
    span = voice.span(marked[0].start, marked[-1].end) if marked else ""
    verdict = result.verdict
    unsaid = verdict.decision in ("explained", "paperwork") and verdict.cannot_tell
    return list(phone_words("cannot-tell" if unsaid or verdict.blind else verdict.decision, seen, asked(result), span))


def _should_cost(result: Reconciliation) -> list[Words]:
    """What each bill marked high would have cost at usual use, and all of them together.

    Parts and sums add up as printed: what is over is rounded as in the table of the bills, and what is left of the
    bills is rounded so that the column adds up to what is left of their sum.
    """
    voice, out = result.voice, []
    billed, over, left = Decimal(0), Decimal(0), Decimal(0)
    for bill, row in zip(result.house.bills, result.rows, strict=True):
        if row.flag != "over" or row.excess_amount is None or bill.amount is None:
            continue
        part = row.excess_amount.quantize(Decimal(1), ROUND_HALF_UP)
        billed, over = billed + bill.amount, over + part
        usual = (billed - over).quantize(Decimal(1), ROUND_HALF_UP) - left
        left += usual
        out.append(_cost(voice.span(row.start, row.end), bill.amount, usual, part, voice))
    return [*out, {**_cost("All of these", billed, left, over, voice), "sum": True}] if len(out) > 1 else out


def _cost(dates: str, billed: Decimal, usual: Decimal, over: Decimal, voice: Voice) -> Words:
    return {
        "dates": dates,
        "billed": voice.money(billed),
        "usual": voice.about_money(usual),
        "over": voice.about_money(over),
        "sum": False,
    }


def _bills_caption(result: Reconciliation) -> str:
    listed = "Striped: from the load list only. " if result.house.loads else ""
    return (
        f"Each line is a bill, as kWh a day. {listed}Plain band: what this house usually uses, with the other bills. "
        "▲ over it, ▼ under it, ○ not judged."
    )


def _range(result: Reconciliation) -> str:
    rows = result.rows
    if not rows:
        return "No bills"
    bills = "One bill" if len(rows) == 1 else f"{len(rows)} bills"
    return f"{bills}, {result.voice.span(min(r.start for r in rows), max(r.end for r in rows))}"


def _span(result: Reconciliation, row: Period) -> str:
    return result.voice.span(row.start, row.end)


def _steps(steps: Sequence[Step], *, by_place: bool) -> list[Words]:
    """Steps with what stands before them, the optional ones last; the cautions of a section once, at its head."""
    out: list[Words] = []
    said: set[str] = set()
    for step in sorted(steps, key=lambda step: step.optional):
        place = HAZARDS[step.hazard]
        out.append(
            {
                "place": place,
                "new_place": by_place and (not out or out[-1]["place"] != place),
                "cautions": [line for line in step.cautions if line not in said],
                "text": step.text,
                "minutes": f"{step.minutes} minutes" if step.minutes else "",
                "optional": step.optional,
                "would_show": [(outcome.outcome, outcome.then) for outcome in step.would_show],
            }
        )
        said.update(step.cautions)
    return out


def _periods(result: Reconciliation) -> list[Words]:
    step, voice = excess_step(result.rows), result.voice
    rows = []
    for index, row in enumerate(result.rows):
        shape, word = FLAGS[row.flag]
        part = "" if row.part_of is None else NAMES[result.causes[row.part_of].code]
        excess = None if row.excess_kwh is None else to_step(row.excess_kwh, step)
        rows.append(
            {
                "index": index + 1,
                "dates": _span(result, row),
                "days": str(row.days),
                "billed": voice.exact(row.billed_kwh),
                "usual": voice.between(row.usual_low_kwh, row.usual_high_kwh),
                "listed": voice.between(row.low_kwh, row.high_kwh) if result.house.loads else "–",
                "excess": voice.number(excess, step, sign=True),
                "amount": ""
                if row.excess_amount is None or not excess
                else voice.about_money(row.excess_amount, sign=True),
                "shape": shape,
                "word": word,
                "stands_out": row.flag in ("over", "under"),
                "part_of": f"part of: {part}" if part and row.flag == "within" else "",
                "why": row.why_not_judged or "",
                "read": "" if row.read_type == "actual" else f"{row.read_type} reading",
            }
        )
    return rows


def _cause(cause: Cause, result: Reconciliation) -> Words:
    voice, size = result.voice, ""
    if cause.size is not None and cause.size_low is not None and cause.size_high is not None:
        low, high = cause.size_low, cause.size_high
        # the sentence says "fell by", so the limits are told the same way round
        size = voice.between(-high, -low, cause.unit) if cause.size < 0 else voice.between(low, high, cause.unit)
    return {
        "name": NAMES.get(cause.code, cause.code.replace("-", " ")),
        "chance": voice.chance(cause.probability),
        "since": voice.short_day(cause.since) if cause.since else "",
        "until": voice.short_day(cause.until) if cause.until else "",
        "size": size,
        "kwh": "" if not cause.kwh else f"{voice.figure(cause.kwh)} kWh over these bills",
        "text": cause.text,
    }


def _loads(result: Reconciliation) -> list[Words]:
    voice = result.voice
    return [
        {
            "load": load.load,
            "listed": voice.to_doubt(load.expected_kwh, (load.high_kwh - load.low_kwh) / 2),
            "with_bills": f"{voice.to_doubt(load.reconciled_kwh, (load.high_kwh - load.low_kwh) / 2)} "
            f"({voice.between(load.low_kwh, load.high_kwh)})",
            "doubt": f"{voice.number(100 * load.share_of_doubt)} %" if load.share_of_doubt >= 0.005 else "under 1 %",
            "effort": load.effort,
        }
        for load in result.loads
    ]


def _measures(result: Reconciliation) -> list[Words]:
    """What to measure next, as far as it narrows by as much as is printed how closely the meter would be known."""
    voice, out = result.voice, []
    for measure in result.measures:
        before, after = measure.doubt_percent_before, voice.percent(measure.doubt_percent_after)
        if before is not None and voice.percent(before) == after:
            continue
        instead = "" if before is None else f" instead of {voice.percent(before)}"
        then = f"a meter fast all along would then be known to within about {after}{instead}."
        out.append({"load": voice.capital(measure.load), "how": measure.how, "then": then})
    return out


def _visible(result: Reconciliation) -> Words:
    verdict, voice = result.verdict, result.voice
    percent, watts = verdict.smallest_visible_meter_error_percent, verdict.smallest_visible_constant_watts
    seen = [
        *([] if percent is None else [f"a meter error of {voice.percent(percent)}"]),
        *([] if watts is None else [f"a round-the-clock load of {voice.watts(watts)}"]),
    ]
    return {
        "told": (
            f"With 90 % probability these bills would have shown {' or '.join(seen)} that began half-way through them, "
            "or at the meter exchange where there was one. What is smaller, or began later, could hide in them."
        )
        if seen
        else "These bills alone would not have shown a meter error of any size looked at.",
        "drawn": result.visible is not None and bool(result.visible.onset),
        "over_confident": result.over_confident,
        "scale": "" if result.doubt_scale is None else f"{voice.figure(result.doubt_scale)} times",
    }


def _interval(result: Reconciliation) -> Words | None:
    data = result.interval
    if data is None:
        return None
    voice = result.voice
    return {
        "kwh": voice.exact(data.kwh),
        "readings": voice.number(data.readings),
        "from": voice.short_day(data.start.date()),
        "to": voice.short_day(data.end.date()),
        "step": f"{voice.number(data.step_minutes)} minutes",
        "assumed": [assumed_text(one, voice) for one in data.assumed],
        "actions": [action_text(action, voice) for action in data.actions],
        "tie_out": [
            {
                "dates": _span(result, result.rows[tie.period]),
                "billed": voice.exact(tie.billed_kwh),
                "interval": voice.number(tie.interval_kwh, 0.1),
                "difference": "–"
                if tie.difference_percent is None
                else f"{voice.number(tie.difference_percent, 0.1, sign=True)} %",
                "shape": {True: "●", False: "▲", None: "○"}[tie.within],
                "word": {True: "agrees", False: "does not agree", None: "data do not cover it"}[tie.within],
            }
            for tie in data.tie_out
            if tie.period < len(result.rows)
        ],
        "reads": reads_text(data.reading_hour, data.inclusive_dates, result.voice),
        "floor": "" if data.floor_watts is None else f"{voice.number(data.floor_watts, 10.0)} W",
        "signals": signals(data, voice),
        "usual_days": usual_days(data, voice),
    }
