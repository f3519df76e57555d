"""Site readings as observations of the model that weighs the bills."""

from __future__ import annotations

import math
from collections.abc import Sequence

from reconcile.house import House, Meter
from reconcile.meter.load_run import SHARED, Weighed, current_meter, weigh_run
from reconcile.meter.observation import Observation
from reconcile.meter.registered import WORDS, Shown, best
from reconcile.site import FieldTest, MainOff, Quiet

SMALLEST_WATTS = 0.5
"""Least standard uncertainty of a quiet or main-off reading [W]: nobody knows better what was on."""


def observations(house: House) -> tuple[Observation, ...]:
    """Turn a house's site readings into observations with their standard uncertainties.

    Parameters
    ----------
    house : House
        Its ``field_test`` and its meter's constants.

    Returns
    -------
    tuple of Observation
        Quiet readings and main-off readings one by one; all runs with one kind of instrument as one
        registration, since they share its error. What cannot be used is left out here and named by the
        verdict of the test.

    Examples
    --------
    >>> from reconcile.site import Registered
    >>> test = FieldTest(quiet=(Quiet(Registered(pulses=50, seconds=600)),))
    >>> found = observations(House("a", (), meters=(Meter(pulse_wh=1.0),), field_test=test))
    >>> round(found[0].value), round(found[0].standard_uncertainty, 1)
    (300, 2.5)
    """
    test = house.field_test
    if test is None:
        return ()
    meter = current_meter(house)
    found = [o for q in test.quiet if (o := _quiet(q, meter, test)) is not None]
    found += [o for m in test.main_off if (o := _main_off(m, meter, test)) is not None]
    weighed = [w for run in test.runs if isinstance(w := weigh_run(run, house, test, meter), Weighed)]
    for kind in ("plug-in", "clamps"):
        alike = [w for w in weighed if w.kind == kind]
        if alike:
            found.append(_registration(alike))
    return tuple(found)


def combined(weighed: Sequence[Weighed]) -> tuple[float, float]:
    """Return the mean registration [%] of runs that share an instrument, and its standard uncertainty [%].

    Each run's own part averages out, the shared part does not.
    """
    own, shared = zip(*(_split(w) for w in weighed), strict=True)
    weights = [1.0 / max(u * u, 1e-12) for u in own]
    total = math.fsum(weights)
    mean = math.fsum(g * w.percent for g, w in zip(weights, weighed, strict=True)) / total
    common = math.fsum(g * s for g, s in zip(weights, shared, strict=True)) / total
    return mean, math.hypot(common, 1.0 / math.sqrt(total))


def _split(weighed: Weighed) -> tuple[float, float]:
    shared = math.fsum(c.contribution**2 for c in weighed.budget.components if c.name in SHARED)
    return math.sqrt(max(weighed.budget.standard_uncertainty**2 - shared, 0.0)), math.sqrt(shared)


def _registration(weighed: Sequence[Weighed]) -> Observation:
    percent, doubt = combined(weighed)
    how = "a plug-in meter" if weighed[0].kind == "plug-in" else "readings at the legs"
    runs = "one run" if len(weighed) == 1 else f"{len(weighed)} runs"
    days = [w.run.day for w in weighed if w.run.day is not None]
    text = f"Against {how} the meter registers {percent:.1f} % (give or take {2.0 * doubt:.1f}), from {runs}."
    return Observation("registration", percent / 100.0, doubt / 100.0, day=max(days) if days else None, text=text)


def _quiet(quiet: Quiet, meter: Meter, test: FieldTest) -> Observation | None:
    shown = best(quiet.registered, meter, test.instruments, test.display)
    if shown is None:
        return None
    left = f"only {', '.join(quiet.on)} on" if quiet.on else "everything off"
    value, doubt = _at_most(shown) if shown.nothing else (shown.watts, shown.standard_uncertainty)
    text = f"Quiet, with {left}: {_watts_text(shown)}, by {WORDS[shown.way]}."
    return Observation("quiet", value, max(doubt, SMALLEST_WATTS), shown.nothing, quiet.on, quiet.day, text)


def _main_off(main_off: MainOff, meter: Meter, test: FieldTest) -> Observation | None:
    shown = best(main_off.registered, meter, test.instruments, test.display)
    if shown is None:
        return None
    bound = proves_only_a_bound(shown)
    value, doubt = _at_most(shown) if bound else (shown.watts, shown.standard_uncertainty)
    said = f"at most {value:.0f} W" if bound else _watts_text(shown)
    text = f"With the main breaker off, {WORDS[shown.way]}: {said}."
    return Observation("main-off", value, max(doubt, SMALLEST_WATTS), bound, (), main_off.day, text)


def proves_only_a_bound(shown: Shown) -> bool:
    """Return whether a main-off reading is a bound only: nothing moved, or a disk may have coasted a turn."""
    return shown.nothing or (shown.way == "turns" and (shown.counts or 0.0) <= 1.0)


def _at_most(shown: Shown) -> tuple[float, float]:
    return shown.at_most_watts, shown.at_most_watts / math.sqrt(12.0)


def _watts_text(shown: Shown) -> str:
    if shown.nothing:
        return f"nothing, so at most {shown.at_most_watts:.0f} W"
    return f"{shown.watts:.0f} W (give or take {2.0 * shown.standard_uncertainty:.0f})"
