"""What was sent out, weighed beside the bills: its logarithm goes by the panels, the sun of the year, and a fall."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from reconcile.house import House
from reconcile.loads.own_generation import course_of_the_sun, expected_generation, guess_doubt, sent_out
from reconcile.weigh import constants as k
from reconcile.weigh.model import Model
from reconcile.weigh.patterns import Patterns, kinds_mask
from reconcile.weigh.site_rows import SiteRows

Floats = NDArray[np.float64]

FALL_LOG = 2.0 * float(np.log(2.0))
"""Fall of the logarithm for a size of one: exact where half is lost."""


POINTS = 41
"""Values of what was lost over which its limits are taken, as likely each."""

FEWEST_SILENT = 2
"""Bills on end that sent out nothing from which the panels are said to make nothing: of one a house may take all."""


def lost_part(size: float) -> float:
    """Part of its generation that a house lost, of the size that the pattern was fitted with.

    Examples
    --------
    >>> lost_part(0.5)
    0.5
    """
    return float(1.0 - np.exp(-FALL_LOG * size))


def lost_generation(house: House, sent_lost: Floats, since: float) -> Floats:
    """Return the part of its generation that a house lost, of the part that what it sends out lost.

    What is sent out falls by more: of less that is made, the house takes as much as before.

    Parameters
    ----------
    sent_lost : ndarray
        0 to 1.
    since : float
        Day (ordinal) of the fall.

    Returns
    -------
    ndarray
        The same where no register of the bills before tells how much was sent out.

    Notes
    -----
    The sun's day is half a wave of each brightness of :data:`reconcile.weigh.constants.SKIES`, and what the house draws
    at a moment is spread about its mean m as an exponential is, so that of g it sends out g - m (1 - exp(-g / m)). How
    m compares with the panels follows from delivered over sent out in the sunnier half of the bills before.
    """
    days = np.array([max(bill.days, 1) for bill in house.bills], dtype=float)
    sent = sent_out(house)
    delivered = _delivered(house, sent, days) * days
    starts = np.array([bill.start.toordinal() for bill in house.bills])
    before = (starts < since) & np.isfinite(sent) & np.isfinite(delivered) & (sent > 0.0)
    if not before.any():
        return sent_lost
    sunny = before & (sent / days >= np.median((sent / days)[before]))
    made = np.outer(k.SKIES, np.sin(np.pi * (np.arange(48) + 0.5) / 48.0)).ravel()
    use = np.geomspace(0.01, 4.0, 160)[:, None]
    out = (made - use * -np.expm1(-made / use)).mean(axis=1)
    bought = 2.0 * use[:, 0] / k.SUNNY_USE - made.mean() + out  # a day of twice the sun's twelve hours
    mean = np.interp(delivered[sunny].sum() / sent[sunny].sum(), bought / out, use[:, 0])
    lost = np.linspace(0.0, 0.98, 99)
    less = 1.0 - (1.0 - lost) * np.interp(mean / (1.0 - lost), use[:, 0], out) / np.interp(mean, use[:, 0], out)
    return np.asarray(np.interp(sent_lost, less, lost))


def generation_lost(house: House, sizes: Floats, since: float) -> Floats:
    """Return the part of its generation that a house lost, with its limits, of the sizes the pattern was fitted with.

    Parameters
    ----------
    sizes : ndarray, shape (3,)
        The size and its limits.
    since : float
        Day (ordinal) of the fall.

    Returns
    -------
    ndarray, shape (3,)
        0 to 1: the part, the least, the most.

    Notes
    -----
    Where no register reads what is sent out, the pattern took its part of what the panels are thought to make, which is
    no more than a guess: they make at least what was lost. Where nothing is sent out any more, the registers say so
    themselves, to half of a kilowatt-hour a bill; where most bills since sent out next to nothing, all may be lost.
    """
    sent = sent_out(house)
    if not np.isfinite(sent).any():
        return _of_a_guess(sizes, guess_doubt(house))
    starts = np.array([bill.start.toordinal() for bill in house.bills])
    days = np.array([max(bill.days, 1) for bill in house.bills], dtype=float)
    silent, before = (side & np.isfinite(sent) for side in (starts >= silent_since(house), starts + days <= since))
    if silent.sum() >= FEWEST_SILENT and sent[before].sum() > 0.0:
        usual = float(sent[before].sum() / days[before].sum())
        unseen = k.SENT_STEP / (usual * days[silent].mean())
        least = lost_generation(house, np.array([1.0 - min(unseen, 1.0)]), since)[0]
        return np.array([1.0, least, 1.0])
    part = _however_spread(house, sizes, since)
    little = _little(sent, _at_the_most(sent, _course(house, sent)[1], _tells(sent, days)), days)
    after = (starts + days > since) & np.isfinite(sent)
    # bills that say no more than that it was little leave open how much of it is gone
    return np.array([*part[:2], 1.0]) if 2 * (little & after).sum() >= after.sum() else part


def _however_spread(house: House, sizes: Floats, since: float) -> Floats:
    """Part that was lost, and its limits, however evenly the house draws while the sun shines."""
    middle, least, most = sizes
    quantile = NormalDist().inv_cdf
    off = np.array([quantile((at + 0.5) / POINTS) for at in range(POINTS)]) / quantile(0.975)
    several = [least, *(middle + off * np.where(off > 0.0, most - middle, middle - least))]
    sent_lost = np.array([lost_part(float(size)) for size in several])
    drawn = lost_generation(house, sent_lost, since)
    part = np.concatenate([drawn[1:] + by * (sent_lost - drawn)[1:] for by, _ in k.IN_BURSTS])
    chance = np.repeat([chance / POINTS for _, chance in k.IN_BURSTS], POINTS)
    order = np.argsort(part)
    half, end = np.interp([0.5, 0.975], np.cumsum(chance[order]) - 0.5 * chance[order], part[order])
    return np.array([half, drawn[0], end])


def silent_since(house: House) -> float:
    """Day (ordinal) from which no bill tells of anything sent out; infinite where the last one does."""
    day = np.inf
    for bill in reversed(house.bills):
        if bill.received_kwh:
            break
        day = bill.start.toordinal() if bill.received_kwh == 0.0 else day
    return float(day)


def _of_a_guess(sizes: Floats, doubt: float) -> Floats:
    """Part that was lost, and its limits, of sizes that are parts of a guess of so much relative doubt."""
    middle, least, most = sizes
    sd = max((most - least) / 3.92, 1e-6)
    lost = np.linspace(max(middle - 4.0 * sd, 1e-3), middle + 4.0 * sd, 41)[:, None]
    made = np.linspace(0.02, 1.0 + 4.0 * doubt, 200)
    weight = np.exp(-0.5 * ((lost - middle) / sd) ** 2 - 0.5 * ((made - 1.0) / doubt) ** 2)
    part = np.minimum(lost / made, 1.0).ravel()
    order = np.argsort(part)

    def end(chances: Floats, share: float) -> float:
        return float(part[order][np.searchsorted(np.cumsum(chances.ravel()[order]) / chances.sum(), share)])

    able = weight * (lost <= made)
    able = able if able.any() else weight
    # all of it may be lost, and is more often than nearly all
    return np.array([float(part @ able.ravel() / able.sum()), end(able, 0.025), end(weight, 0.975)])


def _delivered(house: House, sent: Floats, days: Floats) -> Floats:
    """Return what was delivered a day [kWh]: it rises with the use, whatever the panels make of it."""
    net = np.array([np.nan if bill.kwh is None else bill.kwh for bill in house.bills], dtype=float)
    told = np.array([np.nan if bill.delivered_kwh is None else bill.delivered_kwh for bill in house.bills], dtype=float)
    return np.where(np.isfinite(told), told, net + sent) / days


def _course(house: House, sent: Floats) -> tuple[bool, Floats]:
    """Whether every bill that tells what was sent out says what should be made, and that, or the course of the sun."""
    expected = expected_generation(house)
    usual = np.where(np.isfinite(expected) & (expected > 0.0), expected, np.nan)
    told = bool(np.isfinite(usual[np.isfinite(sent)]).all()) and bool(np.isfinite(sent).any())
    summer, _ = course_of_the_sun(house)
    days = np.array([max(bill.days, 1) for bill in house.bills], dtype=float)
    return told, usual if told else days * np.exp(k.SENT_SUMMER * summer)


def _tells(sent: Floats, days: Floats) -> NDArray[np.bool_]:
    """Mark bills that sent out enough to say how much."""
    per_day = np.nan_to_num(sent / days)
    return np.asarray((per_day > k.LEAST_SENT * per_day.max(initial=0.0)) & (per_day > 0.0))


def _at_the_most(sent: Floats, whole: Floats, tells: NDArray[np.bool_]) -> Floats:
    """What a bill that sent out next to nothing is taken to have sent out at the most [kWh], shape (n,)."""
    return np.asarray(k.SENT_NOTHING * np.median((sent / whole)[tells]) * whole if tells.any() else 0.0 * whole)


def _little(sent: Floats, least: Floats, days: Floats) -> NDArray[np.bool_]:
    """Mark bills that sent out next to nothing when the sun of their season should have made far more."""
    sunny = least / days > k.LEAST_SENT * np.nan_to_num(sent / days).max(initial=0.0)
    return np.asarray(np.isfinite(sent) & ~_tells(sent, days) & sunny)


def _before_panels(sent: Floats) -> NDArray[np.bool_]:
    """Mark bills before the panels came, that in which they did among them: nothing was lost there."""
    came = int(np.argmax(sent > 0.0))
    return np.arange(len(sent)) <= came if (sent[:came] == 0.0).any() else np.zeros(len(sent), dtype=bool)


def _steadier(residual: Floats, covariance: Floats, falls: Floats) -> float:
    """Factor on the scatter from bill to bill that the bills themselves teach, whatever fall fits them best."""
    whitened = np.linalg.solve(np.linalg.cholesky(covariance), np.column_stack([residual, falls]))
    left, fall = whitened[:, 0], whitened[:, 1:]
    power = (fall**2).sum(axis=0)
    acting = power > 0.0
    gained = (left @ fall[:, acting]) ** 2 / power[acting]
    misfit = float(left @ left) - float(gained.max(initial=0.0))
    return float(np.sqrt((k.SENT_FREEDOM + misfit) / (k.SENT_FREEDOM + len(residual) - 2)))


def generation_rows(house: House, model: Model, found: Patterns, judged: NDArray[np.bool_]) -> SiteRows | None:
    """Turn what was sent out into rows beside the bills, one a bill that tells it; None where too few do.

    The level is unknown. Where the expected generation is given its course is known, and only what the house takes of
    it, dust and shade differ from bill to bill; else the course of the year is unknown but for where the sun is.

    Parameters
    ----------
    judged : ndarray of bool, shape (n,)
    """
    sent = sent_out(house)
    if not np.isfinite(sent).any():
        return None
    told, whole = _course(house, sent)
    per_day = sent / model.days
    most = float(np.nanmax(per_day))
    tells = judged & _tells(sent, model.days)
    # of a bill that sent out nothing at all, or next to it in the sun, it is only known that it was little
    least = _at_the_most(sent, whole, tells)
    nothing = judged & ((sent == 0.0) | _little(sent, least, model.days))
    heard = (tells | nothing) & ~_before_panels(sent)
    if heard.sum() < k.FEWEST_SENT or not (heard & tells).any():
        return None
    usual = expected_generation(house)
    mean, swing = (0.0, k.SENT_SEASON_TOLD) if told else (k.SENT_SUMMER, k.SENT_SEASON)
    summer, aside = course_of_the_sun(house)
    per_day = np.where(nothing, least / model.days, per_day)
    level = np.log(per_day[heard] * model.days[heard] / (usual[heard] if told else model.days[heard]))
    middle = np.median(level[tells[heard]])
    summer, aside = summer[heard], aside[heard]
    # what the house uses more by day is not sent out: air conditioning eats the surplus of summer
    taken = _delivered(house, sent, model.days)[heard]
    usually = np.exp(middle) * (usual[heard] / model.days[heard] if told else 1.0)
    eaten = -(taken - np.median(taken[tells[heard]])) / usually
    residual = level - middle - mean * summer - k.SENT_BY_USE * eaten
    shared = [k.SENT_LEVEL * np.ones(len(level)), swing * summer, 0.5 * swing * aside]
    shared += [k.SENT_BY_USE_DOUBT * eaten]
    shared += [0.3 * swing * (2.0 * summer**2 - 1.0), 0.3 * swing * 2.0 * summer * aside]
    scatter = np.hypot(k.SENT_SCATTER, k.SENT_FLOOR * most / per_day[heard])
    columns = np.column_stack(shared)
    falls = kinds_mask("generation-fall")[found.kind_index]
    effect = np.where(falls, -FALL_LOG * found.acting.mask[heard], 0.0)
    scatter *= _steadier(residual, columns @ columns.T + np.diag(scatter**2), effect[:, falls])
    nothing = np.zeros(len(level), dtype=bool)
    return SiteRows(
        residual,
        np.zeros((len(level), model.factors.shape[1])),
        columns @ columns.T + np.diag(scatter**2),
        effect,
        np.zeros_like(effect),
        nothing,
        nothing,
        nothing,
        nothing,
    )
