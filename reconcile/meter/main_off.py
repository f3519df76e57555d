"""Readings without a known load: the meter with the main off, and in a quiet house."""

from __future__ import annotations

import math

from reconcile.house import House, Meter
from reconcile.meter.fork import branches, monthly, price_per_kwh
from reconcile.meter.forms import CREEP_SECONDS
from reconcile.meter.judged import JudgedMainOff, JudgedQuiet
from reconcile.meter.registered import WORDS, Shown, best, timed_watts, wait_seconds
from reconcile.meter.site_readings import proves_only_a_bound
from reconcile.site import FieldTest, MainOff, Quiet

SOUND_WATTS = 10.0
"""A bound at or under this is taken as nothing counted [W]: one step of a display with two decimals of kW."""
FACTOR = 1.96
"""Coverage factor of a 95 % interval for a reading whose doubt is of known limits."""


def judge_main_off(reading: MainOff, house: House, meter: Meter, test: FieldTest) -> JudgedMainOff:
    """Say whether the meter counted with the main off, and what that costs and means.

    Parameters
    ----------
    reading : MainOff
    house : House
    meter : Meter
    test : FieldTest

    Returns
    -------
    JudgedMainOff
        ``cannot-tell`` where the wait was too short, something ahead of the main stayed on, or one count may
        be what a disk coasts or a pulse was due.
    """
    shown = best(reading.registered, meter, test.instruments, test.display)
    if shown is None:
        why = "The meter was not read in a way that shows the power of now."
        return JudgedMainOff(None, None, None, "cannot-tell", None, None, (why,), (), reading.day)
    zone, notes = _zone(shown, reading, meter)
    if zone != "cannot-tell" and reading.all_disconnects_off is False:
        zone = "cannot-tell" if zone == "outside" else zone
        notes.append("Not every disconnect was off, so what stayed on is counted rightly.")
    elif reading.all_disconnects_off is None:
        notes.append("It is not written down whether every disconnect was off (all_disconnects_off).")
    if house.generation and reading.generation_off is not True:
        zone = "cannot-tell"
        notes.append("The house's own generation was not off, so the reading says nothing of the meter.")
    watts = None if shown.nothing else shown.watts
    # What one count may hide is a bound, not an estimate, until a second count has come.
    counted = zone == "outside"
    energy, cost = (
        monthly(shown.watts if counted else shown.at_most_watts, price_per_kwh(house))
        if counted or zone == "cannot-tell"
        else (None, None)
    )
    return JudgedMainOff(
        watts,
        shown.at_most_watts,
        FACTOR * shown.standard_uncertainty if not shown.nothing else None,
        zone,
        energy,
        cost,
        tuple(notes),
        tuple(branches(house, shown.way, generation_off=reading.generation_off)) if zone != "inside" else (),
        reading.day,
    )


def _zone(shown: Shown, reading: MainOff, meter: Meter) -> tuple[str, list[str]]:
    how = WORDS[shown.way]
    seconds = reading.registered.seconds or 0.0
    notes = []
    if shown.way == "display":
        steps = round(shown.watts / max(shown.at_most_watts - shown.watts, 1e-9))
        if shown.nothing:
            notes.append(f"The display stood at zero: at most {shown.at_most_watts:.0f} W can hide in its step.")
            return ("inside" if shown.at_most_watts <= SOUND_WATTS else "cannot-tell"), notes
        notes.append("A display may lag or show an average: watch pulses, disk or the last kWh digit too.")
        return ("outside" if steps >= 2 else "cannot-tell"), notes
    size = shown.watts / (shown.counts or 1.0) * seconds / 3600.0 if shown.counts else None
    if shown.nothing:
        notes.append(f"No count in {seconds / 60.0:.0f} minutes on {how} proves at most {shown.at_most_watts:.0f} W.")
        if shown.at_most_watts <= SOUND_WATTS:
            return "inside", notes
        if shown.way == "turns" and seconds >= CREEP_SECONDS:
            notes.append("No full turn in five minutes is no creep by the rule quoted (52 Pa. Code 57.20).")
            return "inside", notes
        count = shown.at_most_watts * seconds / 3600.0
        notes.append(
            f"Watch for {math.ceil(wait_seconds(count, SOUND_WATTS) / 60.0)} minutes to prove less than "
            f"{SOUND_WATTS:.0f} W."
        )
        return "cannot-tell", notes
    if proves_only_a_bound(shown):
        notes.append("A disk may coast up to one turn after the load is gone: wait until it stands, then time it.")
        return "cannot-tell", notes
    if (shown.counts or 0.0) < 2.0:
        bound = timed_watts(size or 0.0, 2.0, max(seconds, 1.0))
        notes.append(f"One count may just have been due: it proves only that less than {bound:.0f} W flowed.")
        return "cannot-tell", notes
    notes.append(f"{shown.counts:g} counts on {how} in {seconds / 60.0:.0f} minutes.")
    return "outside", notes


def judge_quiet(reading: Quiet, house: House, meter: Meter, test: FieldTest) -> JudgedQuiet:
    """Say how many watts are on when all that can be is off, and what they cost a month."""
    shown = best(reading.registered, meter, test.instruments, test.display)
    if shown is None:
        why = "The meter was not read in a way that shows the power of now."
        return JudgedQuiet(None, None, None, None, None, (why,), reading.on, reading.day)
    notes = []
    if shown.nothing:
        notes.append(f"{WORDS[shown.way].capitalize()} stood still: at most {shown.at_most_watts:.0f} W.")
        return JudgedQuiet(0.0, shown.at_most_watts, None, None, None, tuple(notes), reading.on, reading.day)
    energy, cost = monthly(shown.watts, price_per_kwh(house))
    doubt = FACTOR * shown.standard_uncertainty
    if (reading.registered.seconds or 0.0) < 600.0 and shown.way != "display":
        notes.append("Watched for under ten minutes: a refrigerator may just have been on, or off.")
    return JudgedQuiet(shown.watts, shown.at_most_watts, doubt, energy, cost, tuple(notes), reading.on, reading.day)
