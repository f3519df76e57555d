"""Site readings as observations of the model that weighs the bills."""

from __future__ import annotations

import math
from typing import Literal

from reconcile.house import House, Meter
from reconcile.house.registers import current_meter
from reconcile.house.site import FieldTest, Quiet
from reconcile.meter.judge import judge_test
from reconcile.meter.judged import FieldTestResult, JudgedMainOff, Registration
from reconcile.meter.observation import Observation
from reconcile.meter.registered import Shown, as_read, as_shown, best
from reconcile.voices import voice_of

SMALLEST_WATTS = 0.5
"""Least standard uncertainty of a quiet or main-off reading [W]: nobody knows better what was on."""


def observations(house: House, judged: FieldTestResult | None = None) -> tuple[Observation, ...]:
    """Turn a house's site readings into observations with their standard uncertainties.

    Parameters
    ----------
    house : House
        Its ``field_test`` and its meter's constants.
    judged : FieldTestResult, optional
        The same test as judged, so that it is not judged twice.

    Returns
    -------
    tuple of Observation
        Quiet readings and main-off readings one by one, and one registration of the whole test. A registration whose
        readings are doubtful is left out, but for one that is far off and was found once, or rests
        on a constant that nothing else bears out; the judged test says why.

    Examples
    --------
    >>> from reconcile.house.site import Registered
    >>> test = FieldTest(quiet=(Quiet(Registered(pulses=50, seconds=600)),))
    >>> found = observations(House("a", (), meters=(Meter(pulse_wh=1.0),), field_test=test))
    >>> round(found[0].value), round(found[0].standard_uncertainty, 1)
    (300, 2.5)
    """
    if house.field_test is None:
        return ()
    test = as_shown(house.field_test)
    judged = judged or judge_test(house)
    meter = as_read(current_meter(house), test)
    found = [o for q in test.quiet if (o := _quiet(q, house, meter, test)) is not None]
    found += [o for m in judged.main_off if (o := _main_off(m)) is not None]
    registration = _registration(judged)
    return (*found, registration) if registration is not None else tuple(found)


def _registration(judged: FieldTestResult) -> Observation | None:
    told = judged.registration
    slip = _slip(judged)
    if told is None or judged.dangers or (judged.doubtful and not slip):
        return None
    days = [run.day for run in judged.runs if run.day is not None]
    # few repeats make wide limits: what the weighing takes for a standard uncertainty must give the same ones
    doubt = max(told.standard_percent, told.expanded_percent / 1.96)
    kinds = {run.kind for run in judged.runs if run.registration_percent is not None}
    figures = {"percent": told.percent, "expanded": told.expanded_percent, "runs": told.runs, "kinds": kinds}
    return Observation(
        "registration", told.percent / 100.0, doubt / 100.0, day=max(days) if days else None, zone=told.zone,
        chance=_chance_outside(told), figures=figures, voice=judged.voice, slip=slip,
    )  # fmt: skip


def _slip(judged: FieldTestResult) -> Literal["", "run", "constant"]:
    """What may be written wrong in readings in which nothing else is doubtful."""
    codes = {doubt.code for doubt in judged.doubts}
    if judged.by_constant or codes in ({"constant-alone"}, {"constant-alone", "unusual-once"}):
        return "constant"
    return "run" if codes == {"unusual-once"} else ""


def _chance_outside(told: Registration) -> float:
    if told.zone != "outside":
        return 0.0
    return told.chance_fast if told.percent > 100.0 else told.chance_slow


def _quiet(quiet: Quiet, house: House, meter: Meter, test: FieldTest) -> Observation | None:
    shown = best(quiet.registered, meter, test.instruments, test.display)
    if shown is None:
        return None
    value, doubt = _at_most(shown) if shown.nothing else (shown.watts, shown.standard_uncertainty)
    figures = {"way": shown.way, "most": shown.at_most_watts, "expanded": 1.96 * shown.standard_uncertainty}
    voice = voice_of(house)
    return Observation(
        "quiet", value, max(doubt, SMALLEST_WATTS), shown.nothing, quiet.on, quiet.day, None, figures, voice
    )  # fmt: skip


def _main_off(judged: JudgedMainOff) -> Observation | None:
    """A reading that counts is an estimate; any other only says how much there can be at most."""
    if judged.at_most_watts is None:
        return None
    counts = judged.zone == "outside" and judged.watts is not None
    value = judged.watts if counts else judged.at_most_watts
    doubt = (judged.expanded_watts or 0.0) / 1.96 if counts else judged.at_most_watts / math.sqrt(12.0)
    return Observation(
        "main-off", value or 0.0, max(doubt, SMALLEST_WATTS), not counts, (), judged.day, judged.zone,
        {"expanded": judged.expanded_watts or 0.0}, judged.voice,
    )  # fmt: skip


def _at_most(shown: Shown) -> tuple[float, float]:
    return shown.at_most_watts, shown.at_most_watts / math.sqrt(12.0)
