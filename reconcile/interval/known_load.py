"""Registration from a listed load of known watts, seen switching in the interval data.

Where the list says a water heater takes 4,500 W and its steps stand at 5,400 W, the meter registers a fifth too much:
the one way from data to see a meter that was fast before the first bill.
"""

from __future__ import annotations

import math
from collections.abc import Container, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from scipy.special import xlogy

from reconcile.house import Load
from reconcile.interval.alignment import BIN
from reconcile.interval.switching import LEAST_KW_LONG, Switching
from reconcile.records import dataclass

Floats = NDArray[np.float64]

KNOWN_WITHIN_PERCENT = 10.0
"""Watts known within so much say something of the meter [%] (our own judgement)."""

LEAST_WATTS = 900.0
"""Smaller loads have too many others of their size (our own judgement)."""

NARROW, ASIDE = 0.025, (0.05, 0.15)
"""Half the width of an appliance's sizes, and how far aside the sizes it stands on are counted, in the logarithm of
size: the steps of one element lie within its volts, the means of a load that goes on and off do not (our own
judgement)."""

LEAST_EVIDENCE, APART = 2.0, 0.06
"""Log-likelihood ratio by which the sizes at one place are an appliance rather than what stands about it, and the least
distance of two appliances, in the logarithm of size (our own judgement)."""

REGISTRATION_REACH = 0.35
"""Largest error of a meter looked for, in the logarithm of registration."""

GRID: Floats = np.linspace(-REGISTRATION_REACH, REGISTRATION_REACH, 141)
"""Registrations looked at, their logarithm."""

RIGHT, RIGHT_SD, USUAL_ERROR_SD = 0.7, 0.015, 0.2
"""Chance that the meter is right, how far a right one is off, and how far a wrong one, in the logarithm of registration
(our own judgement: few meters are wrong, but the weighing counts that itself)."""

RIVAL_APART, LEAST_LEAD = 0.07, 1.0
"""A size this far from the likeliest, in its logarithm, is another answer; all such together must be so much less
likely, in the logarithm, for that one to be said (our own judgement)."""

NETWORK_LOG = 2.0 * math.log(208.0 / 240.0)
"""What an element for 240 V takes at 208 V, as a part of its plate's watts, in the logarithm: the volts squared."""

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

LISTED_LEAST_WATTS = 700.0
"""Listed loads that explain what switches [W] (our own judgement)."""

UNLISTED, BY_CHANCE = 0.3, 20.0
"""Appliances that no list holds, in an e-fold of size, and places at which sizes stand out by chance alone, before
their evidence thins them (our own judgement)."""

SEEN_HEATER, SEEN_OTHER = 0.98, 0.15
"""Chance that a listed water heater shows among runs in intervals of a quarter of an hour, and that any other load does
(our own judgement; simulated homes: 122 of 126 water heaters)."""

RUNS_AN_HOUR, RUNS_SD, RUNS_RANGE = 0.1, 1.5, 7.0
"""Runs heard for each hour that a load is on, how uncertain that is in its logarithm, and the range of that logarithm
for a load not listed: what is heard far too rarely for a load is not its own (simulated homes: 0.06 to 0.2)."""

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
    """Find a listed load of known watts among what switches, and the registration it is seen with.

    Where it is not clear which of the appliances heard is the load's, nothing is said.

    Parameters
    ----------
    loads : sequence of Load
        The list; only loads of one known size are looked at.
    first_day, end_day : int
        Days looked at, since 1970-01-01; the last is not among them [d].

    Returns
    -------
    KnownLoad or None
        Of the load that says most.
    """
    return _fit({load.name for load in loads if _is_known(load)}, loads, seen, first_day, end_day)


