"""Register arithmetic: differences, rollover, dials, and what a misread number could have been."""

from __future__ import annotations

import math
from collections.abc import Sequence

FEWEST_DIALS = 4
"""Dials assumed where neither meter nor reading shows more (house meters have 4 to 6; common practice)."""


def dials_of(value: float, digits: int | None = None) -> int:
    """Return how many dials the register has: as given, else the fewest that show ``value``."""
    if digits is not None:
        return digits
    return max(FEWEST_DIALS, len(str(int(abs(value)))))


def difference(start: float, end: float, digits: int | None = None) -> float:
    """Register units between two readings, taking one pass through zero where the second is lower.

    Parameters
    ----------
    start, end : float
        Opening and closing reading [register units].
    digits : int or None
        Dials of the register; None takes the fewest that show the opening reading.

    Returns
    -------
    float
        ``end - start``, or ``10**digits + end - start`` where the register went past its last number.

    Examples
    --------
    >>> difference(9201, 9846)
    645
    >>> difference(99640, 310, digits=5)
    670.0
    """
    if end >= start:
        return end - start
    return 10.0 ** dials_of(start, digits) + end - start


def read_dials(pointers: Sequence[float]) -> int:
    """Read a row of clock dials, the leftmost the highest.

    The pointer's own position is given as a number of turns of its dial, 0 <= p < 10, in the sense in which
    that dial is numbered (neighbours are numbered in opposite senses). A pointer between two digits counts as
    the lower, and between 9 and 0 as 9. A pointer that seems to stand on a digit has reached it only when the
    dial to its right has passed 0.

    Raises
    ------
    ValueError
        Where a pointer is outside its dial.

    Examples
    --------
    >>> read_dials([4.5, 3.2, 9.7, 1.0])
    4391
    >>> read_dials([2.0, 9.9])
    19
    """
    digits: list[int] = []
    below = 0.0
    for pointer in reversed(pointers):
        if not 0 <= pointer < 10:
            raise ValueError(f"a pointer stands from 0 up to 10, not at {pointer}")
        nearest = round(pointer)
        on_a_digit = bool(digits) and math.isclose(pointer, nearest, abs_tol=_ON_THE_DIGIT)
        if on_a_digit:
            digit = (nearest if below < 5 else nearest - 1) % 10
        else:
            digit = int(pointer)
        digits.append(digit)
        below = pointer
    return int("".join(str(d) for d in reversed(digits)))


_ON_THE_DIGIT = 0.05


def slips_of(value: float, dials: int) -> dict[float, str]:
    """List every reading that one slip of the eye or the pen turns into ``value``, and how.

    One slip is two neighbouring digits exchanged, or one digit read or typed as another. Digits after the
    decimal point are left alone.

    Examples
    --------
    >>> slips_of(12, 4)[21.0]
    'two digits exchanged'
    """
    whole, part = divmod(abs(value), 1.0)
    text = f"{int(whole):0{dials}d}"
    out: dict[float, str] = {}
    for k, digit in enumerate(text):
        for other in "0123456789":
            if other != digit:
                out[float(text[:k] + other + text[k + 1 :]) + part] = "one digit misread"
    for k in range(len(text) - 1):
        swapped = text[:k] + text[k + 1] + text[k] + text[k + 2 :]
        if swapped != text:
            out[float(swapped) + part] = "two digits exchanged"
    return out
