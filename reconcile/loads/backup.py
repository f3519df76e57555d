"""Backup heat beside a heat pump: a pump that has strips runs all day in the cold, and strips carry what it cannot.

The need grows by the kelvin below the balance temperature, what the pump gives falls; where the two meet, at the
capacity balance, the pump runs without rest. Strips run below it, for the heat that lacks: their hours follow from
the pump's size and their own, never from the house's whole need.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from reconcile.house import Load
from reconcile.loads.handbook import find, handbook
from reconcile.records import dataclass

PUMP, STRIPS = "heat pump heating", "strip heat"
"""Names of the handbook's rows."""

CARRIES = 0.75
"""Part of the design day's need at which a heat pump with strips runs without rest: EN 14825 rates pumps that carry at
least .54 to .64 of it by themselves (from memory), one sized for all of it would need no strips (our judgement: the
middle)."""

CARRIES_LOG_SD = 0.17
"""Its relative standard uncertainty: nearly all carry between a half and the whole (our judgement)."""

OUTPUT_FALL = 0.023
"""Part of its rated heat that a heat pump loses for each kelvin below :data:`RATED_C` [1/K]: about .62 of it is left at
-8.3 degC, 17 degF (ratings at 47 and 17 degF, from memory)."""

LEAST_OUTPUT = 0.3
"""Part of it that is left in any cold (our judgement)."""

RATED_C = 8.3
"""Outdoor temperature of a heat pump's rating, 47 degF [degC]."""

RATED_COP = 3.3
"""Heat for its electricity there: 3 to 4 (ratings, from memory)."""

HALF_DAY_C = 4.0
"""How much the warm half of a day, and the cold one, lie from its mean [K]: 2 / pi of a swing of 6 K either way
(common practice), so that strips come on in the night of a day that is mild on the mean."""

BACKUP_LOG_SD = 1.0
"""Standard uncertainty of the logarithm of what strips use, beside that of where they come on: a factor of seven at
95 %. Setting back by night, defrosting and the thermostat's stages let some run daily and others never (our
judgement)."""


@dataclass(frozen=True, slots=True)
class Stage:
    """How one of a heat pump and its strips runs."""

    part: Literal["pump", "strips"]
    heat_ratio: float
    """Rated heat of all the pumps over that of all the strips."""
    balance_c: float | None = None
    """Where the pump begins to heat, by the list [degC]."""
    comes_on_c: float | None = None
    """Where strips come on, by the list [degC]."""
    reach: float | None = None
    """How far below the balance temperature the pump runs all day, by its stated hours a kelvin-day [K]."""


def stages(loads: Sequence[Load]) -> tuple[Stage | None, ...]:
    """Return how each load runs where it is a heat pump with strips, or these; None for all others.

    A line that says its hours, or what it takes a year, runs as it says.

    Examples
    --------
    >>> pump = Load("heat pump", watts=2000.0, follows="heating")
    >>> strips = Load("auxiliary strips", watts=6600.0, follows="heating")
    >>> [stage and (stage.part, stage.heat_ratio) for stage in stages((pump, strips))]
    [('pump', 1.0), ('strips', 1.0)]
    >>> stages((strips,)), stages((pump,))
    ((None,), (None,))
    """
    kinds = [_kind(load) for load in loads]
    if PUMP not in kinds or STRIPS not in kinds:
        return (None,) * len(loads)
    pumps, strips = (
        [load for load, kind in zip(loads, kinds, strict=True) if kind == one and load.watts != 0.0]
        for one in (PUMP, STRIPS)
    )
    ratio = RATED_COP * _watts(pumps, PUMP) / _watts(strips, STRIPS)
    begins_c, comes_on_c = (
        max((load.balance_c for load in some if load.balance_c is not None), default=None) for some in (pumps, strips)
    )
    rates = [load.hours_per_degree_day for load in pumps if load.hours_per_degree_day]
    reach = 24.0 / max(rates) if rates else None
    return tuple(
        None
        if kind is None or _says_hours(load)
        else Stage("pump" if kind == PUMP else "strips", ratio, begins_c, comes_on_c, reach)
        for load, kind in zip(loads, kinds, strict=True)
    )


def reach_k(stage: Stage, balance_c: float, heating: float, cooling: float) -> float:
    """Return how far below the balance temperature the capacity balance lies [K].

    Parameters
    ----------
    balance_c : float
        Where heating begins [degC].
    heating, cooling : float
        How far beyond their balance temperatures the coldest and the hottest design day are [K]. What cools a home so
        many kelvin warmer can heat it as many colder: in a mild winter a pump bought to cool needs hardly any strips
        (pumps are sized for the larger of the two, common practice).
    """
    if stage.comes_on_c is not None:
        return max(balance_c - stage.comes_on_c, 3.0)
    return max(stage.reach or max(CARRIES * heating, cooling), 3.0)


def hours_a_kelvin_day(stage: Stage, balance_c: float, reach: float) -> float:
    """Return hours a kelvin-day: of the pump below the balance temperature, of strips below the capacity balance.

    Parameters
    ----------
    balance_c : float
        Where heating begins [degC].
    reach : float
        How far below it lies the capacity balance [K].

    Notes
    -----
    The need is q (T_b - T), the pump gives C (1 - f (T_r - T)); alike at the capacity balance T_c. Below it q + C f
    lack for each kelvin.

    Examples
    --------
    >>> round(hours_a_kelvin_day(Stage("strips", 1.0), 16.0, 18.0), 2)
    1.57
    """
    if stage.part == "pump":
        return 24.0 / reach
    left = max(1.0 - OUTPUT_FALL * (RATED_C - balance_c + reach), LEAST_OUTPUT)
    return 24.0 * stage.heat_ratio * (left / reach + OUTPUT_FALL)


def _kind(load: Load) -> str | None:
    kinds = find(load.name) if load.follows == "heating" else ()
    return kinds[0].load if kinds and kinds[0].load in (PUMP, STRIPS) else None


def _watts(loads: Sequence[Load], kind: str) -> float:
    usual = next(row.watts for row in handbook() if row.load == kind)
    known = sum(load.count * load.watts * load.share_on for load in loads if load.watts is not None)
    return known or usual


def _says_hours(load: Load) -> bool:
    return any(said is not None for said in (load.hours_per_degree_day, load.run_hours, load.kwh_per_year))
