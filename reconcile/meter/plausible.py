"""The gate before any verdict: what was assumed, what contradicts itself, and what a misread figure would explain.

A registration far from 100 % is, more often than a broken meter, one figure read or typed wrong. So before a run may
say ``inside`` or ``outside`` its figures must hold together, rest on nothing that was only assumed, and leave no
ordinary error that would make the meter right. What does not pass is ``cannot-tell``, with the likeliest errors and
the one reading that settles it. A meter that really is far out passes: its figures hold together, and say so again.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

from reconcile.house import House, Meter
from reconcile.house.site import FieldTest
from reconcile.meter.assumed import assumptions, holds
from reconcile.meter.coherence import checks
from reconcile.meter.combine import Combined, combine
from reconcile.meter.count_constants import AGREE, refuted_constant, rests_on_a_constant
from reconcile.meter.judged import Assumption, Guess, Remark, of_a_count
from reconcile.meter.load_run import Weighed, weigh_run
from reconcile.meter.mends import Case
from reconcile.meter.misreadings import Again, Ranked, genuine_score, mends_the_whole, merged, ranked
from reconcile.meter.resolve import register_hours
from reconcile.records import dataclass

UNUSUAL_PERCENT = 30.0
"""Farther than this from 100 % a single run says nothing by itself, whatever its budget (common practice)."""
IMPOSSIBLE_PERCENT = (20.0, 300.0)
"""Outside this a result must have been read in two ways that agree."""
CYCLED = 0.06
"""Part of the load by which what else is on may move before the run is said to have been disturbed."""
MARGIN = 2.0
"""By how much a meter really so far out must be the likelier account before it is believed."""
EXCHANGED = 1.0
"""Score of two runs whose watts stand in each other's place, where exchanging them makes both right."""
ACCOUNTED = 0.4
"""Part of the departure that may be left once an error is mended, for it to count as the explanation."""


@dataclass(frozen=True, slots=True)
class Gate:
    """What the gate found. No verdict may stand where ``doubts`` is not empty."""

    doubts: tuple[Remark, ...]
    guesses: tuple[Guess, ...]
    settle: Remark | None
    assumed: tuple[Assumption, ...]


@dataclass(frozen=True, slots=True)
class Sorted:
    """The runs of a test, those set aside apart."""

    kept: tuple[Weighed, ...]
    """What the result is made of."""
    odd: Weighed | None = None
    """The one run that all others, agreeing among themselves, speak against: most likely misread."""
    disturbed: tuple[Weighed, ...] = ()
    """Runs during which something else switched, where two or more quiet ones remain that agree, or one that does
    not speak against the meter and with which the disturbed ones agree as far as they can tell."""


def sort_runs(runs: Sequence[Weighed], house: House, meter: Meter, test: FieldTest) -> Sorted:
    """Set aside a run that was disturbed, by its own readings, and the one that all others speak against.

    A disturbed run is known by what else was on before and after it, not by its result, so leaving it out favors
    neither side. A run that only its result sets apart is not left out for good: its figures have to be looked at.

    Parameters
    ----------
    runs : sequence of Weighed
        All that could be weighed.
    """
    moved = [any(one.code == MOVED for one in contradictions(run, house, meter, test)) for run in runs]
    still = tuple(run for run, off in zip(runs, moved, strict=True) if not off)
    disturbed = tuple(run for run, off in zip(runs, moved, strict=True) if off)
    alone = len(still) == 1 and _speaks_for_all(still[0], disturbed, meter)
    if not (alone or len(still) > 1) or (len(still) > 1 and _worse_alone(still, runs, meter)):
        still, disturbed = tuple(runs), ()
    odd = None if refuted_constant(still, meter, test) is not None else _odd_run(still)
    if odd is None:
        return Sorted(still, None, disturbed)
    return Sorted((*still[:odd], *still[odd + 1 :]), still[odd], disturbed)


def _worse_alone(still: Sequence[Weighed], runs: Sequence[Weighed], meter: Meter) -> bool:
    """Whether the quiet runs by themselves scatter, tell less than all runs do, or condemn a meter that all do not."""
    alone, together = combine(still), combine(runs)
    if (alone.scatter and _scattered(still)) or alone.expanded > together.expanded:
        return True
    condemned, all_condemn = (one.decided(meter.tolerance_percent).zone == "outside" for one in (alone, together))
    return condemned and not all_condemn


