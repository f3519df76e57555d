"""The billing records, examined: every finding, in the order of the bills."""

from __future__ import annotations

import numpy as np

from reconcile.facts import Aside, Facts, Finding
from reconcile.house import House
from reconcile.money.own_prices import own_prices
from reconcile.money.recompute import recompute
from reconcile.money.stake import with_money
from reconcile.paper.date_checks import examine_dates
from reconcile.paper.estimates import examine_estimates
from reconcile.paper.exchange import examine_exchanges, examine_meter_work, find_exchanges
from reconcile.paper.instalments import examine_instalments
from reconcile.paper.kwh_against_money import beside_the_line, examine_own_prices, on_own_price
from reconcile.paper.ledger import lay_out
from reconcile.paper.meter_test import examine_meter_test
from reconcile.paper.multiplier import examine_factor, examine_multipliers, shared_factors
from reconcile.paper.net_metering import examine_net_metering
from reconcile.paper.other_charges import examine_charges, examine_export_credit
from reconcile.paper.paid_for import by_amount, setting_aside
from reconcile.paper.price_checks import examine_prices
from reconcile.paper.reading_checks import examine_readings, one_factor
from reconcile.paper.rebill import sort_out
from reconcile.paper.slips import examine_slips
from reconcile.paper.stopped import examine_stopped
from reconcile.paper.unit_checks import examine_units


def examine(house: House) -> Facts:
    """Find everything that the bills, readings and tariff show without statistics.

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
    live = tuple(i for i in range(len(house.bills)) if i not in aside)
    ledger = lay_out(house, live, find_exchanges(house, live))

    by_date, overlapping = examine_dates(ledger, aside)
    estimates, loose, unfinished = examine_estimates(ledger)
    seen = examine_readings(ledger, frozenset(loose))
    examine_slips(ledger, seen, frozenset(loose))
    mismatched = {i for f in seen.findings if f.key == "reading-mismatch" for i in f.periods} | seen.ratios.keys()
    factor = examine_factor(ledger, mismatched)
    multipliers, misscaled = examine_multipliers(
        ledger, {} if factor else {**shared_factors(ledger, mismatched), **seen.ratios}
    )

    recomputed = tuple(recompute(house, live, ledger.kwh))
    net, charged = examine_net_metering(ledger, recomputed)
    if charged is not ledger:
        recomputed = tuple(recompute(house, live, charged.kwh))
    stopped = examine_stopped(ledger, frozenset(loose) | unfinished.keys())
    units, misread = examine_units(charged, recomputed)
    odd, misplaced = ([], {}) if units else examine_own_prices(charged, recomputed)
    prices = own_prices(house, charged.kwh, aside | misread | misplaced)
    odd = [f for f in odd if f.key != "unit-price/amount" or not on_own_price(charged, prices, *f.periods)]
    findings += [*by_date, *estimates, *seen.findings, *multipliers, *stopped.findings, *units, *odd]
    findings += [] if factor is None else [factor]
    settled = {i for f in odd if f.settles for i in f.periods}
    beside = [f for f in beside_the_line(charged, prices) if not settled & {*f.periods}]
    known = {f.periods for f in beside}
    mistyped = {i: Aside.MISTYPED for f in (*odd, *beside) if f.figures.get("exactly") for i in f.periods}
    findings = [f for f in findings if f.key != "other-charge/arrears" or f.periods not in known]
    findings += [
        *examine_exchanges(ledger),
        *examine_meter_work(ledger),
        *examine_meter_test(ledger),
        *examine_instalments(ledger),
        *examine_charges(ledger),
        *net,
        *examine_export_credit(ledger),
        *examine_prices(charged, recomputed, prices),
        *beside,
    ]
    findings = sorted(_without_consequences(findings), key=lambda f: f.periods)
    aside |= {i: why for i, why in mistyped.items() if i not in aside}
    for reasons in (overlapping, unfinished, stopped.aside, misread, misplaced, seen.aside, misscaled):
        aside |= {i: why for i, why in reasons.items() if i not in aside}
    facts = Facts(
        billed_kwh=np.array(ledger.kwh, dtype=float),
        findings=tuple(with_money(house, prices, charged.kwh, f) for f in findings),
        loose_edges=frozenset(loose | seen.loose | stopped.loose),
        set_aside=aside,
        exchanges=ledger.exchanges,
        one_factor=one_factor(ledger),
        recomputed=recomputed,
        own_prices=prices,
        charged_kwh=None if charged is ledger else np.array(charged.kwh, dtype=float),
    )
    return setting_aside(facts, by_amount(house, facts, facts.findings))


FOLLOW = {
    "unit-mismatch": (
        "amount-mismatch",
        "amount-mismatch/most",
        "amount-mismatch/since",
        "multiplier/every-bill",
        "multiplier/readings",
        "multiplier/as-if",
        "reading-mismatch",
    ),
    "unit-price": ("amount-mismatch",),
    "other-charge/arrears": ("amount-mismatch", "unit-price/amount"),
    "other-charge/off-line": ("unit-price/amount",),
    "unit-price/kwh": (
        "unit-price/amount",
        "stopped-register",
        "stopped-register/between",
    ),
    "multiplier": ("reading-mismatch",),
    "multiplier/lost": ("stopped-register", "stopped-register/between"),
    "reading-slip/backwards": ("negative-use",),
    "meter-number/since": ("meter-exchange",),
    "net-metering": ("negative-use/generation",),
    "net-metering/unclear": ("amount-mismatch", "amount-mismatch/most", "amount-mismatch/since"),
}
"""Findings, by their key, that only follow from another one of the same bills: kWh in another unit fit neither the
tariff nor the readings; whether a meter was exchanged, or another home's is billed, is one question."""


def _without_consequences(findings: list[Finding]) -> list[Finding]:
    known = {(key, i) for f in findings for key in (*FOLLOW.get(f.code, ()), *FOLLOW.get(f.key, ())) for i in f.periods}
    return [f for f in findings if not all((f.key, i) in known for i in f.periods)]
