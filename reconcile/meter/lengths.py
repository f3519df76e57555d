"""How long, with how large a load and how often: what a test must be to reach an uncertainty, or to detect an error.

An error is *detected* where a test of a meter that has it ends outside the tolerance nine times in ten: the
registration read must clear the tolerance by the expanded uncertainty, and in one test of ten it is read lower than it
is.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from reconcile.distributions import chi_square_limit, coverage_factors
from reconcile.house import House, Meter
from reconcile.house.registers import current_meter
from reconcile.house.site import FieldTest, Instruments, Run
from reconcile.meter.combine import AGREE_RISK, TYPE_B_FREEDOM, Combined, combine, mean_of
from reconcile.meter.load_run import Weighed, weigh_run
from reconcile.meter.montecarlo import SEED
from reconcile.meter.plug_in import BACKGROUND_DRIFT, PRIOR_FREEDOM
from reconcile.records import dataclass

RUN_LENGTHS = (300.0, 420.0, 600.0, 900.0, 1200.0, 1800.0, 2700.0, 3600.0, 5400.0, 7200.0)
"""Lengths of a run that are tried [s]."""
REPEATS = (3, 4, 6)
"""How often it is made: fewer than three do not show a misread figure."""
BETWEEN_SECONDS = 240.0
"""What every run costs besides: the background before and after, writing down, warming up [s] (common practice)."""
FOUND_IN = 0.9
"""Share of tests in which a detected error is found."""
WORTH_WAITING = 1.1
"""More time is asked for only while it narrows the expanded uncertainty by more than this factor."""

MOST_CLEAR = 50.0
"""A test that must clear the tolerance by more than this tells nothing anyway [%]."""

RunOf = Callable[[float], Run]
"""The planned run of a length [s]."""


@dataclass(frozen=True, eq=False)
class Foreseen:
    """A test that has not been made; drawn only where its uncertainty is asked for."""

    seconds: float
    """Length of a run [s]."""
    repeats: int
    tolerance_percent: float
    """Of the meter [%]."""
    weighed: Weighed
    """One of its runs."""
    combined: Combined

    @property
    def total_seconds(self) -> float:
        """Time it takes in all [s]."""
        return self.repeats * (self.seconds + BETWEEN_SECONDS)

    @property
    def expanded_percent(self) -> float:
        """Expanded uncertainty of the registration to expect [%]."""
        return (self.combined.high - self.combined.low) / 2.0

    @property
    def detects_percent(self) -> float:
        """Least error, fast or slow, that is found outside nine times in ten [%]."""
        clear = must_clear(self.combined, [self.weighed] * self.repeats)
        # what is read of a fast meter is uncertain in proportion to what it registers
        return (self.tolerance_percent + clear) / (1.0 - min(clear, MOST_CLEAR) / 100.0)


def foresee(
    run_of: RunOf,
    seconds: float,
    repeats: int,
    house: House,
    meter: Meter,
    instruments: Instruments,
) -> Foreseen | None:
    """Return what a planned test would tell; None where its run could not be judged.

    Parameters
    ----------
    meter : Meter
        With its constants, or those taken for planning.
    """
    weighed = weigh_run(run_of(seconds), house, FieldTest(instruments), meter)
    if isinstance(weighed, str):
        return None
    runs = [replace(weighed, run=replace(weighed.run, label="planned")) for _ in range(repeats)]
    return Foreseen(seconds, repeats, current_meter(house).tolerance_percent, weighed, combine(runs))


def must_clear(planned: Combined, runs: Sequence[Weighed]) -> float:
    """Return by how much an error must exceed the tolerance to be found nine times in ten [%].

    The registration read is off by its error, and the expanded uncertainty found is itself one of many: two readings of
    the background agree now better, now worse, and so do the repeats, whose scatter widens the limits where it is large
    and takes degrees of freedom away.

    Parameters
    ----------
    planned : Combined
        The test as planned, its runs all alike.
    runs : sequence of Weighed
        Those runs.
    """
    rng = np.random.default_rng(SEED)
    count, draws = len(runs), planned.drawn.draws
    off = rng.permutation(draws) - planned.percent
    mean = mean_of(runs)
    shared = math.fsum(part * part for part, _ in mean.shared.values())
    drift = math.fsum(part * part for name, part, _ in mean.lines if name.startswith(BACKGROUND_DRIFT))
    # the usual wander counts as so many readings beside the two that are made in each run
    wander = (PRIOR_FREEDOM + rng.chisquare(count, len(draws)) / count) / (PRIOR_FREEDOM + 1.0)
    own = mean.own + drift * (wander - 1.0)
    freedom = np.full(len(draws), math.inf)
    if count > 1:
        spread = rng.chisquare(count - 1, len(draws))
        joined = TYPE_B_FREEDOM + count - 1.0
        apart, alone = spread > count - 1.0, spread > chi_square_limit(AGREE_RISK, count - 1)
        widened = np.where(alone, spread / (count - 1.0), (TYPE_B_FREEDOM + spread) / joined)
        own = np.where(apart, own * widened, own)
        freedom = np.where(alone, count - 1.0, np.where(apart, joined, math.inf))
    whole = shared + own
    with np.errstate(divide="ignore"):
        effective = np.maximum(np.floor(whole**2 * freedom / own**2), 1.0)
    few = np.isfinite(effective)
    factor = np.full(len(draws), planned.expanded / (planned.standard_percent or 1.0))
    factor[few] = coverage_factors(effective[few])
    return float(np.quantile(factor * np.sqrt(whole) - off, FOUND_IN))


def tried(
    run_of: RunOf,
    house: House,
    meter: Meter,
    instruments: Instruments,
    repeats: Sequence[int] = REPEATS,
    lengths: Sequence[float] = RUN_LENGTHS,
) -> Iterator[Foreseen]:
    """Yield every length and number of repeats that is tried, the shortest test first."""
    every = [(count, seconds) for count in repeats for seconds in lengths]
    for count, seconds in sorted(every, key=lambda pair: pair[0] * (pair[1] + BETWEEN_SECONDS)):
        found = foresee(run_of, seconds, count, house, meter, instruments)
        if found is not None:
            yield found


def shortest(
    run_of: RunOf,
    house: House,
    meter: Meter,
    instruments: Instruments,
    *,
    detect_percent: float | None = None,
    expanded_percent: float | None = None,
    repeats: Sequence[int] = REPEATS,
    lengths: Sequence[float] = RUN_LENGTHS,
) -> Foreseen | None:
    """Return the shortest test that detects an error, or reaches an uncertainty; else the best there is.

    Parameters
    ----------
    detect_percent : float, optional
        Error that must be found nine times in ten [%]. The best is the shortest that more time would not narrow by
        more than :data:`WORTH_WAITING`.
    expanded_percent : float, optional
        Wanted expanded uncertainty [%], where no error is to be detected.
    lengths : sequence of float
        Of a run [s].

    Returns
    -------
    Foreseen or None
        None where no such run could be judged.
    """
    every: list[Foreseen] = []
    if detect_percent is not None or expanded_percent is not None:
        for found in tried(run_of, house, meter, instruments, repeats, lengths):
            # the shorter ones come first: the first that is enough is the shortest
            if detect_percent is not None and found.detects_percent <= abs(detect_percent):
                return found
            if detect_percent is None and found.expanded_percent <= (expanded_percent or 0.0):
                return found
            every.append(found)
    # no longer or more frequent run is less sure
    surest = foresee(run_of, lengths[-1], max(repeats), house, meter, instruments)
    if surest is None:
        return None
    near = WORTH_WAITING * surest.expanded_percent
    others = every or tried(run_of, house, meter, instruments, repeats, lengths)
    return next(found for found in others if found.expanded_percent <= near)
