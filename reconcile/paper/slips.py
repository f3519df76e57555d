"""Misread or mistyped readings, shown by the register's own arithmetic.

Two cases, told apart. Where the register would have run backwards, one of the two readings *is*
wrong. Where one bill is far above and the next far below all others, while both together are ordinary and
one slip of a digit in the reading between them would make both ordinary, the readings only *suggest* it.
"""

from __future__ import annotations

import math
from statistics import median
from typing import Any

from reconcile.facts import Aside, Finding
from reconcile.house import registers
from reconcile.paper.ledger import Ledger
from reconcile.paper.reading_checks import ASK, Seen, agrees, read_today
from reconcile.records import dataclass

CLEAR_RATIO = 2.5
"""The high bill of a suggested pair has at least this many times the daily use of the low one (our choice)."""
CLEAR_OF_ALL = 1.3
"""It stands above the highest of all others by this factor, and the low one as far below the lowest (our choice)."""
FEWEST_OTHERS = 5
"""Bills needed beside the pair to say that it stands out (our choice)."""
MUCH_BETTER = 2.0
"""One of two explanations is named alone where it fits the other bills this many times better (our choice)."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """A reading that fits in place of the one written."""

    edge: int
    """Bill that closes with it."""
    written: float
    fits: float
    how: registers.Misread
    misfit: float
    """How far the two bills beside it then are from the middle bill (0: not at all)."""


def examine_slips(ledger: Ledger, seen: Seen, loose: frozenset[int]) -> None:
    """Add findings on bills whose register would have run backwards, and on clear high-low pairs."""
    told: set[int] = set()
    for i in seen.backwards:
        _backwards(ledger, i, seen)
        told.update(_neighbours(ledger, i))
    for k in sorted(ledger.joins):
        a, b = ledger.live[k], ledger.live[k + 1]
        if not told & {a, b} and not {a, b} & loose:
            _suggested(ledger, k, loose, seen)


def _neighbours(ledger: Ledger, i: int) -> tuple[int, ...]:
    k = ledger.live.index(i)
    return ledger.live[max(k - 1, 0) : k + 2]


def _edge_proposal(ledger: Ledger, k: int, middle: float) -> Proposal | None:
    """Best replacement by one misread for the reading between the k-th and the next live bill."""
    a = ledger.live[k]
    b = ledger.live[k + 1] if k + 1 < len(ledger.live) else None
    if b is not None and k not in ledger.joins:
        return None
    first, last = ledger.bills[a], ledger.bills[b] if b is not None else None
    written = first.reading_end
    if written is None or first.reading_start is None or a in ledger.spans or b in ledger.spans:
        return None
    if last is not None and (last.reading_start != written or last.reading_end is None):
        return None
    dials = registers.dials_of(max(first.reading_start, written), ledger.meters[a].digits)
    best: Proposal | None = None
    for value, how in registers.misreads_of(written, dials).items():
        before = (value - first.reading_start) * ledger.multipliers[a] / first.days
        after = middle
        if last is not None and b is not None and last.reading_end is not None:
            after = (last.reading_end - value) * ledger.multipliers[b] / last.days
        if before < 0 or after < 0:
            continue
        misfit = abs(math.log((before + 0.1) / (middle + 0.1))) + abs(math.log((after + 0.1) / (middle + 0.1)))
        if best is None or misfit < best.misfit:
            best = Proposal(a, written, value, how, misfit)
    return best


def _backwards(ledger: Ledger, i: int, seen: Seen) -> None:
    bill = ledger.bills[i]
    k = ledger.live.index(i)
    before = k - 1 if k - 1 in ledger.joins else None
    rest = ledger.other_rates(*_neighbours(ledger, i))
    middle = median(rest) if rest else 0.0
    found = [p for e in (before, k) if e is not None and (p := _edge_proposal(ledger, e, middle))]
    found.sort(key=lambda p: p.misfit)
    if len(found) == 2 and found[1].misfit > MUCH_BETTER * found[0].misfit:
        found = found[:1]
    edges = {p.edge for p in found} or {i, *((ledger.live[before],) if before is not None else ())}
    seen.loose |= {e for e in edges if ledger.live.index(e) in ledger.joins}
    moved = ledger.moved[i] or 0.0
    if bill.kwh is not None and not agrees(ledger, i, bill.kwh, moved):
        seen.aside[i] = Aside.BACKWARDS
    figures = {
        "bill": ledger.dates(i),
        "opens": bill.reading_start,
        "closes": bill.reading_end,
        "proposals": tuple(_proposed(ledger, p) for p in found),
        "moved": _shift(ledger, found[0])
        if len(found) == 1 and ledger.live.index(found[0].edge) in ledger.joins
        else None,
    }
    seen.findings.append(
        Finding(
            "reading-slip",
            _touched(ledger, edges, i),
            -moved,
            settles=True,
            case="backwards",
            figures=figures,
            asks=ASK,
            household=read_today(ledger, i),
        )
    )


def _shift(ledger: Ledger, p: Proposal) -> float:
    """What a misread reading puts on the bill before it instead of the one after [kWh]."""
    return (p.written - p.fits) * ledger.multipliers[p.edge]


def _proposed(ledger: Ledger, p: Proposal) -> dict[str, Any]:
    bill = ledger.bills[p.edge]
    return {
        "day": bill.end,
        "fits": p.fits,
        "written": p.written,
        "how": p.how,
        "customer": bill.read_type == "customer",
    }


def _touched(ledger: Ledger, edges: set[int], i: int) -> tuple[int, ...]:
    out = {i}
    for e in edges:
        k = ledger.live.index(e)
        out.update(ledger.live[k : k + 2] if k in ledger.joins else (e,))
    return tuple(sorted(out))


def _suggested(ledger: Ledger, k: int, loose: frozenset[int], seen: Seen) -> None:
    a, b = ledger.live[k], ledger.live[k + 1]
    if k and k - 1 in ledger.joins and ledger.live[k - 1] in loose:
        return
    rates = ledger.per_day[a], ledger.per_day[b]
    high, low = max(rates), min(rates)
    if not low >= 0 or high < CLEAR_RATIO * low:
        return
    rest = ledger.other_rates(a, b)
    if len(rest) < FEWEST_OTHERS or high < CLEAR_OF_ALL * max(rest) or low * CLEAR_OF_ALL > min(rest):
        return
    bills = ledger.bills
    together = (ledger.kwh[a] + ledger.kwh[b]) / (bills[a].days + bills[b].days)
    proposal = _edge_proposal(ledger, k, together)
    if proposal is None or not _within(together, rest) or not _ordinary(ledger, k, proposal, rest):
        return
    seen.loose.add(a)
    shift = _shift(ledger, proposal)
    figures = {
        "bill": ledger.dates(a),
        "per_day": rates[0],
        "next_per_day": rates[1],
        "together_per_day": together,
        "moved": shift,
        **_proposed(ledger, proposal),
    }
    seen.findings.append(
        Finding(
            "reading-slip",
            (a, b),
            shift,
            settles=True,
            case="suggested",
            figures=figures,
            asks=ASK,
            household=read_today(ledger, a),
        )
    )


def _within(value: float, rest: list[float]) -> bool:
    return min(rest) / CLEAR_OF_ALL <= value <= max(rest) * CLEAR_OF_ALL


def _ordinary(ledger: Ledger, k: int, proposal: Proposal, rest: list[float]) -> bool:
    a, b = ledger.live[k], ledger.live[k + 1]
    moved = _shift(ledger, proposal)
    return _within((ledger.kwh[a] - moved) / ledger.days[a], rest) and _within(
        (ledger.kwh[b] + moved) / ledger.days[b], rest
    )
