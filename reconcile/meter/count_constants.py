"""The constant of what is counted at a meter, written once for all runs: what bears it out, and what refutes it.

However often flashes are counted, the Wh a flash that was guessed, or taken from another line of the face, makes the
same of every run. The kWh of the register and the displayed kW need no constant.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from reconcile.house import Meter
from reconcile.house.site import FieldTest
from reconcile.meter.combine import Combined, combine
from reconcile.meter.judged import Remark
from reconcile.meter.load_run import Weighed
from reconcile.meter.registered import readings

COUNTED = ("pulses", "turns")
AGREE = 3.0
"""Standard deviations within which runs of one test agree (our choice: right ones do 997 times of 1,000)."""
CLOSEST = 1.15
"""Constants of which one may be taken for the other lie farther apart than this, as a ratio: 1.0, 1.2 and 1.25 Wh (from
memory, and our choice)."""


def uncounted(weighed: Weighed, meter: Meter, test: FieldTest) -> tuple[float, float] | None:
    """Return a run's registration and its standard uncertainty [%] by the register or the displayed kW alone."""
    if weighed.shown.way not in COUNTED:
        return weighed.percent, weighed.budget.standard_uncertainty
    by = [
        shown
        for shown in readings(weighed.run.registered, meter, test.instruments, test.display)
        if shown.way not in COUNTED and not shown.nothing
    ]
    if not by or weighed.expected_w <= 0.0:
        return None
    more = 100.0 * (by[0].watts - weighed.shown.watts) / weighed.expected_w
    doubt = 100.0 * by[0].standard_uncertainty / weighed.expected_w
    return weighed.percent + more, math.hypot(doubt, weighed.budget.standard_uncertainty)


def rests_on_a_constant(
    runs: Sequence[Weighed], combined: Combined, meter: Meter, test: FieldTest
) -> tuple[Remark, ...]:
    """Return a doubt where a constant written wrong would make as much of a right meter, and nothing bears it out.

    Parameters
    ----------
    combined : Combined
        All runs as one result.
    """
    near = combined.low >= 100.0 / CLOSEST and combined.high <= 100.0 * CLOSEST
    if near or all(run.shown.way not in COUNTED for run in runs):
        return ()
    sign = math.copysign(1.0, combined.percent - 100.0)
    told = [one for run in runs if (one := uncounted(run, meter, test)) is not None]
    if any(sign * (percent - 100.0) > AGREE * doubt for percent, doubt in told):
        return ()
    return (Remark("constant-alone", {"percent": combined.percent}),)


def refuted_constant(runs: Sequence[Weighed], meter: Meter, test: FieldTest) -> Remark | None:
    """Return the doubt of a constant where the register, or the kW, of other runs denies those that were counted.

    Several runs each read in two ways that contradict each other say so by themselves.
    """
    counted = [run for run in runs if run.shown.way in COUNTED]
    others = [run for run in runs if run.shown.way not in COUNTED]
    if len(counted) < 2 or not others:  # one count that differs from all else is one run misread
        return None
    one, other = combine(counted), combine(others)
    doubt = math.hypot(one.standard_percent, other.standard_percent)
    nearer = abs(other.percent - 100.0) < abs(one.percent - 100.0)
    if not nearer or other.percent <= 0.0 or abs(one.percent - other.percent) <= AGREE * doubt:
        return None
    ratio = one.percent / other.percent
    if 1.0 / CLOSEST < ratio < CLOSEST:
        return None
    disk = counted[0].shown.way == "turns"
    written = (meter.disk_wh if disk else meter.pulse_wh) or 0.0
    figures = {"disk": disk, "written": written, "meant": written / ratio}
    return Remark("constant-refuted", {"counted": one.percent, "other": other.percent, **figures})
