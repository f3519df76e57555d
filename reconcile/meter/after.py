"""What comes after a verdict, in order of hazard, as codes; nothing here asks to open anything."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from reconcile.house import House
from reconcile.house.registers import current_meter
from reconcile.house.site import Branch, FieldTest, Instrument, Instruments
from reconcile.meter.branches import circuit_found
from reconcile.meter.combine import Combined
from reconcile.meter.instruments import misused, unfit
from reconcile.meter.judged import JudgedMainOff, Registration, Remark
from reconcile.meter.load_run import Weighed
from reconcile.meter.plausible import Gate
from reconcile.meter.reference_load import cycling
from reconcile.meter.resolve import plug_in_resolution, plug_limit_watts, register_resolution

NAMEPLATE_STEPS = (100.0, 250.0)
"""Whole multiples in which the watts of heaters are printed on them [W] (common practice)."""
BY_NAMEPLATE_PERCENT = 10.0
"""How far a heater may draw beside its nameplate [%] (common practice: 5 % more to 10 % less)."""

OUT_PERCENT = 12.0
"""So far may a plug-in meter be out that states a per cent: one that is old, cheap or overloaded (our judgement)."""

GOOD_PLUG_IN = Instruments(watts=Instrument(percent_of_reading=0.5, digits=2, resolution=0.1, resolution_kwh=0.001))


def next_steps(
    verdict: str,
    main_off: Sequence[JudgedMainOff],
    found: Gate,
    together: Combined | None,
    registration: Registration | None,
    good: Sequence[Weighed],
    house: House,
    test: FieldTest,
) -> tuple[Remark, ...]:
    """Return what to do after a verdict.

    Parameters
    ----------
    together : Combined or None
        All runs as one result.
    registration : Registration or None
        It, judged.
    """
    if verdict == "urgent":
        return (Remark("keep-readings"),)
    told = misused(test)
    steps = _at_the_circuit(circuit := circuit_found(test.branches))
    doubtful = unfit(test.instruments) if any(run.legs for run in test.runs) else ()
    steps += [Remark("category", {"unfit": one}) for one in doubtful if one not in told]
    steps += [Remark("main-off-again", {"notes": m.remarks}) for m in main_off if m.zone == "cannot-tell"]
    counting = [m for m in main_off if m.zone == "outside"]
    if counting:
        if counting[0].ask_underground:
            steps.append(Remark("ask-underground"))
        steps += [Remark(f"case-{case}") for case in counting[0].cases]
    if found.settle is not None:
        steps.append(found.settle)
    if verdict == "outside":
        steps += [*_as_shown(good, together), *_once_more(good, house), *_by_another(good, together)]
        steps += [Remark("slow-risk")] if together is not None and together.percent < 100.0 else []
        steps += [Remark("letter"), Remark("ask-utility"), Remark("keep-paying")]
    elif verdict == "inside":
        steps.append(Remark("meter-is-right" if good else "main-off-only"))
    elif verdict == "cannot-tell":
        if not good:
            steps.append(Remark("read-together"))
        elif not found.doubts:
            steps += [*_what_would(together, house, good), Remark(_asks(registration))]
    elif verdict == "not-judged" and circuit is None:
        steps.append(Remark("known-load-next" if test.quiet else "plan-first"))
    return tuple(steps)


def _asks(registration: Registration | None) -> str:
    """What readings that cannot tell are a reason for: a test by the utility only where the bills ask for it too."""
    if registration is None or registration.sense != "right":
        return "with-the-bills"
    return "no-test-called-for" if registration.agrees else "fits-both"


def _at_the_circuit(found: Branch | None) -> list[Remark]:
    """What to do at the circuit that was found: the same as the answer to the bills asks."""
    if found is None:
        return []
    figures = {"circuit": found.circuit, "watts": found.fell_watts}
    return [Remark("leave-off" if found.unplugged else "one-circuit", figures)]


def _once_more(good: Sequence[Weighed], house: House) -> list[Remark]:
    """What to do before a result out of one run goes anywhere, and what may have cycled in it."""
    if len(good) != 1:
        return []
    if good[0].kind == "clamps":
        return [Remark("repeat-with-plug-in")]
    names = tuple(load.name for load in cycling(house.loads) if load.name.casefold() != good[0].run.label.casefold())
    off = any("off" in run.run.note.casefold() for run in good)
    return [Remark("repeat-twice", {"cycling": () if off else names[:3]})]


def _by_another(good: Sequence[Weighed], together: Combined | None) -> list[Remark]:
    """Ask for another reference where all rests on one that may itself be out by as much."""
    kinds = {one.kind for one in good}
    if kinds == {"clamps"} and len(good) > 1:
        return [Remark("another-way")]
    near = together is not None and abs(together.percent - 100.0) < OUT_PERCENT
    return [Remark("another-plug-in")] if kinds == {"plug-in"} and near else []


def _as_shown(good: Sequence[Weighed], together: Combined | None) -> list[Remark]:
    """Ask for what the instruments showed where the watts or seconds of all runs look written beforehand."""
    runs = [one.run for one in good]
    asked = []
    watts = {run.reference_watts for run in runs if run.reference_kwh is None and len(set(run.watts_repeats)) < 2}
    off = abs(together.percent - 100.0) - together.expanded if together is not None else math.inf
    if len(watts) == 1 and off < BY_NAMEPLATE_PERCENT:
        (shown,) = watts
        if shown and any(shown % step == 0.0 for step in NAMEPLATE_STEPS):
            asked.append(Remark("watts-as-on-nameplate", {"watts": shown}))
    seconds = {run.registered.seconds for run in runs if run.registered.counted == "pulse-to-pulse"}
    if len(runs) > 1 and len(seconds) == 1 and all(run.registered.counted == "pulse-to-pulse" for run in runs):
        asked.append(Remark("seconds-alike", {"seconds": next(iter(seconds)), "runs": len(runs)}))
    return asked


def _what_would(together: Combined | None, house: House, good: Sequence[Weighed]) -> list[Remark]:
    if together is None:
        return []
    largest = max(together.budget.components, key=lambda c: c.share)
    said = [Remark("most-of-the-doubt", {"share": 100.0 * largest.share, "name": largest.name})]
    watts = 0.95 * plug_limit_watts(house)
    if all(one.shown.way == "register" for one in good):  # nothing else of this meter was read
        longer = register_resolution(_shows_kwh(house), Instruments(), watts, None, together.expanded / 2.0)
        figures = {"tolerance": current_meter(house).tolerance_percent, "told": longer}
        return said if longer is None else [*said, Remark("better-register", figures)]
    better = plug_in_resolution(house, GOOD_PLUG_IN, watts, None)
    if better is not None and better.expanded_percent < 0.9 * together.expanded:
        figures = {
            "watts": better.load_watts,
            "minutes": (better.seconds or 0.0) / 60.0,
            # as the verdict says it of these readings
            "error": current_meter(house).tolerance_percent + better.expanded_percent,
        }
        said.append(Remark("better-plug-in", figures))
    return said


def _shows_kwh(house: House) -> House:
    """The house with a meter of which nothing but the kWh is read."""
    meters = house.meters or (current_meter(house),)
    return replace(house, meters=tuple(replace(m, display="kWh", pulse_wh=None, disk_wh=None) for m in meters))
