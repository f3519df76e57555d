"""The use that patterns act on: how the house's energy is spread over its bills, as it would be without a cause.

A pattern in proportion to use acts on the use there is *beside* it. Fitted with the pattern left out, that use has
already swallowed part of the rise; so it is fitted with each pattern in, and again about what comes out.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reconcile.records import dataclass
from reconcile.weigh import constants as k
from reconcile.weigh.gaussian import Fit
from reconcile.weigh.model import Model
from reconcile.weigh.unknown_weather import by_kind

Floats = NDArray[np.float64]

OUTDOOR_SWING = 0.35
"""Part by which something warm out of doors takes more in the coldest period than on the mean, and less in summer."""

MAINS_SWING = 0.15
"""Part by which water from the mains takes more to warm in the coldest period than on the mean, and less in summer: it
comes in at 5 to 20 degC where a year swings by so much, and is warmed to some 52 (from memory)."""

MAINS_LAG_DAYS = 15.0
"""Mains are coldest so long after the air [d] (our judgement: the middle of a lake, which nearly goes with it, and of
ground about deep pipes, a month behind it; both from memory).
"""

ROUNDS, MOST_ROUNDS, SETTLED = 3, 15, 0.02
"""Times that the use is fitted anew with each pattern in: three, of a size up to a quarter the third moves none by a
thousandth. Of one as large as the use itself each round turns back more than the one before came nearer: of what goes
by the weather those that the last round moved by more than a fiftieth are fitted on, each time by a part of the way, up
to so many times (our choice: auxiliary heat alone takes two or three times what a heat pump does, and no other cause is
so large a part of what it acts on)."""

LEAST_USE = 0.2
"""The fitted use is never below this part of what the list expects."""

WIDE = 6.0
"""A size is estimated under its prior widened so many times: the bills say how large it is."""


SHARES, WEATHERED, NO_SHARE = ("all", "clock", "heating", "cooling"), 2, -1
"""Shares of the use that a pattern may act on in proportion, from which on they go by the weather, and the place that
stands for none of them."""


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """The use a pattern scales: fitted energy of each period by what it follows [kWh].

    ``warmer`` and ``cooler`` are the change of heating and cooling for a set point moved the same way all along, scaled
    to the energy of the whole: it goes by the days on which the equipment runs, not by how cold they are. ``outdoors``
    and ``mains`` are what something warm out of doors, and a steady flow of hot water, take in each period, as a part
    of their mean, ``cold`` and ``hot`` are the degree-days a day of each period over their mean; ``made`` is own
    generation that no register reads.
    """

    all: Floats
    clock: Floats
    heating: Floats
    cooling: Floats
    warmer: Floats
    cooler: Floats
    outdoors: Floats
    mains: Floats
    cold: Floats
    hot: Floats
    days: Floats
    made: Floats
    told: bool
    """Whether a list or the weather tells heating and cooling from what people use; else the bills' seasons do."""

    @property
    def per_day(self) -> float:
        """Mean use [kWh/d]."""
        return float(self.all.sum() / self.days.sum())


@dataclass(frozen=True, slots=True, eq=False)
class Share:
    """A part of the use as a linear function of the shared unknowns f: ``mean + factors f``, never below ``least``."""

    mean: Floats
    factors: Floats
    least: Floats

    def through(self, turn: Floats) -> Share:
        """Return the same as a function of what the unknowns are made of: f = ``turn`` g."""
        return Share(self.mean, self.factors @ turn, self.least)

    def at(self, unknowns: Floats) -> Floats:
        """Energy of each period for unknowns of shape (q,) or (q, K); shape (n,) or (n, K)."""
        mean, least = (every if unknowns.ndim == 1 else every[:, None] for every in (self.mean, self.least))
        value: Floats = self.factors @ unknowns
        value += mean
        return np.maximum(value, least, out=value)


@lru_cache(maxsize=8)
def shares(model: Model) -> tuple[Share, ...]:
    """What of the use goes by everything, by the household's hands, by cold and by heat: :data:`SHARES`."""
    count, n = len(model.kin), len(model.mean)
    which = np.stack([model.clocks, model.heats, model.cools]).astype(float)
    factors = np.zeros((len(which), *model.factors.shape))
    factors[:, :, :count] = model.factors[:, :count] * which[:, None, model.kin]
    if model.weathered:
        # what follows the weather and is no load's own goes by the degree-days of each kind
        factors[1:, :, count:] = by_kind(model.energy.degree_days) * model.factors[:, count:]
    elif model.bare:
        # where neither the weather nor a list is known, it is what the bills show above the least of their year
        seasons = model.factors[:, count:]
        least = np.outer(model.days, model.own.least @ (seasons / model.days[:, None]))
        factors[1:, :, count:] = by_kind(model.own.depth) * (seasons - least)
    apart = [Share(mean, own, np.zeros(n)) for mean, own in zip(which @ model.parts.T, factors, strict=True)]
    return Share(model.mean, model.factors, LEAST_USE * model.mean), *apart


