"""Least squares of patterns over days that are like their neighbors."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MOST_MEMORY = 4.0
"""How much more the mean of days scatters than their number says, at the most: days are like their neighbors."""


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
