"""What is heard beside the bills, readings on site and interval data, weighed with them (method page, eq. 14, 15)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reconcile.interval.found import Evidence
from reconcile.meter.observation import Observation
from reconcile.records import dataclass
from reconcile.weigh import constants as k
from reconcile.weigh.evidence import Posterior, at_least, possible, scale_without, sizes, weigh_under
from reconcile.weigh.gaussian import Fit, fit
from reconcile.weigh.interval_rows import as_scattered
from reconcile.weigh.mixture import Reading, Rows, reweigh
from reconcile.weigh.model import Model
from reconcile.weigh.pairs import Candidates
from reconcile.weigh.patterns import Patterns
from reconcile.weigh.shapes import Shape
from reconcile.weigh.site_rows import SiteRows
from reconcile.weigh.ways import Ways

Floats = NDArray[np.float64]

LEAST_SHARE_BESIDE = 0.03
"""Ways of the household that are less likely by the bills are left out where more is heard, each at a dozen scales."""


@dataclass(frozen=True, slots=True)
class Beside:
    """All that is heard beside the bills: readings on site, and signals of interval data."""

    observations: tuple[Observation, ...] = ()
    evidence: tuple[Evidence, ...] = ()

    @property
    def readings(self) -> tuple[Observation, ...]:
        """Readings of the house's use: what the meter counts with the main off is judged by itself."""
        return tuple(one for one in self.observations if one.kind != "main-off")

    @property
    def kinds(self) -> frozenset[str]:
        """Kinds of the readings and of the signals."""
        return frozenset((*(one.kind for one in self.observations), *(one.kind for one in self.evidence)))


@dataclass(frozen=True, slots=True, eq=False)
class Learnt:
    """Ways that the household may have: chance beforehand, model and bills under each; and their mean.

    ``held`` is what the shared unknowns' covariance is multiplied by, so that they are as doubtful as stated however
    little the bills scatter; ``mean_held`` under the mean of the ways.
    """

    chances: tuple[float, ...]
    models: tuple[Model, ...]
    bills: tuple[Fit, ...]
    held: tuple[float, ...]
    mean: Ways
    mean_held: float

    @property
    def wider(self) -> float:
        """Times by which the shared unknowns' factors are then wider, under the mean of the ways."""
        return float(np.sqrt(self.mean_held))


@dataclass(frozen=True, slots=True, eq=False)
class ByBills:
    """What the m judged bills alone say."""

    model: Model
    """Of all n periods, under the mean of the household's ways."""
    judged: NDArray[np.bool_]
    """Shape (n,)."""
    bills: Fit
    shape: Shape
    found: Patterns
    """On all n periods."""
    candidates: Candidates
    """The patterns found, scaled, on the judged bills."""
    posterior: Posterior
    shares: Floats
    """Chance of each of the ways that were kept."""
    triples_of: int
    """As :func:`reconcile.weigh.evidence.weigh`."""
    bounds: tuple[Floats, Floats]
    """Of each pattern's size, as :func:`reconcile.weigh.site_rows.size_bounds` gives them."""

    @property
    def noise(self) -> Floats:
        """Covariance of the judged bills that no shared unknown holds, shape (m, m)."""
        return self.model.noise[np.ix_(self.judged, self.judged)]

    @property
    def factors(self) -> Floats:
        """Of the judged bills, shape (m, q)."""
        return self.model.factors[self.judged]


@dataclass(frozen=True, slots=True, eq=False)
class ByAll:
    """What all N rows say that are heard, the bills first."""

    data: Fit
    factors: Floats
    """Of the rows, as doubtful as stated however little the bills scatter, shape (N, q)."""
    candidates: Candidates
    posterior: Posterior
    shares: Floats
    rows: SiteRows | None
    """Those beside the bills, as they are likeliest read."""


def bills_alone(by: ByBills, learnt: Learnt) -> ByAll:
    """Return what the bills say where nothing is heard beside them."""
    factors = learnt.wider * by.factors
    data = fit(by.bills.residual, learnt.wider**2 * by.factors @ by.factors.T + by.noise, k.FREEDOM)
    return ByAll(data, factors, by.candidates, by.posterior, by.shares, None)


