"""Sizes of the causes of one model, by fitting it once more without the straight line that made all models cheap.

A meter multiplies everything behind it, habits the hands' own part of the use; the straight line of the evidence takes
that use as fitted. Here the sizes and the use are fitted together, by Gauss and Newton, under priors twice as wide: the
evidence asks whether, this asks how much.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reconcile.weigh import constants as k
from reconcile.weigh.gaussian import inverse_beside, whitening
from reconcile.weigh.model import Model
from reconcile.weigh.one_sign import all_sides, legendre, one_side
from reconcile.weigh.patterns import Patterns
from reconcile.weigh.shapes import shares
from reconcile.weigh.site_rows import SiteRows

Floats = NDArray[np.float64]

ROUNDS = 5
SURE = 1.0 - 1e-5
"""Chance of their signs from which sizes are told as if they had been free."""

POINTS, TAIL = 48, 12.0
"""Points over which a size of one sign is averaged, and how far they reach beyond it, in its scales."""

LEAST_FACTOR = 0.05
"""No meter is taken to register less than this part."""


@dataclass(frozen=True, slots=True, eq=False)
class Best:
    """A model of some patterns together, fitted.

    Attributes
    ----------
    members : tuple of int
        Patterns.
    size, sd : ndarray, shape (m,)
        In each pattern's own unit: mean and scale, every size of its own sign.
    misfit : float
        What is left of r' S^-1 r with them in.
    kwh, kwh_sd : ndarray, shape (n, m)
        Energy each adds to each period, and its standard uncertainty [kWh].
    """

    members: tuple[int, ...]
    size: Floats
    sd: Floats
    misfit: float
    kwh: Floats
    kwh_sd: Floats
    fitted: Sizes

    def above(self, at: int, least: Floats) -> Floats:
        """Return the chance that the size of one pattern is beyond each of some, in the direction of its sign."""
        return self.fitted.above(at, least)


@dataclass(frozen=True, slots=True, eq=False)
class Sizes:
    """Sizes of m patterns before their signs are heard: Student's t together, turned so that each should be positive.

    Attributes
    ----------
    location : ndarray, shape (m,)
    spread : ndarray, shape (m, m)
        Square of their scale.
    freedom : float
    """

    location: Floats
    spread: Floats
    freedom: float

    def above(self, at: int, least: Floats) -> Floats:
        """Return the chance that one of them is above each of some values, all of them being above nothing."""
        sd = np.sqrt(np.diagonal(self.spread))
        size = np.tile(self.location / sd, (len(least) + 1, 1))
        size[1:, at] -= least / sd[at]
        correlation = (self.spread / (sd * sd[:, None]))[None]
        chance = all_sides(size, correlation, self.freedom)
        return np.asarray(np.minimum(chance[1:] / chance[0], 1.0))

    def told(self) -> tuple[Floats, Floats]:
        """Return mean and scale of each, all of them being above nothing."""
        sd = np.sqrt(np.diagonal(self.spread))
        if one_side(self.location / sd, self.freedom).min() > SURE:
            return self.location, sd
        mean, spread = self.location.copy(), sd.copy()
        points, weights = legendre(POINTS)
        for at in range(len(sd)):
            most = max(self.location[at], 0.0) + TAIL * sd[at]
            above = self.above(at, most * points)
            mean[at] = most * float(weights @ above)
            square = 2.0 * most**2 * float(weights @ (points * above)) - mean[at] ** 2
            spread[at] = np.sqrt(max(square, 0.0) * max(1.0 - 2.0 / self.freedom, 0.1))
        return mean, spread


@dataclass(frozen=True, slots=True, eq=False)
class Heard:
    """What is fitted: the bills, and site readings where there are any.

    ``freedom`` is of the unknown scale and ``scale`` its value to begin with.
    """

    model: Model
    billed_kwh: Floats
    judged: NDArray[np.bool_]
    found: Patterns
    site: SiteRows | None
    freedom: float
    scale: float


@np.errstate(over="ignore", invalid="ignore")  # what is not finite is met at the end
def refit(heard: Heard, members: tuple[int, ...], size: Floats) -> Best:
    """Fit the sizes of a model's patterns together with the use they act on.

    Parameters
    ----------
    heard : Heard
    members : tuple of int
    size : ndarray, shape (m,)
        To begin with.

    Returns
    -------
    Best

    Notes
    -----
    With D the product of the meters' factors and u the use, y = D (u + other causes) + D e. The slopes are those of the
    fitted use, not of the bills: the scatter of the bills then pulls no size up, and the density's sum of ln D, which
    would hold it back, has no part in it either.
    """
    model, judged, found = heard.model, heard.judged, heard.found
    chosen = list(members)
    mask, effect = found.acting.mask[:, chosen], found.effect[:, chosen]
    follows = found.acting.follows[chosen]
    own_shares = shares(model)
    meter = follows == "all"
    # of what acts all along only its prior tells how much of the level is its own
    always = (mask == 1.0).all(axis=0)
    total = np.where(always & ~meter, effect.sum(axis=0), 1.0)
    sd_of_size = k.SIZING_WIDE * found.size_sd[chosen]
    begun = size
    size, scale = size.copy(), heard.scale
    unknowns = np.zeros(model.factors.shape[1])
    noise = model.noise[np.ix_(judged, judged)]
    billed = heard.billed_kwh[judged]
    count = len(billed)
    rows = heard.site
    for step in range(ROUNDS):
        turns = np.maximum(1.0 + mask[:, meter] * size[meter], LEAST_FACTOR)
        factor = np.prod(turns, axis=1)
        inner, factors = model.mean + model.factors @ unknowns, model.factors.copy()
        column = factor[:, None] * effect
        for at in np.flatnonzero(~meter):
            share = own_shares.get(follows[at])
            own = effect[:, at]
            if share is not None:
                own = mask[:, at] * share.at(unknowns)
                factors += size[at] * mask[:, at, None] * share.factors
            column[:, at] = factor * own
            inner = inner + size[at] * own
        expected = factor * inner
        column[:, meter] = mask[:, meter] / turns * expected[:, None]
        # that a household lives evenly says nothing of how well its list was guessed
        held = 1.0 / min(scale, 1.0)
        steep = factor[judged, None] * factors[judged]
        slope = column[judged]
        target = billed - expected[judged] + steep @ unknowns + slope @ size
        covariance = noise * factor[judged, None] * factor[judged]
        if rows is not None:
            steep = np.concatenate([steep, rows.factors])
            slope = np.concatenate([slope, rows.effect[:, chosen]])
            target = np.concatenate([target, rows.residual])
            both = np.zeros((len(target), len(target)))
            both[:count, :count] = covariance
            both[count:, count:] = rows.noise / scale
            covariance = both
        if step == 0 and not unknowns.any():
            # the use is taken as fitted with the sizes in before anything is made of it
            half = whitening(covariance + held * steep @ steep.T)
            unknowns = held * steep.T @ (half.T @ (half @ (target - slope @ size)))
            continue
        half = whitening(covariance + held * steep @ steep.T)
        white, left = half @ slope, half @ target
        # a size is a part of the use without it; its prior has no part in the unknown scale
        usual = float((model.mean + model.factors @ unknowns).sum())
        part = np.where(always & ~meter, max(usual, 0.0) / total, 1.0)
        wanted, weight = part * found.size_mean[chosen], scale * np.maximum(part * sd_of_size, 1e-6) ** -2.0
        inverse = inverse_beside(white.T @ white, weight)
        size = inverse @ (white.T @ left + wanted * weight)
        rest = left - white @ size
        misfit = float(rest @ rest) + float(((size - wanted) ** 2 * weight).sum())
        scale = (heard.freedom + misfit) / (heard.freedom + len(target))
        unknowns = held * steep.T @ (half.T @ rest)
    if not (np.isfinite(size).all() and np.isfinite(column).all()):  # nothing was used that a size could act on
        size, column = begun, found.effect[:, chosen]
        inverse = np.diag(sd_of_size**2)
    turned = np.where(found.size_mean[chosen] < 0.0, -1.0, 1.0)
    spread = scale * inverse * np.outer(turned, turned) + np.diag(np.full(len(chosen), 1e-18))
    fitted = Sizes(turned * size, spread, heard.freedom + len(target))
    size, sd = fitted.told()
    return Best(members, turned * size, sd, misfit, column * turned * size, np.abs(column) * sd, fitted)
