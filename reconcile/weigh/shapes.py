"""The use that patterns act on: how the house's energy is spread over its bills, as it would be without a cause.

A pattern in proportion to use acts on the use there is *beside* it. Fitted with the pattern left out, that use has
already swallowed part of the rise; so it is fitted with each pattern in, and again about what comes out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from reconcile.weigh.gaussian import Fit
from reconcile.weigh.model import Model

Floats = NDArray[np.float64]

OUTDOOR_SWING = 0.35
"""Part by which something warm out of doors takes more in the coldest period than on the mean, and less in summer."""

ROUNDS = 3
"""Times that the use is fitted anew with each pattern in: the third moves no size by a thousandth."""

LEAST_RATE = 2.0
"""Degree-days a day of a site that has hardly any [K]: one of a mild climate counts for no more than one of a harsh
one (our choice)."""

LEAST_USE = 0.2
"""The fitted use is never below this part of what the list expects."""

WIDE = 6.0
"""A size is estimated under its prior widened so many times: the bills say how large it is."""


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """The use a pattern scales: fitted energy of each period by what it follows [kWh].

    ``warmer`` and ``cooler`` are the change of heating and cooling for a set point moved the same way all along, scaled
    to the energy of the whole: it goes by the days on which the equipment runs, not by how cold they are. ``outdoors``
    is what something warm out of doors takes in each period, as a part of its mean, ``cold`` and ``hot`` are
    the degree-days a day of each period over their mean; ``made`` is own generation that no register reads.
    """

    all: Floats
    clock: Floats
    heating: Floats
    cooling: Floats
    warmer: Floats
    cooler: Floats
    outdoors: Floats
    cold: Floats
    hot: Floats
    days: Floats
    made: Floats

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
        value = (self.mean + (self.factors @ unknowns).T).T
        return np.maximum(value, self.least if value.ndim == 1 else self.least[:, None])


@lru_cache(maxsize=8)
def shares(model: Model) -> Mapping[str, Share]:
    """What of the use goes by everything, by the household's hands, by cold and by heat."""
    count = len(model.kin)
    own = model.factors[:, :count]
    nothing = np.zeros(len(model.mean))

    def of(which: NDArray[np.bool_]) -> Share:
        factors = np.zeros_like(model.factors)
        factors[:, :count] = own * which[model.kin]
        return Share(model.parts[:, which].sum(axis=1), factors, nothing)

    out = {
        "all": Share(model.mean, model.factors, LEAST_USE * model.mean),
        "clock": of(model.clocks),
        "heating": of(model.heats),
        "cooling": of(model.cools),
    }
    if model.weathered:
        # what follows the weather and is no load's own goes by the degree-days of each kind
        heat_days, cool_days = model.energy.degree_days.T
        both = np.maximum(heat_days + cool_days, 1e-9)
        shared = model.factors.copy()
        shared[:, :count] = 0.0
        for name, days in (("heating", heat_days), ("cooling", cool_days)):
            part = out[name]
            out[name] = Share(part.mean, part.factors + shared * (days / both)[:, None], nothing)
    return out


def fitted_shape(model: Model, data: Fit, judged: NDArray[np.bool_]) -> Shape:
    """Split the use into what follows the clock, heating and cooling, as fitted to the bills.

    The list may be off in level; a pattern in proportion to use must have the *house's* seasons, so the shared
    factors are taken at their posterior mean.
    """
    return shape_at(model, model.factors.T[:, judged] @ (data.half.T @ data.white))


def shape_at(model: Model, unknowns: Floats) -> Shape:
    """Split the use for given shared unknowns, shape (q,)."""
    part = {name: share.at(unknowns) for name, share in shares(model).items()}
    warmer, cooler = (
        setting(part[name], slope) for name, slope in zip(("heating", "cooling"), balance_slopes(model), strict=True)
    )
    cold, hot = (model.energy.degree_days / model.days[:, None]).T
    outdoors = 1.0 + OUTDOOR_SWING * (2.0 * cold / cold.max() - 1.0) if cold.max() > 0 else np.zeros(len(cold))
    return Shape(
        part["all"],
        part["clock"],
        part["heating"],
        part["cooling"],
        warmer,
        cooler,
        outdoors,
        cold / max(float(cold @ model.days / model.days.sum()), LEAST_RATE),
        hot / max(float(hot @ model.days / model.days.sum()), LEAST_RATE),
        model.days,
        model.unread_kwh,
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
    follows: NDArray[np.str_]
    size_mean: Floats
    size_sd: Floats


def sharpen(effect: Floats, acting: Acting, model: Model, data: Fit, judged: NDArray[np.bool_]) -> Floats:
    """Let each proportional pattern act on the use as it would be without it.

    Parameters
    ----------
    effect : ndarray, shape (n, K)
        Of unit sizes, on the use fitted with no pattern in.
    acting : Acting
    model : Model
    data : Fit
        The judged bills.
    judged : ndarray of bool, shape (n,)

    Returns
    -------
    ndarray, shape (n, K)
    """
    out = effect.copy()
    # the unknowns at what is left of the bills, whitened, with a pattern taken out
    turn = (data.half @ model.factors[judged]).T
    for name, share in shares(model).items():
        chosen = np.flatnonzero(acting.follows == name)
        if not chosen.size:
            continue
        mask = acting.mask[:, chosen]
        mean, weight = acting.size_mean[chosen], (WIDE * acting.size_sd[chosen]) ** -2.0
        column, fitted = out[:, chosen], share.through(turn)
        for _ in range(ROUNDS):
            heard = data.half @ column[judged]
            size = (data.white @ heard + mean * weight) / (np.einsum("ij,ij->j", heard, heard) + weight)
            column = mask * fitted.at(data.white[:, None] - heard * size)
        out[:, chosen] = column
    return out
