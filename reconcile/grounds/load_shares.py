"""Where the billed energy likely goes: every load of the list, and what is not on it, so that they add up."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from reconcile.distributions import student_quantile
from reconcile.house import House
from reconcile.loads.limits import limits
from reconcile.records import dataclass
from reconcile.result import Cause, LoadShare
from reconcile.rounding import step_of, to_step
from reconcile.weigh.measure import effort_of, shares_of_doubt
from reconcile.weigh.model import Model
from reconcile.weigh.weighed import Weighing

Floats = NDArray[np.float64]

OF_THE_LIST = ("none", "unlisted", "list-short")
"""Causes whose energy is the list's own, or what is not on it, all the time."""

MOST_STEP = 10.0
"""Most that a load's energy is rounded to [kWh], however wide its limits beside it: the sums must say what they say."""

LOOKS_LARGE = 0.15
"""Least part of a load, and of all that the list loses, from which a load of the list looks too large (our choice)."""

OWN_SCATTER = 0.1
"""Relative use of a load that comes and goes beside its stated limits (our choice): it takes its part of what the
limits do not hold."""


def load_shares(
    house: House, model: Model, weighing: Weighing | None, causes: Sequence[Cause], billed_kwh: Floats
) -> tuple[LoadShare, ...]:
    """Say what each load likely used in all the bills together.

    Parameters
    ----------
    causes : sequence of Cause
        What likely adds to the bills beside the loads; each counts by its chance.
    billed_kwh : ndarray, shape (n,)
        Energy used by the bills [kWh]; NaN where a bill has none.

    Returns
    -------
    tuple of LoadShare
        The loads in the order of the list, what is not listed last. What the bills make likely adds up to the judged
        bills less what the causes likely add, and to what is expected of the others.
    """
    count = len(house.loads) + 1
    expected = model.parts.sum(axis=0)
    own = model.factors[:, :count]
    spread = own.sum(axis=0)
    mean, sd, doubts = expected.copy(), np.abs(spread), np.zeros(count)
    reach = 1.96
    if weighing is not None:
        data, judged = weighing.data, weighing.judged
        added, missing = _added(causes, len(judged)), _missing(causes, judged)
        gain = weighing.factors[:, :count].T @ data.half.T
        rest = data.half @ (data.residual - _added_to_rows(weighing, (added + missing.kwh)[judged]))
        moved, spread = gain @ rest, weighing.wider * spread
        scale = (data.freedom + float(rest @ rest)) / (data.freedom + len(rest))
        left = np.maximum(1.0 - np.einsum("ij,ij->i", gain, gain), 0.0)
        total = float((billed_kwh - added)[judged].sum() + model.parts[~judged].sum())
        # what is missing from the list, by its chance, is not on the list; what that leaves to the loads moves with it
        beside = np.zeros(count)
        beside[-1] = missing.kwh.sum()
        answers = beside - spread * (gain @ (data.half[:, : int(judged.sum())] @ missing.kwh[judged]))
        doubt = missing.relative_sd * np.abs(answers)
        wide = np.hypot(np.hypot(spread, OWN_SCATTER * expected), doubt)
        mean = _adding_up(expected + spread * moved + beside, wide**2, max(total, 0.0))
        sd = np.hypot(np.abs(spread) * np.sqrt(left * scale), doubt)
        reach = student_quantile(0.975, data.freedom + len(rest))
        doubts = shares_of_doubt(weighing)
    most = _most(house, model, billed_kwh)
    names = [load.name for load in house.loads] + ["not on the list" if house.loads else "the whole house"]
    return tuple(
        LoadShare(
            load=names[j],
            expected_kwh=float(expected[j]),
            reconciled_kwh=float(mean[j]),
            low_kwh=float(max(mean[j] - reach * sd[j], 0.0)),
            high_kwh=float(max(min(mean[j] + reach * sd[j], most[j]), mean[j])),
            share_of_doubt=float(doubts[j]),
            effort=effort_of(house.loads[j]) if j < count - 1 else effort_of(None),
        )
        for j in range(count)
    )


def sums_as_printed(shares: Sequence[LoadShare]) -> tuple[float, float]:
    """Add up a list as it is printed, each load to its own uncertainty: by the list only, and with the bills [kWh]."""
    steps = [printed_step(share) for share in shares]
    listed, heard = (
        sum(to_step(kwh, step) for kwh, step in zip(column, steps, strict=True))
        for column in ([share.expected_kwh for share in shares], [share.reconciled_kwh for share in shares])
    )
    return float(listed), float(heard)


