"""Weigh one house: model, bands, patterns and their posterior, in one pass (method page)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reconcile.facts import Facts
from reconcile.house import House
from reconcile.meter.observation import Observation
from reconcile.weigh import constants as k
from reconcile.weigh.evidence import Candidates, Posterior, weigh
from reconcile.weigh.gaussian import Fit, fit
from reconcile.weigh.model import Model, build
from reconcile.weigh.patterns import Patterns, Shape, fitted_shape, kinds_mask, patterns
from reconcile.weigh.site_rows import site_rows

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Weighing:
    """Everything weighed of a house.

    Attributes
    ----------
    model : Model
        Of all n periods.
    judged : ndarray of bool, shape (n,)
        Periods heard.
    bills : Fit
        Of the judged bills alone.
    data : Fit
        The same and the site readings.
    factors : ndarray, shape (N, q)
        The rows of ``data`` on the model's shared unknowns.
    shape : Shape
    found : Patterns
        On all n periods.
    candidates : Candidates
        The same, scaled, on the rows of ``data``.
    posterior : Posterior
    """

    model: Model
    judged: NDArray[np.bool_]
    bills: Fit
    data: Fit
    factors: Floats
    shape: Shape
    found: Patterns
    candidates: Candidates
    posterior: Posterior

    @property
    def log_evidence(self) -> float:
        """Logarithm of the density of all that was heard, whatever causes act, less a constant of n and freedom."""
        data = self.data
        null = np.log(np.diagonal(data.half)).sum()
        null -= 0.5 * (data.freedom + len(data.residual)) * np.log(data.freedom + data.misfit)
        return float(null) + self.posterior.log_total

    def last_starts(self, count: int) -> float:
        """Day (ordinal) on which the last so many judged periods begin."""
        starts = self.model.starts[self.judged]
        return float(starts[-min(count, len(starts))])

    def kinds(self, *names: str) -> NDArray[np.bool_]:
        """Mark the patterns of some kinds, shape (K,)."""
        return kinds_mask(*names)[self.found.kind_index]

    def chance(self, *names: str) -> float:
        """Probability that a cause of some of these kinds acts."""
        return self.posterior.chance_of_any(kinds_mask(*names)[: len(self.posterior.kind_single)])


def weigh_house(
    house: House,
    facts: Facts,
    observations: tuple[Observation, ...] = (),
    *,
    heard: NDArray[np.bool_] | None = None,
    triples_of: int = 12,
) -> Weighing:
    """Weigh a house's bills, and site readings where there are any.

    Where the bills scatter more than the stated limits allow, they are weighed a second time with a list taken for
    over-confident, and the reading for which the bills speak is kept.

    Parameters
    ----------
    house : House
    facts : Facts
        What the paper settled; at least one period must be left to judge.
    observations : tuple of Observation
    heard : ndarray of bool, shape (n,), or None
        Periods that vouch for the others; all that the paper has not set aside where not given.
    triples_of : int
        As :func:`reconcile.weigh.evidence.weigh`.

    Returns
    -------
    Weighing
    """
    judged = heard
    if judged is None:
        judged = np.isfinite(facts.billed_kwh)
        judged[list(facts.set_aside or {})] = False
    stated = _weigh(build(house, facts), house, facts, judged, observations, triples_of)
    if stated.model.bare or stated.bills.scale < 1.0:
        return stated
    model = build(house, facts, doubted=True, energy=stated.model.energy)
    doubted = _weigh(model, house, facts, judged, observations, triples_of)
    odds = np.log(k.DOUBTED_CHANCE / (1.0 - k.DOUBTED_CHANCE))
    return doubted if odds + doubted.log_evidence > stated.log_evidence else stated


def _weigh(
    model: Model,
    house: House,
    facts: Facts,
    judged: NDArray[np.bool_],
    observations: tuple[Observation, ...],
    triples_of: int,
) -> Weighing:
    factors, noise = model.factors[judged], model.noise[np.ix_(judged, judged)]
    residual = (facts.billed_kwh - model.mean)[judged]
    bills = fit(residual, factors @ factors.T + noise, k.FREEDOM)
    shape = fitted_shape(model, bills, judged)
    found = patterns(house, facts, shape, judged)
    effect = found.effect[judged]
    data = bills
    usable = [o for o in observations if o.kind != "main-off"]
    if usable:
        rows = site_rows(house, model, found, shape, usable)
        factors = np.concatenate([factors, rows.factors])
        own = np.zeros((len(factors), len(factors)))
        own[: len(residual), : len(residual)] = noise
        at = np.arange(len(residual), len(factors))
        own[at, at] = rows.noise
        data = fit(np.concatenate([residual, rows.residual]), factors @ factors.T + own, k.FREEDOM)
        effect = np.concatenate([effect, rows.effect])
    candidates = found.candidates(effect)
    deep = triples_of if len(residual) >= 12 else 0
    posterior = weigh(data, candidates, triples_of=deep)
    return Weighing(model, judged, bills, data, factors, shape, found, candidates, posterior)
