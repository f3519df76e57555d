"""Stage two: readings taken on site become rows of the same model (method page, eq. 14 and 15)."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reconcile import kinds
from reconcile.facts import Facts
from reconcile.house import House, Load
from reconcile.loads.handbook import find
from reconcile.meter.observation import Observation
from reconcile.records import dataclass
from reconcile.weigh import constants as k
from reconcile.weigh.model import Model
from reconcile.weigh.patterns import Patterns, kinds_mask
from reconcile.weigh.places import CREEPING_KINDS
from reconcile.weigh.shapes import Acting, Shape

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

METER_KINDS = (
    "meter-step",
    "meter-exchange",
    "meter-always",
    "meter-low",
    "meter-leg",
    "meter-low-always",
    "meter-low-exchange",
    *CREEPING_KINDS,
)
CONSTANT_KINDS = ("constant-load", "cold-load", "hot-water-leak", "drift", "load-gone", "unlisted")
RESTING_KINDS = ("constant-load", "cold-load", "hot-water-leak", "drift")
PEOPLE_KINDS = ("habit-step", "habit-fall", "house-left")
TAKES = ("constant-load", "cold-load", "hot-water-leak", "timed-load", "stuck-load", "winter-load", "summer-load")
"""Loads that take the same every day while they run, or nearly so."""


SLIPS = {"": 0.0, "run": k.SLIP_CHANCE, "constant": k.CONSTANT_CHANCE}
"""Chance that a registration says nothing of the meter, by what may be written wrong in it."""


MOST_SLOW = 1.1
"""Part by which a meter may be told to be slow, at the most: all, and what may scatter beyond it (our choice)."""


MAY_EXCEED = 3.0
"""Prior standard deviations above the usual size within which a load must reach what was billed to be bounded by it: no
other is worth a look (our choice)."""


def size_bounds(found: Patterns, facts: Facts, judged: NDArray[np.bool_], *, net: bool) -> tuple[Floats, Floats]:
    """Lowest and highest size that each pattern can have, in prior standard deviations, both of shape (K,).

    A fast meter is not slow, nor a slow one fast, and none counts less than nothing. No load takes more than was billed
    in any period in which it runs.

    Parameters
    ----------
    judged : ndarray of bool, shape (n,)
        Periods that are heard.
    net : bool
        Own generation is taken off the bills: they bound no load.
    """
    meter, old = (kinds_mask(*names)[found.kind_index] for names in (METER_KINDS, ("old-meter-slow",)))
    slow, fast = meter & (found.size_mean < 0.0), (meter & (found.size_mean > 0.0)) | old
    most = MOST_SLOW / found.size_sd
    low = np.where(slow, -most, np.where(fast, 0.0, -np.inf))
    high = np.where(slow, 0.0, np.where(old, most, np.inf))
    runs = kinds_mask(*TAKES)[found.kind_index] & (found.size_mean > 0.0) & (not net)
    billed, effect = facts.billed_kwh[judged, None], found.effect[judged]
    all_of_it = np.divide(billed, effect, out=np.full(effect.shape, np.inf), where=effect > 0.0).min(axis=0)
    within = runs & (all_of_it < found.size_mean + MAY_EXCEED * found.size_sd)
    return low, np.where(within, all_of_it / found.size_sd, high)


@dataclass(frozen=True, slots=True, eq=False)
class SiteRows:
    """o site readings as rows beside the n bills."""

    residual: Floats
    """Shape (o,)."""
    factors: Floats
    """On the model's shared unknowns, shape (o, q)."""
    noise: Floats
    """Covariance of their own, in the readings' own doubt: no scatter of the bills makes it larger, shape (o, o)."""
    effect: Floats
    """Of each pattern, per unit of size, shape (o, K)."""
    turned: Floats
    """By how much a unit of each meter's error multiplies what other patterns add to a reading, shape (o, K)."""
    night: NDArray[np.bool_]
    """Quiet readings, shape (o,)."""
    slip: Floats
    """Chance that a registration far off is a slip of the pen or a constant written wrong, shape (o,)."""
    by_hours: NDArray[np.bool_]
    """Rows of interval data, shape (o,)."""
    of_sizes: NDArray[np.bool_]
    """Those of them that tell how large the house's own appliances run, shape (o,)."""

    def ways(self) -> list[tuple[float, SiteRows]]:
        """How the readings may have come about, each with its chance: a night that was not quiet, a slip of the pen."""
        found = [(1.0, self)]
        if self.night.any():
            found = [(1.0 - k.AWAKE_CHANCE, self), (k.AWAKE_CHANCE, self.awake())]
        slip = float(self.slip.max(initial=0.0))
        if slip:
            slips = [(slip * chance, rows.slipped()) for chance, rows in found]
            found = [*(((1.0 - slip) * chance, rows) for chance, rows in found), *slips]
        return found

    def slipped(self) -> SiteRows:
        """The same readings, of which those that may be written wrong say nothing of the meter."""
        return replace(self, noise=self.noise + np.diag(np.where(self.slip > 0.0, k.SLIP_SD**2, 0.0)))

    def awake(self) -> SiteRows:
        """The same readings of a night that was not quiet, one and the same for all of them."""
        mean, sd = (watts * 0.024 for watts in k.AWAKE_WATTS)
        residual, noise = self.residual.copy(), self.noise.copy()
        residual[self.night] -= mean
        noise[np.ix_(self.night, self.night)] += sd**2
        return replace(self, residual=residual, noise=noise)


