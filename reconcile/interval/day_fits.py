"""Least squares of patterns over days that are like their neighbors."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from reconcile.records import dataclass

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

MOST_MEMORY = 4.0
"""How much more the mean of days scatters than their number says, at the most: days are like their neighbors."""

AT_ONCE = 64
"""Days on which a pattern may begin that are tried together: what is worked out of them stays in the processor's cache
(our choice)."""


def gain_of(design: Floats, weight: Floats, watts: Floats, columns: list[Floats]) -> float:
    """By how much some columns together fit better than none (chi-square)."""
    root = np.sqrt(weight)[:, None]
    white, _ = np.linalg.qr(design * root)
    more = np.column_stack(columns) * root
    more = more - white @ (white.T @ more)
    left = watts * root[:, 0] - white @ (white.T @ (watts * root[:, 0]))
    solved, *_ = np.linalg.lstsq(more, left, rcond=None)
    return float(left @ (more @ solved))


def fitted(design: Floats, weight: Floats, watts: Floats, at: int = -1) -> tuple[float, float, float]:
    """Size of one column, its standard uncertainty as of days by themselves, and how much more they scatter."""
    root = np.sqrt(weight)
    white = design * root[:, None]
    gram = white.T @ white
    inverse = np.linalg.pinv(gram)
    solved = inverse @ (white.T @ (watts * root))
    left = watts * root - white @ solved
    freedom = max(len(watts) - design.shape[1], 1)
    scale = float(left @ left) / freedom
    like = float(left[1:] @ left[:-1]) / max(float(left @ left), 1e-12)
    memory = float(np.clip((1.0 + like) / max(1.0 - like, 0.1), 1.0, MOST_MEMORY)) * max(scale, 1.0)
    return float(solved[at]), math.sqrt(max(float(inverse[at, at]), 0.0)), memory


@dataclass(frozen=True, slots=True, eq=False)
class Scan:
    """By how much a pattern from one day to before another fits better (chi-square)."""

    pull: Floats
    """Of the pattern up to each day on what is left of the usual ones, shape (n + 1,)."""
    begins: Floats
    ends: Floats
    """Both: their product is what is left of the pattern's square beside the usual day, shapes (n, p), (n + 1, p)."""
    least: float
    """Of that, what is more than rounding."""

    def most(self, enough: Bools | None = None) -> tuple[float, int, int]:
        """By how much the pattern that fits best does, its first place and the one after its last.

        Parameters
        ----------
        enough : ndarray of bool, shape (n, n + 1)
            First places and ends that are tried, for rises alone; all, and falls too, where not given.
        """
        best = -1.0, 0, 0
        for first in range(0, len(self.begins), AT_ONCE):
            rows, after = slice(first, first + AT_ONCE), slice(first, None)  # no end lies before its begin
            if enough is not None and not enough[rows, after].any():
                continue
            gain, size = self._fits(rows, after)
            if enough is not None:
                np.copyto(gain, -1.0, where=~(enough[rows, after] & (size > 0.0)))
            begin, end = divmod(int(np.argmax(gain)), gain.shape[1])
            if gain[begin, end] > best[0]:
                best = float(gain[begin, end]), first + begin, first + end
        return best

    def gain(self, begin: int, end: int) -> float:
        """By how much one fits better."""
        return float(self._fits(slice(begin, begin + 1), slice(end, end + 1))[0][0, 0])

    def dates(self, begin: int, end: int, cost: float, reach: int) -> tuple[int, int]:
        """First and last begin within some days that fit nearly as well."""
        gain = self._fits(slice(None), slice(end, end + 1))[0][:, 0]
        near = np.flatnonzero(gain >= gain[begin] - cost)
        near = near[np.abs(near - begin) <= reach]
        return int(near[0]), int(near[-1])

    def _fits(self, begins: slice, ends: slice) -> tuple[Floats, Floats]:
        """Gain and size of some."""
        gain, length = self.pull[ends] - self.pull[:-1][begins, None], self.begins[begins] @ self.ends[ends].T
        # below nothing where the end is not after the begin
        np.copyto(length, np.inf, where=length <= self.least)
        size = np.divide(gain, length, out=length)
        gain *= size
        return gain, size


def scan_of(design: Floats, weight: Floats, watts: Floats, column: Floats) -> Scan:
    """Fit a pattern that acts from one day to before another, for all of them, beside the usual day."""
    root = np.sqrt(weight)
    white, _ = np.linalg.qr(design * root[:, None])
    left = watts * root - white @ (white.T @ (watts * root))
    own = column * root
    pull = np.concatenate([[0.0], np.cumsum(own * left)])
    square = np.concatenate([[0.0], np.cumsum(own**2)])
    shared = np.concatenate([np.zeros((1, white.shape[1])), np.cumsum(white * own[:, None], axis=0)])
    norm, ones = np.einsum("ij,ij->i", shared, shared), np.ones(len(square))
    # what is left of each sum of squares beside the usual day
    begins, ends = np.column_stack([2.0 * shared, -square - norm, ones]), np.column_stack([shared, ones, square - norm])
    return Scan(pull, begins[:-1], ends, 0.01 * float(square[-1]))
