"""Weigh one house: model, bands, patterns and their posterior, in one pass (method page)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from reconcile import kinds
from reconcile.facts import Facts
from reconcile.house import House
from reconcile.interval.found import Evidence
from reconcile.meter.observation import Observation
from reconcile.records import dataclass
from reconcile.weigh import constants as k
from reconcile.weigh.balance import laid_out
from reconcile.weigh.beside import Beside, ByBills, Learnt, bills_alone, heard_beside
from reconcile.weigh.evidence import possible, quick_totals, scale_without, weigh_under
from reconcile.weigh.gaussian import Fit, fit, fits
from reconcile.weigh.generation_rows import generation_rows
from reconcile.weigh.interval_rows import (
    clocked,
    dated_onsets,
    evidence_rows,
    fallen,
    grown,
    lacking,
    seen_between,
    spells_seen,
    together,
)
from reconcile.weigh.large_loads import large_between
from reconcile.weigh.late import likely_late
from reconcile.weigh.model import Layout, Model
from reconcile.weigh.onset import day_within
from reconcile.weigh.pairs import Parts, parts_under
from reconcile.weigh.patterns import kinds_mask, patterns
from reconcile.weigh.places import MOST_SINGLES, DaysSeen, Places, places
from reconcile.weigh.refit import Heard
from reconcile.weigh.shapes import fitted_shape
from reconcile.weigh.site_rows import SiteRows, site_rows, size_bounds, with_twins
from reconcile.weigh.ways import Ways
from reconcile.weigh.weighed import Weighing

Floats = NDArray[np.float64]

LEADERS = 4
"""Causes that stand for all while the ways of the household are learnt."""

LEAST_SHARE = 0.01
"""Ways of the household that are less likely once the bills are heard are left out."""

FAR_SCATTERED, MORE_SCATTER = 3.0, 1.1
"""By how many times the bills' scatter without a cause must be larger than the model has it for causes to be weighed
again with sizes as stated, and by how many times the scatter under the likeliest of them must be larger than the one by
which they are so (our choice: the bills of most homes scatter less, and are weighed once)."""


def weigh_house(
    house: House,
    facts: Facts,
    observations: tuple[Observation, ...] = (),
    *,
    evidence: tuple[Evidence, ...] = (),
    heard: NDArray[np.bool_] | None = None,
    triples_of: int = 12,
    odds: Mapping[str, float] | None = None,
) -> Weighing:
    """Weigh a house's bills, with site readings and interval data where there are any.

    How far the household departs from its list, and by what habits of its own, is learnt from the bills first.

    Parameters
    ----------
    facts : Facts
        What the paper settled; at least one period must be left to judge.
    evidence : tuple of Evidence
        What the signals of interval data say; bills that the data do not cover are weighed as all others.
    heard : ndarray of bool, shape (n,), or None
        Periods that vouch for the others, of which those with too few days of weather do not; all that the paper has
        not set aside where not given.
    triples_of : int
        As :func:`reconcile.weigh.evidence.weigh`.
    odds : mapping of str to float, optional
        By how much likelier than the table of causes says each code is before any bill is seen.
    """
    judged = heard
    if judged is None:
        judged = np.isfinite(facts.billed_kwh)
        judged[list(facts.set_aside or {})] = False
    layout, judged = laid_out(house, facts, lacking(evidence, house.bills), judged)
    given = _Given(house, facts, layout, judged, Beside(observations, evidence))
    ways = _ways(given)
    at = _places(given, ways, odds or {})
    learnt = _learnt(ways, at, given.residual(layout.model), judged)
    by_bills = _by_bills(given, learnt, at, triples_of)
    rows = _rows_beside(given, by_bills)
    by_all = bills_alone(by_bills, learnt) if rows is None else heard_beside(by_bills, learnt, rows, given.beside)
    model, found, more = by_bills.model, by_bills.found, layout.if_lasting(learnt.mean)
    lasting = _lasting(by_bills, more)
    for_sizes = replace(model, noise=model.noise + lasting * more)
    return Weighing(
        model=model,
        judged=judged,
        bills=by_bills.bills,
        data=by_all.data,
        factors=by_all.factors,
        wider=learnt.wider,
        shape=by_bills.shape,
        found=found,
        candidates=by_all.candidates,
        posterior=by_all.posterior,
        heard=Heard(for_sizes, facts.billed_kwh, judged, found, by_all.rows, k.FREEDOM, by_all.data.scale),
        lasting=lasting,
        under=tuple((float(c), own) for c, own in zip(by_all.shares, learnt.models, strict=True) if c > 0.0),
        house=house,
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Given:
    """What a house is weighed from."""

    house: House
    facts: Facts
    layout: Layout
    judged: NDArray[np.bool_]
    beside: Beside

    def residual(self, model: Model) -> Floats:
        """What the judged bills are over a model's mean [kWh]."""
        return (self.facts.billed_kwh - model.mean)[self.judged]


