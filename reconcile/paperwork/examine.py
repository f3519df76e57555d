"""The paper, examined: every finding, in the order of the bills."""

from __future__ import annotations

import numpy as np

from reconcile.house import House
from reconcile.paperwork.estimates import examine_estimates
from reconcile.paperwork.facts import Facts, Finding
from reconcile.paperwork.ledger import lay_out
from reconcile.paperwork.rebill import sort_out


def examine(house: House) -> Facts:
    """Find everything that the bills, readings and tariff prove without statistics.

    Numbers the user gave are never changed: ``billed_kwh`` is the bill's own ``kwh`` wherever it has one.

    Parameters
    ----------
    house : House

    Returns
    -------
    Facts
    """
    findings: list[Finding]
    findings, aside = sort_out(house)
    ledger = lay_out(house, aside)
    estimates, loose, unfinished = examine_estimates(ledger)
    findings += estimates
    aside |= {i: why for i, why in unfinished.items() if i not in aside}
    findings.sort(key=lambda f: f.periods)
    return Facts(np.array(ledger.kwh, dtype=float), tuple(findings), frozenset(loose), aside, ())
