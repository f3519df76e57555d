"""The load list against the bills, its sums as printed, and what to measure next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reconcile.rounding import step_of, to_step
from reconcile.texts.page_words import LOADS_SUM

if TYPE_CHECKING:
    from reconcile.result import Reconciliation

Words = dict[str, Any]


def loads_of(result: Reconciliation) -> list[Words]:
    """Return each load by the list only, and with the bills."""
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


def loads_sum(result: Reconciliation) -> list[Words]:
    """The sums of the load list as printed, what was billed, and the rest that no load of it accounts for."""
    if len(result.loads) < 2:
        return []
    voice = result.voice
    steps = [step_of((load.high_kwh - load.low_kwh) / 2) for load in result.loads]
    listed = sum(to_step(load.expected_kwh, step) for load, step in zip(result.loads, steps, strict=True))
    heard = sum(to_step(load.reconciled_kwh, step) for load, step in zip(result.loads, steps, strict=True))
    billed = round(sum(row.billed_kwh or 0.0 for row in result.rows), 2)
    step = min(1.0, *steps)
    rows = (
        ("all", listed, heard, False),
        ("billed", billed, billed, False),
        ("apart", billed - listed, billed - heard, True),
    )
    return [
        {
            "load": LOADS_SUM[key],
            "listed": voice.number(one, step, sign=sign),
            "with_bills": voice.number(two, step, sign=sign),
        }
        for key, one, two, sign in rows
    ]


def measures_of(result: Reconciliation) -> list[Words]:
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
