"""Sizes of the causes of a model, by fitting it once more without the straight line that made all models cheap.

A meter multiplies everything behind it, habits the hands' own part of the use; the straight line of the evidence takes
that use as fitted. Here the sizes and the use are fitted together, by Gauss and Newton, under priors twice as wide: the
evidence asks whether, this asks how much.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from reconcile.records import dataclass
from reconcile.weigh import constants as k
from reconcile.weigh.gaussian import inverse_beside, whitening
from reconcile.weigh.model import Model
from reconcile.weigh.one_sign import SURE as CERTAINLY
from reconcile.weigh.one_sign import all_sides, legendre, one_side
from reconcile.weigh.patterns import Patterns
from reconcile.weigh.shapes import SHARES, shares
from reconcile.weigh.site_rows import SiteRows

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

ROUNDS = 5
SURE = 1.0 - 1e-5
"""Chance of their signs from which sizes are told as if they had been free."""

POINTS, TAIL = 48, 12.0
"""Points over which a size of one sign is averaged, and how far they reach beyond it, in its scales."""

LEAST_FACTOR = 0.05
"""No meter is taken to register less than this part."""


@dataclass(frozen=True, slots=True, eq=False)
class Best:
    """A model of some patterns together, fitted."""

    members: tuple[int, ...]
    """Patterns."""
    size: Floats
    sd: Floats
    """Both: in each pattern's own unit: mean and scale, every size of its own sign, shape (m,)."""
    misfit: float
    """What is left of the bills' r' S^-1 r with them in."""
    kwh: Floats
    kwh_sd: Floats
    """Both: energy each adds to each period, and its standard uncertainty [kWh], shape (n, m)."""
    fitted: Sizes
    """Of this model alone, before their signs are heard."""


@dataclass(frozen=True, slots=True, eq=False)
class Sizes:
    """Sizes of m patterns in each of M models before their signs are heard: a joint Student's t, turned so that each
    that has a sign by its name should be positive.
    """

    location: Floats
    """Shape (M, m)."""
    spread: Floats
    """Square of their scale, shape (M, m, m)."""
    freedom: float
    either: NDArray[np.bool_]
    """Those of which either sign will do, shape (M, m)."""

    @property
    def sd(self) -> Floats:
        """Their scale, shape (M, m)."""
        return np.asarray(np.sqrt(np.diagonal(self.spread, axis1=1, axis2=2)))

    def of(self, which: Ints) -> Sizes:
        """Return those of some of the models."""
        return Sizes(self.location[which], self.spread[which], self.freedom, self.either[which])

    def above(self, at: Ints, least: Floats) -> Floats:
        """Return the chance that one of each model's is above each of some values, all with a sign being above nothing.

        Parameters
        ----------
        at : ndarray of int, shape (M,)
        least : ndarray, shape (M, L) or (1, L)
        """
        sd, count, several = self.sd, len(self.location), least.shape[1] + 1
        size = np.repeat(np.where(self.either, CERTAINLY, self.location / sd)[:, None], several, axis=1)
        size[np.arange(count), 1:, at] -= least / sd[np.arange(count), at][:, None]
        correlation = self.spread / (sd[:, :, None] * sd[:, None])
        chance = all_sides(size, correlation[:, None], self.freedom)
        return np.asarray(np.minimum(chance[:, 1:] / chance[:, :1], 1.0))

    def told(self) -> tuple[Floats, Floats]:
        """Return mean and scale of each, all with a sign being above nothing, shape (M, m)."""
        mean, spread = self.location.copy(), self.sd
        sure = self.either | (one_side(mean / spread, self.freedom) > SURE)
        unsure = np.flatnonzero(~sure.all(axis=1))
        if not unsure.size:
            return mean, spread
        some, (points, weights) = self.of(unsure), legendre(POINTS)
        for at in range(mean.shape[1]):
            most = np.maximum(some.location[:, at], 0.0) + TAIL * some.sd[:, at]
            above = some.above(np.full(len(unsure), at), most[:, None] * points)
            first = most * (above @ weights)
            square = 2.0 * most**2 * (above @ (points * weights)) - first**2
            own = np.sqrt(np.maximum(square, 0.0) * max(1.0 - 2.0 / self.freedom, 0.1))
            mean[unsure, at] = np.where(some.either[:, at], some.location[:, at], first)
            spread[unsure, at] = np.where(some.either[:, at], some.sd[:, at], own)
        return mean, spread


