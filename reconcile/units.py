"""The one pint registry: a quantity in, a float in a base unit out, once per value at the gate."""

from __future__ import annotations

import math
import re
from functools import cache
from typing import TYPE_CHECKING

from reconcile.errors import UnitError

if TYPE_CHECKING:
    import pint

_PLAIN = re.compile(r"^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$")


@cache
def registry() -> pint.UnitRegistry[float]:
    """Return the registry; made on first use, since most houses give plain numbers."""
    import pint

    made: pint.UnitRegistry[float] = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    made.define("horsepower_us = 745.69987 watt = hp")  # the mechanical horsepower, 550 ft lbf/s
    return made


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


def _convert(text: str, unit: str) -> float:
    import pint

    try:
        quantity: pint.Quantity[float] = registry().Quantity(text)
        return float(quantity.to(unit).magnitude)
    except pint.DimensionalityError as error:
        raise UnitError(f"{text!r} is in {error.units1}, which cannot become {unit}") from None
    except pint.UndefinedUnitError as error:
        raise UnitError(f"{text!r} has a unit that is not known: {error}") from None
    except Exception:  # pint lets its tokenizer's and the arithmetic's own errors through
        raise UnitError(f"{text!r} is not a number with a unit") from None