_Way: TypeAlias = "tuple[float, Model, Fit]"
"""Chance, before any bill is seen, of ways that the household may have; the model and the judged bills under them."""


def _ways(given: _Given) -> list[_Way]:
    """Return what the household's ways may be: the list as stated first, which without one has no chance."""
    layout, both = given.layout, np.ix_(given.judged, given.judged)
    chances = k.BARE_CHANCES if layout.model.bare else [chance for chance, *_ in k.WAYS]
    models = [layout.under(Ways.of(*sizes)) for _, *sizes in k.WAYS]
    bills = fits(given.residual(layout.model), np.stack([model.covariance[both] for model in models]), k.FREEDOM)
    return list(zip(chances, models, bills, strict=True))


def _places(given: _Given, ways: Sequence[_Way], odds: Mapping[str, float]) -> Places:
    """Return where each cause may stand, and how likely beforehand, by what the bills as stated and the data show."""
    usual, evidence, judged = given.layout.model, given.beside.evidence, given.judged
    residual = given.residual(usual)
    if evidence:  # interval data tell the day better than the bills do
        spells = spells_seen(evidence, usual.starts, usual.days)
        closes = usual.starts + usual.days
        clock = clocked(evidence, usual.starts, closes)
        seen = DaysSeen(dated_onsets(evidence), clock, spells, grown(evidence), fallen=fallen(evidence))
    else:
        _, model, bills = ways[1]
        seen = DaysSeen(within=day_within(model, bills, given.facts, judged))
    shown = seen_between(evidence, usual.starts, usual.days)
    seen = replace(seen, stuck=large_between(usual, residual, judged) if shown is None else shown)
    _, model, bills = ways[0]
    at = places(given.house, given.facts, usual.days, _outstanding(bills, judged), seen)
    at = likely_late(at, model, bills, judged)
    if residual.sum() < 0.0:
        # a list that the bills do not reach is not too short, and says of no meter that it was always fast; a load of
        # known watts says it of a meter, whatever the list
        registered = "registration" in given.beside.kinds
        reached = kinds_mask("list-short", *(() if registered else ("meter-always",)))[at.kind_index]
        at = replace(at, log_odds=np.where(reached, -np.inf, at.log_odds))
    if odds:
        likelier = np.array([np.log(odds.get(kind.code, 1.0)) for kind in kinds.PATTERNS.values()])
        at = replace(at, log_odds=at.log_odds + likelier[at.kind_index])
    return at


