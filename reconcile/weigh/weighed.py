"""A house that was weighed, and what is asked of it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from reconcile import kinds
from reconcile.house import House
from reconcile.records import dataclass
from reconcile.weigh.evidence import Posterior
from reconcile.weigh.gaussian import Fit
from reconcile.weigh.model import Model
from reconcile.weigh.pairs import Candidates
from reconcile.weigh.patterns import Patterns, kinds_mask
from reconcile.weigh.places import TIMED_KINDS
from reconcile.weigh.refit import Heard
from reconcile.weigh.shapes import Shape

Floats = NDArray[np.float64]


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

    def sizes_bear_out(self, *names: str) -> float:
        """Say how much better the sizes of the house's own appliances fit a cause of some kinds than none of them.

        Returns
        -------
        float
            Misfit (chi squared) of the rows of interval data that tell these sizes under the likeliest model without
            such a cause, less that under the likeliest with one; infinite where no interval data were heard.
        """
        rows = self.heard.site
        if rows is None or not rows.by_hours.any():
            return math.inf
        own = self.kinds(*names)
        beside, likeliest = self.posterior.none, {False: (), True: ()}
        weights = {False: beside, True: -1.0}
        for models, weight in self.posterior.by_count:
            holds = own[models].any(axis=1)
            for with_one in (False, True):
                here = np.where(holds == with_one, weight, -1.0)
                if here.max(initial=-1.0) > weights[with_one]:
                    at = int(np.argmax(here))
                    weights[with_one], likeliest[with_one] = float(here[at]), tuple(models[at].tolist())
        return self._misfit_of_sizes(likeliest[False]) - self._misfit_of_sizes(likeliest[True])

    def _misfit_of_sizes(self, members: tuple[int, ...]) -> float:
        rows, columns = self.heard.site, self.candidates.columns[:, list(members)]
        assert rows is not None
        white = self.data.half @ columns
        size = np.linalg.solve(
            np.eye(len(members)) + white.T @ white, white.T @ self.data.white + self.candidates.shift[list(members)]
        )
        mine = np.flatnonzero(rows.of_sizes)
        at = len(self.bills.residual) + mine
        left = self.data.residual[at] - columns[at] @ size
        return float(left @ np.linalg.solve(rows.noise[np.ix_(mine, mine)], left))

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
        return sum(
            float(weight[mine[models].any(axis=1) & ~others[models].any(axis=1)].sum())
            for models, weight in self.posterior.by_count
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
