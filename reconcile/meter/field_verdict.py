"""The verdict of a field test in words: one sentence, its reasons, and what comes next in order of hazard."""

from __future__ import annotations

from collections.abc import Sequence

from reconcile.house import House
from reconcile.meter.component_words import spoken_component
from reconcile.meter.judged import FieldTestResult, JudgedRun
from reconcile.meter.resolve import plug_in_resolution, plug_limit_watts
from reconcile.site import Instrument, Instruments
from reconcile.texts import safety

ASK_UTILITY = (
    "Ask the utility in writing for a test of the meter against a reference standard, and to be present; often free on "
    "request. Check your local rule."
)
GOOD_PLUG_IN = Instruments(watts=Instrument(percent_of_reading=0.5, digits=2, resolution=0.1, resolution_kwh=0.001))


def spoken_verdict(result: FieldTestResult, house: House) -> tuple[str, tuple[str, ...]]:
    """Return the headline and the reasons of a verdict.

    Parameters
    ----------
    result : FieldTestResult
        With its verdict set.
    house : House

    Returns
    -------
    headline : str
    reasons : tuple of str
    """
    judged = [run for run in result.runs if run.registration_percent is not None]
    surest = min(judged, key=lambda run: run.expanded_percent or 0.0) if judged else None
    reasons = [_run_reason(run, result.tolerance_percent) for run in judged]
    reasons += [f"{run.label}: not judged. {' '.join(run.notes)}" for run in result.runs if run not in judged]
    for reading in result.main_off:
        reasons += [f"Main off: {note}" for note in reading.notes]
    for quiet in result.quiet:
        if quiet.watts:
            cost = "" if quiet.cost_a_month is None else f", about {quiet.cost_a_month:.0f} {result.currency}"
            reasons.append(
                f"With all else off about {quiet.watts:.0f} W run round the clock: {quiet.kwh_a_month:.0f} kWh a "
                f"month{cost}."
            )
    return _headline(result, surest), tuple(reasons)


def _headline(result: FieldTestResult, surest: JudgedRun | None) -> str:
    limits = f"{100.0 - result.tolerance_percent:g} to {100.0 + result.tolerance_percent:g} %"
    if result.verdict == "urgent":
        return "Stop: these readings hold a sign of danger. Call the utility's emergency line before anything else."
    if result.verdict == "counts-with-main-off":
        reading = next(m for m in result.main_off if m.zone == "outside")
        cost = "" if reading.cost_a_month is None else f", about {reading.cost_a_month:.0f} {result.currency}"
        return (
            f"The meter counts about {reading.watts:.0f} W with the main off ({reading.kwh_a_month:.0f} kWh a month"
            f"{cost}): something acts ahead of the main, or the meter creeps."
        )
    if result.verdict == "not-judged":
        return "There is nothing to judge yet."
    if surest is None:
        if result.verdict == "inside":
            return "The meter stood still with the main off, as it should. That says nothing of how it counts a load."
        return "These readings do not tell whether the meter is right."
    off = (surest.registration_percent or 0.0) - 100.0
    doubt = surest.expanded_percent or 0.0
    if result.verdict == "outside":
        worst = max(
            (r for r in result.runs if r.zone == "outside"),
            key=lambda r: abs((r.registration_percent or 100.0) - 100.0),
            default=surest,
        )
        off, doubt = (worst.registration_percent or 0.0) - 100.0, worst.expanded_percent or 0.0
        sense = "fast" if off > 0 else "slow"
        return (
            f"The meter reads about {abs(off):.{_places(doubt)}f} % {sense} (give or take {doubt:.{_places(doubt)}f}), "
            f"outside the {limits} allowed: a test by the utility is warranted."
        )
    if result.verdict == "inside":
        return (
            f"The meter reads {100.0 + off:.{_places(doubt)}f} % of the true energy (give or take "
            f"{doubt:.{_places(doubt)}f}), inside the {limits} allowed."
        )
    if abs(off) <= doubt:
        return (
            f"The readings agree with a right meter ({100.0 + off:.{_places(doubt)}f} %, give or take "
            f"{doubt:.{_places(doubt)}f}), but with these instruments an error must pass about "
            f"{result.tolerance_percent + doubt:.0f} % before it can be told."
        )
    return (
        f"The meter seems {abs(off):.{_places(doubt)}f} % {'fast' if off > 0 else 'slow'} (give or take "
        f"{doubt:.{_places(doubt)}f}), which these instruments cannot tell from the {limits} allowed."
    )


