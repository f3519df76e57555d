"""Estimated readings and the bills that make them good."""

from __future__ import annotations

import math

from reconcile import ledger_words as words
from reconcile.facts import Finding
from reconcile.paper.ledger import Ledger

LOOK = "Read the meter yourself with the date, and ask the utility for an actual reading."


def closes_on_estimate(ledger: Ledger, k: int) -> bool:
    """Whether the k-th live bill closes on an estimate, by its own word or the next one's."""
    live, bills = ledger.live, ledger.bills
    if bills[live[k]].read_type == "estimated":
        return True
    return k in ledger.joins and bills[live[k + 1]].read_type_start == "estimated"


def examine_estimates(ledger: Ledger) -> tuple[list[Finding], set[int], dict[int, str]]:
    """Find runs of estimates and their catch-ups; return findings, loose edges and bills to set aside."""
    findings: list[Finding] = []
    loose: set[int] = set()
    aside: dict[int, str] = {}
    live, bills = ledger.live, ledger.bills
    for k, i in enumerate(live):
        if bills[i].read_type_start == "estimated" and k - 1 not in ledger.joins:
            findings.append(_opens_on_estimate(ledger, i))
            aside[i] = "It opens with an estimate of a bill that is not here, and makes good its error."
    k = 0
    while k < len(live):
        if not closes_on_estimate(ledger, k):
            k += 1
            continue
        first = k
        while k in ledger.joins and closes_on_estimate(ledger, k + 1):
            k += 1
        run = live[first : k + 1]
        loose.update(run[:-1])
        if k in ledger.joins:
            loose.add(run[-1])
            findings += [_estimated(ledger, run), _catch_up(ledger, run, live[k + 1])]
        else:
            findings.append(_estimated(ledger, run))
            for i in run:
                aside[i] = "Its closing reading is an estimate, and no actual reading follows that makes it good."
        k += 1
    return findings, loose, aside


def _opens_on_estimate(ledger: Ledger, i: int) -> Finding:
    return Finding(
        "catch-up",
        (i,),
        None,
        None,
        f"{words.capital(words.span(ledger.bills[i]))} begins with an estimated reading, so it also carries the error "
        "of a bill that is not here.",
        "Add the earlier bills, back to one that closes with an actual reading.",
        settles=True,
    )


def _estimated(ledger: Ledger, run: tuple[int, ...]) -> Finding:
    bills = ledger.bills
    total = sum(ledger.kwh[i] for i in run)
    if len(run) == 1:
        text = f"{words.capital(words.span(bills[run[0]]))} closes with an estimated reading"
    else:
        text = f"{len(run)} bills in a row, to {words.day(bills[run[-1]].end)}, close with estimated readings"
    do = LOOK
    if len(run) > 1:
        do += (
            " Some rules let a utility estimate at most every other month (such as 52 Pa. Code 56.12): check your "
            "local rule."
        )
    return Finding(
        "estimated-read",
        run,
        None if math.isnan(total) else total,
        None,
        f"{text}: {'its energy' if math.isnan(total) else words.kwh(total)} was not read from the meter.",
        do,
        settles=True,
    )


def _catch_up(ledger: Ledger, run: tuple[int, ...], i: int) -> Finding:
    bills = ledger.bills
    estimated = sum(ledger.kwh[j] for j in run)
    caught = ledger.kwh[i]
    total_days = sum(bills[j].days for j in (*run, i))
    if total_days <= 0 or math.isnan(estimated + caught):
        return Finding("catch-up", (i,), None, None, _catch_up_start(ledger, i) + ".", LOOK, settles=True)
    even = (estimated + caught) / total_days
    moved = caught - even * bills[i].days
    text = (
        f"{_catch_up_start(ledger, i)}. From actual to actual reading the {words.days(total_days)} took "
        f"{words.kwh(estimated + caught)}, {words.rate(even)}; this bill alone shows "
        f"{words.rate(caught / bills[i].days)} and the estimate before it "
        f"{words.rate(estimated / (total_days - bills[i].days))}."
    )
    do = "Judge these bills together, not one by one."
    if moved > 0:
        do += " If prices changed meanwhile, ask that the energy be billed at the prices of its own days."
    return Finding("catch-up", (i,), moved, None, text, do, settles=True)


def _catch_up_start(ledger: Ledger, i: int) -> str:
    return f"{words.capital(words.span(ledger.bills[i]))} makes good the estimate before it"
