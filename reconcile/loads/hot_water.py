"""Water heating by the arithmetic of the US Department of Energy."""

from __future__ import annotations

POUNDS_A_GALLON = 8.2938
BTU_A_POUND_FAHRENHEIT = 1.0007
"""Water at mid temperatures (Lutz et al., from memory)."""

BTU_A_KWH = 3412.0

COST_RULE_KWH_PER_DAY = 12.03
"""Electricity into the water each day by the DOE rule: 41,045 Btu a day (DOE EERE yearly cost rule, read)."""

COST_RULE_BTU_PER_DAY = 41045.0

DEFAULT_ENERGY_FACTOR = 0.92
"""Electric storage heater (FEMP calculator default, read)."""


def daily_gallons(bedrooms: float) -> float:
    """Hot water a household draws in a day.

    Parameters
    ----------
    bedrooms : float
        Number of bedrooms, or of people.

    Returns
    -------
    float
        Draw [US gal/d]: 30 + 10 x bedrooms (Building America, from memory).

    Examples
    --------
    >>> daily_gallons(3.0)
    60.0
    """
    return 30.0 + 10.0 * bedrooms


def heater_kwh_per_day(gallons: float, rise_f: float, energy_factor: float = DEFAULT_ENERGY_FACTOR) -> float:
    """Electricity a water heater takes for a day's draw.

    Parameters
    ----------
    gallons : float
        Hot water drawn [US gal/d].
    rise_f : float
        From the inlet to the setting [degF].
    energy_factor : float
        Energy into the water over energy into the heater, standing losses included.

    Returns
    -------
    float
        Energy [kWh/d].

    Raises
    ------
    ValueError
        Where the energy factor is not above 0.

    Examples
    --------
    >>> round(heater_kwh_per_day(64.3, 135.0 - 58.0, 1.0), 2)
    12.04
    """
    if not energy_factor > 0.0:
        raise ValueError(f"an energy factor must be above 0, not {energy_factor}")
    return gallons * POUNDS_A_GALLON * BTU_A_POUND_FAHRENHEIT * rise_f / (BTU_A_KWH * energy_factor)


def rule_kwh_per_year(energy_factor: float) -> float:
    """Yearly electricity of a water heater by the DOE cost rule.

    Parameters
    ----------
    energy_factor : float
        As on the label.

    Returns
    -------
    float
        Energy [kWh]: 365 x 12.03 / energy factor.

    Raises
    ------
    ValueError
        Where the energy factor is not above 0.

    Examples
    --------
    >>> round(rule_kwh_per_year(0.90))
    4879
    """
    if not energy_factor > 0.0:
        raise ValueError(f"an energy factor must be above 0, not {energy_factor}")
    return 365.0 * COST_RULE_KWH_PER_DAY / energy_factor


def yearly_cost(energy_factor: float, price: float, *, gas: bool = False) -> float:
    """Yearly cost of heating water by the DOE cost rule.

    Parameters
    ----------
    energy_factor : float
        As on the label.
    price : float
        Price of a kWh, or of a Btu of gas.
    gas : bool
        Whether the heater burns gas.

    Returns
    -------
    float
        Cost in the unit of the price.

    Raises
    ------
    ValueError
        Where the energy factor is not above 0.

    Examples
    --------
    >>> round(yearly_cost(2.0, 0.0842))
    185
    """
    if gas:
        return rule_kwh_per_year(energy_factor) / COST_RULE_KWH_PER_DAY * COST_RULE_BTU_PER_DAY * price
    return rule_kwh_per_year(energy_factor) * price
