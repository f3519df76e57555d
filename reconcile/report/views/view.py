"""One answer as plain words and numbers already rounded: what the page and the terminal print."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from reconcile.read.household.danger_words import IS_DANGER, MAY_BE_DANGER
from reconcile.report.views.asking_view import before_asking, coming_back, phone_lines, risk_of_asking, should_cost
from reconcile.report.views.first_view import (
    causes_told,
    decision_name,
    field_line,
    figures_beside,
    first_step,
    runs_first,
    three_figures,
)
from reconcile.report.views.interval_view import signals, usual_days
from reconcile.report.views.loads_view import loads_apart, loads_of, loads_sum, measures_of
from reconcile.report.views.read_as_one import joined
from reconcile.rounding import step_of, to_step
from reconcile.say import NOTHING
from reconcile.texts import tell
from reconcile.texts.cause_words import NAMES
from reconcile.texts.findings import finding_do, finding_text
from reconcile.texts.glossary_words import GLOSSARY, LIVE
from reconcile.texts.interval import action_text, assumed_text
from reconcile.texts.interval_findings import AGREES, UNCOVERED, reads_text
from reconcile.texts.labels import FINDINGS, FLAGS, SIGNS, place_of, spoken
from reconcile.texts.page_words import (
    CHANCES,
    CHANCES_SUM,
    JOINED,
    METER_SUM,
    NEXT_MARK,
    PART_WORD,
    SIGNS_LINE,
    TIED_OUT,
    TOGETHER,
    complain,
    pair_text,
)
from reconcile.verdict.sums import excess_step
from reconcile.weigh.constants import FAMILY_LEVEL

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reconcile.facts import Finding
    from reconcile.result import Cause, Period, Reconciliation, Step

Words = dict[str, Any]
_NONE_OF_ITS_OWN: dict[str, Any] = dict.fromkeys(("usual_low_kwh", "usual_high_kwh", "excess_kwh", "excess_amount"))
"""What an estimate has no range and no difference of its own in: what is usual would follow the estimate."""


def view(result: Reconciliation) -> Words:
    """Return everything an answer says, in order, as text.

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
        "decision": decision_name(result),
        "urgent": verdict.decision == "urgent",
        "signs": [spoken(sign, SIGNS) for sign in result.house.dangers],
        "headline": verdict.headline,
        "meter_line": verdict.meter_line,
        "three": three_figures(result),
        "figures": figures_beside(result),
        "signs_line": SIGNS_LINE,
        "danger_words": tuple(line for line in result.notices if IS_DANGER in line or MAY_BE_DANGER in line),
        "site_dangers": () if result.field_test is None else result.field_test.cautions,
        "field_line": field_line(result),
        "first": first_step(verdict.next_steps),
        "stop": [step.text for step in verdict.next_steps] if verdict.decision == "urgent" else [],
        "complain": complain(verdict.decision, runs_first=runs_first(result))
        if verdict.requests and verdict.decision != "urgent"
        else "",
        "phone": phone_lines(result),
        "before_a_call": before_asking(result),
        "risk": risk_of_asking(result),
        "back": coming_back(result),
        "letter_ready": bool(verdict.requests),
        "should_cost": should_cost(result),
        "bills_caption": _bills_caption(result),
        "listed": bool(result.house.loads),
        "reasons": [*tied_out(result), *verdict.reasons],
        "steps": _steps(verdict.next_steps, by_place=verdict.decision != "urgent"),
        "periods": _periods(result),
        "findings": [
            {
                "name": spoken(finding.code, FINDINGS),
                "periods": _days_of(finding, result),
                "text": finding_text(finding, result.voice),
                "do": finding_do(finding, result.voice),
                "kwh": "" if finding.kwh is None else f"{voice.number(finding.kwh)} kWh",
                "amount": "" if finding.amount is None else voice.money(finding.amount),
            }
            for finding in result.findings
        ],
        "causes": [_cause(cause, result) for cause in causes_told(result)],
        "chances": _chances(result),
        "loads": loads_of(result),
        "loads_sum": loads_sum(result),
        "loads_apart": loads_apart(result),
        "measures": [] if verdict.decision == "urgent" else measures_of(result),
        "visible": _visible(result),
        "interval": _interval(result),
        "notices": list(result.notices),
        "words": _GLOSSARY,
        "live": LIVE,
        "family": voice.number(100 * FAMILY_LEVEL),
        "coverage": f"{voice.number(100 * result.house.band.coverage)} %",
    }