def site_rows(
    house: House, model: Model, found: Patterns, shape: Shape, observations: Sequence[Observation]
) -> SiteRows:
    """Turn site readings into rows.

    A registration says the size of a meter pattern that acts on its day; a quiet reading, in kWh a day, holds the base
    loads there are, the unlisted part that never sleeps, and a constant load if there is one. A reading with the main
    off is judged by itself, not here: what it counts is not the house's loads.

    Parameters
    ----------
    shape : Shape
    """
    used = [o for o in observations if o.kind != "main-off"]
    rows, q = len(used), model.factors.shape[1]
    meter = kinds_mask(*METER_KINDS)[found.kind_index]
    constant = kinds_mask(*CONSTANT_KINDS)[found.kind_index] & ~found.idle
    always, grows = np.isnan(found.start), kinds_mask(*CREEPING_KINDS)[found.kind_index]
    residual, noise = np.zeros(rows), np.zeros((rows, rows))
    factors, effect, turned = np.zeros((rows, q)), *np.zeros((2, rows, len(found.kind_index)))
    end = max(bill.closes for bill in house.bills)
    registration = np.array([reading.kind == "registration" for reading in used], dtype=bool)
    # one meter on the wall: its own small error is the same in every reading of it
    noise[np.ix_(registration, registration)] = k.HEALTHY_METER_SD**2
    for row, reading in enumerate(used):
        day = float((reading.day or end).toordinal())
        active = (always | (found.start <= day)).astype(float)
        # what has grown since stands that day as far as it had grown
        active[grows] = np.clip((day - found.start[grows]) / (found.full[grows] - found.start[grows]), 0.0, 1.0)
        turned[row] = np.where(meter, active, 0.0)
        if reading.kind == "registration":
            residual[row] = reading.value - 1.0
            noise[row, row] += reading.standard_uncertainty**2
            effect[row] = turned[row]
            continue
        base, own, own_noise = _quiet_base(house, model, reading)
        seen = 0.5 * reading.value if reading.at_most else reading.value
        residual[row] = seen * 0.024 - base
        noise[row, row] = (reading.standard_uncertainty * 0.024) ** 2 + own_noise
        factors[row, model.part_factors] = own
        effect[row] = turned[row] * base + np.where(constant, active > 0.0, False) * shape.per_day
    # what nobody knows of the night is the same in every quiet reading
    night = np.array([reading.kind == "quiet" for reading in used], dtype=bool)
    noise[np.ix_(night, night)] += (k.QUIET_OTHER_WATTS * 0.024) ** 2
    turned[:, kinds_mask("meter-leg")[found.kind_index]] = 0.0  # it multiplies no two loads alike
    slip = np.array([SLIPS[reading.slip] for reading in used], dtype=np.float64)
    nothing = np.zeros(rows, dtype=bool)
    return SiteRows(residual, factors, noise, effect, turned, night, slip, nothing, nothing)