def fitted_shape(model: Model, data: Fit, judged: NDArray[np.bool_]) -> Shape:
    """Split the use into what follows the clock, heating and cooling, as fitted to the bills.

    The list may be off in level; a pattern in proportion to use must have the *house's* seasons, so the shared
    factors are taken at their posterior mean.
    """
    return shape_at(model, model.factors.T[:, judged] @ (data.half.T @ data.white))


def shape_at(model: Model, unknowns: Floats) -> Shape:
    """Split the use for given shared unknowns, shape (q,)."""
    part = dict(zip(SHARES, (share.at(unknowns) for share in shares(model)), strict=True))
    warmer, cooler = (
        setting(part[name], slope) for name, slope in zip(("heating", "cooling"), balance_slopes(model), strict=True)
    )
    cold, hot = (model.energy.degree_days / model.days[:, None]).T
    cool = 2.0 * cold / cold.max() - 1.0 if cold.max() > 0.0 else np.zeros(len(cold))
    middle = model.starts + model.days / 2.0
    ground = np.interp(middle - MAINS_LAG_DAYS, middle, cool)
    known = float(cold.max() > 0.0)
    return Shape(
        part["all"],
        part["clock"],
        part["heating"],
        part["cooling"],
        warmer,
        cooler,
        known * (1.0 + OUTDOOR_SWING * cool),
        known * (1.0 + MAINS_SWING * ground),
        cold / max(float(cold @ model.days / model.days.sum()), k.LEAST_RATE),
        hot / max(float(hot @ model.days / model.days.sum()), k.LEAST_RATE),
        model.days,
        model.unread_kwh,
        told=model.weathered or not model.bare,
    )


def balance_slopes(model: Model) -> tuple[Floats, Floats]:
    """How heating and cooling go with a set point [kWh], shape (n,) each."""
    slope = np.abs(model.energy.balance_slope)
    return slope[:, model.heats[:-1]].sum(axis=1), slope[:, model.cools[:-1]].sum(axis=1)


def setting(energy: Floats, slope: Floats) -> Floats:
    """Scale the slope to the energy of the whole."""
    total = float(slope.sum())
    scaled: Floats = slope * (float(energy.sum()) / total) if total > 0 else np.zeros_like(energy)
    return scaled


@dataclass(frozen=True, slots=True, eq=False)
class Acting:
    """What K patterns do: in each period by what part (``mask``, n x K), and of which share (``follows``)."""

    mask: Floats
    follows: NDArray[np.int64]
    size_mean: Floats
    size_sd: Floats


def sharpen(effect: Floats, acting: Acting, model: Model, data: Fit, judged: NDArray[np.bool_]) -> Floats:
    """Let each proportional pattern act on the use as it would be without it.

    Parameters
    ----------
    effect : ndarray, shape (n, K)
        Of unit sizes, on the use fitted with no pattern in.
    data : Fit
        The judged bills.
    judged : ndarray of bool, shape (n,)
    """
    out = effect.copy()
    # those of one share side by side
    order = np.argsort(acting.follows, kind="stable")
    begins = np.searchsorted(acting.follows[order], np.arange(len(SHARES) + 1))
    order, begins = order[begins[0] :], begins - begins[0]
    mask, mean, weight = acting.mask[:, order], acting.size_mean[order], (WIDE * acting.size_sd[order]) ** -2.0
    # the unknowns go by what is left of the bills, whitened, with a pattern taken out
    turn = (data.half @ model.factors[judged]).T
    fitted = [share.through(turn) for share in shares(model)]
    column, still = out[:, order], np.arange(len(order))
    for done in range(1, MOST_ROUNDS + 1):
        before, prior = column[:, still], weight[still]
        heard = data.half @ before[judged]
        size = (data.white @ heard + mean[still] * prior) / (np.einsum("ij,ij->j", heard, heard) + prior)
        left, ends = data.white[:, None] - heard * size, np.searchsorted(still, begins)
        use = [share.at(left[:, begin:end]) for share, (begin, end) in zip(fitted, pairwise(ends), strict=True)]
        # a large size turns the use back by more than it had come nearer, and would never settle at full steps
        part = 1.0 if done <= ROUNDS else 1.0 / (1.0 + np.abs(size))
        move = part * (mask[:, still] * np.concatenate(use, axis=1) - before)
        column[:, still] = before + move
        if done == ROUNDS:
            still, move = still[begins[WEATHERED] :], move[:, begins[WEATHERED] :]
        if done >= ROUNDS:
            still = still[np.abs(move).sum(axis=0) > SETTLED * np.abs(column[:, still]).sum(axis=0)]
        if not still.size:
            break
    out[:, order] = column
    return out
