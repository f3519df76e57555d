"""One uncertainty budget engine, after JCGM 100:2008.

An :class:`Input` is an estimate with its limits of error and how these are meant. A model is a plain
function of a mapping from names to arrays, written with analytic operations only: :func:`propagate` takes
its sensitivities by a complex step, and :mod:`reconcile.meter.montecarlo` runs it on many draws at once.

References
----------
.. [1] JCGM 100:2008, Evaluation of measurement data: Guide to the expression of uncertainty in measurement.
.. [2] W. Squire and G. Trapp, "Using complex variables to estimate derivatives of real functions",
   SIAM Review 40 (1998) 110-112 (the complex step; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from reconcile.distributions import student_quantile
from reconcile.records import dataclass

Distribution = Literal["normal", "rectangular", "triangular", "arcsine"]
Model = Callable[[Mapping[str, Any]], Any]
Correlations = Mapping[tuple[str, str], float]

DIVISORS: dict[str, float] = {
    "normal": 1.0,
    "rectangular": math.sqrt(3.0),
    "triangular": math.sqrt(6.0),
    "arcsine": math.sqrt(2.0),
}
"""Limit over standard uncertainty (JCGM 100, 4.3; the rectangular and arcsine ones also in its H.1)."""

_STEP = 1e-30
"""Imaginary step: far below rounding, so the derivative is exact to the last digits."""


@dataclass(frozen=True, slots=True)
class Input:
    """One input quantity of a model.

    Attributes
    ----------
    name : str
    value : float
        Estimate, in ``unit``.
    limit : float
        Half-width of a rectangular, triangular or arcsine distribution; of a normal one ``divisor`` standard
        uncertainties.
    distribution : {'normal', 'rectangular', 'triangular', 'arcsine'}
    divisor : float or None
        None takes :data:`DIVISORS`; a certificate's coverage factor goes here.
    degrees_of_freedom : float
        Of the standard uncertainty itself; infinite for limits that are taken as sure.
    unit, source : str
        The source says why the limit is what it is.
    """

    name: str
    value: float
    limit: float = 0.0
    distribution: Distribution = "normal"
    divisor: float | None = None
    degrees_of_freedom: float = math.inf
    unit: str = ""
    source: str = ""

    @property
    def dividing(self) -> float:
        """Limit over standard uncertainty."""
        return DIVISORS[self.distribution] if self.divisor is None else self.divisor

    @property
    def standard_uncertainty(self) -> float:
        """Standard uncertainty, in ``unit``."""
        return abs(self.limit) / self.dividing


@dataclass(frozen=True, slots=True)
class Component:
    """One line of a budget. ``contribution`` is sensitivity times standard uncertainty, with its sign."""

    name: str
    value: float
    unit: str
    limit: float
    distribution: str
    divisor: float
    standard_uncertainty: float
    sensitivity: float
    contribution: float
    degrees_of_freedom: float
    share: float
    """Share of the variance, 0 to 1 (of the sum of squares where inputs are correlated)."""
    source: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Budget:
    """A result with every component of its doubt."""

    value: float
    standard_uncertainty: float
    components: tuple[Component, ...]
    degrees_of_freedom: float
    """Effective, by Welch and Satterthwaite, not yet cut to a whole number."""
    coverage: float
    coverage_factor: float
    correlation: NDArray[np.float64] | None = None
    second_order: float = 0.0
    """Square root of the second-order terms of the variance, where they were asked for."""

    @property
    def expanded_uncertainty(self) -> float:
        """Coverage factor times standard uncertainty."""
        return self.coverage_factor * self.standard_uncertainty

    def component(self, name: str) -> Component:
        """Return the line of that name; KeyError where there is none."""
        for component in self.components:
            if component.name == name:
                return component
        raise KeyError(name)


def quantile(probability: float, degrees_of_freedom: float = math.inf) -> float:
    """Return the quantile of Student's t, or of the normal for infinite degrees of freedom.

    Examples
    --------
    >>> round(quantile(0.975), 3), round(quantile(0.975, 16), 2)
    (1.96, 2.12)
    """
    return student_quantile(probability, degrees_of_freedom)


def coverage_factor(coverage: float, degrees_of_freedom: float = math.inf) -> float:
    """Return k for a two-sided coverage; the degrees of freedom are cut to a whole number (JCGM 100, G.6.4).

    Examples
    --------
    >>> round(coverage_factor(0.99, 16.75), 2)
    2.92
    """
    whole = degrees_of_freedom if math.isinf(degrees_of_freedom) else max(math.floor(degrees_of_freedom), 1)
    return quantile(0.5 + coverage / 2.0, whole)


def welch_satterthwaite(contributions: Sequence[float], degrees_of_freedom: Sequence[float]) -> float:
    """Return the effective degrees of freedom of independent contributions (JCGM 100, eq. G.2b).

    Examples
    --------
    >>> welch_satterthwaite([1.0, 1.0], [4, 4])
    8.0
    """
    fourth = sum(c**4 / nu for c, nu in zip(contributions, degrees_of_freedom, strict=True))
    return math.inf if fourth == 0.0 else sum(c * c for c in contributions) ** 2 / fourth


def propagate(
    model: Model,
    inputs: Sequence[Input],
    *,
    correlations: Correlations | None = None,
    coverage: float = 0.95,
    factor: float | None = None,
    second_order: bool = False,
) -> Budget:
    """Propagate the doubt of the inputs through the model.

    Parameters
    ----------
    model : callable
        From a mapping of names to (complex) arrays to an array; analytic.
    correlations : mapping of (str, str) to float, optional
        Correlation coefficients between inputs, those not named being 0. Where two readings share one
        instrument, prefer one shared input for its error: that is the same, exactly.
    coverage : float
        Wanted coverage of the expanded uncertainty.
    factor : float, optional
        A fixed coverage factor (2 by custom) in place of the one from the effective degrees of freedom.
    second_order : bool
        Add the second-order terms of JCGM 100, 5.1.2, note (independent inputs only).

    Raises
    ------
    ValueError
        Where the result or a sensitivity is not finite, or the correlations are not those of any quantities.

    Notes
    -----
    u^2 = c' U R U c, with sensitivities c, standard uncertainties U and correlations R (JCGM 100, eq. 16).
    Welch and Satterthwaite ask for independent contributions (G.4.1): inputs that are correlated with each
    other enter as one, with the fewest degrees of freedom among them.
    """
    values = np.array([q.value for q in inputs])
    doubts = np.array([q.standard_uncertainty for q in inputs])
    names = [q.name for q in inputs]
    value, sensitivities = _gradient(model, names, values)
    if not (math.isfinite(value) and np.all(np.isfinite(sensitivities))):
        raise ValueError("the model has no finite value or slope at these readings")
    contributions = sensitivities * doubts
    matrix = None if not correlations else _matrix(names, correlations)
    variance = float(contributions @ contributions if matrix is None else contributions @ matrix @ contributions)
    extra = _second_order(model, names, values, doubts, sensitivities) if second_order else 0.0
    freedoms = [q.degrees_of_freedom for q in inputs]
    freedom = welch_satterthwaite(*_groups(contributions, freedoms, matrix))
    doubt = math.sqrt(max(variance + extra, 0.0))
    squares = float(contributions @ contributions)
    lines = tuple(
        Component(
            q.name,
            q.value,
            q.unit,
            abs(q.limit),
            q.distribution,
            q.dividing,
            q.standard_uncertainty,
            float(c),
            float(part),
            q.degrees_of_freedom,
            float(part) ** 2 / squares if squares else 0.0,
            q.source,
        )
        for q, c, part in zip(inputs, sensitivities, contributions, strict=True)
    )
    k = coverage_factor(coverage, freedom) if factor is None else factor
    return Budget(value, doubt, lines, freedom, coverage, k, matrix, math.sqrt(max(extra, 0.0)))


def correlation(first: Budget, second: Budget) -> float:
    """Return the correlation coefficient of two results of the same inputs (JCGM 100, H.2).

    Raises
    ------
    ValueError
        Where the two were not made from the same inputs.
    """
    if [c.name for c in first.components] != [c.name for c in second.components]:
        raise ValueError("both results must come from the same inputs, in the same order")
    a = np.array([c.contribution for c in first.components])
    b = np.array([c.contribution for c in second.components])
    both = float(a @ b if first.correlation is None else a @ first.correlation @ b)
    return both / (first.standard_uncertainty * second.standard_uncertainty)


def repeated(
    readings: Mapping[str, Sequence[float]], unit: str = ""
) -> tuple[tuple[Input, ...], dict[tuple[str, str], float]]:
    """Evaluate simultaneous repeated readings (Type A): means, their doubts, and their correlations.

    Parameters
    ----------
    readings : mapping of str to sequence of float
        One sequence a quantity, all of one length n >= 2, the i-th of each read at one moment.
    unit : str
        Unit of all of them, for display.

    Returns
    -------
    inputs : tuple of Input
        With u = s / sqrt(n) and n - 1 degrees of freedom (JCGM 100, 4.2).
    correlations : dict
        Between the means (JCGM 100, 5.2.3).
    """
    table = np.array(list(readings.values()), dtype=float)
    count = table.shape[1]
    means = table.mean(axis=1)
    covariance = np.cov(table) / count if len(table) > 1 else np.array([[table.var(ddof=1) / count]])
    doubts = np.sqrt(np.diag(covariance))
    names = list(readings)
    inputs = tuple(
        Input(name, float(mean), float(u), "normal", 1.0, count - 1, unit, f"scatter of {count} readings")
        for name, mean, u in zip(names, means, doubts, strict=True)
    )
    pairs = {
        (names[i], names[j]): float(covariance[i, j] / (doubts[i] * doubts[j]))
        for i in range(len(names))
        for j in range(i)
        if doubts[i] > 0 and doubts[j] > 0
    }
    return inputs, pairs


def _gradient(model: Model, names: Sequence[str], values: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
    nudged = values[:, None] + 1j * _STEP * np.eye(len(values))
    with np.errstate(all="ignore"):  # what is not finite is refused by the caller, in words
        out = np.broadcast_to(np.asarray(model(dict(zip(names, nudged, strict=True)))), (len(values),))
        value = float(np.real(model(dict(zip(names, values, strict=True)))))
    return value, np.imag(out) / _STEP


def _matrix(names: Sequence[str], correlations: Correlations) -> NDArray[np.float64]:
    place = {name: i for i, name in enumerate(names)}
    matrix = np.eye(len(names))
    for (a, b), r in correlations.items():
        matrix[place[a], place[b]] = matrix[place[b], place[a]] = r
    if np.linalg.eigvalsh(matrix)[0] < -1e-9:
        raise ValueError("no quantities can have these correlations with each other")
    return matrix


def _groups(
    contributions: NDArray[np.float64], freedoms: Sequence[float], matrix: NDArray[np.float64] | None
) -> tuple[list[float], list[float]]:
    if matrix is None:
        return contributions.tolist(), list(freedoms)
    linked = matrix != 0.0
    for _ in range(len(freedoms).bit_length()):
        linked = linked @ linked
    parts, least = [], []
    for group in {tuple(np.flatnonzero(row)) for row in linked}:
        members = [int(i) for i in group]
        block = contributions[members] @ matrix[np.ix_(members, members)] @ contributions[members]
        parts.append(math.sqrt(max(float(block), 0.0)))
        least.append(min(freedoms[i] for i in members))
    return parts, least


def _second_order(
    model: Model,
    names: Sequence[str],
    values: NDArray[np.float64],
    doubts: NDArray[np.float64],
    slopes: NDArray[np.float64],
) -> float:
    # Differences of exact slopes half a standard uncertainty apart give f_ij and f_ijj of the note's sum.
    total = 0.0
    for j, u in enumerate(doubts):
        if u == 0.0:
            continue
        step = np.zeros_like(values)
        step[j] = 0.5 * u
        above, below = (_gradient(model, names, values + s * step)[1] for s in (1.0, -1.0))
        second = (above - below) / u
        third = (above - 2.0 * slopes + below) / (0.25 * u * u)
        total += float(np.sum((0.5 * second**2 + slopes * third) * doubts**2) * u * u)
    return total
