"""A quantity in, a float in a base unit out, once per value at the gate: plain ones at once, all others by pint."""

from __future__ import annotations

import math
import re
from functools import cache
from typing import TYPE_CHECKING

from reconcile.errors import UnitError

if TYPE_CHECKING:
    import pint

_PLAIN = re.compile(r"^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$")

_ONE = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+))\s*([A-Za-z]+(?:\^2)?)")
_AMPS_VOLTS = re.compile(r"(\d+\.?\d*|\.\d+)\s*(?:A|ampere)\s*\*\s*(\d+\.?\d*|\.\d+)\s*V")

PLAIN = {
    "W": {"W": 1.0, "kW": 1e3},
    "kW": {"W": 1e-3, "kW": 1.0},
    "kWh": {"Wh": 1e-3, "kWh": 1.0, "MWh": 1e3},
    "V": {"V": 1.0},
    "A": {"A": 1.0, "ampere": 1.0},
    "m^2": {"m^2": 1.0, "ft^2": 0.3048**2},
    "s": {"s": 1.0, "min": 60.0, "h": 3600.0},
}
"""What most houses write, by the unit wanted: the registry takes longer to build than a house to weigh. All are exact
(the foot is 0.3048 m by definition)."""


@cache
def registry() -> pint.UnitRegistry[float]:
    """Return the registry; made on first use, since most houses give plain numbers."""
    import pint

    made: pint.UnitRegistry[float] = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    made.define("horsepower_us = 745.69987 watt = hp")  # the mechanical horsepower, 550 ft lbf/s
    return made


def celsius(value: float, degrees: str) -> float:
    """Return a temperature of degrees ``F`` or ``C`` in degrees Celsius; exact, by the definition of the scales.

    Examples
    --------
    >>> celsius(212.0, "F"), celsius(21.5, "C")
    (100.0, 21.5)
    """
    return (value - 32.0) / 1.8 if degrees == "F" else value


def parse(text: str | float, unit: str) -> float:
    """Read a number, or a quantity with its unit, as a float in ``unit``.

    Parameters
    ----------
    text : str or float
        ``1500`` (taken to be in ``unit``), ``"1.5 kW"``, ``"12 A * 120 V"``.
    unit : str
        The unit wanted, as pint writes it.

    Returns
    -------
    float
        Magnitude in ``unit``; always finite.

    Raises
    ------
    UnitError
        Where the text is not a quantity, is not finite, or is of another kind.

    Examples
    --------
    >>> parse("1.5 kW", "W")
    1500.0
    >>> parse("12 A * 120 V", "W")
    1440.0
    """
    if isinstance(text, int | float) or _PLAIN.match(text.strip()):
        value = float(text)
    else:
        value = _convert(text.strip(), unit)
    if not math.isfinite(value):
        raise UnitError(f"{text!r} is not a finite number")
    return value


def _plain(text: str, unit: str) -> float | None:
    """One number with one unit of :data:`PLAIN`, or amps times volts; None where it is anything else."""
    one, both = _ONE.fullmatch(text), _AMPS_VOLTS.fullmatch(text) if unit == "W" else None
    if both:
        return float(both[1]) * float(both[2])
    factor = PLAIN.get(unit, {}).get(one[2]) if one else None
    return None if one is None or factor is None else float(one[1]) * factor


def _units_in(text: str) -> str:
    """Return the units of a quantity as they were written."""
    return re.sub(r"^[\d.,\s*+-]+", "", text)[:40] or text[:40]


def _convert(text: str, unit: str) -> float:
    plain = _plain(text, unit)
    if plain is not None:
        return plain
    import pint

    try:
        quantity: pint.Quantity[float] = registry().Quantity(text)
        return float(quantity.to(unit).magnitude)
    except pint.DimensionalityError:
        raise UnitError(f"{text!r} is in {_units_in(text)}, which cannot become {unit}") from None
    except pint.UndefinedUnitError as error:
        raise UnitError(f"{text!r} holds a word that is no unit: {str(error).split()[0].strip(chr(39))}") from None
    except Exception:  # pint lets its tokenizer's and the arithmetic's own errors through
        raise UnitError(f"{text!r} is not a number with a unit") from None
