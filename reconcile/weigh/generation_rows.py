"""What was sent out, weighed beside the bills: its logarithm goes by the panels, the sun of the year, and a fall."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reconcile.house import House
from reconcile.loads.own_generation import course_of_the_sun, expected_generation, sent_out
from reconcile.weigh import constants as k
from reconcile.weigh.model import Model
from reconcile.weigh.patterns import Patterns, kinds_mask
from reconcile.weigh.site_rows import SiteRows

Floats = NDArray[np.float64]

FALL_LOG = 2.0 * float(np.log(2.0))
"""Fall of the logarithm for a size of one: exact where half is lost."""


def lost_part(size: float) -> float:
    """Part of its generation that a house lost, of the size that the pattern was fitted with.

    Examples
    --------
    >>> lost_part(0.5)
    0.5
    """
    return float(1.0 - np.exp(-FALL_LOG * size))


def _delivered(house: House, sent: Floats, days: Floats) -> Floats:
    """Return what was delivered a day [kWh]: it rises with the use, whatever the panels make of it."""
    net = np.array([np.nan if bill.kwh is None else bill.kwh for bill in house.bills], dtype=float)
    return (net + sent) / days


def generation_rows(house: House, model: Model, found: Patterns, judged: NDArray[np.bool_]) -> SiteRows | None:
    """Turn what was sent out into rows beside the bills, one a bill that tells it; None where too few do.

    The level is unknown. Where the expected generation is given its course is known, and only what the house takes of
    it, dust and shade differ from bill to bill; else the course of the year is unknown but for where the sun is.

    Parameters
    ----------
    house : House
    model : Model
    found : Patterns
    judged : ndarray of bool, shape (n,)

    Returns
    -------
    SiteRows or None
    """
    sent, expected = sent_out(house), expected_generation(house)
    usual = np.where(np.isfinite(expected) & (expected > 0.0), expected, np.nan)
    told = bool(np.isfinite(usual[np.isfinite(sent)]).all()) and bool(np.isfinite(sent).any())
    per_day = sent / model.days
    most = float(np.nanmax(per_day)) if np.isfinite(per_day).any() else 0.0
    heard = judged & np.isfinite(sent) & (per_day > k.LEAST_SENT * most) & (sent > 0.0)
    if heard.sum() < k.FEWEST_SENT:
        return None
    level = np.log(sent[heard] / (usual[heard] if told else model.days[heard]))
    summer, aside = (wave[heard] for wave in course_of_the_sun(house))
    mean, swing = (0.0, k.SENT_SEASON_TOLD) if told else (k.SENT_SUMMER, k.SENT_SEASON)
    # what the house uses more by day is not sent out: air conditioning eats the surplus of summer
    taken = _delivered(house, sent, model.days)[heard]
    usually = np.exp(np.median(level)) * (usual[heard] / model.days[heard] if told else 1.0)
    eaten = -(taken - np.median(taken)) / usually
    residual = level - np.median(level) - mean * summer - k.SENT_BY_USE * eaten
    shared = [k.SENT_LEVEL * np.ones(len(level)), swing * summer, 0.5 * swing * aside]
    shared += [k.SENT_BY_USE_DOUBT * eaten]
    shared += [0.3 * swing * (2.0 * summer**2 - 1.0), 0.3 * swing * 2.0 * summer * aside]
    scatter = np.hypot(k.SENT_SCATTER, k.SENT_FLOOR * most / per_day[heard])
    columns = np.column_stack(shared)
    falls = kinds_mask("generation-fall")[found.kind_index]
    effect = np.where(falls, -FALL_LOG * found.acting.mask[heard], 0.0)
    return SiteRows(
        residual,
        np.zeros((len(level), model.factors.shape[1])),
        columns @ columns.T + np.diag(scatter**2),
        effect,
        np.zeros(len(level), dtype=bool),
    )
