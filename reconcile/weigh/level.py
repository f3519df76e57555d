"""The level of all bills against the list of loads: how far, how surely, and what a cause of it would add."""

from __future__ import annotations

import numpy as np

from reconcile.kinds import OF_BILLS
from reconcile.weigh.weighed import Weighing

LEVEL_KINDS = ("meter-always", "unlisted", "list-short", "unlisted-heating", "unlisted-cooling")
"""Kinds of cause that lift every bill from the first one on."""

FAR_BELOW = (0.02, -0.45, 0.2)
"""Chance, and mean and standard deviation of the size as a part of the list, of a record far below it: a meter that
stands still in part, a list or readings of another house (our choice). Nobody is charged too much then, so it is no
cause beside the others; it is weighed by itself."""


def level(weighing: Weighing) -> tuple[float, float, float]:
    """Return where all the bills stand against the list, the causes that begin and last taken out.

    Returns
    -------
    part : float
        Total billed less total expected, over the total expected.
    score : float
        The same in standard uncertainties of the total by the list's own limits, as stated.
    far_below : float
        Chance that the record is far below the list (:data:`FAR_BELOW`), beside that of a list that is right.

    Notes
    -----
    What stands *above* the list is weighed with all other causes (``meter-always``, ``unlisted``, ``list-short``).
    """
    data, judged = weighing.bills, weighing.judged
    mean = weighing.model.mean[judged]
    changing = ~weighing.kinds(*LEVEL_KINDS, *OF_BILLS)
    columns = weighing.candidates.columns[: len(mean)]
    left = data.residual - columns @ (weighing.candidates.shift * weighing.posterior.acts * changing)
    model = weighing.model
    # of the list only what it says itself: the ways of the household widen the factors of its lines
    stated = model.factors[judged, : model.stated].sum(axis=0) ** 2
    stated[: len(model.kin)] /= model.ways.limits
    spread = float(np.sqrt(stated.sum() + model.noise[np.ix_(judged, judged)].sum()))
    chance, size, sd = FAR_BELOW
    pulled = data.precision @ mean
    known, pull = sd**2 * float(mean @ pulled), sd * float(pulled @ left) / max(1.0, data.scale) + size / sd
    known /= max(1.0, data.scale)
    log_odds = np.log(chance / (1.0 - chance)) - 0.5 * np.log1p(known)
    log_odds += 0.5 * (pull**2 / (1.0 + known) - (size / sd) ** 2)
    below = 1.0 / (1.0 + np.exp(-np.clip(log_odds, -50.0, 50.0))) if left.sum() < 0.0 else 0.0
    return float(left.sum() / max(mean.sum(), 1e-9)), float(left.sum()) / max(spread, 1e-9), float(below)


def level_size(weighing: Weighing) -> float:
    """Return what a cause of the level adds where it is there, as a part of the list: each by its chance."""
    data, posterior = weighing.bills, weighing.posterior
    at = np.flatnonzero(weighing.kinds(*LEVEL_KINDS))
    chance = posterior.acts[at]
    if not chance.sum() > 0.0:
        return 0.0
    columns, shift = weighing.candidates.columns[: len(data.residual), at], weighing.candidates.shift[at]
    white = data.half @ columns
    size = (data.white @ white + shift) / (1.0 + np.einsum("ij,ij->j", white, white))
    added = columns.sum(axis=0) * size
    return float(chance @ added / chance.sum() / max(weighing.model.mean[weighing.judged].sum(), 1e-9))
