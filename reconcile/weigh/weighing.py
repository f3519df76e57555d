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
from reconcile.weigh.evidence import Posterior, at_least, possible, quick_totals, sizes, weigh_under
from reconcile.weigh.gaussian import Fit, fit, fits
from reconcile.weigh.generation_rows import generation_rows
from reconcile.weigh.interval_rows import (
    Beside,
    as_scattered,
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
from reconcile.weigh.mixture import Reading, Rows, reweigh
from reconcile.weigh.model import Layout, Model
from reconcile.weigh.onset import day_within
from reconcile.weigh.pairs import Candidates, Parts, parts_under
from reconcile.weigh.patterns import Patterns, kinds_mask, patterns
from reconcile.weigh.places import MOST_SINGLES, TIMED_KINDS, DaysSeen, Places, places
from reconcile.weigh.refit import Heard
from reconcile.weigh.shapes import Shape, fitted_shape
from reconcile.weigh.site_rows import SiteRows, idle_copies, meter_bounds, site_rows
from reconcile.weigh.ways import Ways

Floats = NDArray[np.float64]

LEADERS = 4
"""Causes that stand for all while the ways of the household are learnt."""

LEAST_SHARE = 0.01
"""Ways of the household that are less likely once the bills are heard are left out."""

FAR_SCATTERED, MORE_SCATTER = 3.0, 1.1
"""By how many times the bills' scatter without a cause must be larger than the model has it for causes to be weighed
again with sizes as stated, and by how many times the scatter under the likeliest of them must be larger than the one by
which they are so (our choice: the bills of most homes scatter less, and are weighed once)."""

LEAST_SHARE_BESIDE = 0.03
"""The same where readings on site or interval data are heard with them, each at a dozen scales."""


@dataclass(frozen=True, slots=True, eq=False)
class Weighing:
    """Everything weighed of a house."""

    model: Model
    """Of all n periods."""
    judged: NDArray[np.bool_]
    """Periods heard, shape (n,)."""
    bills: Fit
    """Of the judged bills alone."""
    data: Fit
    """The same, the site readings and the evidence of interval data."""
    factors: Floats
    """The rows of ``data`` on the model's shared unknowns, ``wider`` than the model has them, shape (N, q)."""
    wider: float
    """Times by which they are, so that the list is as doubtful as stated however little the bills scatter."""
    shape: Shape
    found: Patterns
    """On all n periods."""
    candidates: Candidates
    """The same, scaled, on the rows of ``data``."""
    posterior: Posterior
    heard: Heard
    """All that was heard, for fitting sizes."""
    lasting: float
    """Chance, by the bills, that what the household does otherwise lasts some months."""
    under: tuple[tuple[float, Model], ...]
    """The model under each of the ways that the household may have, and its chance once all is heard."""
    house: House

    @property
    def log_evidence(self) -> float:
        """Logarithm of how likely what was heard is under the model and its causes, less a constant."""
        data = self.data
        spread = 0.5 * (data.freedom + len(data.residual)) * float(np.log(data.freedom + data.misfit))
        return float(np.log(np.diagonal(data.half)).sum()) - spread + self.posterior.log_total

    def last_starts(self, count: int) -> float:
        """Day (ordinal) on which the last so many judged periods begin."""
        starts = self.model.starts[self.judged]
        return float(starts[-min(count, len(starts))])

    def kinds(self, *names: str) -> NDArray[np.bool_]:
        """Mark the patterns of some kinds, shape (K,)."""
        return kinds_mask(*names)[self.found.kind_index]

    def gone(self) -> NDArray[np.bool_]:
        """Mark the loads that came and are gone by the last judged period, shape (K,)."""
        over = self.found.closes <= np.flatnonzero(self.judged)[-1]
        return np.asarray(self.kinds(*TIMED_KINDS, "clock-load") & over, dtype=bool)

    def odd_bills(self) -> tuple[Floats, float]:
        """Variance that events of single bills may hold [kWh^2], in units of the scale, shape (n,), and their share."""
        found, n = self.found, len(self.judged)
        passing = np.flatnonzero(self.kinds("single-high", "single-low", "odd-bill", "swap", "swap-back"))
        white = self.bills.half @ self.candidates.columns[: len(self.bills.residual), passing]
        one = 1.0 + np.einsum("ij,ij->j", white, white)
        size = (self.bills.white @ white + self.candidates.shift[passing]) / one
        square = (size**2 + self.bills.scale / one) * self.posterior.acts[passing] / self.bills.scale
        columns = found.effect[:, passing] * found.size_sd[passing]
        share = float(self.posterior.acts[passing].sum()) / max(n, 1)
        return columns**2 @ square, min(share, 0.3)

    def unlisted_at_night(self, *beside: str) -> float:
        """Chance that a load that is not on the list draws in the quiet nights that were read, and none of some kinds.

        Zero where no such night was read: only then is it known to run round the clock.
        """
        if not (self.found.idle & self.kinds("unlisted")).any():
            return 0.0
        mine, others = self.kinds("unlisted") & ~self.found.idle, self.kinds(*beside)
        posterior = self.posterior
        several = ((posterior.pairs, posterior.pair), (posterior.triples, posterior.triple))
        alone = float(posterior.single[mine].sum())
        return alone + sum(
            float(weight[mine[models].any(axis=1) & ~others[models].any(axis=1)].sum()) for models, weight in several
        )

    @property
    def none(self) -> float:
        """Probability that no cause acts: the bills scatter as bills do."""
        return 1.0 - float(self.chances(~kinds_mask(*kinds.SCATTER)))

    def chance(self, *names: str) -> float:
        """Probability that a cause of some of these kinds acts."""
        return float(self.chances(kinds_mask(*names)))

    def each_chance(self, groups: Mapping[str, Sequence[str]]) -> dict[str, float]:
        """Probability that a cause of some kinds acts, for each of several groups of them."""
        member = np.stack([kinds_mask(*names) for names in groups.values()])
        return dict(zip(groups, self.chances(member).tolist(), strict=True))

    def chances(self, member: NDArray[np.bool_]) -> Floats:
        """Probability that a cause of the kinds marked acts, of each of several groups, shape (..., C) to (...)."""
        return self.posterior.chance_of_any(member[..., : len(self.posterior.kind_single)])


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
    usual = layout.model
    residual = (facts.billed_kwh - usual.mean)[judged]
    ways = _ways(layout, residual, judged)
    if evidence:  # interval data tell the day better than the bills do
        spells = spells_seen(evidence, usual.starts, usual.days)
        closes = usual.starts + usual.days
        clock = clocked(evidence, usual.starts, closes)
        seen = DaysSeen(dated_onsets(evidence), clock, spells, grown(evidence), fallen=fallen(evidence))
    else:
        _, model, bills = ways[1]
        seen = DaysSeen(within=day_within(model, bills, facts, judged))
    shown = seen_between(evidence, usual.starts, usual.days)
    seen = replace(seen, stuck=large_between(usual, residual, judged) if shown is None else shown)
    _, model, bills = ways[0]
    at = places(house, facts, usual.days, _outstanding(bills, judged), seen)
    at = likely_late(at, model, bills, judged)
    if residual.sum() < 0.0:
        # a list that the bills do not reach is not too short, and says of no meter that it was always fast; a load of
        # known watts says it of a meter, whatever the list
        registered = "registration" in {*(one.kind for one in observations), *(one.kind for one in evidence)}
        reached = kinds_mask("list-short", *(() if registered else ("meter-always",)))[at.kind_index]
        at = replace(at, log_odds=np.where(reached, -np.inf, at.log_odds))
    if odds:
        likelier = np.array([np.log(odds.get(kind.code, 1.0)) for kind in kinds.PATTERNS.values()])
        at = replace(at, log_odds=at.log_odds + likelier[at.kind_index])
    learnt = _learnt(ways, at, residual, judged)
    return _weigh(layout, learnt, at, house, facts, judged, Beside(observations, evidence), triples_of)


_Way: TypeAlias = "tuple[float, Model, Fit]"
"""Chance, before any bill is seen, of ways that the household may have; the model and the judged bills under them."""


def _ways(layout: Layout, residual: Floats, judged: NDArray[np.bool_]) -> list[_Way]:
    """Return what the household's ways may be: the list as stated first, which without one has no chance."""
    chances = k.BARE_CHANCES if layout.model.bare else [chance for chance, *_ in k.WAYS]
    models = [layout.under(Ways.of(*sizes)) for _, *sizes in k.WAYS]
    both = np.ix_(judged, judged)
    bills = fits(residual, np.stack([model.covariance[both] for model in models]), k.FREEDOM)
    return list(zip(chances, models, bills, strict=True))


def _outstanding(bills: Fit, judged: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Periods that may hold an event of their own: all, or of many bills those that stand out furthest."""
    if len(judged) <= MOST_SINGLES:
        return np.arange(len(judged))
    pulled = np.zeros(len(judged))
    pulled[judged] = np.abs(bills.half.T @ bills.white) / np.sqrt(np.diagonal(bills.precision))
    return np.sort(np.argsort(pulled)[-MOST_SINGLES:])


@dataclass(frozen=True, slots=True, eq=False)
class _Learnt:
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


def _learnt(ways: Sequence[_Way], at: Places, residual: Floats, judged: NDArray[np.bool_]) -> _Learnt:
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
    return _Learnt(kept_chances, kept_models, tuple(again), tuple(held), mean, mean_held)


def _held(parts: Parts) -> Floats:
    """Part by which the bills scatter less than the model has it with the likeliest cause in, squared; 1 at the least.

    One unknown scale multiplies the bills' own scatter and all that is not known of the house. That a household lives
    evenly says nothing of how well its list was guessed: a list a quarter off would else be as good as excluded.
    """
    left = parts.misfit[:, None] + parts.loss - parts.pull**2 / parts.one
    every, misfit = np.column_stack([parts.single, parts.none]), np.column_stack([left, parts.misfit])
    best = misfit[np.arange(len(every)), np.argmax(every, axis=1)]
    return np.asarray(np.maximum(2.0 * parts.exponent / np.maximum(best, parts.freedom), 1.0))


def _weigh(
    layout: Layout,
    learnt: _Learnt,
    at: Places,
    house: House,
    facts: Facts,
    judged: NDArray[np.bool_],
    beside: Beside,
    triples_of: int,
) -> Weighing:
    model = layout.under(learnt.mean)
    factors, noise = model.factors[judged], model.noise[np.ix_(judged, judged)]
    residual = (facts.billed_kwh - model.mean)[judged]
    bills = fit(residual, factors @ factors.T + noise, k.FREEDOM)
    shape = fitted_shape(model, bills, judged)
    found = patterns(at, model, shape, bills, judged)
    deep = triples_of if len(residual) >= 12 else 0
    usable = [o for o in beside.observations if o.kind != "main-off"]
    if any(o.kind == "quiet" for o in usable):
        found = idle_copies(found, "unlisted")
    elif any(signal.kind == "night-runs" for signal in beside.evidence):
        found = idle_copies(found, "load-gone")
    candidates = found.candidates(found.effect[judged])
    under = list(zip(learnt.chances, learnt.bills, strict=True))
    posterior, shares = weigh_under(under, candidates, triples_of=deep)
    stated, taken = found, 1.0
    while bills.scale > FAR_SCATTERED:
        scatter = _likeliest_scale(bills, candidates, _likeliest(posterior))
        if scatter <= MORE_SCATTER * taken:
            break
        taken, found = scatter, stated.sized(scatter)
        candidates = found.candidates(found.effect[judged])
        posterior, shares = weigh_under(under, candidates, triples_of=deep)
    more = layout.if_lasting(learnt.mean)
    lasting = _lasting(model, more, residual, judged, candidates)
    wide = float(np.sqrt(learnt.mean_held))
    data, rows, every = fit(residual, wide**2 * factors @ factors.T + noise, k.FREEDOM), None, wide * factors
    sent = generation_rows(house, model, found, judged)
    if usable or beside.evidence or sent is not None:
        rows = site_rows(house, model, found, shape, usable)
        rows = rows if sent is None else together(rows, sent)
        if beside.evidence:
            rows = together(rows, evidence_rows(found, shape, beside.evidence, model))
        candidates = found.candidates(np.concatenate([found.effect[judged], rows.effect]))
        likely, bills_so = shares >= LEAST_SHARE_BESIDE, found.candidates(found.effect[judged])
        members = _likeliest(posterior)
        for again in (True, False):
            ways_read, readings = rows.ways(), []
            scale = _likeliest_scale(bills, bills_so, members)
            for way in np.flatnonzero(likely):
                chance, own, alone, held = learnt.chances[way], learnt.models[way], learnt.bills[way], learnt.held[way]
                scale = _likeliest_scale(alone, bills_so, members)
                for part, read in ways_read:
                    # what the loads draw at night is as doubtful as the list is under these ways
                    wider = replace(read, factors=read.factors * np.sqrt(held * own.ways.limits / learnt.mean.limits))
                    both = _rows(
                        residual, own.noise[np.ix_(judged, judged)], wider, np.sqrt(held) * own.factors[judged]
                    )
                    readings.append(Reading(chance * part, both, scale))
            screened, _ = weigh_under(
                [(one.chance, one.rows.at(one.scale)) for one in readings], candidates, triples_of=deep
            )
            posterior, heard_so = reweigh(readings, candidates, screened)
            by_way = heard_so.reshape(-1, len(ways_read))
            likelier = int(np.argmax(by_way.sum(axis=0)))
            _, read = ways_read[likelier]
            rows_wide = replace(read, factors=wide * read.factors)
            data = _rows(residual, noise, rows_wide, every).at(scale)
            posterior = possible(posterior, data, candidates, *meter_bounds(found))
            doubted = as_scattered(rows, _left(data, candidates, _likeliest(posterior)), beside.evidence)
            if not again or doubted is rows:
                break
            rows = doubted
        posterior = _as_judged(posterior, candidates, found, rows, beside)
        shares[likely], shares[~likely] = by_way.sum(axis=1), 0.0
        rows, every = read, np.concatenate([every, rows_wide.factors])
    for_sizes = replace(model, noise=model.noise + lasting * more)
    heard = Heard(for_sizes, facts.billed_kwh, judged, found, rows, k.FREEDOM, data.scale)
    under_ways = tuple((float(share), own) for share, own in zip(shares, learnt.models, strict=True) if share > 0.0)
    return Weighing(
        model, judged, bills, data, every, wide, shape, found, candidates, posterior, heard, lasting, under_ways, house
    )  # fmt: skip


def _as_judged(
    posterior: Posterior, candidates: Candidates, found: Patterns, rows: SiteRows, beside: Beside
) -> Posterior:
    """Hold the chance that the meter is wrong to what a run judged outside its limits says of it.

    Whether the meter is wrong today the run itself has measured; how large the errors are that bills can see, and how
    rare, says nothing against it. Since when, and what acts besides, is what the bills tell.
    """
    first = len(rows.residual) - sum(len(signal.value) for signal in beside.evidence)
    ends = first + np.cumsum([len(signal.value) for signal in beside.evidence], dtype=np.int64)
    read = [o for o in beside.observations if o.kind != "main-off"]
    judged = [(row, one.value - 1.0, one.chance) for row, one in enumerate(read)]
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


def _lasting(model: Model, more: Floats, residual: Floats, judged: NDArray[np.bool_], candidates: Candidates) -> float:
    """Chance that what the household does otherwise lasts some months, by its bills, whatever causes act.

    ``more`` is what is then added to the noise (n, n).
    """
    covariances = model.covariance + np.stack([np.zeros_like(more), more])
    each = fits(residual, covariances[:, judged][:, :, judged], k.FREEDOM)
    heard = list(zip((1.0 - k.LASTS, k.LASTS), each, strict=True))
    against, lasts = quick_totals(parts_under(heard, candidates), candidates, LEADERS)
    return float(1.0 / (1.0 + np.exp(np.clip(against - lasts, -50.0, 50.0))))


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


def _likeliest(posterior: Posterior) -> tuple[int, ...]:
    """Members of the likeliest model."""
    best, members = posterior.none, np.zeros(0, dtype=np.int64)
    several = (
        (np.arange(len(posterior.single))[:, None], posterior.single),
        (posterior.pairs, posterior.pair),
        (posterior.triples, posterior.triple),
    )
    for models, weight in several:
        if weight.max(initial=0.0) > best:
            best, members = float(weight.max()), models[int(np.argmax(weight))]
    return tuple(int(i) for i in members)


def _likeliest_scale(data: Fit, candidates: Candidates, members: tuple[int, ...]) -> float:
    """Scale of the bills' scatter with some patterns taken out."""
    misfit = sizes(data, candidates, members)[2] if members else data.misfit
    return (data.freedom + misfit) / (data.freedom + len(data.residual))
