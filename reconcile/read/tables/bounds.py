"""What no house can be, and what is taken where nothing is written: every bound and default of the readers.

None is a published figure unless its line says so; they are guards against slips of typing, set so wide that
no honest house meets them.
"""

from __future__ import annotations

import math

from reconcile.house import House

SERVICE_AMPS = 400.0
"""Largest current of a household service where ``service_amps`` is not given [A] (common practice)."""

LINE_VOLTS: dict[str, float] = {
    "split-phase": 240.0,
    "network": 208.0,
    "two-wire": 230.0,
    "three-phase": 400.0,
    "unknown": 240.0,
}
"""Leg-to-leg volts where ``line_volts`` is not given [V]: the nominal values of the services; for a
three-phase wye the larger of the two usual ones."""

SHORT_TIME_FACTOR = 1.5
"""How far one interval may exceed the service's rating: breakers and fuses carry an overload for a while."""

LONGEST_PERIOD_DAYS = 800
"""A bill over more than two years is a slip in a year's digit."""

COLDEST_C, WARMEST_C = -90.0, 60.0
"""Temperatures outside every weather record, -89.2 and 56.7 degC (from memory: the records of the WMO)."""

WARMEST_PERIOD_C = 44.0
"""No bill's period has a higher mean (from memory: the hottest month on record, in Death Valley, had 42.5 degC)."""

MOTOR_EFFICIENCY = ((400.0, 0.65), (800.0, 0.75), (math.inf, 0.85))
"""Efficiency of a motor given by its shaft power where none is written: (up to shaft watts, efficiency).
Common practice: small induction motors lose a third, larger ones a sixth."""

MOST_DAYS = 60_000
"""Days of weather: 160 years."""


def most_watts(house: House) -> float:
    """Power the service can carry [W]: amps x line volts, and the root of three of it on three phases."""
    volts = house.line_volts if house.line_volts is not None else LINE_VOLTS[house.service]
    amps = house.service_amps if house.service_amps is not None else SERVICE_AMPS
    return volts * amps * (math.sqrt(3.0) if house.service in ("three-phase", "network") else 1.0)


def motor_efficiency(shaft_watts: float) -> float:
    """Efficiency taken for a motor of that shaft power.

    >>> motor_efficiency(559.0)
    0.75
    """
    return next(efficiency for up_to, efficiency in MOTOR_EFFICIENCY if shaft_watts <= up_to)