def _run_reason(run: JudgedRun, tolerance: float) -> str:
    places = _places(run.expanded_percent or 0.0)
    word = {"inside": "inside", "outside": "outside", "cannot-tell": "cannot tell"}[run.zone]
    how = "plug-in meter" if run.kind == "plug-in" else "legs"
    only = ", indicative" if run.indicative and run.load != "other" else ""
    point = "" if run.load == "other" else f", {run.load} load{only}"
    return (
        f"{run.label} ({how}{point}): true {run.measured_w:,.0f} W, meter {run.meter_w:,.0f} W, registration "
        f"{run.registration_percent:.{places}f} % (from {run.low_percent:.{places}f} to {run.high_percent:.{places}f}) "
        f"against {100.0 - tolerance:g} to {100.0 + tolerance:g} %: {word}."
    )


def _places(doubt: float) -> int:
    return 2 if doubt < 0.2 else 1 if doubt < 20.0 else 0


def next_steps(result: FieldTestResult, house: House, categories: Sequence[str]) -> tuple[str, ...]:
    """Return what to do after a verdict, in order of hazard; nothing here asks to open anything.

    Parameters
    ----------
    result : FieldTestResult
        With its verdict set.
    house : House
    categories : sequence of str
        Warnings about the instruments' measurement categories.

    Returns
    -------
    tuple of str
    """
    if result.verdict == "urgent":
        return (*safety.URGENT, "Keep these readings and photographs for the utility; take no more.")
    steps: list[str] = []
    counting = [m for m in result.main_off if m.zone == "outside"]
    for branch in counting[0].branches if counting else ():
        call = "" if branch.call.startswith("Nobody") else f" Call: {branch.call}"
        steps.append(f"{branch.may_be} {branch.look} {branch.tells}{call}")
    if result.verdict == "outside":
        steps.append(
            "Write the readings into the letter to the utility, with photographs of the meter before and after."
        )
        steps.append(ASK_UTILITY)
        steps.append(
            "Keep paying what is not in dispute, and ask how a correction is worked out: it is the local rule's."
        )
    elif result.verdict == "inside":
        steps.append("The meter is not the cause. Go back to the loads: measure the ones that leave most doubt.")
    elif result.verdict == "cannot-tell":
        steps += _what_would(result, house)
        steps.append(ASK_UTILITY)
    elif result.verdict == "not-judged":
        steps.append("Make the plan first (`reconcile plan`): it begins with checks that need nothing opened.")
    for judged in result.main_off:
        if judged.zone == "cannot-tell":
            steps.insert(0, f"Main off once more, if its cautions are met: {' '.join(judged.notes)}")
    if categories:
        steps += [f"Before anybody qualified reads at the legs again: {said}" for said in categories]
    return tuple(dict.fromkeys(steps))


def _what_would(result: FieldTestResult, house: House) -> list[str]:
    judged = [r for r in result.runs if r.expanded_percent is not None]
    if not judged:
        return ["Read the meter and the load together in a run that can be judged: see the reasons above."]
    surest = min(judged, key=lambda run: run.expanded_percent or 0.0)
    largest = max(surest.budget, key=lambda c: c.share)
    said = [
        f"Most of the doubt ({100.0 * largest.share:.0f} %) comes from {spoken_component(largest.name)}: that is "
        f"what a better test must "
        "narrow."
    ]
    better = plug_in_resolution(house, GOOD_PLUG_IN, 0.95 * plug_limit_watts(house), None)
    if better is not None and better.expanded_percent < 0.9 * (surest.expanded_percent or 0.0):
        minutes = (better.seconds or 0.0) / 60.0
        said.append(
            f"A plug-in meter good to 0.5 % on a steady {better.load_watts:,.0f} W load for {minutes:.0f} minutes, "
            f"near "
            f"the panel, covers closed, would tell an error of {better.smallest_error_percent:.1f} % and more."
        )
    return said
