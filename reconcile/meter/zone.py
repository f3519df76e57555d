"""From a registration and its doubt to a zone: inside, outside, or cannot tell.

References
----------
.. [1] JCGM 106:2012, the role of measurement uncertainty in conformity assessment (from memory).
.. [2] ILAC-G8:09/2019: acceptance limits with a guard band; the four-way statement of its 4.2.3 (read at
   fliphtml5.com/szbrq/ktfm p. 10), risk with w = U (read second-hand at consultglp.com).
"""

from __future__ import annotations

import math
from typing import Literal

from reconcile.records import dataclass

Zone = Literal["inside", "outside", "cannot-tell"]
Statement = Literal["pass", "conditional pass", "conditional fail", "fail"]

COVERAGE = 0.95
"""Coverage of the expanded uncertainty that serves as guard band."""
STATED_RISK = (1.0 - COVERAGE) / 2.0
"""Most that a verdict ``inside`` or ``outside`` is wrong, whatever the truth: one tail of the coverage."""

NEAR_PERCENT = 5.0
"""A reading less sure than this [%] agrees with a right meter as well as with one that is clearly wrong."""


@dataclass(frozen=True, slots=True)
class Decision:
    """A zone with what it rests on."""

    zone: Zone
    statement: Statement
    """ILAC-G8's four-way statement."""
    low: float
    high: float
    """Both: tolerance limits of the registration [%]."""
    test_uncertainty_ratio: float
    """Half the tolerance's width over the expanded uncertainty."""


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
    return Decision(zone, statement, low, high, ratio)
