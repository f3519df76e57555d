"""Register arithmetic: differences, rollover, and what a misread number could have been."""

from __future__ import annotations

from enum import StrEnum

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


class Misread(StrEnum):
    """How one reading is misread or mistyped as another."""

    DIGIT = "digit"
    EXCHANGED = "exchanged"


def misreads_of(value: float, dials: int) -> dict[float, Misread]:
    """List every reading that one misread or keying error turns into ``value``, and how.

    One error is two neighbouring digits exchanged, or one digit read or typed as another. Digits after the
    decimal point are left alone.

    Examples
    --------
    >>> misreads_of(12, 4)[21.0].value
    'exchanged'
    """
    whole, part = divmod(abs(value), 1.0)
    text = f"{int(whole):0{dials}d}"
    out: dict[float, Misread] = {}
    for k, digit in enumerate(text):
        for other in "0123456789":
            if other != digit:
                out[float(text[:k] + other + text[k + 1 :]) + part] = Misread.DIGIT
    for k in range(len(text) - 1):
        swapped = text[:k] + text[k + 1] + text[k] + text[k + 2 :]
        if swapped != text:
            out[float(swapped) + part] = Misread.EXCHANGED
    return out