def gate(those: Sorted, combined: Combined | None, house: House, meter: Meter, test: FieldTest) -> Gate:
    """Try the figures of all runs before any verdict.

    Parameters
    ----------
    combined : Combined or None
        Those that were kept, as one result.
    """
    if not those.kept or combined is None:
        return Gate((), (), None, ())
    odd = those.odd
    runs = those.kept if odd is None else (*those.kept, odd)
    assumed = tuple(a for run in runs for a in assumptions(run, house, test))
    doubts = [Remark(f"assumed-{a.code}", a.figures) for a in assumed if holds(a, combined, meter.tolerance_percent)]
    for run in runs:
        doubts += contradictions(run, house, meter, test)
    if _outlasts_the_background(those.kept, combined, meter.tolerance_percent):
        doubts = [doubt for doubt in doubts if doubt.code != MOVED]
    if (refuted := refuted_constant(runs, meter, test)) is not None:
        return Gate((refuted,), (), Remark("settle-constant", refuted.figures), assumed)
    if odd is not None:
        figures = {"run": odd.named, "percent": odd.percent, "others": len(those.kept), "agree": combined.percent}
        doubts.append(Remark("runs-disagree", figures))
    elif combined.scatter and len(runs) > 1 and _scattered(runs):
        doubts.append(
            Remark("runs-scatter", {"low": min(r.percent for r in runs), "high": max(r.percent for r in runs)})
        )
    off = combined.decided(meter.tolerance_percent).zone == "outside" or abs(combined.percent - 100.0) > UNUSUAL_PERCENT
    speaks = off or not combined.low <= 100.0 <= combined.high
    guesses: tuple[Guess, ...] = ()
    left_out = all(doubt.code.startswith("assumed-") for doubt in doubts)
    if doubts and left_out and not speaks:  # only what was not written: nothing read looks wrong
        guesses = _left_out(assumed, runs)
    elif speaks or doubts:
        guesses, explained = _explain(runs, odd, combined.scatter, house, meter, test)
        if explained is not None:
            doubts.append(Remark("explained-by", {"guess": explained}))
        guesses = (*guesses[: explained is not None], *_left_out(assumed, runs), *guesses[explained is not None :])[:6]
    if off:
        doubts += [*_unusual(those.kept, combined), *rests_on_a_constant(those.kept, combined, meter, test)]
    kept = tuple({(d.code, str(sorted(d.figures.items(), key=str))): d for d in doubts}.values())
    if not kept:
        return Gate((), (), None, assumed)
    return Gate(kept, guesses, settling(kept, guesses, runs, meter), assumed)


MOVED = "contradiction-background-moved"


def _speaks_for_all(quiet: Weighed, disturbed: Sequence[Weighed], meter: Meter) -> bool:
    """Whether one quiet run may stand for the test: it condemns nobody, and no disturbed run contradicts it."""
    alone = combine([quiet])
    zone = alone.decided(meter.tolerance_percent).zone
    doubt = quiet.budget.standard_uncertainty
    return zone != "outside" and all(
        abs(run.percent - alone.percent) <= _reach(run) + AGREE * math.hypot(doubt, run.budget.standard_uncertainty)
        for run in disturbed
    )


def _reach(weighed: Weighed) -> float:
    """How far the middle of a background that was read twice may be off [%]."""
    ends = [b for b in (weighed.run.background_w_before, weighed.run.background_w_after) if b is not None]
    return 100.0 * (max(ends) - min(ends)) / 2.0 / max(weighed.expected_w, 1e-9) if len(ends) == 2 else 0.0


def _outlasts_the_background(runs: Sequence[Weighed], combined: Combined, tolerance_percent: float) -> bool:
    """Whether repeats stand outside the tolerance however the background between its two readings was on.

    A refrigerator that starts within a run moves the background by what the two readings differ; each run is taken at
    the end of that range which speaks most for the meter. Single runs are never let through.
    """
    if len(runs) < 2:
        return False
    sign = 1.0 if combined.percent > 100.0 else -1.0
    mildest = [sign * (weighed.percent - 100.0) - _reach(weighed) for weighed in runs]
    return min(mildest) > 0.0 and sum(mildest) / len(mildest) - combined.expanded > tolerance_percent