def printed_step(share: LoadShare) -> float:
    """Return what a load's energy is rounded to: its own uncertainty, and no more than the sums bear [kWh]."""
    return min(step_of((share.high_kwh - share.low_kwh) / 2.0), MOST_STEP)


def added_kwh(causes: Sequence[Cause]) -> float:
    """Energy that all causes but loads missing from the list likely add to all bills, each by its chance [kWh]."""
    told = [c for c in causes if c.code not in OF_THE_LIST]
    return float(sum(c.probability * sum(c.pattern_kwh) for c in told))


def too_large(shares: Sequence[LoadShare]) -> tuple[tuple[str, float], ...]:
    """Loads of the list that look too large beside the bills, the largest first, and by how much [kWh].

    Only where what they lose goes to what is not on the list: the list and the bills then differ in shape.
    """
    *listed, rest = shares
    fell = {share.load: share.expected_kwh - share.reconciled_kwh for share in listed}
    lost = sum(max(kwh, 0.0) for kwh in fell.values())
    if not listed or lost < LOOKS_LARGE * max(rest.reconciled_kwh - rest.expected_kwh, 0.0):
        return ()
    large = [s for s in listed if fell[s.load] > LOOKS_LARGE * max(s.expected_kwh, lost)]
    return tuple(sorted(((s.load, fell[s.load]) for s in large), key=lambda one: -one[1]))


def _most(house: House, model: Model, billed_kwh: Floats) -> Floats:
    """Most that each load can have used: all that was billed, and what it draws on all day [kWh]."""
    known = np.isfinite(billed_kwh)
    if house.generation or not known.any():
        return np.full(len(house.loads) + 1, np.inf)
    most = np.full(len(house.loads) + 1, float(billed_kwh[known].sum() / model.days[known].sum() * model.days.sum()))
    for j, load in enumerate(house.loads):
        if load.watts is not None and load.kwh_per_year is None and load.kwh_per_cycle is None:
            watts = load.count * (load.watts + load.standby_watts) * (1.0 + limits(load)[0] / 100.0)
            most[j] = min(most[j], watts * 0.024 * float(model.days.sum()))
    return most


def _added(causes: Sequence[Cause], n: int) -> Floats:
    """Energy that causes are expected to add to each bill [kWh], each by its chance."""
    added = np.zeros(n)
    for cause in causes:
        if cause.code not in OF_THE_LIST and len(cause.pattern_kwh) == n:
            added += cause.probability * np.array(cause.pattern_kwh)
    return added


@dataclass(frozen=True)
class _Missing:
    """Loads missing from the list: energy in each judged bill by their chance [kWh], and its relative uncertainty."""

    kwh: Floats
    relative_sd: float


def _missing(causes: Sequence[Cause], judged: NDArray[np.bool_]) -> _Missing:
    found = next((c for c in causes if c.code == "unlisted" and len(c.pattern_kwh) == len(judged)), None)
    if found is None or not found.size:
        return _Missing(np.zeros(len(judged)), 0.0)
    low, high = found.size_low or 0.0, found.size_high or 0.0
    own = (high - low) / (2.0 * 1.96 * found.size) if high > low else 0.0
    chance = found.probability
    kwh = np.where(judged, chance * np.array(found.pattern_kwh), 0.0)
    # a size that is there with this chance and else nothing, over its mean
    return _Missing(kwh, float(np.sqrt((own**2 + 1.0 - chance) / max(chance, 1e-9))))


def _added_to_rows(weighing: Weighing, added: Floats) -> Floats:
    """Return the same on every row that was heard, readings on site and interval data too: each pattern by itself."""
    data, candidates = weighing.data, weighing.candidates
    white = data.half @ candidates.columns
    size = (data.white @ white + candidates.shift) / (1.0 + np.einsum("ij,ij->j", white, white))
    chance = weighing.posterior.acts
    return np.concatenate([added, candidates.columns[len(added) :] @ (chance * size)])


def _adding_up(mean: Floats, variance: Floats, total: float) -> Floats:
    """Move energies of these variances to a known total, none below nothing: each takes its part by its variance."""
    mean = np.maximum(mean, 0.0)
    for _ in range(len(mean)):
        gap = total - mean.sum()
        weight = np.where((mean > 0.0) | (gap > 0.0), variance, 0.0)
        if abs(gap) < 1e-9 or not weight.any():
            break
        mean = np.maximum(mean + gap * weight / weight.sum(), 0.0)
    return mean
