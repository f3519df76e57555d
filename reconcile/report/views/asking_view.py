"""What to say, what to know before, and what it is about in money."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from typing import TYPE_CHECKING, Any

from reconcile.costs import COSTS
from reconcile.facts import OTHERS, only_moves
from reconcile.money.stake import EITHER
from reconcile.report.views.call_view import call_of, weather_cause
from reconcile.report.views.first_view import (
    OF_THE_AMOUNT,
    falls_lead,
    likeliest_of,
    price_line,
    runs_first,
    since_line,
    three_figures,
)
from reconcile.report.views.letter_view import ABOUT_METER, TRUED_UP, asked, letter
from reconcile.say import Voice
from reconcile.texts.cause_words import unsure
from reconcile.texts.money import refunds_text
from reconcile.texts.page_words import LOW_RISK, SLOW_RISK, back_text, before_a_call
from reconcile.texts.phone import phone_words

if TYPE_CHECKING:
    from reconcile.result import Cause, Reconciliation

Words = dict[str, Any]
OWN_USE = frozenset(
    ("constant-load", "timed-load", "habit-step", "heating-rise", "cooling-rise", "unlisted", "generation-fall")
)
"""Causes whose energy the home itself used."""


NO_RISE = ("explained", "owed", "below-list", "meter-slow", "falls", "generation")
"""Rules whose answer tells of no rise: where no bill is high either, nothing was charged too much."""


def phone_lines(result: Reconciliation) -> list[str]:
    """Return what to say, line by line."""
    voice, rows, verdict = result.voice, result.rows, result.verdict
    # a price is asked about whatever was used
    apart = verdict.requests == ("which-rate",) or any(f.key in OTHERS for f in result.findings)
    marked = [] if apart or falls_lead(result) else [row for row in rows if row.flag == "over"]
    seen = ""
    if marked:
        size = three_figures(result)["kwh"]
        bills = "One bill is" if len(marked) == 1 else f"{len(marked)} bills are"
        seen = f"{bills} {size} over what this home usually uses."
    # who answers must know which bills it is about, also where none is high: those that the letter names
    about = [] if apart else [rows[i] for i in letter(result)["named"]] or marked
    span = voice.span(about[0].start, about[-1].end) if about else ""
    cause = weather_cause(result)
    since = "" if cause is None else _since(cause, voice)
    seen = seen or since_line(result) or price_line(result)
    waits = [at for at, key in enumerate(verdict.requests) if key == "meter-test" and runs_first(result)]
    meter = bool((ABOUT_METER | {"volts-then"}) & set(verdict.requests))
    return list(
        phone_words(call_of(result), seen, asked(result), span, bills=len(about), since=since, waits=waits, meter=meter)
    )


def _since(cause: Cause, voice: Voice) -> str:
    """Since when, for another firm: by the season, where no day is known on which heating began to take more."""
    if cause.since is None:
        return ""
    dated = unsure(cause.since, cause.since_low, cause.since_high) is None
    return voice.day(cause.since) if dated else "this heating season"


def before_asking(result: Reconciliation) -> list[str]:
    """Return what to know before the call."""
    verdict = result.verdict
    if verdict.decision == "urgent":
        return []
    figures = {
        "asks": any(key != "which-rate" for key in verdict.requests),
        "over": verdict.over.bills > 0, "meter": "meter-test" in verdict.requests,
    }  # fmt: skip
    return [*before_a_call(figures, result.voice), *risk_of_asking(result)]


def risk_of_asking(result: Reconciliation) -> list[str]:
    """Return what a question may bring upon who asks: a slow meter, or a low bill, can mean a bill for the past."""
    verdict, at = result.verdict, result.costs or COSTS
    slow = verdict.meter_slow_probability or 0.0
    slow = max(slow, *(c.probability for c in result.causes if c.code == "old-meter-slow"), 0.0)
    meter = bool(ABOUT_METER & set(verdict.requests))
    told = [result.voice.fill(SLOW_RISK, {"slow": slow})] if meter and slow >= at.open_at else []
    return [*told, LOW_RISK] if "check-low-reading" in verdict.requests else told


def coming_back(result: Reconciliation) -> list[str]:
    """What might come back, by what the answer rests on."""
    verdict, voice, at = result.verdict, result.voice, result.costs or COSTS
    if verdict.decision in ("urgent", "not-enough-data"):
        return []
    leading = likeliest_of(result)
    code = leading.code if leading is not None and leading.probability >= at.likely else ""
    settled = any(finding.settles for finding in result.findings)
    calm = not verdict.over.bills and verdict.rule in NO_RISE
    money = result.money
    if code in ("meter-step", "meter-always") or verdict.field_test_warranted:
        found = () if money is None else money.refunds
        supposed = () if money is None or found else money.supposed
        keys, rules = ["meter"], refunds_text(found or supposed, voice, supposed=not found)
    elif verdict.requests == ("which-rate",):
        keys, rules = ["price"], ""
    elif code == "swap" and not settled and verdict.decision in ("paperwork", "explained"):
        keys, rules = ["moved"], ""
    elif verdict.requests and not settled:
        asking = [f for f in result.findings if f.asks]
        beyond = any(f.code in OF_THE_AMOUNT and (f.amount or 0) > 0 for f in asking)
        missing = bool(asking) and all(f.code == "gap" for f in asking)
        wrong = "none-high" if calm else "if-wrong"
        keys, rules = ["if-no-line" if beyond else "missing" if missing else wrong], ""
    elif settled or verdict.requests:
        keys, rules = [_of_the_records(result)], ""
    elif code in OWN_USE and leading is not None and (leading.kwh or 0.0) >= 0.0:
        keys, rules = ["own-use"], ""
    else:
        keys, rules = ["none-high" if calm else "open"], ""
    slow = max((c.probability for c in result.causes if c.code in ("old-meter-slow", "meter-low")), default=0.0)
    return [
        *back_text(keys, voice),
        *([rules] if rules else []),
        *back_text(["slow"] if slow >= at.open_at else [], voice),
    ]


OF_THE_KWH = ("interval-mismatch", "reading-mismatch", "meter-number")
"""Findings that say by how many kWh a bill charges more or less than was used."""


def _of_the_records(result: Reconciliation) -> str:
    """What might come back for what the billing records settle."""
    found = [f for f in result.findings if f.settles]
    if any(f.key in OTHERS for f in result.findings):
        return "others"
    if found and all(only_moves(f) for f in found):
        return "moved"
    if found and all(f.code in EITHER for f in found):
        return "either"
    apart = [f for f in found if f.kwh]
    if apart and all(f.code in OF_THE_KWH and (f.kwh or 0.0) < 0.0 for f in apart):
        return "records-less"
    trued_up = [f for f in found if {f.code, f.key} & TRUED_UP]
    if not found or (result.verdict.requests and (trued_up != found or any(f.asks for f in found))):
        return "records"
    if trued_up == found:
        late = sum(f.kwh or 0.0 for f in found if f.code == "catch-up")
        return "trued-up-low" if late > 0 else "trued-up"
    if all(f.figures.get("paid") == "other" for f in found):
        return "typed"
    return "typed-first" if all(f.household and not f.asks for f in found) else "records"


def should_cost(result: Reconciliation) -> list[Words]:
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
