"""How far off the balance temperatures of a list are, and what each period's energy is there.

Energy is no straight line in a balance temperature: with it three kelvin lower the first month of cooling takes five
times what the list expects, and the slope about the list's own says half of it. So the doubt goes by a chord: from the
list's balance temperature to the one for which the bills speak.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reconcile.facts import Facts
from reconcile.house import House
from reconcile.loads.energy import load_energy, with_balances_moved
from reconcile.loads.limits import alike_lines
from reconcile.weigh import constants as k
from reconcile.weigh.gaussian import fit
from reconcile.weigh.model import Layout, lay_out
from reconcile.weigh.ways import Ways

Floats = NDArray[np.float64]

LEAST_OFF, MOST_OFF = 0.25, 2.0
"""How far, in its standard uncertainties, the bills must put a balance temperature from the list's for its energy to be
taken there, and how far at the most (our choice: nearer than a quarter the slope says the same, and beyond two a cause
is as likely)."""


MOST_SCATTER = 3.0
"""By how many times the bills' scatter, no cause acting, may be larger than the model has it for a balance temperature
to be read off them (our choice: that of a house lived in for a season, or of one with a large cause, is larger)."""


def laid_out(
    house: House, facts: Facts, lacks: Floats | float, judged: NDArray[np.bool_]
) -> tuple[Layout, NDArray[np.bool_]]:
    """Lay out the model of a house, with chords for its balance temperatures where the bills tell of these.

    Parameters
    ----------
    lacks : ndarray, shape (n,)
        As :func:`reconcile.weigh.model.lay_out`.
    judged : ndarray of bool, shape (n,)

    Returns
    -------
    layout : Layout
    heard : ndarray of bool, shape (n,)
        The judged periods that vouch for the others.

    Notes
    -----
    The bills put a balance temperature at its mean given all of them, no cause acting, in a household with some habits
    of its own: b' P r, with b its covariance with the bills.
    """
    energy = load_energy(house.bills, house)
    told = energy.balance_slope.any() and energy.weather_gap.min() < 1.0
    layout = lay_out(house, facts, energy, lacks, farther=k.BALANCE_FARTHER if told else k.BALANCE_MORE)
    heard = layout.model.vouching(judged)
    if not told:
        return layout, heard
    model, slope = layout.under(Ways.of(*k.WAYS[1][1:])), layout.model.energy.balance_slope[heard]
    bills = fit((facts.billed_kwh - model.mean)[heard], model.covariance[np.ix_(heard, heard)], k.FREEDOM)
    if bills.scale > MOST_SCATTER:
        return lay_out(house, facts, energy, lacks), heard
    for group in alike_lines(house.loads):
        slope[:, group] = slope[:, group].sum(axis=1, keepdims=True)
    off = (1.0 + k.BALANCE_FARTHER**2) * (bills.half.T @ bills.white) @ slope
    off = np.where(np.abs(off) < LEAST_OFF, 0.0, np.clip(off, -MOST_OFF, MOST_OFF))
    if not off.any():
        return layout, heard
    there = with_balances_moved(house.bills, house, off * energy.balance_sd_c)
    chord = np.where(off == 0.0, energy.balance_slope, (there - energy.kwh) / np.where(off == 0.0, 1.0, off))
    return lay_out(house, facts, replace(energy, balance_slope=chord), lacks, farther=k.BALANCE_FARTHER), heard
