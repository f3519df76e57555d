"""The load list against the bills, its sums as printed, and what to measure next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reconcile.grounds.load_shares import added_kwh, printed_step, sums_as_printed
from reconcile.texts.page_words import LOADS_SUM, MEASURED, MEASURED_ALONE, loads_apart_text

if TYPE_CHECKING:
    from reconcile.result import Reconciliation

Words = dict[str, Any]


def loads_of(result: Reconciliation) -> list[Words]:
    """Return each load by the list only, and with the bills."""
    voice = result.voice
    return [
        {
            "load": load.load,
            "listed": voice.number(load.expected_kwh, printed_step(load)),
            "with_bills": f"{voice.number(load.reconciled_kwh, printed_step(load))} "
            f"({voice.between(load.low_kwh, load.high_kwh, step=printed_step(load))})",
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
    steps = [printed_step(load) for load in result.loads]
    listed, heard = sums_as_printed(result.loads)
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


def loads_apart(result: Reconciliation) -> str:
    """Say what the rest under the load list is: what causes add, bills left out, and rounding."""
    added = added_kwh(result.causes)
    billed = sum(row.billed_kwh or 0.0 for row in result.rows)
    left = billed - sum(load.reconciled_kwh for load in result.loads) - added
    return loads_apart_text(added, left, own=bool(result.house.generation), voice=result.voice)


def measures_of(result: Reconciliation) -> list[Words]:
    """What to measure next, as far as it narrows clearly what a meter fast all along could be."""
    voice, out = result.voice, []
    for measure in result.measures:
        if not measure.helps:
            break  # each is reckoned with those before it measured
        figures = {"after": measure.doubt_percent_after, "before": measure.doubt_percent_before}
        then = voice.fill(MEASURED if measure.doubt_percent_before is not None else MEASURED_ALONE, figures)
        out.append({"load": voice.capital(measure.load), "how": measure.how, "then": then})
    return out