def _outstanding(bills: Fit, judged: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Periods that may hold an event of their own: all, or of many bills those that stand out furthest."""
    if len(judged) <= MOST_SINGLES:
        return np.arange(len(judged))
    pulled = np.zeros(len(judged))
    pulled[judged] = np.abs(bills.half.T @ bills.white) / np.sqrt(np.diagonal(bills.precision))
    return np.sort(np.argsort(pulled)[-MOST_SINGLES:])


def _learnt(ways: Sequence[_Way], at: Places, residual: Floats, judged: NDArray[np.bool_]) -> Learnt:
    """Learn from the bills how the household may depart from its list: the ways that the bills leave likely."""
    chances, models, bills = zip(*(way for way in ways if way[0] > 0.0), strict=True)
    shape = fitted_shape(models[0], bills[0], judged)
    found = patterns(at, models[0], shape, bills[0], judged)
    candidates = found.candidates(found.effect[judged])
    parts = parts_under(list(zip(chances, bills, strict=True)), candidates)
    logs = quick_totals(parts, candidates, LEADERS)
    share = np.exp(logs - logs.max())
    share /= share.sum()
    mean = Ways.mean([model.ways for model in models], share)
    kept = np.flatnonzero(share >= LEAST_SHARE)
    held = _held(parts)[kept].tolist()
    wider = [
        models[i].noise + part * models[i].factors @ models[i].factors.T for i, part in zip(kept, held, strict=True)
    ]
    again = fits(residual, np.stack(wider)[:, judged][:, :, judged], k.FREEDOM)
    mean_held = float(share[kept] @ held / share[kept].sum())
    kept_chances, kept_models = zip(*((chances[i], models[i]) for i in kept), strict=True)
    return Learnt(kept_chances, kept_models, tuple(again), tuple(held), mean, mean_held)


def _held(parts: Parts) -> Floats:
    """Part by which the bills scatter less than the model has it with the likeliest cause in, squared; 1 at the least.

    One unknown scale multiplies the bills' own scatter and all that is not known of the house. That a household lives
    evenly says nothing of how well its list was guessed: a list a quarter off would else be as good as excluded.
    """
    left = parts.misfit[:, None] + parts.loss - parts.pull**2 / parts.one
    every, misfit = np.column_stack([parts.single, parts.none]), np.column_stack([left, parts.misfit])
    best = misfit[np.arange(len(every)), np.argmax(every, axis=1)]
    return np.asarray(np.maximum(2.0 * parts.exponent / np.maximum(best, parts.freedom), 1.0))


def _by_bills(given: _Given, learnt: Learnt, at: Places, triples_of: int) -> ByBills:
    """Weigh the judged bills; again, where they scatter far more than the model has it, with sizes as stated."""
    judged, beside, model = given.judged, given.beside, given.layout.under(learnt.mean)
    factors, noise = model.factors[judged], model.noise[np.ix_(judged, judged)]
    residual = given.residual(model)
    bills = fit(residual, factors @ factors.T + noise, k.FREEDOM)
    shape = fitted_shape(model, bills, judged)
    found = patterns(at, model, shape, bills, judged)
    deep = triples_of if len(residual) >= 12 else 0
    found = with_twins(found, beside.kinds)
    candidates = found.candidates(found.effect[judged])
    under = list(zip(learnt.chances, learnt.bills, strict=True))
    posterior, shares = weigh_under(under, candidates, triples_of=deep)
    stated, taken = found, 1.0
    while bills.scale > FAR_SCATTERED:
        scatter = scale_without(bills, candidates, posterior.likeliest)
        if scatter <= MORE_SCATTER * taken:
            break
        taken, found = scatter, stated.sized(scatter)
        candidates = found.candidates(found.effect[judged])
        posterior, shares = weigh_under(under, candidates, triples_of=deep)
    bounds = size_bounds(found, given.facts, judged, net=given.house.generation)
    posterior = possible(posterior, bills, candidates, *bounds)
    return ByBills(model, judged, bills, shape, found, candidates, posterior, shares, deep, bounds)


def _rows_beside(given: _Given, by: ByBills) -> SiteRows | None:
    """Everything that is heard beside the bills as rows; None where nothing is."""
    beside = given.beside
    sent = generation_rows(given.house, by.model, by.found, by.judged)
    if not beside.readings and not beside.evidence and sent is None:
        return None
    rows = site_rows(given.house, by.model, by.found, by.shape, beside.readings)
    rows = rows if sent is None else together(rows, sent)
    return together(rows, evidence_rows(by.found, by.shape, beside.evidence, by.model)) if beside.evidence else rows


def _lasting(by: ByBills, more: Floats) -> float:
    """Chance that what the household does otherwise lasts some months, by its bills, whatever causes act.

    ``more`` is what is then added to the noise (n, n).
    """
    covariances = by.model.covariance + np.stack([np.zeros_like(more), more])
    each = fits(by.bills.residual, covariances[:, by.judged][:, :, by.judged], k.FREEDOM)
    heard = list(zip((1.0 - k.LASTS, k.LASTS), each, strict=True))
    against, lasts = quick_totals(parts_under(heard, by.candidates), by.candidates, LEADERS)
    return float(1.0 / (1.0 + np.exp(np.clip(against - lasts, -50.0, 50.0))))