_GLOSSARY = [
    {"name": voiced.capitalize() if voiced.islower() else voiced, "meaning": word.meaning}
    for word in GLOSSARY
    if word.told
    for voiced in [word.word if word.on_the_page == "as is" else word.on_the_page]
]


def _chances(result: Reconciliation) -> list[str]:
    """What the chances of causes mean; and the meter's own, where several causes are of it."""
    fast = result.verdict.meter_fast_probability
    shown = causes_told(result)
    several = sum(c.code in ("meter-step", "meter-always") for c in shown) > 1
    told = [round(100 * c.probability) for c in shown]
    added = [CHANCES_SUM.format(sum=sum(told))] if sum(told) > 100 and len(told) > 1 else []
    return [CHANCES, *added, *([result.voice.fill(METER_SUM, {"fast": fast})] if several and fast is not None else [])]


def _bills_caption(result: Reconciliation) -> str:
    listed = "Striped: from the load list only. " if result.house.loads else ""
    return (
        f"Each line is a bill, as kWh a day. {listed}Plain band: what this house usually uses, with the other bills. "
        f"▲ over it, ▼ under it, ○ not judged.{JOINED if any(one.as_usual for one in joined(result)) else ''}"
    )


def _range(result: Reconciliation) -> str:
    rows = result.rows
    if not rows:
        return "No bills"
    bills = "One bill" if len(rows) == 1 else f"{len(rows)} bills"
    return f"{bills}, {result.voice.span(min(r.start for r in rows), max(r.end for r in rows))}"


def tied_out(result: Reconciliation) -> list[str]:
    """Return the line that interval data add up to the bills, where they do: it is what people look for in them."""
    ties = [] if result.interval is None else [tie for tie in result.interval.tie_out if tie.within is not None]
    if not ties or not all(tie.within for tie in ties):
        return []
    return [tell(result.voice, TIED_OUT, "one" if len(ties) == 1 else "all", {"count": len(ties)})]


def _span(result: Reconciliation, row: Period) -> str:
    return result.voice.span(row.start, row.end)


def _steps(steps: Sequence[Step], *, by_place: bool) -> list[Words]:
    """Steps with what stands before them; the cautions of a section once, at its head."""
    out: list[Words] = []
    said: set[str] = set()
    for step in steps:
        place = "" if step.code == "keep-reading" else place_of(step.code, step.hazard)
        out.append(
            {
                "number": len(out) + 1,
                "place": place,
                "new_place": by_place and bool(place) and (not out or out[-1]["place"] != place),
                "cautions": [line for line in step.cautions if line not in said],
                "text": step.text,
                "minutes": f"{step.minutes} minutes" if step.minutes else "",
                "optional": step.optional,
                "would_show": [(outcome.outcome, outcome.then) for outcome in step.would_show],
            }
        )
        said.update(step.cautions)
    return out


def _days_of(finding: Finding, result: Reconciliation) -> list[str]:
    """Days that a finding is about: the bills', or those that are on none."""
    if finding.key == "gap":
        return [result.voice.span(finding.figures["closes"], finding.figures["opens"])]
    return [_span(result, result.rows[i]) for i in finding.periods if i < len(result.rows)]


NOTHING_KWH = 0.5
"""Energy of a cause below which it adds none to these bills [kWh]: it moves some between them."""


