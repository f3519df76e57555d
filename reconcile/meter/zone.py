"""From a registration and its doubt to a zone: inside, outside, or cannot tell.

References
----------
.. [1] JCGM 106:2012, the role of measurement uncertainty in conformity assessment (from memory).
.. [2] ILAC-G8:09/2019: acceptance limits with a guard band; the four-way statement of its 4.2.3 (read at
   fliphtml5.com/szbrq/ktfm p. 10), risk with w = U (read second-hand at consultglp.com).
.. [3] ANSI/NCSL Z540.3 handbook, method 6 (formula read second-hand at start-with-the-end-in-mind.pages.dev).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import Literal

Zone = Literal["inside", "outside", "cannot-tell"]
Statement = Literal["pass", "conditional pass", "conditional fail", "fail"]

COVERAGE = 0.95
"""Coverage of the expanded uncertainty that serves as guard band."""
STATED_RISK = (1.0 - COVERAGE) / 2.0
"""Most that a verdict ``inside`` or ``outside`` is wrong, whatever the truth: one tail of the coverage."""


@dataclass(frozen=True, slots=True)
class Decision:
    """A zone with what it rests on.

    Attributes
    ----------
    zone : {'inside', 'outside', 'cannot-tell'}
    statement : str
        ILAC-G8's four-way statement.
    guard_band : float
        Width kept from the tolerance's ends [%].
    low, high : float
        Tolerance limits of the registration [%].
    test_uncertainty_ratio : float
        Half the tolerance's width over the expanded uncertainty.
    """

    zone: Zone
    statement: Statement
    guard_band: float
    low: float
    high: float
    test_uncertainty_ratio: float


def decide(
    percent: float,
    expanded: float,
    tolerance_percent: float,
    *,
    interval: tuple[float, float] | None = None,
) -> Decision:
    """Decide the zone of a registration, the expanded uncertainty being the guard band.

    Parameters
    ----------
    percent : float
        Registration [%].
    expanded : float
        Its expanded uncertainty [%].
    tolerance_percent : float
        The local rule's tolerance: 2 stands for 98 to 102 %.
    interval : (float, float), optional
        Limits of the coverage interval [%] where it is not symmetrical about the registration.

    Returns
    -------
    Decision

    Examples
    --------
    >>> decide(103.0, 0.5, 2.0).zone, decide(100.5, 0.5, 2.0).zone, decide(102.2, 0.5, 2.0).zone
    ('outside', 'inside', 'cannot-tell')
    """
    least, most = interval or (percent - expanded, percent + expanded)
    low, high = 100.0 - tolerance_percent, 100.0 + tolerance_percent
    if low <= least and most <= high:
        zone: Zone = "inside"
        statement: Statement = "pass"
    elif most < low or least > high:
        zone, statement = "outside", "fail"
    else:
        zone = "cannot-tell"
        statement = "conditional pass" if low <= percent <= high else "conditional fail"
    ratio = math.inf if expanded == 0.0 else tolerance_percent / expanded
    return Decision(zone, statement, expanded, low, high, ratio)


def risk_at_acceptance_limit(guard: float, factor: float = 2.0) -> float:
    """Return the chance that the truth lies beyond the tolerance for a reading right at the acceptance limit.

    Parameters
    ----------
    guard : float
        Guard band over expanded uncertainty (ILAC-G8's r).
    factor : float
        Coverage factor of the expanded uncertainty.

    Examples
    --------
    >>> [round(100.0 * risk_at_acceptance_limit(r), 2) for r in (0.0, 0.5, 0.83, 1.0)]
    [50.0, 15.87, 4.85, 2.28]
    """
    return 1.0 - NormalDist().cdf(guard * factor)


def guard_factor(test_uncertainty_ratio: float) -> float:
    """Return the guard band over expanded uncertainty that keeps false acceptance to 2 % [3]_.

    Examples
    --------
    >>> [round(guard_factor(ratio), 3) for ratio in (1.0, 2.0, 4.0, 4.59)]
    [0.457, 0.282, 0.053, 0.0]
    """
    return max(0.0, 1.04 - math.exp(0.38 * math.log(test_uncertainty_ratio) - 0.54))


def can_resolve(error_percent: float, expanded: float, tolerance_percent: float) -> bool:
    """Return whether a meter out by ``error_percent`` would most likely be found outside the tolerance.

    The expected reading must clear the tolerance by more than the guard band.

    Examples
    --------
    >>> can_resolve(20.0, 3.0, 2.0), can_resolve(4.0, 3.0, 2.0)
    (True, False)
    """
    return abs(error_percent) > tolerance_percent + expanded
