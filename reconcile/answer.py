"""The main job: one house in, one answer out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reconcile import interval, meter, money, paper
from reconcile.decide import ALIKE, CHECK_AT, LASTING, RIVAL_AT, Chances, chances, decide
from reconcile.facts import Facts
from reconcile.house import Event, House
from reconcile.plan.cause_words import cause_text
from reconcile.plan.sentences import verdict_of
from reconcile.result import Cause, LoadShare, Period, Reconciliation, Visible
from reconcile.say import Voice
from reconcile.texts.findings import aside_text, finding_do, finding_text
from reconcile.weigh.bands import Bands, inventory_band, usual_bands
from reconcile.weigh.causes import best_model, name_causes
from reconcile.weigh.gaussian import Fit
from reconcile.weigh.measure import effort_of, next_measures, shares_of_doubt
from reconcile.weigh.model import Model, build
from reconcile.weigh.patterns import KINDS
from reconcile.weigh.visible import Rules, smallest_visible
from reconcile.weigh.weighing import Weighing, weigh_house

Floats = NDArray[np.float64]

DISPUTED_AT = 0.25
"""Chance of a cause from which its kWh and money are stated as in dispute."""

EPISODE_AT = 0.8
"""Chance of a cause with an onset at which its periods are flagged and taken out of what is usual."""

EPISODES = tuple(
    kind
    for kind in KINDS
    if kind not in ("meter-always", "unlisted", "list-short", "single-high", "single-low", "swap", "swap-back")
)
"""Kinds of cause that begin and last."""


def reconcile(house: House) -> Reconciliation:
    """Weigh a house's bills against its loads, and say what to do.

    Parameters
    ----------
    house : House
        As read by :func:`reconcile.read_house`, or built by hand; with at least one bill.

    Returns
    -------
    Reconciliation

    Raises
    ------
    ValueError
        Where the house has no bill at all.
    """
    if not house.bills:
        raise ValueError("a house without a single bill cannot be weighed")
    facts, voice = paper.examine(house), Voice(house.locale, house.currency)
    intervals = interval.examine(house, facts)
    findings = facts.findings
    if intervals is not None:
        findings = (*findings, *interval.findings(intervals, house))
    findings = tuple(replace(f, text=finding_text(f, voice), do=finding_do(f, voice)) for f in findings)
    tested = house.field_test is not None and any(
        (house.field_test.runs, house.field_test.quiet, house.field_test.main_off)
    )
    observations = meter.observations(house) if tested else ()
    field_test = meter.judge_test(house) if tested else None
    judged = np.isfinite(facts.billed_kwh)
    judged[list(facts.set_aside or {})] = False
    # a bill that its own interval data or its own amount contradict is judged, but predicts no other
    contradicted = {
        i
        for finding in findings
        if finding.code == "interval-mismatch" or (finding.code == "unit-price" and finding.settles)
        for i in finding.periods
    }
    heard = judged.copy()
    if len(contradicted) < int(judged.sum()):
        heard[list(contradicted)] = False
    told = _with_onset(house, intervals)
    weighing = weigh_house(told, facts, observations, heard=heard) if judged.any() else None
    model = weighing.model if weighing is not None else build(house, facts)
    odds = chances(weighing) if weighing is not None else None
    causes = _causes(weighing)
    bands = _bands(house, facts, model, heard, judged, weighing)
    rows = _rows(house, facts, model, bands)
    view = _view(weighing, facts)
    over = any(row.flag == "over" for row in rows)
    urgent = bool(house.dangers) or (field_test is not None and field_test.verdict == "urgent")
    decision = (
        "urgent" if urgent else decide(house, weighing, odds, findings, observations, over=over, paid=_paid(house))
    )
    measures = next_measures(house, weighing)
    weather_kwh = _weather_kwh(weighing)
    account = money.account(house, facts, weather_kwh, bands.usual)
    if account is not None:
        account = account.disputing(facts, _disputed(causes))
    scale = float(np.sqrt(weighing.bills.scale)) if weighing is not None else None
    verdict = verdict_of(
        decision, house, facts, rows, findings, causes, odds, observations, measures, view, account, field_test
    )
    return Reconciliation(
        house=house,
        rows=rows,
        findings=tuple(findings),
        causes=causes,
        verdict=verdict,
        loads=_loads(house, model, weighing),
        money=account,
        interval=intervals,
        field_test=field_test,
        visible=view.shown if view is not None else None,
        measures=measures,
        load_kwh=tuple(tuple(float(x) for x in column) for column in model.parts.T),
        degree_days=(
            tuple(float(x) for x in model.energy.degree_days[:, 0]),
            tuple(float(x) for x in model.energy.degree_days[:, 1]),
        )
        if model.weathered
        else None,
        over_confident=_over_confident(weighing, odds),
        doubt_scale=scale,
        notices=_notices(house, model, scale, weighing, odds),
    )


def _with_onset(house: House, intervals: interval.IntervalResult | None) -> House:
    """Hourly data that show a step of the base load speak like a line of the diary."""
    if intervals is None or intervals.onset is None:
        return house
    return replace(house, events=(*house.events, Event(intervals.onset.day, "new-load")))


def _paid(house: House) -> Decimal:
    """A bill's usual money: the middle one of those known."""
    known = sorted(bill.amount for bill in house.bills if bill.amount is not None)
    return known[len(known) // 2] if known else Decimal(0)


def _disputed(causes: Sequence[Cause]) -> list[tuple[str, tuple[float, ...], float, float]]:
    """Causes likely enough to be argued about, with the limits of their size as factors."""
    return [
        (cause.code, cause.pattern_kwh, cause.size_low / cause.size, cause.size_high / cause.size)
        for cause in causes
        if cause.probability >= DISPUTED_AT
        and cause.size
        and cause.size_low is not None
        and cause.size_high is not None
    ]


def quantile(probability: float, freedom: float) -> float:
    """Quantile of Student's t."""
    from scipy.special import stdtrit

    return float(stdtrit(freedom, probability))


def chance_beyond(t: float, freedom: float) -> float:
    """Two-sided tail of Student's t."""
    from scipy.special import stdtr

    return float(2.0 * stdtr(freedom, -abs(t)))


def _causes(weighing: Weighing | None) -> tuple[Cause, ...]:
    if weighing is None:
        return ()
    named = name_causes(weighing, quantile)
    return tuple(replace(cause, text=_told(cause)) for cause in named)


def _told(cause: Cause) -> str:
    doubt = (
        (cause.size_high - cause.size_low) / 4.0 if cause.size_high is not None and cause.size_low is not None else None
    )
    return cause_text(cause.code, cause.probability, cause.since, cause.size, cause.unit, doubt)


def _episode(weighing: Weighing) -> tuple[Floats, Floats] | None:
    """Effect, and its standard uncertainty, of the likeliest causes with an onset, where one is likely enough."""
    if weighing.chance(*EPISODES) < EPISODE_AT:
        return None
    lasting = weighing.kinds(*EPISODES)
    likeliest = np.argsort(np.where(lasting, weighing.posterior.acts, -1.0))[-3:]
    best = best_model(weighing, [int(i) for i in likeliest])
    if best is None:
        return None
    n = len(weighing.judged)
    effect, variance = np.zeros(n), np.zeros(n)
    for at, member in enumerate(best.members):
        if lasting[member]:
            effect += best.kwh[:, at]
            variance += best.kwh_sd[:, at] ** 2
    return effect, np.sqrt(variance)


def _bands(
    house: House,
    facts: Facts,
    model: Model,
    heard: NDArray[np.bool_],
    judged: NDArray[np.bool_],
    weighing: Weighing | None,
) -> Bands:
    n = len(house.bills)
    coverage = house.band.coverage
    if weighing is None:
        low, high = inventory_band(model, coverage)
        empty = np.full(n, np.nan)
        return Bands(low, high, empty, empty, empty, np.ones(n), ("not-judged",) * n, ())
    found = _episode(weighing)
    effect, sd = found if found is not None else (np.zeros(n), np.zeros(n))
    bands = usual_bands(model, facts, heard, judged, effect, sd, coverage, quantile, chance_beyond)
    # An episode's periods are flagged from its cause: a step would hide from leaving one out.
    worth = np.abs(effect) > np.maximum(0.05 * bands.usual, sd)
    flags = tuple(
        flag if flag == "not-judged" or not worth[i] else ("over" if effect[i] > 0 else "under")
        for i, flag in enumerate(bands.flags)
    )
    return Bands(
        bands.low,
        bands.high,
        bands.usual,
        bands.usual_low,
        bands.usual_high,
        bands.outlying,
        flags,
        bands.blocks,
    )


def _rows(house: House, facts: Facts, model: Model, bands: Bands) -> tuple[Period, ...]:
    aside, voice = facts.set_aside or {}, Voice(house.locale, house.currency)
    rows = []
    for i, bill in enumerate(house.bills):
        billed = float(facts.billed_kwh[i])
        known = np.isfinite(billed)
        usual = float(bands.usual[i])
        excess = billed - usual if known and np.isfinite(usual) and i not in aside else None
        why = aside_text(aside[i], voice) if i in aside else None
        if not known and why is None:
            why = "the bill gives no kWh and no readings"
        if why is None and bands.flags[i] == "not-judged":
            why = "too little is left to judge it by"
        amount: Decimal | None = None
        if excess is not None:
            amount = money.cost_of(house, facts, i, excess)
        rows.append(
            Period(
                start=bill.start,
                end=bill.end,
                days=bill.days,
                billed_kwh=billed if known else None,
                flag=bands.flags[i],
                why_not_judged=why,
                expected_kwh=float(model.mean[i]),
                low_kwh=float(bands.low[i]),
                high_kwh=float(bands.high[i]),
                usual_kwh=_known(usual),
                usual_low_kwh=_known(bands.usual_low[i]),
                usual_high_kwh=_known(bands.usual_high[i]),
                excess_kwh=excess,
                excess_amount=amount,
                read_type=bill.read_type,
            )
        )
    return tuple(rows)


def _known(value: Any) -> float | None:
    return float(value) if np.isfinite(value) else None


def _weather_kwh(weighing: Weighing | None) -> Floats | None:
    if weighing is None or not weighing.model.weathered:
        return None
    return weighing.shape.heating + weighing.shape.cooling


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """What these bills could have shown: by onset, and at the onset that stands for the house."""

    shown: Visible
    meter_percent: float | None
    constant_watts: float | None


def _view(weighing: Weighing | None, facts: Facts) -> View | None:
    if weighing is None or int(weighing.judged.sum()) < 3:
        return None
    judged, shape = weighing.judged, weighing.shape
    n = len(judged)
    onsets = np.arange(n)
    steps = (np.arange(n)[None, :] >= onsets[:, None]).astype(float)
    meter = (steps * shape.all)[:, judged].T
    constant = (steps * shape.days)[:, judged].T
    effect = np.concatenate([meter, constant * shape.per_day], axis=1)
    rules = Rules(
        np.stack([weighing.kinds(*ALIKE), weighing.kinds(*LASTING)], axis=1).astype(float),
        np.array([CHECK_AT, RIVAL_AT]),
    )
    stands_for = facts.exchanges[-1].period if facts.exchanges else n // 2
    at = min(max(stands_for, 1), n - 1) if n > 1 else 0
    size = smallest_visible(_calm(weighing), weighing.candidates, effect, rules, (at, at))
    percent, watts = 100.0 * size[:n], size[n:] * shape.per_day / 0.024
    shown = Visible(
        onset=tuple(int(i) for i in onsets),
        meter_percent=tuple(_known(x) for x in percent),
        constant_watts=tuple(_known(x) for x in watts),
    )
    return View(shown, _known(percent[at]), _known(watts[at]))


def _calm(weighing: Weighing) -> Fit:
    """The bills with their scatter as it is once the likeliest causes are taken out: a cause is not noise."""
    if weighing.posterior.none >= CHECK_AT or len(weighing.data.residual) != len(weighing.bills.residual):
        return weighing.bills
    likeliest = [int(i) for i in np.argsort(weighing.posterior.acts)[-3:]]
    best = best_model(weighing, likeliest)
    left = weighing.bills.misfit if best is None else min(best.misfit, weighing.bills.misfit)
    return replace(weighing.bills, misfit=left)


def _loads(house: House, model: Model, weighing: Weighing | None) -> tuple[LoadShare, ...]:
    count = len(house.loads) + 1
    expected = model.parts.sum(axis=0)
    own = model.factors[:, :count]
    spread = own.sum(axis=0)
    mean, sd, doubts = expected.copy(), np.abs(spread), np.zeros(count)
    reach = 1.96
    if weighing is not None:
        data = weighing.data
        gain = weighing.factors[:, :count].T @ data.half.T
        moved = gain @ data.white
        left = np.maximum(1.0 - np.einsum("ij,ij->i", gain, gain), 0.0)
        mean = np.maximum(expected + spread * moved, 0.0)
        sd = np.abs(spread) * np.sqrt(left * data.scale)
        reach = quantile(0.975, data.freedom + len(data.residual))
        doubts = shares_of_doubt(weighing)
    names = [load.name for load in house.loads] + ["not on the list" if house.loads else "the whole house"]
    return tuple(
        LoadShare(
            load=names[j],
            expected_kwh=float(expected[j]),
            reconciled_kwh=float(mean[j]),
            low_kwh=float(max(mean[j] - reach * sd[j], 0.0)),
            high_kwh=float(mean[j] + reach * sd[j]),
            share_of_doubt=float(doubts[j]),
            effort=effort_of(house.loads[j]) if j < count - 1 else effort_of(None),
        )
        for j in range(count)
    )


def _over_confident(weighing: Weighing | None, odds: Chances | None) -> bool:
    """Whether the bills scatter, or stand off the list, clearly more than the stated limits allow."""
    if weighing is None or odds is None or weighing.model.bare:
        return False
    return weighing.model.doubted or abs(odds.level_score) > 2.0


def _notices(
    house: House, model: Model, scale: float | None, weighing: Weighing | None, odds: Chances | None
) -> tuple[str, ...]:
    said: list[str] = list(house.notices)
    gap = model.energy.weather_gap
    if not model.weathered:
        said.append(
            "No temperatures were given: a yearly swing of unknown size stands for the weather, and the bands are wide."
        )
    elif (gap > 0).any():
        days = round(float((gap * model.days).sum()))
        said.append(f"{days} days have no temperature; they were filled from the days around them.")
    if model.bare:
        said.append("No loads were listed: the bills are judged by one another and by the weather only.")
    if _over_confident(weighing, odds) and scale is not None:
        said.append(
            "The bills scatter more than the stated limits allow "
            f"(about {max(scale, 1.0):.1f} times): some watts or hours are less sure than the list says."
        )
    return tuple(said)