def contradictions(weighed: Weighed, house: House, meter: Meter, test: FieldTest) -> list[Remark]:
    """Return what in one run's figures cannot be true together, and signs that the load or the house did not hold."""
    run, found = weighed.run, []
    for check in checks(run, house, meter, test):
        if not check.fails:
            continue
        moved = check.code == "background-moved"
        if moved and abs(check.one - check.other) < CYCLED * max(weighed.measured_w, 1.0):
            continue
        code = "ways-contradict" if check.code.startswith("ways-") else check.code
        ways = check.code.split("-")[1:] if code == "ways-contradict" else ()
        found.append(
            Remark(
                f"contradiction-{code}", {"run": weighed.named, "one": check.one, "other": check.other, "ways": ways}
            )
        )
    if weighed.percent < 0.0:
        found.append(Remark("negative", {"run": weighed.named, "percent": weighed.percent}))
    other = weighed.other_way_percent
    if other is not None:
        percent, doubt = other
        if abs(percent - weighed.percent) > AGREE * math.hypot(doubt, weighed.budget.standard_uncertainty):
            found.append(Remark("plug-and-legs", {"run": weighed.named, "one": weighed.percent, "other": percent}))
    if weighed.legs is not None and any(reading.below_range for reading in weighed.legs.readings):
        found.append(Remark("below-range", {"run": weighed.named}))
    return found


def _odd_run(runs: Sequence[Weighed]) -> int | None:
    """Place of the one run that all the others, agreeing among themselves, speak against."""
    if len(runs) < 3:
        return None
    for i, run in enumerate(runs):
        rest = [other for j, other in enumerate(runs) if j != i]
        together = combine(rest)
        if together.scatter and _scattered(rest):
            continue
        apart = abs(run.percent - together.percent)
        if apart > 5.0 + AGREE * math.hypot(run.budget.standard_uncertainty, together.standard_percent):
            return i
    return None


def _scattered(runs: Sequence[Weighed]) -> bool:
    """Whether runs scatter so plainly that the load or the house cannot have held still."""
    values = [run.percent for run in runs]
    own = max(run.budget.standard_uncertainty for run in runs)
    return max(values) - min(values) > 2.0 * AGREE * own


def _explain(
    runs: Sequence[Weighed], odd: Weighed | None, scattered: bool, house: House, meter: Meter, test: FieldTest
) -> tuple[tuple[Guess, ...], Guess | None]:
    """Rank the errors; the first counts as an explanation where it beats a meter that really is so far out."""
    torn = [i for i, run in enumerate(runs) if contradictions(run, house, meter, test)]
    alone = odd if odd is not None else runs[torn[0]] if len(torn) == 1 and len(runs) > 1 else None
    among = [runs[i] for i in torn] or list(runs)
    weighed = alone if alone is not None else max(among, key=lambda r: abs(r.percent - 100.0))
    repeats = 1 if alone is not None else len(runs)
    target = 100.0
    if odd is not None:
        target = combine([run for run in runs if run is not odd]).percent
    case = Case(weighed.run, house, meter, test, weighed.percent, target, weighed.expected_w)
    again = Again(repeats, scattered, alone is not None)
    tried = [*ranked(case, weighed, again), *_exchanged(runs, house, meter, test)]
    genuine = genuine_score(case, weighed.percent)
    several = sorted((r for r in tried if not r.names_only), key=lambda r: r.score)
    likely = [r for r in several if r.score < genuine + MARGIN and _accounts(r.guess, target)][:1]
    spoiled = [weighed] if alone is not None else list(runs)
    explained = next((r.guess for r in likely if mends_the_whole(r.guess, case, runs, spoiled)), None)
    return merged([tried])[:6], explained


def _exchanged(runs: Sequence[Weighed], house: House, meter: Meter, test: FieldTest) -> list[Ranked]:
    """Two runs whose plug-in meter's watts stand in each other's place."""
    found = []
    for one, other in combinations(runs[:6], 2):
        a, b = one.run.reference_watts, other.run.reference_watts
        if not a or not b or abs(a - b) < CYCLED * max(a, b):
            continue
        turned = [
            weigh_run(replace(run.run, reference_watts=watts, watts_repeats=()), house, test, meter)
            for run, watts in ((one, b), (other, a))
        ]
        if all(isinstance(t, Weighed) and abs(t.percent - 100.0) < UNUSUAL_PERCENT / 3.0 for t in turned):
            assert isinstance(turned[0], Weighed)
            guess = Guess("swapped", one.named, "reference_watts", None, one.percent, turned[0].percent)
            found.append(Ranked(guess, EXCHANGED, True))
    return found


LEFT_OUT = {
    "connection": "connection",
    "power-factor": "power_factor",
    "clamps": "clamps",
    "background-missing": "background_w_before",
    "volts-sag": "volts",
    "volts-nominal": "volts",
    "volts-set-aside": "volts",
}
"""What was not written, by the assumption that stands in its place."""


