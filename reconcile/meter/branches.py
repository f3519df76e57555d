"""Breaker by breaker: which circuit the watts that nobody knows hang on, and whether its wiring itself takes them."""

from __future__ import annotations

from collections.abc import Sequence

from reconcile.house.site import Branch

LEAST_WATTS = 30.0
"""Fall of the meter below which a circuit says nothing [W]: a display in hundredths of a kW and a cycling load move it
by as much (our choice)."""


def circuit_found(branches: Sequence[Branch]) -> Branch | None:
    """Return the circuit that the readings name; None where none lowers the meter by enough.

    One that still lowers it with everything unplugged comes first: nothing that hangs on it can be meant.

    Examples
    --------
    >>> kitchen, shed = Branch("3 kitchen", 400.0), Branch("7 shed", 340.0, unplugged=True)
    >>> circuit_found((kitchen, shed)).circuit, circuit_found((kitchen,)).circuit, circuit_found(())
    ('7 shed', '3 kitchen', None)
    """
    known = [one for one in branches if one.fell_watts >= LEAST_WATTS]
    wiring = [one for one in known if one.unplugged]
    return max(wiring or known, key=lambda one: one.fell_watts, default=None)
