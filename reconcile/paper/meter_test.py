"""A test of the meter that the utility or a laboratory made: what it says of the bills is a fact."""

from __future__ import annotations

import math

from reconcile.facts import Finding
from reconcile.meter.told_test import meter_test_of, zone_of
from reconcile.paper.ledger import Ledger


def examine_meter_test(ledger: Ledger) -> list[Finding]:
    """Hold the bills of the tested meter against what its test gave.

    The test says how the meter registers on its day. How long it did so nobody knows by it: the rules of each place say
    how far back bills are corrected, so all bills of that meter are told.
    """
    event = meter_test_of(ledger.house)
    if event is None or event.percent is None:
        return []
    last = max((exchange.day for exchange in ledger.exchanges if exchange.day < event.day), default=None)
    periods = tuple(
        i for i in ledger.live
        if ledger.bills[i].start < event.day and (last is None or ledger.bills[i].closes > last)
    )  # fmt: skip
    if not periods:
        return []
    tolerance = ledger.meters[periods[-1]].tolerance_percent
    error = event.percent - 100.0
    figures = {
        "day": event.day, "percent": event.percent, "error": abs(error), "since": ledger.bills[periods[0]].start,
        "low": 100.0 - tolerance, "high": 100.0 + tolerance,
    }  # fmt: skip
    if zone_of(event.percent, tolerance) == "inside":
        return [Finding("meter-test", periods, case="right", figures=figures)]
    kwh = sum(ledger.kwh[i] * (1.0 - 100.0 / event.percent) for i in periods if math.isfinite(ledger.kwh[i]))
    case, asks = ("fast" if error > 0.0 else "slow"), ("correct-by-test",)
    return [Finding("meter-test", periods, kwh, settles=True, case=case, figures=figures, asks=asks)]