def _left_out(assumed: Sequence[Assumption], runs: Sequence[Weighed]) -> tuple[Guess, ...]:
    """Name what was not written down: without it no figure of the test is sure."""
    found: dict[str, Guess] = {}
    by = {weighed.named: weighed for weighed in reversed(runs)}
    for one in assumed:
        if not one.holds_back:
            continue
        weighed = by[one.run]
        field = LEFT_OUT.get(one.code)
        if field is None and not one.code.startswith("background"):
            continue  # an assumption is told by itself
        if field is None:
            field = f"background_w_{'before' if weighed.run.background_w_before is None else 'after'}"
        found.setdefault(field, Guess("left-out", one.run, field, None, weighed.percent, weighed.percent))
    return tuple(found.values())


def _accounts(guess: Guess, target_percent: float) -> bool:
    """Whether an error accounts for most of what the registration is off by, and not for a part of it."""
    left = abs(guess.would_be_percent - target_percent)
    return left <= ACCOUNTED * abs(guess.as_read_percent - target_percent)


def _unusual(runs: Sequence[Weighed], combined: Combined) -> list[Remark]:
    off = abs(combined.percent - 100.0)
    low, high = IMPOSSIBLE_PERCENT
    if off > UNUSUAL_PERCENT and len(runs) < 2:
        return [Remark("unusual-once", {"percent": combined.percent})]
    if not low <= combined.percent <= high and not all(run.other_way_percent for run in runs):
        return [Remark("unusual-one-way", {"percent": combined.percent})]
    return []


SETTLE = {
    "contradiction-ways-contradict": "read-both-ways",
    "contradiction-background-moved": "repeat-quiet",
    "contradiction-kwh-watts": "repeat-steady",
    "runs-scatter": "repeat-steady",
    "runs-disagree": "repeat-run",
    "below-range": "larger-load",
    "plug-and-legs": "repeat-both",
    "unusual-once": "repeat-run",
    "unusual-one-way": "read-both-ways",
    "negative": "direction",
}
"""The one reading that settles each doubt where no guess names a field."""
SETTLE_FIELD = {
    "connection": "connection",
    "service": "line-volts",
    "power_factor": "power-factor",
    "background_w_before": "background",
    "background_w_after": "background",
    "background_w": "background",
    "clamps": "clamps",
    "pulse_wh": "nameplate",
    "disk_wh": "nameplate",
    "multiplier": "nameplate",
    "reference_watts": "plug-in",
    "reference_kwh": "plug-in",
    "meter_kw": "read-both-ways",
    "pulses": "count-again",
    "turns": "count-again",
    "seconds": "count-again",
    "register_end": "register-again",
    "meter_volts": "line-volts",
    "line_volts": "line-volts",
    "outlet_volts_off": "plug-in",
    "outlet_volts_on": "plug-in",
}
SETTLE_ASSUMED = {
    "assumed-connection": "connection",
    "assumed-power-factor": "power-factor",
    "assumed-background-once": "background",
    "assumed-background-nothing": "background",
    "assumed-background-missing": "background",
    "assumed-clamps": "clamps",
    "assumed-volts-sag": "leg-volts",
    "assumed-volts-nominal": "leg-volts",
    "assumed-volts-set-aside": "leg-volts",
    "assumed-wires": "outlet-volts",
}


def settling(doubts: Sequence[Remark], guesses: Sequence[Guess], runs: Sequence[Weighed], meter: Meter) -> Remark:
    """Return the one reading that would settle the doubts."""
    for doubt in doubts:
        if doubt.code in SETTLE_ASSUMED:
            return Remark(f"settle-{SETTLE_ASSUMED[doubt.code]}", {})
    if all(map(of_a_count, doubts)):
        run = max(runs, key=lambda one: one.meter_w)
        hours = register_hours(meter, run.meter_w, run.percent)
        return Remark("settle-register", {"hours": hours, "watts": run.measured_w, "percent": run.percent})
    explained = next((d.figures["guess"] for d in doubts if d.code == "explained-by"), None)
    odd = next((d.figures["run"] for d in doubts if d.code == "runs-disagree"), None)
    if odd is not None:
        return Remark("settle-look-at-run", {"run": odd, "guess": explained})
    # nothing in it is wrong but that it was made once
    once = all(doubt.code in ("unusual-once", "constant-alone") for doubt in doubts)
    named = explained or (guesses[0] if guesses and not once else None)
    if named is not None:
        stem = named.field.rstrip("_123") if named.field[-1:].isdigit() else named.field
        code = SETTLE_FIELD.get(stem, {"amps": "leg-amps", "volts": "leg-volts"}.get(stem, "power-factor"))
        return Remark(f"settle-{code}", {"field": named.field, "run": named.run})
    code = next((SETTLE[d.code] for d in doubts if d.code in SETTLE), "repeat-run")
    return Remark(f"settle-{code}", {"run": runs[0].named})