def with_twins(found: Patterns, heard: Collection[str]) -> Patterns:
    """Add to patterns that may move the nights in two ways one that does it in the other.

    A round-the-clock load may happen to rest while the night is read, or rest in every hour: a pump, a heat tape or a
    hot tub goes by its own thermostat, and a quiet night speaks against it and does not exclude it. Who comes to live
    in a house leaves more on, at night too, and who goes takes with them what they left on: the base load of the nights
    goes with lasting ways of the household, or not.

    Parameters
    ----------
    heard : collection of str
        Kinds of the readings on site and of the signals of interval data.
    """
    if "quiet" in heard or "night-runs" in heard:
        rests = np.full(len(kinds.PATTERNS), k.IDLE_CHANCE)
        rests[kinds_mask("unlisted")], rests[kinds_mask("hot-water-leak")] = k.UNLISTED_RESTS, k.LEAK_RESTS
        resting = kinds_mask(*RESTING_KINDS, "unlisted" if "quiet" in heard else "load-gone")
        found, twins = _with_twins(found, resting, rests, ~found.idle)
        found = replace(found, idle=twins)
    if "base-load" in heard:
        for which, chance, part in (
            (kinds_mask("habit-step"), k.WITH_MOST_NIGHTS, k.MOST_NIGHTS_PART),
            (kinds_mask(*PEOPLE_KINDS), k.WITH_NIGHTS, k.NIGHTS_PART),
        ):
            chances = np.full(len(kinds.PATTERNS), chance)
            found, twins = _with_twins(found, which, chances, found.nights == 0.0)
            found = replace(found, nights=np.where(twins, part, found.nights))
    return found


def _with_twins(found: Patterns, which: Bools, chance: Floats, single: Bools) -> tuple[Patterns, Bools]:
    """Add a twin to the lasting patterns of some kinds, each with its chance among the two; and mark the twins.

    Parameters
    ----------
    which : ndarray of bool, shape (C,)
    chance : ndarray, shape (C,)
    single : ndarray of bool, shape (K,)
        Those that are no twins themselves.
    """
    p, count = found.persistent, len(found.kind_index)
    mine = np.flatnonzero(which[found.kind_index] & single)
    order = np.concatenate([np.arange(p), mine, np.arange(p, count)])
    twins = np.zeros(len(order), dtype=bool)
    twins[p : p + len(mine)] = True
    log_prior = found.log_prior[order]
    chance = chance[found.kind_index[order]]
    log_prior[twins] += np.log(chance[twins])
    log_prior[mine] += np.log(1.0 - chance[mine])
    acting = found.acting
    both = Patterns(
        effect=found.effect[:, order],
        kind_index=found.kind_index[order],
        start=found.start[order],
        end=found.end[order],
        full=found.full[order],
        size_mean=found.size_mean[order],
        size_sd=found.size_sd[order],
        log_prior=log_prior,
        persistent=p + len(mine),
        opens=found.opens[order],
        closes=found.closes[order],
        acting=Acting(acting.mask[:, order], acting.follows[order], acting.size_mean[order], acting.size_sd[order]),
        idle=found.idle[order],
        nights=found.nights[order],
        spared=found.spared[order],
    )
    return both, twins


ALL_DAY_HOURS = 23.5
"""Hours a day from which a load is never switched off (our choice)."""


def _never_off_watts(load: Load) -> float:
    """Mean power [W] of a load by the clock that nobody switches off at night, a refrigerator or a router; else 0."""
    if load.follows != "clock" or not load.watts or not load.run_hours:
        return 0.0
    kind = next(iter(find(load.name)), None)
    if load.run_hours < ALL_DAY_HOURS and (kind is None or kind.follows != "always"):
        return 0.0
    return load.count * load.watts * load.share_on * load.run_hours / 24.0


def _quiet_base(house: House, model: Model, reading: Observation) -> tuple[float, Floats, float]:
    """Expected quiet use [kWh/d], its columns on the loads' own factors, and the variance no factor holds."""
    base = model.base_kwh_per_day.copy()
    noise = 0.0
    named = {name.strip().lower() for name in reading.on}
    for j, load in enumerate(house.loads):
        rests = _never_off_watts(load) * 0.024
        if not named:  # who names nothing has not switched off what nobody switches off
            base[j] += rests
            noise += (k.NEVER_OFF_SD * rests) ** 2
        elif load.name.strip().lower() not in named:
            base[j] = 0.0
        elif base[j] == 0.0 and load.watts:
            base[j] = rests or load.count * load.watts * load.share_on * 0.024
            noise += (0.3 * base[j]) ** 2
    rest = base[-1] / k.QUIET_UNLISTED_SHARE
    noise += (k.QUIET_UNLISTED_SD * rest) ** 2
    sds = np.sqrt(np.sum(model.factors[:, model.part_factors] ** 2, axis=0)) / np.maximum(
        np.sqrt(np.sum(model.parts**2, axis=0)), 1e-9
    )
    return float(base.sum()), base * sds, noise
