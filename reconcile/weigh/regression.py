"""The plain regression anybody would draw: so much a day, and so much a degree-day or a yearly wave.

It knows nothing of the list and nothing of habits. Where it has foretold the bills that it was not shown better than
the model has, the range follows it: a list that leads astray must not make a house harder to foretell than no list.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reconcile.distributions import MEDIAN_TO_SD, middle
from reconcile.records import dataclass
from reconcile.weigh import constants as k
from reconcile.weigh.model import Model

Floats = NDArray[np.float64]

FEWEST = 10
"""Bills from which a line of three unknowns is drawn (our choice)."""

LEAST_LEFT = 0.02
"""Part of itself that a bill keeps at the least when it is left out (our choice: one that decides a line alone)."""

RIDGE = 1e-6
"""Part of itself by which the square of a column is raised, so that one of nothing does no harm."""


@dataclass(frozen=True, slots=True, eq=False)
class Regressed:
    """What a plain regression on all other bills says of each of n."""

    kwh: Floats
    """Shape (n,)."""
    scale: Floats
    """How far it is off, by the bills it was not shown [kWh], shape (n,)."""
    missed: float
    """Square of how far it is off in the middle [kWh^2/d^2], as :func:`robust_square` takes it."""


def robust_square(errors: Floats) -> float:
    """Return the square of the scale of errors by their median: one odd bill must not hide itself in a wide range."""
    return float((MEDIAN_TO_SD * middle(np.abs(errors))) ** 2)


def regressed(model: Model, kwh: Floats, heard: NDArray[np.bool_]) -> Regressed | None:
    """Draw the line through all bills but one, for each of them; None where they are too few.

    Parameters
    ----------
    kwh : ndarray, shape (n,)
        The bills, less any cause that was found.
    heard : ndarray of bool, shape (n,)
        Bills that the line is drawn through.

    Notes
    -----
    Degree-days are about each of five balance temperatures on either side, and one course of the year goes without
    any; that with the least squares among the others is taken for each bill left out. A bill of some days with nobody
    at home is drawn as full as it would have been, and what is said of it is as much less, in doubt as in the model.
    """
    m = int(heard.sum())
    if m < FEWEST:
        return None
    designs = _designs(model)
    held = model.days * model.there
    per_day = kwh[heard] / held[heard]
    seen = designs[:, heard]
    gram = np.swapaxes(seen, 1, 2) @ seen
    size = np.einsum("gii->gi", gram)
    gram += np.einsum("gi,ij->gij", RIDGE * (size + size.max(axis=1, keepdims=True) * RIDGE), np.eye(3))
    onto = np.linalg.solve(gram, np.swapaxes(seen, 1, 2))
    slope = onto @ per_day
    left = per_day - (seen @ slope[:, :, None])[:, :, 0]
    kept = np.maximum(1.0 - np.einsum("gni,gin->gn", seen, onto), LEAST_LEFT)
    square = (left**2).sum(axis=1)
    of_each = np.argmin(square[:, None] - left**2 / kept, axis=0)
    best = int(np.argmin(square))
    said = designs[best] @ slope[best]
    kept_of_each = kept[of_each, np.arange(m)]
    off = left[of_each, np.arange(m)] / kept_of_each
    said[heard] = per_day - off
    missed = robust_square(off)
    # a bill unlike all the others, as the one of the only hot month, is foretold worse
    doubt = np.full(len(kwh), missed)
    doubt[heard] = robust_square(off * np.sqrt(kept_of_each)) / kept_of_each
    usual = np.maximum(said, 0.0) * held
    lacks = k.AWAY_SD * (1.0 - model.there) * np.maximum(said, 0.0) * model.days
    return Regressed(usual, np.hypot(np.sqrt(doubt * m / (m - 3)) * held, lacks), max(missed, 1e-12))


def _designs(model: Model) -> Floats:
    """Columns a day of each regression that is tried, shape (g, n, 3)."""
    days = model.days
    turn = 2.0 * np.pi * (model.starts + days / 2.0) / 365.2425
    every = [np.column_stack([np.ones(len(days)), np.cos(turn), np.sin(turn)])[None]]
    about = model.energy.about_balances / days[:, None, None]
    if model.weathered:  # else whoever drew it would not know which climate to take
        n, _, several = about.shape
        cold = np.repeat(about[:, 0], several, axis=1)
        hot = np.tile(about[:, 1], several)
        every.append(np.stack([np.ones((n, several**2)), cold, hot], axis=2).swapaxes(0, 1))
    return np.concatenate(every)