def above_any(several: Sequence[tuple[float, Best, int]], least: Floats) -> Floats:
    """Return the chance that a size is beyond each of some, in the direction of its sign, shape of ``least``.

    Parameters
    ----------
    several : sequence of (float, Best, int)
        Fits of it: the chance of each, and the place of the pattern among its members.
    """
    total = np.zeros(len(least))
    for count in dict.fromkeys(len(model.members) for _, model, _ in several):  # those of equally many at once
        alike = [one for one in several if len(one[1].members) == count]
        chance, models, at = zip(*alike, strict=True)
        fitted = [model.fitted for model in models]
        location, spread, either = (
            np.concatenate([getattr(one, name) for one in fitted]) for name in ("location", "spread", "either")
        )
        above = Sizes(location, spread, fitted[0].freedom, either).above(np.array(at), least[None])
        total += np.array(chance) @ above
    return total


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


def refit(heard: Heard, begun: Mapping[tuple[int, ...], Floats]) -> dict[tuple[int, ...], Best]:
    """Fit the sizes of each model's patterns together with the use they act on.

    Parameters
    ----------
    begun : mapping of tuple of int to ndarray, shape (m,)
        The patterns of each model, and their sizes to begin with.

    Notes
    -----
    With D the product of the meters' factors and u the use, y = D (u + other causes) + D e. The slopes are those of the
    fitted use, not of the bills: the scatter of the bills then pulls no size up, and the density's sum of ln D, which
    would hold it back, has no part in it either.
    """
    fitted: dict[tuple[int, ...], Best] = {}
    for count in dict.fromkeys(map(len, begun)):  # those of equally many patterns at once
        alike = [members for members in begun if len(members) == count]
        every = _together(heard, np.array(alike), np.array([begun[members] for members in alike]))
        fitted.update(zip(alike, every, strict=True))
    return fitted


