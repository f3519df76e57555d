"""Registers that go on elsewhere from one bill to the next, as those of two meters do, where no exchange is known."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from reconcile.facts import Finding
from reconcile.house import registers
from reconcile.paper.ledger import LIKE_THE_REST, MOST_KWH_PER_DAY, Ledger


def register_jumps(ledger: Ledger) -> dict[int, tuple[int, ...]]:
    """Find bills whose register goes on elsewhere than where the bill before them closes.

    Were one of the two readings wrong, the other would do in place of it. Where neither does, two registers were read.
    Nothing is said of a register that generation may turn back.

    Returns
    -------
    dict of int to tuple of int
        By the last bill before each jump, the bills read from the other register: to the last, to the next exchange,
        or to the bill after which the first one is read again.
    """
    if ledger.house.generation:
        return {}
    changed = {x.period for x in ledger.exchanges}
    out: dict[int, tuple[int, ...]] = {}
    own: int | None = None
    for k in sorted(ledger.joins):
        a, b = ledger.live[k], ledger.live[k + 1]
        if ledger.bills[a].reading_end == ledger.bills[b].reading_start:
            continue
        if b in changed or not {a, b}.isdisjoint(ledger.spans):
            own = None
        elif own is not None and _goes_on(ledger, own, b):
            out[own] = tuple(i for i in out[own] if i < b)
            own = None
        elif own is None and _jumps(ledger, a, b):
            until = min((x for x in changed if x > b), default=len(ledger.bills))
            out[a] = tuple(i for i in ledger.live if b <= i < until)
            own = a
    return out


def jump_finding(ledger: Ledger, a: int, later: Sequence[int]) -> Finding:
    """Tell that the register goes on elsewhere after bill ``a``: an exchange nobody noted, or another home's meter."""
    before, after = ledger.bills[a], ledger.bills[later[0]]
    figures = {
        "day": before.end,
        "closing": before.reading_end,
        "opening": after.reading_start,
        "count": len(later),
        "meter": before.meter if before.meter == after.meter else None,
    }
    return Finding(
        "meter-number",
        tuple(later),
        settles=True,
        case="jump",
        figures=figures,
        asks=("which-meter-since",),
        household=("compare-number",),
    )


def _jumps(ledger: Ledger, a: int, b: int) -> bool:
    first, last = ledger.bills[a], ledger.bills[b]
    starts, closes, opens, ends = first.reading_start, first.reading_end, last.reading_start, last.reading_end
    if starts is None or closes is None or opens is None or ends is None or closes == opens:
        return False
    if "estimated" in (first.read_type, last.read_type, last.read_type_start):
        return False
    charged = zip((a, b), (closes - starts, ends - opens), strict=True)
    if any(units < 0 or not _could_be(ledger, i, units) for i, units in charged):
        return False  # a wrong reading within one of the bills
    others = (a, starts, opens), (b, closes, ends)
    return not any(_could_be(ledger, i, registers.difference(x, y, ledger.meters[i].digits)) for i, x, y in others)


def _goes_on(ledger: Ledger, a: int, b: int) -> bool:
    """Whether bill ``b`` opens where the register of bill ``a`` may have come to."""
    closes, opens = ledger.bills[a].reading_end, ledger.bills[b].reading_start
    if closes is None or opens is None or opens < closes:
        return False
    days = (ledger.bills[b].start - ledger.bills[a].closes).days
    return _could_be(ledger, a, (opens - closes) * ledger.days[a] / max(days, 1))


def _could_be(ledger: Ledger, i: int, units: float) -> bool:
    """Whether a difference of readings may be what bill ``i`` used."""
    rates = ledger.other_rates(i)
    most = LIKE_THE_REST * median(rates) if rates else MOST_KWH_PER_DAY
    return units * ledger.multipliers[i] / max(ledger.days[i], 1) <= most
