"""Meters: their forms, what a sound one registers, how its registration is averaged, creep, and how long to
wait.

References
----------
.. [1] LBNL, measuring standby power: timed disk turns, standby.lbl.gov/measure/in-home/electrometer/ (read).
.. [2] ANSI C12.1 average registration methods as adopted in 4 NCAC 11 R08-11, 2019 text (read).
.. [3] 52 Pa. Code 57.20 and 57.24: creep, light and heavy load (read).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from reconcile.records import dataclass

COS_30 = math.sqrt(3.0) / 2.0
"""Power factor that each leg of a wye shows for a resistive load between two legs."""


@dataclass(frozen=True, slots=True)
class Form:
    """A meter form: how many elements, which services it measures right, and how it takes the volts."""

    name: str
    elements: float
    services: tuple[str, ...]
    line_volts_times_mean_amps: bool = False
    """Takes leg-to-leg volts with half of each leg's current: no neutral comes to it."""
    status: str = "from memory"


FORMS: dict[str, Form] = {
    form.name: form
    for form in (
        Form("1S", 1, ("two-wire",)),
        Form("2S", 1, ("split-phase",), line_volts_times_mean_amps=True),
        Form("3S", 1, ("two-wire",)),
        Form("4S", 1, ("split-phase",), line_volts_times_mean_amps=True),
        Form("5S", 2, ("network", "split-phase")),
        Form("9S", 3, ("three-phase",)),
        Form("12S", 2, ("network", "split-phase")),
        Form("14S", 2.5, ("three-phase",)),
        Form("16S", 3, ("three-phase",)),
        Form("25S", 2, ("network",)),
    )
}
"""Common socket forms (from memory: the nameplate governs)."""

ELEMENTS_NEEDED = {"two-wire": 1, "split-phase": 2, "network": 2, "three-phase": 3}
"""Blondel: one element fewer than the wires of the service measures it whatever the load."""

VOLTS = {"split-phase": 240.0, "network": 208.0, "two-wire": 230.0, "three-phase": 400.0}
"""Usual line volts of each service, where the house gives none (two-wire: line to neutral)."""


def form_of(name: str | None) -> Form | None:
    """Return the form of that name, or None where it is not known here.

    Examples
    --------
    >>> form_of("form 2s").elements
    1
    """
    plain = (name or "").upper().replace("FORM", "").strip()
    return FORMS.get(plain)


def leg_volts(service: str, line_volts: float) -> float:
    """Return the volts of a leg to neutral [V] for the volts between legs [V].

    Examples
    --------
    >>> leg_volts("split-phase", 240.0), round(leg_volts("network", 208.0), 1), leg_volts("two-wire", 230.0)
    (120.0, 120.1, 230.0)
    """
    return line_volts / {"split-phase": 2.0, "two-wire": 1.0}.get(service, math.sqrt(3.0))


def form_2s_watts(volts: tuple[float, float], watts_a_volt: tuple[float, float]) -> float:
    """Return what a form with line volts and half of each current registers [W].

    Parameters
    ----------
    volts : (float, float)
        Of each leg to neutral [V].
    watts_a_volt : (float, float)
        Amps times power factor of each leg [A].

    Examples
    --------
    >>> form_2s_watts((115.0, 125.0), (25.0, 5.0))
    3600.0
    """
    return (volts[0] + volts[1]) * (watts_a_volt[0] + watts_a_volt[1]) / 2.0


def network_overstatement() -> float:
    """Return the factor by which two legs' V x I overstates a resistive load between them: 2 / sqrt(3).

    Examples
    --------
    >>> round(network_overstatement(), 4)
    1.1547
    """
    return 1.0 / COS_30


AVERAGES: dict[str, tuple[str, dict[str, int]]] = {
    "M1": ("(4 FL + LL) / 5", {"full": 4, "light": 1}),
    "M2": ("(FL + LL) / 2", {"full": 1, "light": 1}),
    "M3": ("one representative load", {"representative": 1}),
    "M4": ("(4 FL + 2 LL + PF) / 7", {"full": 4, "light": 2, "power-factor": 1}),
}
"""Average registration methods of ANSI C12.1 [2]_: FL full load, LL light load, PF full load at power factor
0.5."""


def averages(points: Mapping[str, float]) -> dict[str, float]:
    """Return every average registration [%] that the points allow, by method name.

    Parameters
    ----------
    points : mapping of str to float
        Registration [%] at ``full``, ``light``, ``power-factor``, ``representative``.

    Examples
    --------
    >>> averages({"full": 101.0, "light": 98.0})
    {'M1': 100.4, 'M2': 99.5}
    """
    found = {}
    for name, (_, weights) in AVERAGES.items():
        if all(point in points for point in weights):
            total = sum(weight * points[point] for point, weight in weights.items())
            found[name] = total / sum(weights.values())
    return found


LIGHT_SHARE = (0.05, 0.15)
FULL_SHARE = (0.75, 1.25)
"""Shares of the test amps that count as the light and the full load: 10-15 % and 75-100 % in [3]_, widened
to what a house's loads can meet."""
LOW_POWER_FACTOR = (0.45, 0.55)


def load_point(amps: float, power_factor: float, test_amps: float) -> str:
    """Return which test point a load makes: ``light``, ``full``, ``power-factor`` or ``other``.

    Parameters
    ----------
    amps : float
        Current that the load would draw between the legs [A]: its watts over line volts and power factor.
    test_amps : float
        Of the meter's nameplate [A].

    Examples
    --------
    >>> load_point(30.0, 1.0, 30.0), load_point(3.0, 1.0, 30.0), load_point(10.0, 1.0, 30.0)
    ('full', 'light', 'other')
    """
    share = amps / test_amps
    full = FULL_SHARE[0] <= share <= FULL_SHARE[1]
    if full and LOW_POWER_FACTOR[0] <= power_factor <= LOW_POWER_FACTOR[1]:
        return "power-factor"
    if power_factor < 0.95:
        return "other"
    return "full" if full else "light" if LIGHT_SHARE[0] <= share <= LIGHT_SHARE[1] else "other"


CREEP_SECONDS = 300.0
"""One full turn in five minutes or less with the load wires off is creep [3]_."""


def creep_watts(disk_wh: float, seconds: float = CREEP_SECONDS) -> float:
    """Return the power [W] that a disk creeping one turn in ``seconds`` registers.

    Examples
    --------
    >>> creep_watts(7.2)
    86.4
    """
    return 3600.0 * disk_wh / seconds
