"""Registration from a listed load of known watts, seen switching in the interval data.

Where the list says a water heater takes 4,500 W and its steps stand at 5,400 W, the meter registers a fifth too much:
the one way from data to see a meter that was fast before the first bill.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reconcile.house import Load
from reconcile.interval.alignment import BIN, LOW, histograms
from reconcile.interval.clusters import bands
from reconcile.interval.switching import Switching

Floats = NDArray[np.float64]

KNOWN_WITHIN_PERCENT = 10.0
"""Watts known within so much say something of the meter [%] (our own judgement)."""

LEAST_WATTS = 900.0
"""Smaller loads have too many others of their size (our own judgement)."""

LEAST_STEPS = 12.0
LEAST_SHARE = 0.04
"""Steps of a cluster, and their part of all, below which it is not taken for an appliance (our own judgement)."""

REGISTRATION_REACH = 0.35
"""Largest error of a meter looked for, in the logarithm of registration."""

GRID: Floats = np.linspace(-REGISTRATION_REACH, REGISTRATION_REACH, 141)
"""Registrations looked at, their logarithm."""

USUAL_ERROR_SD = 0.2
"""Errors of a wrong meter, in the logarithm of registration: half as large are likelier than twice as large (our own
judgement)."""

RIVAL_APART, LEAST_LEAD = 0.07, 1.0
"""A registration this far from the best, in its logarithm, is another answer; it must lie so much lower in
log-likelihood for the best to be said (our own judgement)."""

PLATED, PUMPED, LEAST_PLATED_WATTS = ("water heater", "hot water", "geyser"), "pump", 1200.0
"""Names of a load whose plate states what its one element takes, and not those of a heat pump or of a heater that burns
fuel, which take less [W]: a dryer's plate holds its motor, a range has several elements, a heater settings."""

PLATE_WITHIN_PERCENT = 12.0
"""How far a plate alone holds such watts [%]: its element takes 5 % more to 10 % less at the plate's volts (IEC
60335-1, 10.1, from memory), and 5 % of volts either way (ANSI C84.1, range A, from memory) are 10 % of watts; the two
together (our own judgement)."""

PLATE_SD = 0.08
"""Standard uncertainty of registration by such a plate, with the chance that another element was put in (our own
judgement)."""

USUAL_WITHIN_PERCENT = {"measured": 5.0, "nameplate": 15.0, "label": 25.0, "guessed": 40.0}
"""Limits of watts where the list gives none [%] (our own judgement)."""

LISTED_LEAST_WATTS, UNLISTED_SHARE, MOST_WORDS = 700.0, 0.5, 2.0
"""Listed loads that explain clusters [W]; part of clusters that no list explains, in the density of one; most that one
cluster counts (our own judgement)."""

CHANCE_SEEN = 0.95
"""Chance that a listed load of this size shows its steps at all (our own judgement)."""

WIDTH_SD = 0.012
"""Uncertainty of a cluster's middle: the mixed samples, the volts of the day (our own judgement)."""


@dataclass(frozen=True, slots=True)
class KnownLoad:
    """A listed load found among the steps.

    ``seen_watts`` is what the meter makes of it [W]; ``registration`` is a ratio, 1 is right.
    """

    name: str
    listed_watts: float
    seen_watts: float
    registration: float
    standard_uncertainty: float
    first_day: int
    end_day: int

    @property
    def above_plate(self) -> bool:
        """Whether it switches more than its plate and the supply's volts leave room for."""
        return self.registration >= 1.0 + PLATE_WITHIN_PERCENT / 100.0


def known_load(loads: Sequence[Load], seen: Switching, first_day: int, end_day: int) -> KnownLoad | None:
    """Find the registration at which a listed load of known watts fits a cluster of steps.

    Every cluster of the size looked at may be the load's; where more than one registration fits, nothing is said.

    Parameters
    ----------
    loads : sequence of Load
        The list; only loads of one known size are looked at.
    seen : Switching
    first_day, end_day : int
        Days looked at, since 1970-01-01; the last is not among them [d].

    Returns
    -------
    KnownLoad or None
        Of the load that says most.
    """
    return _fit([load for load in loads if _is_known(load)], loads, seen, first_day, end_day)


def plated_load(loads: Sequence[Load], seen: Switching, first_day: int, end_day: int) -> KnownLoad | None:
    """Find a listed water heater whose watts stand on its plate, with no limits on the list.

    Its element may be another than the list says, as those of 4,500 and 5,500 W that fit one tank: what it says of the
    meter is doubted as much, and where it switches more than its plate and the supply's volts leave room for, that is
    asked about.

    Parameters
    ----------
    loads : sequence of Load
        The list; where it holds a load of known watts, that one speaks.
    seen : Switching
    first_day, end_day : int
        Days looked at, since 1970-01-01; the last is not among them [d].

    Returns
    -------
    KnownLoad or None
    """
    if any(_is_known(load) for load in loads):
        return None
    plated = [replace(load, watts_within_percent=PLATE_WITHIN_PERCENT) for load in loads if _is_plated(load)]
    fit = _fit(plated, loads, seen, first_day, end_day)
    if fit is None or any(_is_rather(load, fit) for load in loads):
        return None
    return replace(fit, standard_uncertainty=PLATE_SD * fit.registration)