def heard_beside(by: ByBills, learnt: Learnt, rows: SiteRows, beside: Beside) -> ByAll:
    """Weigh rows with the bills; again, where a signal scatters more than is known of it, with that signal in doubt."""
    heard = _heard(by, learnt, rows)
    doubted = as_scattered(rows, _left(heard.data, heard.candidates, heard.posterior.likeliest), beside.evidence)
    if doubted is not rows:
        heard = _heard(by, learnt, doubted)
    return replace(heard, posterior=_as_judged(heard.posterior, heard.candidates, by.found, doubted, beside))


def _heard(by: ByBills, learnt: Learnt, rows: SiteRows) -> ByAll:
    """Weigh the rows with the bills under each of the household's likely ways, and each way to read them."""
    judged, residual, likely = by.judged, by.bills.residual, by.shares >= LEAST_SHARE_BESIDE
    candidates = by.found.candidates(np.concatenate([by.found.effect[judged], rows.effect]))
    ways_read, readings = rows.ways(), []
    for way in np.flatnonzero(likely):
        chance, own, held = learnt.chances[way], learnt.models[way], learnt.held[way]
        scale = scale_without(learnt.bills[way], by.candidates, by.posterior.likeliest)
        for part, read in ways_read:
            # what the loads draw at night is as doubtful as the list is under these ways
            wider = replace(read, factors=read.factors * np.sqrt(held * own.ways.limits / learnt.mean.limits))
            both = _rows(residual, own.noise[np.ix_(judged, judged)], wider, np.sqrt(held) * own.factors[judged])
            readings.append(Reading(chance * part, both, scale))
    under = [(one.chance, one.rows.at(one.scale)) for one in readings]
    screened, _ = weigh_under(under, candidates, triples_of=by.triples_of)
    posterior, chances = reweigh(readings, candidates, screened)
    by_way = chances.reshape(-1, len(ways_read))
    _, read = ways_read[int(np.argmax(by_way.sum(axis=0)))]
    wider = replace(read, factors=learnt.wider * read.factors)
    factors = learnt.wider * by.factors
    data = _rows(residual, by.noise, wider, factors).at(readings[-1].scale)
    posterior = possible(posterior, data, candidates, *by.bounds)
    shares = np.zeros(len(likely))
    shares[likely] = by_way.sum(axis=1)
    return ByAll(data, np.concatenate([factors, wider.factors]), candidates, posterior, shares, read)


def _as_judged(
    posterior: Posterior, candidates: Candidates, found: Patterns, rows: SiteRows, beside: Beside
) -> Posterior:
    """Hold the chance that the meter is wrong to what a run judged outside its limits says of it.

    Whether the meter is wrong today the run itself has measured; how large the errors are that bills can see, and how
    rare, says nothing against it. Since when, and what acts besides, is what the bills tell.
    """
    first = len(rows.residual) - sum(len(signal.value) for signal in beside.evidence)
    ends = first + np.cumsum([len(signal.value) for signal in beside.evidence], dtype=np.int64)
    judged = [(row, one.value - 1.0, one.chance) for row, one in enumerate(beside.readings)]
    judged += [
        (int(end) - 1, signal.value[-1], signal.chance)
        for end, signal in zip(ends, beside.evidence, strict=True)
        if signal.chance
    ]
    for row, error, chance in judged:
        if chance > 0.0:
            acting = (rows.effect[row] != 0.0) & (found.size_mean * error > 0.0)
            posterior = at_least(posterior, candidates, acting, chance)
    return posterior


def _rows(residual: Floats, noise: Floats, site: SiteRows, factors: Floats) -> Rows:
    """Bills and what is heard beside them together; only the bills' own scatter has an unknown scale."""
    count = len(residual)
    every = np.concatenate([factors, site.factors])
    scaled, known = every @ every.T, np.zeros((len(every), len(every)))
    scaled[:count, :count] += noise
    known[count:, count:] = site.noise
    return Rows(np.concatenate([residual, site.residual]), scaled, known, k.FREEDOM)


def _left(data: Fit, candidates: Candidates, members: tuple[int, ...]) -> Floats:
    """What some patterns leave of all that was heard, shape (N,)."""
    chosen = list(members)
    return np.asarray(data.residual - candidates.columns[:, chosen] @ sizes(data, candidates, members)[0])
