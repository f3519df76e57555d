"""Readings without a known load: the meter with the main off, and in a quiet house.

One rule judges a reading with the main off, wherever it is asked: the watts that the reading *proves*, least and most,
against :data:`SOUND_WATTS`. N counts of w watt-hours in t seconds prove more than 3600 w (N - 1) / t and less than
3600 w (N + 1) / t, since the watch may start just before one count and stop just after another; a disk may besides
coast up to one turn. Nothing else decides: not how many counts there were, not how long.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from reconcile.house import House, Load, Meter
from reconcile.house.site import FieldTest, MainOff, Quiet
from reconcile.meter.forms import CREEP_SECONDS, creep_watts
from reconcile.meter.judged import JudgedMainOff, JudgedQuiet, Remark, Zone
from reconcile.meter.reference_load import cycling
from reconcile.meter.registered import Shown, best, timed_watts, wait_seconds
from reconcile.voices import voice_of

SOUND_WATTS = 10.0
"""At or under this nothing is counted that a bill would show [W]: one step of a display with two decimals of kW, 7 kWh
a month (common practice)."""
LOAD_WATTS = 100.0
"""From this on the size speaks of a load or a leaking cable rather than of creep [W]: one turn of a usual disk in five
minutes is 86 W, and electronic meters creep less (common practice)."""
HOURS_A_MONTH = 730.0
"""Hours of a twelfth of a year."""
FACTOR = 1.96
"""Coverage factor of a 95 % interval for a reading whose doubt is of known limits."""
QUIET_SECONDS = 600.0
"""A quiet reading under this may hold a refrigerator's start or stop [s] (common practice)."""


def price_per_kwh(house: House) -> float | None:
    """Return what a kWh costs by the last year's bills, all charges in it; None where no bill says."""
    known = [b for b in house.bills[-12:] if b.amount is not None and b.kwh is not None and b.kwh > 0]
    energy = sum(b.kwh or 0.0 for b in known)
    return float(sum(b.amount or 0 for b in known)) / energy if energy else None


def monthly(watts: float, price: float | None) -> tuple[float, float | None]:
    """Return the kWh a month of a steady power [W], and what they cost where the price is known.

    Examples
    --------
    >>> monthly(100.0, 0.25)
    (73.0, 18.25)
    """
    energy = watts * HOURS_A_MONTH / 1000.0
    return energy, None if price is None else energy * price


def judge_main_off(reading: MainOff, house: House, meter: Meter, test: FieldTest) -> JudgedMainOff:
    """Say whether the meter counted with the main off, and what that costs and can mean.

    Returns
    -------
    JudgedMainOff
        ``inside``: less than :data:`SOUND_WATTS`; ``outside``: more; ``cannot-tell``: the reading allows both, or
        something that may rightly be counted was on.
    """
    voice = voice_of(house)
    shown = best(reading.registered, meter, test.instruments, test.display)
    if shown is None:
        why = (Remark("no-power-of-now"),)
        return JudgedMainOff(None, 0.0, None, None, "cannot-tell", None, None, why, day=reading.day, voice=voice)
    least, most = proved_watts(shown, reading.registered.seconds or 0.0)
    zone, notes = _zone(shown, least, most, reading)
    if reading.all_disconnects_off is False:
        zone = "cannot-tell" if zone == "outside" else zone
        notes.append(Remark("disconnects-on"))
    elif reading.all_disconnects_off is None:
        notes.append(Remark("disconnects-not-written"))
    if house.generation and reading.generation_off is not True:
        zone = "cannot-tell"
        notes.append(Remark("generation-on"))
    watts = None if shown.nothing else shown.watts
    if zone == "outside":
        notes.append(_size(shown.watts, meter))
    energy, cost = (
        monthly(shown.watts if zone == "outside" else most, price_per_kwh(house)) if zone != "inside" else (None, None)
    )
    return JudgedMainOff(
        watts,
        least,
        most,
        FACTOR * shown.standard_uncertainty if not shown.nothing else None,
        zone,
        energy,
        cost,
        tuple(notes),
        cases(house, shown, reading) if zone != "inside" else (),
        zone == "outside" and reading.service_underground is None,
        reading.day,
        voice,
    )


def beside_quiet(reading: JudgedMainOff, quiet: Sequence[JudgedQuiet]) -> JudgedMainOff:
    """Remark on a reading that proves more with the main off than a quiet one allows with it on."""
    less = [
        q.watts
        for q in quiet
        if q.watts is not None and q.at_most_watts is not None and q.at_most_watts < reading.low_watts
    ]
    if reading.zone != "outside" or not less:
        return reading
    told = Remark("more-than-with-main-on", {"off": reading.watts, "on": min(less)})
    return replace(reading, remarks=(*reading.remarks, told))


def proved_watts(shown: Shown, seconds: float) -> tuple[float, float]:
    """Return the least and the most watts [W] that a reading proves.

    Parameters
    ----------
    shown : Shown
        By the surest way it was read.
    seconds : float
        Its length [s]; not needed for a display.
    """
    if shown.counts is None:
        step = shown.at_most_watts - shown.watts
        return max(shown.watts - step, 0.0), shown.at_most_watts
    if shown.counts <= 1.0:
        return 0.0, shown.at_most_watts
    size = shown.watts / shown.counts * seconds / 3600.0
    return timed_watts(size, shown.counts - 1.0, seconds), shown.at_most_watts