@np.errstate(over="ignore", invalid="ignore")  # what is not finite is met at the end
def _together(heard: Heard, members: Ints, begun: Floats) -> list[Best]:
    """Fit models of m patterns each, each by itself: members and begun sizes of shape (M, m)."""
    model, judged, found, rows = heard.model, heard.judged, heard.found, heard.site
    mask, effect = (np.moveaxis(every[:, members], 0, 1) for every in (found.acting.mask, found.effect))
    follows = found.acting.follows[members]
    meter = follows == SHARES.index("all")
    acting = [(share, follows == at) for at, share in enumerate(shares(model)) if SHARES[at] != "all" and at in follows]
    # of what acts all along only its prior tells how much of the level is its own
    always = (mask == 1.0).all(axis=1)
    level = always & ~meter
    total = np.where(level, effect.sum(axis=1), 1.0)
    size_mean, sd_of_size = found.size_mean[members], np.where(always, 1.0, k.SIZING_WIDE) * found.size_sd[members]
    size, scale = begun.copy(), np.full(len(members), heard.scale)
    unknowns = np.zeros((len(members), model.factors.shape[1]))
    noise, billed = model.noise[np.ix_(judged, judged)], heard.billed_kwh[judged]
    count = len(billed)
    for step in range(ROUNDS):
        turns = np.where(meter[:, None], np.maximum(1.0 + mask * size[:, None], LEAST_FACTOR), 1.0)
        factor = np.prod(turns, axis=2)
        own, factors = effect.copy(), np.repeat(model.factors[None], len(members), axis=0)
        for share, of_it in acting:
            use = mask * share.at(unknowns.T).T[:, :, None]
            own = np.where(of_it[:, None], use, own)
            factors += (mask @ np.where(of_it, size, 0.0)[:, :, None]) * share.factors
        added = np.where(meter[:, None], 0.0, size[:, None] * own).sum(axis=2)
        expected = factor * (model.mean + unknowns @ model.factors.T + added)
        column = np.where(meter[:, None], mask / turns * expected[:, :, None], factor[:, :, None] * own)
        # that a household lives evenly says nothing of how well its list was guessed
        held = (1.0 / np.minimum(scale, 1.0))[:, None, None]
        turned = factor[:, judged]
        steep, slope = turned[:, :, None] * factors[:, judged], column[:, judged]
        target = (billed - expected[:, judged])[:, :, None] + steep @ unknowns[:, :, None] + slope @ size[:, :, None]
        covariance = noise * turned[:, :, None] * turned[:, None]
        if rows is not None:
            beside, times = (np.moveaxis(every[:, members], 0, 1) for every in (rows.effect, rows.turned))
            turns = np.maximum(1.0 + times * size[:, None], LEAST_FACTOR)
            registered = np.prod(turns, axis=2)[:, :, None] * np.where(meter[:, None], 0.0, beside)
            others = registered @ size[:, :, None]
            own_meter = np.where(meter[:, None], beside, 0.0)
            beside = own_meter + registered + times / turns * others
            steep = np.concatenate([steep, np.repeat(rows.factors[None], len(members), axis=0)], axis=1)
            slope = np.concatenate([slope, beside], axis=1)
            # a straight line about the sizes so far: a meter multiplies what a load adds
            residual = rows.residual[:, None] + (beside - own_meter) @ size[:, :, None] - others
            target = np.concatenate([target, residual], axis=1)
            both = np.zeros((len(members), target.shape[1], target.shape[1]))
            both[:, :count, :count] = covariance
            both[:, count:, count:] = rows.noise / scale[:, None, None]
            covariance = both
        half = whitening(covariance + held * steep @ np.swapaxes(steep, 1, 2))
        if step == 0:
            # the use is taken as fitted with the sizes in before anything is made of it
            rest = half @ (target - slope @ size[:, :, None])
        else:
            white, left = half @ slope, half @ target
            # a size is a part of the use without it; its prior has no part in the unknown scale
            usual = np.maximum((model.mean + unknowns @ model.factors.T).sum(axis=1), 0.0)
            part = np.where(level, usual[:, None] / total, 1.0)
            wanted, weight = part * size_mean, scale[:, None] * np.maximum(part * sd_of_size, 1e-6) ** -2.0
            over = np.swapaxes(white, 1, 2)
            inverse = inverse_beside(over @ white, weight)
            size = (inverse @ (over @ left + (wanted * weight)[:, :, None]))[:, :, 0]
            rest = left - white @ size[:, :, None]
            # what rows beside the bills scatter is known: that they scatter less says nothing of the bills
            misfit = (rest[:, :count] ** 2).sum(axis=(1, 2)) + ((size - wanted) ** 2 * weight).sum(axis=1)
            scale = (heard.freedom + misfit) / (heard.freedom + count)
        unknowns = (held * np.swapaxes(steep, 1, 2) @ (np.swapaxes(half, 1, 2) @ rest))[:, :, 0]
    # a part of a use that is itself in doubt: what it adds is surer than either
    given = -held * np.swapaxes(steep, 1, 2) @ np.swapaxes(half, 1, 2) @ white  # of the unknowns, by the sizes
    own_sd = np.abs(column) * np.sqrt(np.einsum("mii->mi", inverse))[:, None]
    for share, of_it in acting:
        which, at = np.nonzero(of_it)
        through = (size[which, at, None] * mask[which, :, at])[:, :, None] * share.factors
        by_size = through @ given[which]
        by_size[np.arange(len(at)), :, at] += own[which, :, at]
        heard_of = through @ np.swapaxes(steep[which], 1, 2) @ np.swapaxes(half[which], 1, 2)
        square = np.einsum("mni,mij,mnj->mn", by_size, inverse[which], by_size)
        square += held[which, 0] * (through**2).sum(axis=2) - held[which, 0] ** 2 * (heard_of**2).sum(axis=2)
        own_sd[which, :, at] = np.sqrt(np.maximum(square, 0.0))
    # nothing was used that a size could act on
    lost = ~(np.isfinite(size).all(axis=1) & np.isfinite(column).all(axis=(1, 2)))
    size[lost], column[lost] = begun[lost], effect[lost]
    own_sd[lost] = np.abs(effect[lost]) * sd_of_size[lost][:, None]
    inverse[lost] = sd_of_size[lost][:, :, None] ** 2 * np.eye(members.shape[1])
    sign = np.where(size_mean < 0.0, -1.0, 1.0)
    spread = scale[:, None, None] * inverse * sign[:, :, None] * sign[:, None]
    spread += 1e-18 * np.eye(members.shape[1])
    fitted = Sizes(sign * size, spread, heard.freedom + count, size_mean == 0.0)
    told, sd = fitted.told()
    kwh = column * (sign * told)[:, None]
    kwh_sd = own_sd * (sd / np.sqrt(np.diagonal(inverse, axis1=1, axis2=2)))[:, None]
    size = sign * told
    return [
        Best(tuple(own.tolist()), size[i], sd[i], float(misfit[i]), kwh[i], kwh_sd[i], fitted.of(np.array([i])))
        for i, own in enumerate(members)
    ]