def _is_rather(load: Load, fit: KnownLoad) -> bool:
    """Whether the steps found are of the watts that another load of the list has."""
    if load.name == fit.name or load.watts is None or load.source == "guessed":
        return False
    apart = abs(math.log(fit.seen_watts / load.watts)) if load.watts > 0.0 else math.inf
    return apart <= USUAL_WITHIN_PERCENT["measured"] / 100.0 and apart < abs(math.log(fit.registration))


def _fit(
    known: Sequence[Load], loads: Sequence[Load], seen: Switching, first_day: int, end_day: int
) -> KnownLoad | None:
    """Of the known loads the one that says most, at the registration at which the whole list fits the clusters best."""
    here = (seen.day >= first_day) & (seen.day < end_day)
    if not known or not here.any():
        return None
    density = histograms(np.zeros(int(here.sum()), dtype=np.int64), seen.log_kw[here], 1)[0]
    middles, steps = _clusters(density)
    if len(middles) == 0:
        return None
    scores = np.stack([_present(load, middles, steps) for load in known])
    total = scores.sum(axis=0) + _explained(loads, middles, steps) - 0.5 * (GRID / USUAL_ERROR_SD) ** 2
    best = int(total.argmax())
    apart = np.abs(GRID - GRID[best]) > RIVAL_APART
    if total[best] - np.max(total[apart], initial=-np.inf) < LEAST_LEAD:
        return None
    fits = [_nearest(load, middles, steps, float(GRID[best]), first_day, end_day) for load in known]
    found = [fit for fit in fits if fit is not None]
    return min(found, key=lambda one: one.standard_uncertainty) if found else None


def _is_plated(load: Load) -> bool:
    name = load.name.casefold()
    heats = any(words in name for words in PLATED) and PUMPED not in name
    known = load.source == "nameplate" and load.watts_within_percent is None and not load.apparent
    return heats and known and load.watts is not None and load.watts >= LEAST_PLATED_WATTS


def _is_known(load: Load) -> bool:
    within = load.watts_within_percent
    return (
        load.watts is not None
        and within is not None
        and within <= KNOWN_WITHIN_PERCENT
        and load.watts >= LEAST_WATTS
        and load.source != "guessed"  # nor what a handbook filled in
        and not load.apparent
    )


def _clusters(density: Floats) -> tuple[Floats, Floats]:
    """Middle [ln kW] and number of steps of each cluster, its flat background taken off."""
    middles, steps = [], []
    for band in bands(density):
        part = density[band]
        top = int(part.argmax())
        near = slice(max(top - 10, 0), top + 11)
        peak = part[near] - np.minimum(part[near].min(), np.median(part))
        count = float(peak.sum())
        if count >= max(LEAST_STEPS, LEAST_SHARE * density.sum()):
            at = np.arange(band.start, band.stop)[near]
            middles.append(LOW + BIN * (float(np.average(at, weights=np.maximum(peak, 0.0))) + 0.5))
            steps.append(count)
    return np.array(middles), np.array(steps)


def _doubt(load: Load) -> float:
    """Standard uncertainty of a load's watts, in their logarithm."""
    within = load.watts_within_percent
    if within is None:
        within = USUAL_WITHIN_PERCENT[load.source]
    return math.hypot(within / 196.0, WIDTH_SD)


def _present(load: Load, middles: Floats, steps: Floats) -> Floats:
    """Logarithm of how well the steps of a known load are among the clusters, at each registration of the grid."""
    assert load.watts is not None
    doubt = _doubt(load)
    apart = middles[:, None] - math.log(load.watts / 1000.0) - GRID
    share = steps / steps.sum()
    density = share @ (np.exp(-0.5 * (apart / doubt) ** 2) / doubt)
    logarithm: Floats = np.log((1.0 - CHANCE_SEEN) / (2.0 * REGISTRATION_REACH) + CHANCE_SEEN * density)
    return logarithm


def _explained(loads: Sequence[Load], middles: Floats, steps: Floats) -> Floats:
    """Logarithm of how well the whole list explains the clusters, at each registration of the grid."""
    listed = [load for load in loads if load.watts is not None and load.watts >= LISTED_LEAST_WATTS]
    if len(listed) < 2:
        return np.zeros(len(GRID))
    density = np.zeros((len(middles), len(GRID)))
    for load in listed:
        assert load.watts is not None
        doubt = _doubt(load)
        apart = middles[:, None] - math.log(load.watts / 1000.0) - GRID
        density += np.exp(-0.5 * (apart / doubt) ** 2) / doubt / len(listed)
    weight = np.minimum(steps / LEAST_STEPS, MOST_WORDS)
    explained: Floats = weight @ np.log(UNLISTED_SHARE + (1.0 - UNLISTED_SHARE) * density)
    return explained


def _nearest(
    load: Load, middles: Floats, steps: Floats, log_registration: float, first_day: int, end_day: int
) -> KnownLoad | None:
    """Cluster that is the load's at a registration."""
    assert load.watts is not None
    doubt = _doubt(load)
    expected = math.log(load.watts / 1000.0) + log_registration
    near = np.exp(-0.5 * ((middles - expected) / doubt) ** 2) * steps
    best = int(near.argmax())
    if abs(middles[best] - expected) > 2.0 * doubt:
        return None
    seen_watts = 1000.0 * math.exp(float(middles[best]))
    registration = seen_watts / load.watts
    return KnownLoad(load.name, load.watts, seen_watts, registration, registration * doubt, first_day, end_day)
