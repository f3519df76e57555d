"""Interval data counted up like a register, with what was not recorded."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reconcile.house import Interval
from reconcile.records import dataclass

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

GAP_QUANTILES = (0.01, 0.99)
"""Of all stretches of the data as long as what is missing: what the missing ones may have held (our own judgement)."""

LONGEST_TABLE = 20_000
"""Stretches looked at for one length of gap; more are thinned."""


@dataclass(frozen=True, slots=True, eq=False)
class Running:
    """Energy and covered time counted up, at the start and the end of every interval."""

    seconds: Ints
    """Instants, seconds since 1970-01-01 00:00 UTC [s], shape (2 N,)."""
    kwh: Floats
    """Energy counted up to each [kWh], shape (2 N,)."""
    covered: Floats
    """Recorded time up to each [s], shape (2 N,)."""
    step: int
    """Usual length of an interval [s]."""

    @classmethod
    def of(cls, interval: Interval, *, net: bool = False) -> Running:
        """Count up what was drawn, or what was drawn less what was sent back; intervals without a value are missing."""
        begin = interval.starts.astype("datetime64[s]").astype(np.int64)
        values = interval.net_kwh if net else interval.kwh
        known = np.isfinite(values)
        begin, values = begin[known], values[known]
        seconds = np.repeat(begin, 2)
        lengths = interval.lengths[known]
        seconds[1::2] += lengths
        kwh = np.repeat(np.cumsum(values), 2)
        kwh[::2] -= values
        covered = np.repeat(np.cumsum(lengths).astype(np.float64), 2)
        covered[::2] -= lengths
        return cls(seconds, kwh, covered, int(np.median(lengths)))

    def kwh_at(self, instants: Ints) -> Floats:
        """Energy counted up to some instants [kWh], straight within an interval."""
        counted: Floats = np.interp(instants, self.seconds, self.kwh)
        return counted

    @property
    def falls(self) -> bool:
        """Whether what is counted falls too: more was sent back than drawn in some interval."""
        return bool(np.any(np.diff(self.kwh) < 0.0))

    def drawn_at(self, instants: Ints) -> Floats:
        """Count up the intervals in which more was drawn than sent back, to some instants [kWh]."""
        drawn = np.concatenate([[0.0], np.cumsum(np.maximum(np.diff(self.kwh), 0.0))])
        return np.asarray(np.interp(instants, self.seconds, drawn))

    def missing_between(self, opening: Ints, closing: Ints) -> Ints:
        """Intervals not recorded between pairs of instants."""
        covered = np.interp(closing, self.seconds, self.covered) - np.interp(opening, self.seconds, self.covered)
        missing: Ints = np.maximum(np.round((closing - opening - covered) / self.step), 0).astype(np.int64)
        return missing

    def held_by(self, counts: Ints) -> tuple[Floats, Floats]:
        """Least and most that so many missing intervals will have held.

        Parameters
        ----------
        counts : ndarray of int64
            Missing intervals; any shape.

        Returns
        -------
        least, most : ndarray
            Low and high quantile of what as many consecutive recorded intervals held [kWh]; zero for none.
        """
        total = np.concatenate([[0.0], self.kwh[1::2]])
        lengths, place = np.unique(counts, return_inverse=True)
        table = np.zeros((2, len(lengths)))
        for column, length in enumerate(lengths):
            if 0 < length < len(total):
                thin = max(1, (len(total) - length) // LONGEST_TABLE)
                table[:, column] = np.quantile((total[length:] - total[:-length])[::thin], GAP_QUANTILES)
            elif length:
                mean = total[-1] / max(len(total) - 1, 1) * length
                table[:, column] = 0.0, 2.0 * mean
        least, most = table[:, place.reshape(-1)].reshape(2, *counts.shape)
        return least, most
