"""What the weather adds to the low power of each night, heating and cooling apart, and how far that may be off."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from reconcile.interval.by_degree import Spell
from reconcile.interval.weather_hours import HELD_SHARE, Days, weather_curve

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BLIND_SHARE = 0.08
"""Swing over the year of a base load whose weather nobody knows, and as much again that wanders, as a part of it, one
standard deviation: refrigerators, pumps and fans take more in the heat (our own judgement; both smooth as seasons are,
so that a step stands out: with twice as much, and weeks apart, 200 W was lost in a third of one real home's years)."""

KNOWN_SHARE = 0.25
"""The same where the weather is known, as a part of that: lights and pumps follow the year as well (our judgement)."""

LEARNT_SHARE = 0.5
"""Doubt of how much the weather adds at all, as a part of it, one standard deviation: the curve is fitted to all the
nights, and where a meter or the heating changed midway by a half or by twice it lies between (our own judgement: with
all of it in doubt nights say less against a meter where an appliance was replaced)."""


def of_nights(
    outside: Days | None, days: Ints, watts: Floats, spells: Sequence[Spell] = ()
) -> tuple[Floats, Floats, Floats, Floats]:
    """What the weather adds to each night, and how far that may be off, one standard deviation [W].

    With no weather at all nothing is taken out, and any swing of the year is left open.

    Parameters
    ----------
    outside : Days or None
        Outdoor temperatures of these days.
    days : ndarray of int64, shape (n,)
    watts : ndarray, shape (n, m)
        Floors, those of the nights first.
    spells : sequence of Spell
        Taken out with the weather where the days tell them from a load that is the same every day.

    Returns
    -------
    part : ndarray, shape (n, m)
    doubt : ndarray, shape (n,)
        Of the first.
    heated : ndarray, shape (n, s + 1)
        What each spell may have added to the first, and what is taken out beyond all that it held [W].
    sides : ndarray, shape (n, 2)
        Heating and cooling in the first; nothing where there is a spell.
    """
    blind = np.full(len(days), BLIND_SHARE * max(float(np.median(watts[:, 0])), 0.0))
    if outside is None:
        return np.zeros_like(watts), blind, np.zeros((len(days), 0)), np.zeros((len(days), 2))
    inside = np.array([spell.holds(days) for spell in spells], dtype=bool).reshape(len(spells), len(days))
    curve = weather_curve(watts, outside.mean_c, outside.known & ~inside.any(axis=0))
    part, cooling = curve.part(outside.mean_c), curve.cooling().part(outside.mean_c)[:, 0]
    sides = np.zeros((len(days), 2)) if spells else np.column_stack([part[:, 0] - cooling, cooling])
    # no more than was there: a house that stands empty is not heated, whatever the weather asks for
    sides *= np.clip(watts[:, :1] / np.maximum(part[:, :1], 1e-9), 0.0, 1.0)
    steep = np.abs(curve.part(outside.mean_c + 1.0) - part)[:, 0]
    rest = BLIND_SHARE * max(float(np.median(watts[:, 0] - part[:, 0])), 0.0)
    doubt = np.hypot(HELD_SHARE * part[:, 0], KNOWN_SHARE * rest)
    guessed = np.hypot(doubt, np.hypot(steep * outside.doubt_c, blind))
    more, heated = np.zeros_like(part), np.zeros((len(days), len(spells)))
    for at, spell in enumerate(spells):
        added = _added_by_night(watts - part, spell.degrees(outside.mean_c), inside[at])
        more += added if spell.sure else 0.0
        heated[:, at] = added[:, 0]
    # what is taken out beyond all that a night held was not there
    heated = np.column_stack([heated, np.maximum(part - watts, 0.0)[:, 0]])
    return part + more, np.where(outside.known, doubt, guessed), heated, sides


def _added_by_night(left: Floats, degrees: Floats, inside: NDArray[np.bool_]) -> Floats:
    """What the nights of a spell took more in proportion to their degrees, none below nothing, shape (n, m) [W]."""
    line = np.where(inside, degrees, 0.0)[:, None]
    before = np.median(left[~inside], axis=0) if (~inside).any() else 0.0
    slope = ((left - before) * line).sum(axis=0) / max(float((line**2).sum()), 1e-9)
    added: Floats = line * np.maximum(slope, 0.0)
    return added