def _zone(shown: Shown, least: float, most: float, reading: MainOff) -> tuple[Zone, list[Remark]]:
    seconds = reading.registered.seconds or 0.0
    figures = {
        "way": shown.way,
        "counts": shown.counts or 0.0,
        "seconds": seconds,
        "least": least,
        "most": most,
        "sound": SOUND_WATTS,
    }
    code = "main-off-nothing" if shown.nothing else "main-off-one" if (shown.counts or 2.0) < 2.0 else "main-off-counts"
    notes = [Remark(code, figures)]
    if shown.way == "display" and not shown.nothing:
        notes.append(Remark("display-may-lag"))
    if most <= SOUND_WATTS:
        return "inside", notes
    if least > SOUND_WATTS:
        return "outside", notes
    if shown.way == "turns":
        if shown.nothing and seconds >= CREEP_SECONDS:
            return "inside", [*notes, Remark("no-creep-by-rule")]
        if (shown.counts or 0.0) <= 1.0:
            notes.append(Remark("disk-may-coast"))
    if shown.counts is not None and least <= SOUND_WATTS and seconds:
        size = most * seconds / 3600.0 / (shown.counts + 1.0)
        notes.append(
            Remark("watch-longer", {"minutes": math.ceil(wait_seconds(size, SOUND_WATTS) / 60.0), "sound": SOUND_WATTS})
        )
    return "cannot-tell", notes


def _size(watts: float, meter: Meter) -> Remark:
    """What the size speaks for."""
    creep = creep_watts(meter.disk_wh * meter.multiplier) if meter.type == "disk" and meter.disk_wh else LOAD_WATTS
    figures = {"watts": watts, "creep": creep, "least": LOAD_WATTS}
    return Remark("size-of-a-load" if watts >= max(LOAD_WATTS, creep) else "size-of-creep", figures)


def cases(house: House, shown: Shown, reading: MainOff) -> tuple[str, ...]:
    """Return what counting with the main off can mean here, in the order of looking; codes of the catalogue."""
    left = ["not-now"] if shown.way == "display" else ["coasting"] if shown.way == "turns" else []
    if reading.all_disconnects_off is not True:
        left.append("disconnect-left-on")
    left += ["ahead-of-main", "shared-or-wrong-meter"]
    if house.generation and reading.generation_off is not True:
        left.append("own-generation")
    if reading.service_underground is not False:
        left.append("underground-leak")
    return (*left, "creep")


def zone_of(judged: tuple[JudgedMainOff, ...]) -> Zone | None:
    """Return the one zone of all readings with the main off: counting once is counting."""
    zones = {m.zone for m in judged}
    return next((z for z in ("outside", "cannot-tell", "inside") if z in zones), None)


HOURS_A_YEAR = 8760.0


def listed_watts(house: House, names: Sequence[str]) -> float | None:
    """Return what the list gives loads that were left on, on the average [W]; None where it does not say of each.

    Examples
    --------
    >>> from reconcile.house import Load
    >>> at_home = House("a", (), (Load("Freezer", watts=100.0, share_on=0.4, follows="always"),))
    >>> listed_watts(at_home, ("freezer",)), listed_watts(at_home, ("freezer", "pump"))
    (40.0, None)
    """
    known = {load.name.casefold().strip(): load for load in house.loads}
    found = [known.get(name.casefold().strip()) for name in names]
    each = [_mean_watts(load) for load in found if load is not None]
    if not names or len(each) < len(names) or None in each:
        return None
    return math.fsum(watts for watts in each if watts is not None)


def _mean_watts(load: Load) -> float | None:
    if load.kwh_per_year is not None:
        return 1000.0 * load.count * load.kwh_per_year / HOURS_A_YEAR
    if load.follows != "always" or load.watts is None:
        return None
    return load.count * load.watts * load.share_on


def judge_quiet(reading: Quiet, house: House, meter: Meter, test: FieldTest) -> JudgedQuiet:
    """Say how many watts are on when all that can be is off, and what they cost a month."""
    voice = voice_of(house)
    shown = best(reading.registered, meter, test.instruments, test.display)
    if shown is None:
        why = (Remark("no-power-of-now"),)
        return JudgedQuiet(None, None, None, None, None, why, reading.on, reading.day, voice)
    if shown.nothing:
        still = (Remark("quiet-still", {"way": shown.way, "most": shown.at_most_watts}),)
        return JudgedQuiet(0.0, shown.at_most_watts, None, None, None, still, reading.on, reading.day, voice)
    energy, cost = monthly(shown.watts, price_per_kwh(house))
    doubt = FACTOR * shown.standard_uncertainty
    short = (reading.registered.seconds or 0.0) < QUIET_SECONDS and shown.way != "display"
    notes = (Remark("quiet-short"),) if short else ()
    return JudgedQuiet(
        shown.watts, shown.at_most_watts, doubt, energy, cost, notes, reading.on, reading.day, voice,
        listed_watts(house, reading.on), tuple(load.name for load in cycling(house.loads) if _left_on(load, reading)),
    )  # fmt: skip


def _left_on(load: Load, reading: Quiet) -> bool:
    return load.name.casefold() in {name.casefold() for name in reading.on}