def plated_load(loads: Sequence[Load], seen: Switching, first_day: int, end_day: int) -> KnownLoad | None:
    """Find a listed water heater whose watts stand on its plate, with no limits on the list.

    Its element may be another than the list says, as those of 4,500 and 5,500 W that fit one tank: what it says of the
    meter is doubted as much, and where it switches more than its plate and the supply's volts leave room for, that is
    asked about.

    Parameters
    ----------
    loads : sequence of Load
        The list; where it holds a load of known watts, that one speaks.
    first_day, end_day : int
        Days looked at, since 1970-01-01; the last is not among them [d].
    """
    if any(_is_known(load) for load in loads):
        return None
    plated = {load.name for load in loads if _is_plated(load)}
    listed = [
        replace(load, watts_within_percent=PLATE_WITHIN_PERCENT) if load.name in plated else load for load in loads
    ]
    fit = _fit(plated, listed, seen, first_day, end_day)
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
    names: Container[str], loads: Sequence[Load], seen: Switching, first_day: int, end_day: int
) -> KnownLoad | None:
    """Of the loads of these names the surest, where it is clear which of what switches is its own.

    Short runs speak first: what is seen in them is a load that is on throughout. Where none of them is a known load's,
    long steps do, but a heater is not looked for among these, since they hold the means of loads that go on and off,
    nor in intervals too long for its runs.
    """
    short = seen.least_kw < LEAST_KW_LONG
    for day, log_kw, heaters in ((seen.run_day, seen.run_log_kw, short), (seen.day, seen.log_kw, False)):
        asked = [load.name in names and (heaters or not _is_heater(load)) for load in loads]
        found = _appliances(log_kw[(day >= first_day) & (day < end_day)])
        if not any(asked) or not len(found.middles):
            continue
        chances = np.array([SEEN_HEATER if heaters and _is_heater(load) else SEEN_OTHER for load in loads])
        owned = _owned(loads, chances, found, end_day - first_day)
        fits = [_as_seen(loads[at], log_kw, first_day, end_day) for at, log_kw in owned.items() if asked[at]]
        if any(_of_fewer_volts(load, fit) for load in loads for fit in fits if load.name == fit.name):
            return None
        if fits:
            return min(fits, key=lambda one: one.standard_uncertainty)
    return None


def _as_seen(load: Load, log_kw: float, first_day: int, end_day: int) -> KnownLoad:
    assert load.watts is not None
    seen_watts = 1000.0 * math.exp(log_kw)
    registration = seen_watts / load.watts
    return KnownLoad(load.name, load.watts, seen_watts, registration, registration * _doubt(load), first_day, end_day)


def _of_fewer_volts(load: Load, fit: KnownLoad) -> bool:
    """Whether it takes what a plate at 240 V gives at 208 V, between two legs of a network: that is no slow meter."""
    return load.source == "nameplate" and abs(math.log(fit.registration) - NETWORK_LOG) <= 2.0 * _doubt(load)


def _is_heater(load: Load) -> bool:
    name = load.name.casefold()
    return any(words in name for words in PLATED) and PUMPED not in name


def _is_plated(load: Load) -> bool:
    known = load.source == "nameplate" and load.watts_within_percent is None and not load.apparent
    return _is_heater(load) and known and load.watts is not None and load.watts >= LEAST_PLATED_WATTS


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


@dataclass(frozen=True, slots=True, eq=False)
class _Appliances:
    """Sizes that stand out narrowly.

    ``middles`` [ln kW], ``counts`` of runs above those about, ``unlisted`` such appliances expected beside the list in
    an e-fold of size.
    """

    middles: Floats
    counts: Floats
    unlisted: Floats


