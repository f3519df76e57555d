"""What interval data say beside the tie-out, for the pages: the signals, and the usual day."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from reconcile.clock import as_day
from reconcile.decide.timer import as_timer
from reconcile.interval.found import IntervalResult
from reconcile.say import Voice
from reconcile.texts.interval_signals import signal_lines
from reconcile.voices import voice_of

if TYPE_CHECKING:
    from reconcile.house import House
    from reconcile.interval.planned_run import RunRead
    from reconcile.interval.profile import DayProfile

MOST_STEPS, MOST_SPANS = 5, 12
"""Steps of the base load, the largest first, and stretches of odd days that are told."""

UNSURE = 0.1
"""Standard uncertainty of the steps' size from which they say little of the meter (our own judgement)."""

COVERAGE = 1.96


def run_figures(run: RunRead, house: House, voice: Voice) -> dict[str, Any]:
    """Return what is told of a run read in the data: nights, hours, kWh, registration and its zone."""
    from reconcile.grounds.data_run import judged_run
    from reconcile.texts.field.field_test import places

    judged = judged_run(run, house)
    step = places(judged.expanded)
    return {
        "nights": run.nights,
        "hours": run.hours,
        "first": as_day(run.first_day),
        "last": as_day(run.end_day - 2),
        "apart": [as_day(day) for day in run.apart],
        "reference": voice.number(run.reference_kwh, 0.01),
        "read": voice.number(run.read_kwh, 0.01),
        "percent": voice.number(judged.percent, step),
        "expanded": voice.number(judged.expanded, step),
        "zone": judged.zone,
    }


def run_told(house: House) -> str:
    """Say what a run read in the data shows, for the verb that judges; empty where none is there to be read."""
    from reconcile.interval.examined import run_in_data

    run, voice = run_in_data(house), voice_of(house)
    return "" if run is None else signal_lines([("planned-run", run_figures(run, house, voice))], voice)[0]


def signals(data: IntervalResult, voice: Voice, house: House | None = None) -> list[str]:
    """Say what each signal of interval data says; with the house also the run that was planned in them."""
    found: list[tuple[str, dict[str, Any]]] = []
    if data.run is not None and house is not None:
        found.append(("planned-run", run_figures(data.run, house, voice)))
    if data.gain is not None:
        change = data.gain.change
        doubt = 100.0 * COVERAGE * change.standard_uncertainty
        key = "gain-changed" if change.found else "gain-same" if change.standard_uncertainty < UNSURE else "gain-unsure"
        days = {name: as_day(day) for name, day in (("day", change.day), ("low", change.low), ("high", change.high))}
        found.append((key, {"percent": 100.0 * float(np.expm1(change.shift)), "doubt": doubt, **days}))
    for known in data.known_loads:
        figures = {"load": known.name, "listed": known.listed_watts, "seen": known.seen_watts}
        doubt = 100.0 * COVERAGE * known.standard_uncertainty
        found.append(("known-load", {**figures, "percent": 100.0 * known.registration, "doubt": doubt}))
    if data.base is not None and len(data.base.value):
        largest = sorted(data.base.steps, key=lambda step: -abs(step.watts))[:MOST_STEPS]
        for step in sorted(largest, key=lambda step: step.day):
            limits = {"day": step.day, "low": step.low, "high": step.high, "fits": step.fits}
            found.append(("base-rose" if step.watts > 0.0 else "base-fell", {"watts": abs(step.watts), **limits}))
        found += [] if largest else [("base-same", {})]
    clock = data.clock_load
    if clock is not None:
        limits = {"day": clock.day, "low": clock.low, "high": clock.high, "until": clock.until}
        found.append(("clock", {"watts": clock.watts, "runs": as_timer(clock), **limits}))
    if data.daily is not None:
        for key, spans in (("away", data.daily.away), ("busy", data.daily.busy)):
            found += [(key, {"spans": spans[:MOST_SPANS]})] if spans else []
    return signal_lines(found, voice)


def usual_days(data: IntervalResult, voice: Voice) -> list[dict[str, str]]:
    """Return the usual day of each quarter of the year, on weekdays and weekends, as rows of a table."""
    return [
        {
            "kind": f"{_months(one)}, {'weekends' if one.weekend else 'weekdays'}",
            "days": voice.number(one.days),
            "kwh": voice.number(float(one.watts.sum()) / 1000.0, 0.1),
            "least": _hour(voice, one, int(np.argmin(one.watts))),
            "most": _hour(voice, one, int(np.argmax(one.watts))),
        }
        for one in data.profiles
    ]


def _months(one: DayProfile) -> str:
    names = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
    return f"{names[one.months[0] - 1]} to {names[one.months[-1] - 1]}"


def _hour(voice: Voice, one: DayProfile, hour: int) -> str:
    return f"{voice.watts(float(one.watts[hour]))} at {hour}:00"