def _periods(result: Reconciliation) -> list[Words]:
    step, voice = excess_step(result.rows), result.voice
    rows, pairs = [], {i: one for one in joined(result) for i in range(one.first, one.last + 1)}
    for index, row in enumerate(result.rows):
        shape, word = FLAGS[row.flag]
        part = "" if row.part_of is None else NAMES[result.causes[row.part_of].code]
        told, pair, many, both = row, "", "", pairs.get(index)
        if both is not None:
            pair = pair_text(both.finding.figures, voice, last=index == both.last, as_usual=both.as_usual)
        of_pair = both is not None and both.as_usual
        if both is not None and of_pair:
            many = TOGETHER[both.last - both.first > 1]
            shape, word = (shape, f"{many} {word}") if index == both.last else NEXT_MARK
            told = both.row if index == both.last else replace(row, **_NONE_OF_ITS_OWN)
        elif row.flag == "within" and part:
            word = PART_WORD
        excess = None if told.excess_kwh is None else to_step(told.excess_kwh, step)
        usual = voice.between(told.usual_low_kwh, told.usual_high_kwh)
        rows.append(
            {
                "index": index + 1,
                "dates": _span(result, row),
                "days": str(row.days),
                "billed": voice.exact(row.billed_kwh),
                "usual": f"{many} {usual}" if many and usual != NOTHING else usual,
                "listed": voice.between(row.low_kwh, row.high_kwh) if result.house.loads and not of_pair else NOTHING,
                "excess": voice.number(excess, step, sign=True),
                "amount": ""
                if told.excess_amount is None or not excess
                else voice.about_money(told.excess_amount, sign=True),
                "shape": shape,
                "word": word,
                "stands_out": row.flag in ("over", "under"),
                "part_of": f"may be part of {part}" if part and row.flag == "within" else "",
                "pair": pair,
                # with a sign of danger none is judged, which is said once
                "why": "" if result.house.dangers and index else row.why_not_judged or "",
                "read": "" if row.read_type == "actual" else f"{row.read_type} reading",
            }
        )
    return rows


def _cause(cause: Cause, result: Reconciliation) -> Words:
    voice, size = result.voice, ""
    if cause.size is not None and cause.size_low is not None and cause.size_high is not None:
        low, high = cause.size_low, cause.size_high
        # the sentence says "fell by", so the limits are told the same way round
        ends = (-high, -low) if cause.size < 0 else (low, high)
        size = voice.between(*ends, cause.unit, step=step_of((high - low) / 2.0))  # no finer than the sentence's own
    return {
        "name": NAMES.get(cause.code, cause.code.replace("-", " ")),
        "chance": voice.chance(cause.probability),
        "since": voice.short_day(cause.since) if cause.since else "",
        "until": voice.short_day(cause.until) if cause.until else "",
        "size": size,
        "kwh": ""
        if abs(cause.kwh or 0.0) < NOTHING_KWH or cause.code == "unlisted"
        else f"{voice.figure(cause.kwh)} kWh over these bills",
        "text": cause.text,
    }


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
            "or at the meter exchange where there was one. What is smaller, began later, or was there before "
            "the first bill could hide in them."
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
        "title": voice.of_readings("The hourly readings (interval data)"),
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
                "interval": "–" if tie.within is None and not tie.interval_kwh else voice.number(tie.interval_kwh, 0.1),
                "difference": "–"
                if tie.difference_percent is None
                else f"{voice.number(tie.difference_percent, 0.1, sign=True)} %",
                "shape": {True: "●", False: "▲", None: "○"}[tie.within],
                "word": UNCOVERED.get(tie.why, "data do not cover it")
                if tie.within is None
                else (AGREES.get(tie.why, "agrees") if tie.within else "does not agree"),
            }
            for tie in data.tie_out
            if tie.period < len(result.rows)
        ],
        "reads": reads_text(data.reading_hour, data.inclusive_dates, result.voice),
        "floor": "" if data.floor_watts is None else f"{voice.number(data.floor_watts, 10.0)} W",
        "floor_since": "" if data.onset is None else voice.short_day(data.onset.day),
        "signals": signals(data, voice, result.house),
        "usual_days": usual_days(data, voice),
    }
