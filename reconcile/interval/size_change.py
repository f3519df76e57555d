"""A change of the sizes of the house's own steps: its date, its shift, and the windows it is told by."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from itertools import combinations, pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import as_day
from reconcile.interval.clusters import Cluster
from reconcile.records import dataclass

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FOUND_AT, SAID_AT, CUT_AT = 8.0, 6.0, 2.0
LEAST_SHIFT, LEAST_WITHOUT_VOLTS = 0.025, 0.04
"""A date is named where the shift is likelier than none by the first in log-likelihood, and at least so large, where
the data carry volts and where not: 2 % of volts moves heating elements by as much. The household is
asked about it from the second, windows are cut at it from the third (our own judgement)."""


WINDOW_DAYS = 28
"""Shortest window of the evidence [d] (our own judgement)."""

LEAST_SD = 0.006
"""No shift is known better than this, which is what moves all sizes at once where the data carry volts (one real home,
as it is and at one voltage)."""

MOST_SD = 1.0
"""Standard uncertainty of a shift of which nothing is known."""

UNDONE = 0.9
"""Part of the variance of two changes that is one of the two's together where one undoes the other (our own
judgement)."""

DATE_LOSSES = (2.0, 8.0)
"""Losses of log-likelihood at which windows are cut about a date: an onset that far from it costs as much."""


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """Step sizes before and after one date, counted in days since 1970-01-01."""

    day: int
    low: int
    high: int
    """All: first day after the change, with 95 % limits [d]."""
    shift: float
    standard_uncertainty: float
    """Both: of the logarithm of the sizes, clusters agreed."""
    likelier: float
    """Log-likelihood of the shift above that of none."""
    clusters: tuple[Cluster, ...]
    before: Floats
    after: Floats
    """Both: smoothed histograms of both sides, shape (BINS,)."""
    volts: bool = False
    """Whether the sizes are brought to one voltage."""
    about: tuple[int, ...] = ()
    """Days before and after which the date becomes unlikely by each of :data:`DATE_LOSSES`, in order."""

    def to_dict(self) -> dict[str, Any]:
        """Return the change as plain values; percentages are of the sizes before."""
        percent = 100.0 * math.expm1(self.shift)
        return {
            "date": as_day(self.day).isoformat(),
            "low": as_day(self.low).isoformat(),
            "high": as_day(self.high).isoformat(),
            "percent": percent,
            "standard_uncertainty_percent": 100.0 * self.standard_uncertainty,
            "found": self.found,
            "clusters": [
                {
                    "watts": 1000.0 * cluster.kw,
                    "percent": 100.0 * math.expm1(cluster.shift),
                    "standard_uncertainty_percent": 100.0 * cluster.standard_uncertainty,
                    "steps_before": round(cluster.steps_before),
                    "steps_after": round(cluster.steps_after),
                }
                for cluster in self.clusters
            ],
        }

    @property
    def cuts(self) -> bool:
        """Whether the windows are cut at the date, so that neither side blurs the other."""
        return self.likelier >= CUT_AT

    @property
    def said(self) -> bool:
        """Whether the household is told and asked, though it may be nothing."""
        return self.likelier >= SAID_AT and abs(self.shift) >= (LEAST_SHIFT if self.volts else LEAST_WITHOUT_VOLTS)

    @property
    def found(self) -> bool:
        """Whether the sizes moved beyond what chance gives."""
        return self.likelier >= FOUND_AT and abs(self.shift) >= (LEAST_SHIFT if self.volts else LEAST_WITHOUT_VOLTS)


@dataclass(frozen=True, slots=True, eq=False)
class GainSignal:
    """Log gain of successive windows, with its covariance, and the likeliest change.

    ``begins`` and ``ends`` are days since 1970-01-01 [d]; ``value`` is in the logarithm of size.
    """

    begins: Ints
    ends: Ints
    value: Floats
    covariance: Floats
    steps: Ints
    change: Change
    at_dates: tuple[Change, ...] = ()
    """The same comparison at dates given beforehand, such as a recorded meter exchange."""

    def to_dict(self) -> dict[str, Any]:
        """Return the ``gain`` part of ``result.json``."""
        return {
            "steps_seen": int(self.steps.sum()),
            "change": self.change.to_dict(),
            "at_dates": [change.to_dict() for change in self.at_dates],
        }


def as_normal(apart: float, likelier: float) -> float:
    """Standard deviation of a normal law that falls by a log-likelihood over a distance."""
    sd = abs(apart) / math.sqrt(2.0 * max(likelier, 1e-9))
    return min(max(sd, LEAST_SD), MOST_SD)


def came_back(one: Change, other: Change) -> float:
    """What the errors of two changes have in common where the second undoes the first: no meter does, but the volts of
    a season or a heater on loan.
    """
    left = (one.shift + other.shift) / LEAST_SD
    alike = UNDONE * math.exp(-0.25 * left**2)
    return alike * min(one.standard_uncertainty, other.standard_uncertainty) ** 2


def undone(changes: Collection[Change]) -> list[tuple[Change, Change, float]]:
    """Changes by twos of which one undoes the other, and what their errors have in common, the most first.

    Each is undone once: where two of three shared theirs with the third, they could not but share with each other.
    """
    pairs = sorted(((came_back(*two), *two) for two in combinations(changes, 2)), key=lambda pair: -pair[0])
    found: list[tuple[Change, Change, float]] = []
    for common, one, other in pairs:
        if not any(each is one or each is other for two in found for each in two[:2]):
            found.append((one, other, common))
    return found


def date_doubt(change: Change, edges: Ints) -> Floats:
    """Variance of each window's own: those next to a date that may lie in them, so that an onset at their far end costs
    what it should.
    """
    found = np.zeros(len(edges) - 1)
    half = len(change.about) // 2
    days = (*change.about[:half], change.day, *change.about[half:])
    losses = np.diff((0.0, *DATE_LOSSES))
    for (begin, end), loss in zip(pairwise(days), (*losses[::-1], *losses), strict=False):
        inside = (edges[:-1] >= begin) & (edges[1:] <= end)
        found[inside] = change.shift**2 * np.maximum(inside.sum(), 1) / (2.0 * loss)
    return found


def window_edges(days: int, known: Mapping[int, Change], first: int) -> Ints:
    """Windows of about a month, cut at the dates that matter and about them: there one change is told, by its date."""
    about = [[day - first for day in one.about] for one in known.values() if one.about]
    edges = {0, days, *(day for days_ in about for day in days_ if 0 < day < days)}
    cuts = sorted(known)

    def near(edge: int) -> bool:
        return any(one[0] < edge < one[-1] for one in about)

    for begin, end in pairwise([0, *cuts, days]):
        count = max(1, (end - begin) // WINDOW_DAYS)
        edges |= {edge for edge in np.round(np.linspace(begin, end, count + 1)).astype(int).tolist() if not near(edge)}
    return np.array(sorted(edges | set(cuts)), dtype=np.int64)