def _appliances(log_kw: Floats) -> _Appliances:
    """Find them among sizes [ln kW]."""
    at = np.sort(log_kw)
    if not len(at):
        return _Appliances(*np.zeros((3, 0)))
    places = np.arange(at[0], at[-1] + BIN, BIN)

    def between(low: float, high: float) -> Floats:
        count: Floats = (np.searchsorted(at, places + high) - np.searchsorted(at, places + low)).astype(np.float64)
        return count

    inside = between(-NARROW, NARROW)
    # the fuller side counts for both: the slope of a hill, or where sizes begin, is no appliance
    about = 2.0 * np.maximum(between(-ASIDE[1], -ASIDE[0]), between(*ASIDE))
    wide = NARROW / (ASIDE[1] - ASIDE[0])
    total = np.maximum(inside + about, 1.0)
    above = xlogy(inside, inside / total * (1.0 + wide) / wide) + xlogy(about, about / total * (1.0 + wide))
    left = np.where(inside > wide * about, above, 0.0)
    middles, counts, evidence = [], [], []
    while left.max() >= LEAST_EVIDENCE:
        best = int(left.argmax())
        own = at[slice(*np.searchsorted(at, places[best] + np.array([-NARROW, NARROW])))]  # those that were counted
        middles.append(float(own.mean()))
        counts.append(float(inside[best] - wide * about[best]))
        evidence.append(float(left[best]))
        left[np.abs(places - places[best]) < APART] = 0.0
    unlisted = UNLISTED + BY_CHANCE * np.exp(-np.array(evidence))
    return _Appliances(np.array(middles), np.array(counts), unlisted)


def _doubt(load: Load) -> float:
    """Standard uncertainty of a load's watts, in their logarithm."""
    within = load.watts_within_percent
    if within is None:
        within = USUAL_WITHIN_PERCENT[load.source]
    return math.hypot(within / 196.0, WIDTH_SD)


def _owned(loads: Sequence[Load], chances: Floats, found: _Appliances, days: int) -> dict[int, float]:
    """Size of the appliance that is each load's [ln kW], for those of which it is clear.

    Each load owns one appliance or is not seen, each appliance is one load's or no listed one's, and a meter has one
    registration for all of them. What a load owns is clear where all else it may own, at any registration, is less
    likely.
    """
    gains = np.stack([_gains(load, chance, found, days) for load, chance in zip(loads, chances, strict=True)])
    right = RIGHT / RIGHT_SD * np.exp(-0.5 * (GRID / RIGHT_SD) ** 2)
    total = np.log(right + (1.0 - RIGHT) / USUAL_ERROR_SD * np.exp(-0.5 * (GRID / USUAL_ERROR_SD) ** 2))
    owned = np.full((len(loads), len(GRID)), np.nan)
    for at in range(len(GRID)):
        rows, columns = linear_sum_assignment(gains[:, :, at], maximize=True)
        each = gains[rows, columns, at]
        total[at] += each.sum()
        owned[rows[each > 0.0], at] = found.middles[columns[each > 0.0]]
    clear = {}
    for row, sizes in enumerate(owned):
        best = sizes[total.argmax()]
        own = np.abs(sizes - best) <= RIVAL_APART
        if own.any() and np.logaddexp.reduce(total[own]) - _sum(total[~own]) >= LEAST_LEAD:
            clear[row] = float(best)
    return clear


def _sum(logarithms: Floats) -> float:
    return float(np.logaddexp.reduce(logarithms)) if len(logarithms) else -math.inf


def _gains(load: Load, chance: float, found: _Appliances, days: int) -> Floats:
    """What it says for each appliance to be a load's, at each registration: above that it is no listed one's.

    Shape (appliances, registrations), nowhere negative: a load that fits none is not seen.
    """
    if load.watts is None or load.watts < LISTED_LEAST_WATTS:
        return np.zeros((len(found.middles), len(GRID)))
    doubt = _doubt(load)
    apart = found.middles[:, None] - math.log(load.watts / 1000.0) - GRID
    density = -0.5 * (apart / doubt) ** 2 - np.log(doubt * math.sqrt(2.0 * math.pi) * found.unlisted)[:, None]
    hours = load.run_hours if load.share_on is None else 24.0 * load.share_on
    if hours:
        off = np.log(np.maximum(found.counts, 1.0) / (RUNS_AN_HOUR * hours * load.count * days)) / RUNS_SD
        density += (-0.5 * off**2 - math.log(RUNS_SD * math.sqrt(2.0 * math.pi) / RUNS_RANGE))[:, None]
    gain: Floats = np.maximum(density + math.log(chance / (1.0 - chance)), 0.0)
    return gain
