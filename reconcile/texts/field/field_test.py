"""A judged field test in sentences: the answer first, what it rests on, what comes next."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, TypeAlias

from reconcile.say import Voice, listed
from reconcile.texts import tell
from reconcile.texts.categories import category_warnings
from reconcile.texts.danger_signs import URGENT
from reconcile.texts.field.field_doubts import DOUBTS, look_at
from reconcile.texts.field.field_doubts import assumption as assumption
from reconcile.texts.field.field_doubts import guess as guess
from reconcile.texts.field.field_remarks import REMARKS, WAYS
from reconcile.texts.field.field_steps_after import STEPS

FieldTestResult: TypeAlias = Any
JudgedRun: TypeAlias = Any
Registration: TypeAlias = Any
Remark: TypeAlias = Any
Observation: TypeAlias = Any
"""Results of :mod:`reconcile.meter`, a floor above: read here, never imported."""


def said(voice: Voice, remarks: tuple[Remark, ...]) -> tuple[str, ...]:
    """Say remarks on a reading, each once."""
    return tuple(dict.fromkeys(tell(voice, REMARKS, r.code, r.figures) for r in remarks))


def remark(voice: Voice, one: Remark) -> str:
    """Say one step, or what settles a doubt."""
    return tell(voice, STEPS, one.code, one.figures)


def doubts(result: FieldTestResult) -> tuple[str, ...]:
    """Say why the runs carry no verdict."""
    return tuple(tell(result.voice, DOUBTS, d.code, d.figures) for d in result.doubts)


def places(doubt: float) -> float:
    """Return the step to which a registration is written [%]: to its uncertainty, never finer than a hundredth.

    Examples
    --------
    >>> places(0.15), places(2.4), places(35.0)
    (0.01, 0.1, 1.0)
    """
    return 0.01 if doubt < 0.2 else 0.1 if doubt < 20.0 else 1.0


def registration_words(voice: Voice, told: Registration) -> tuple[str, str]:
    """Return the registration and its expanded uncertainty, written alike wherever they are printed."""
    step = places(told.expanded_percent)
    return voice.number(told.percent, step), voice.number(told.expanded_percent, step)


def headline(result: FieldTestResult) -> str:
    """Return the answer in one sentence, and which circuit was found where it is what the test found."""
    found = result.circuit is not None and result.registration is None and not result.dangers
    if not found or result.verdict == "counts-with-main-off":
        return _headline(result)
    rest = "" if result.verdict == "not-judged" else f" {_headline(result)}"
    return f"{branch_found(result)[0]}{rest}"


def _headline(result: FieldTestResult) -> str:
    voice, told = result.voice, result.registration
    limits = f"{100.0 - result.tolerance_percent:g} to {100.0 + result.tolerance_percent:g} %"
    if result.verdict == "urgent":
        return "Stop: these readings hold a sign of danger. Call the utility's emergency line before anything else."
    if result.verdict == "counts-with-main-off":
        reading = next(m for m in result.main_off if m.zone == "outside")
        cost = "" if reading.cost_a_month is None else f", about {voice.about_money(reading.cost_a_month)}"
        return (
            f"The meter counts about {voice.watts(reading.watts)} with the main off "
            f"({voice.number(reading.kwh_a_month)} kWh a month{cost}): something acts ahead of the main, or the meter "
            "creeps."
        )
    if result.verdict == "not-judged":
        if any(quiet.watts for quiet in result.quiet):
            return "A quiet reading does not judge the meter by itself: a known load does."
        return "There is nothing to judge yet."
    if told is None:
        if result.verdict == "inside":
            still = not any(m.watts for m in result.main_off)
            did = (
                "stood still with the main off, as it should"
                if still
                else "counts no more with the main off than may be nothing"
            )
            return f"The meter {did}. That says nothing of how it counts a load."
        return "These readings do not tell whether the meter is right."
    percent, doubt = registration_words(voice, told)
    if any(doubt.code == "constant-refuted" for doubt in result.doubts):
        return (
            "No verdict yet: the count and the meter's own kWh do not agree, so the Wh a flash or turn is most likely "
            "written wrong. Read it off the meter's face again, correct it, and judge again."
        )
    odd = next((d.figures for d in result.doubts if d.code == "runs-disagree"), None)
    if odd is not None:
        return _one_is_odd(voice, odd, percent, doubt, _explained(result))
    if result.doubtful and told.sense == "right" and all(d.code.startswith("assumed") for d in result.doubts):
        if told.agrees:
            return (
                f"The readings agree with a right meter ({percent} %, give or take {doubt}), but they rest on something "
                "that was not read."
            )
        return (
            f"These readings cannot tell whether the meter is right: they give {percent} % (give or take {doubt}), and "
            "rest on something that was not read."
        )
    if result.doubtful:
        return f"These readings cannot tell whether the meter is right: they give {percent} %, {_but(result)}."
    off = voice.number(abs(told.percent - 100.0), places(told.expanded_percent))
    sense = "fast" if told.percent > 100.0 else "slow"
    if result.verdict == "outside":
        said = f"The meter reads about {off} % {sense} (give or take {doubt}), outside the {limits} allowed"
        if sum(run.repeats for run in result.runs) == 1:
            if (
                result.runs[0].kind != "plug-in"
            ):  # nobody is sent behind a cover again before the test that opens nothing
                return (
                    f"{said}, by one run alone, behind a cover: run a known load through a plug-in meter first. A test by "
                    "the utility is warranted where that agrees."
                )
            return f"{said}, by one run alone: make it twice more. A test by the utility is warranted where they agree."
        return f"{said}: a test by the utility is warranted."
    if result.verdict == "inside":
        return f"The meter reads {percent} % of the true energy (give or take {doubt}), inside the {limits} allowed."
    if told.sense == "right":
        low, high = (voice.number(v, places(told.expanded_percent)) for v in (told.low_percent, told.high_percent))
        needed = voice.number(result.tolerance_percent + told.expanded_percent, 0.1)
        if told.agrees:
            return (
                f"The readings agree with a right meter ({percent} %, give or take {doubt}), but with these instruments "
                f"an error must pass about {needed} % before it can be detected."
            )
        return (
            f"These readings cannot tell whether the meter is right: they give {percent} % (give or take {doubt}), so "
            f"anything from {low} to {high} %. An error must pass about {needed} % before they detect it."
        )
    return (
        f"The meter seems {off} % {sense} (give or take {doubt}), which these instruments cannot tell from the "
        f"{limits} allowed."
    )


def _but(result: FieldTestResult) -> str:
    """Say why readings that give a figure carry no verdict: made once, something unread, or at odds among themselves."""
    codes = {doubt.code for doubt in result.doubts}
    if "unusual-once" in codes and codes <= {"unusual-once", "constant-alone", "explained-by"}:
        return "but by one run alone, and one slip of the pen would make as much: make it twice more"
    if result.by_constant or codes == {"constant-alone"}:
        return "but all of it rests on what one flash or turn is worth, which may be written wrong: read the meter's kWh over hours too"
    assumed = {code for code in codes if code.startswith("assumed")}
    if assumed == codes:
        return "but they rest on something that was not read"
    return "but they do not hold together" + (", and rest on something that was not read" if assumed else "")


def _explained(result: FieldTestResult) -> Any:
    return next((d.figures["guess"] for d in result.doubts if d.code == "explained-by"), None)


def _one_is_odd(voice: Voice, f: Any, percent: str, doubt: str, found: Any) -> str:
    """Say which run stands apart, and what in it to look at first."""
    look = look_at(voice, f["run"], found)
    return (
        f"No verdict yet: {f['run']} ({voice.number(f['percent'])} %) looks misread: look at {look}. The {f['others']} other "
        f"runs agree at {percent} % (give or take {doubt}). Correct it, and judge again."
    )


def branch_found(result: FieldTestResult) -> tuple[str, ...]:
    """Say which circuit the watts hang on, and whether its wiring takes them; nothing where no breaker shows it."""
    found = result.circuit
    if found is None:
        if not result.branches:
            return ()
        return ("No breaker that was switched off slows the meter by more than a little.",)
    slows = f"The breaker of circuit {found.circuit} slows the meter by about {result.voice.watts(found.fell_watts)}"
    if found.unplugged:
        return (f"{slows} with everything on it unplugged: its wiring itself may leak, in a wall or in the ground.",)
    return (f"{slows}: the load is on that circuit.",)


def reasons(result: FieldTestResult) -> tuple[str, ...]:
    """Return what the verdict rests on."""
    return tuple(dict.fromkeys(_reasons(result)))


def _reasons(result: FieldTestResult) -> Iterator[str]:
    voice = result.voice
    yield from doubts(result)
    if result.dangers:  # nothing stands beside a sign of danger that could be read as "nothing is broken"
        return
    for other in [g for g in result.guesses if not _said_already(result, g)][:2] if result.doubts else ():
        yield guess(voice, other)
    judged = [run for run in result.runs if run.registration_percent is not None]
    if result.registration is not None and len(judged) > 1:
        percent, doubt = registration_words(voice, result.registration)
        yield f"{_together(result)}: registration {percent} % (give or take {doubt})."
    for run in judged:
        yield _run(voice, run, result.tolerance_percent)
    for run in result.runs:
        if run not in judged:
            yield f"{run.label}: not judged. {' '.join(run.notes)}"
    for reading in result.main_off:
        for note in reading.notes:
            yield f"Main off: {note}"
    for quiet in result.quiet:
        if quiet.watts:
            yield _quiet(voice, quiet)
    yield from branch_found(result)
    for assumed in result.assumed:
        if not any(d.code == f"assumed-{assumed.code}" for d in result.doubts):
            yield f"Assumed: {assumption(voice, assumed)}"


def _quiet(voice: Voice, quiet: Any) -> str:
    cost = "" if quiet.cost_a_month is None else f", about {voice.about_money(quiet.cost_a_month)}"
    month = f"{voice.number(quiet.kwh_a_month)} kWh a month if it stays so{cost}"
    watts = f"{voice.number(quiet.watts)} W"
    if not quiet.on:
        return f"With all off that can be, the meter counts about {watts}: {month}."
    said = f"With only {listed(list(quiet.on))} left on, the meter counts about {watts}: {month}."
    if quiet.cycling:
        said += (
            f" What starts and stops by itself ({listed(list(quiet.cycling))}) may make the next hour quite different."
        )
    if quiet.listed_watts:
        share = voice.number(100.0 * quiet.watts / quiet.listed_watts)
        said += (
            f" The list gives what was left on about {voice.number(quiet.listed_watts)} W: the meter counts {share} %."
        )
    return said


def joint_cautions(result: FieldTestResult) -> tuple[str, ...]:
    """Say at which outlets the volts fell too far under load, before any result; a danger says so by itself."""
    if result.dangers:
        return ()
    sagged = tuple(one for run in result.runs for one in run.remarks if one.code == "outlet-sag")
    return tuple(f"CAUTION: {told}" for told in said(result.voice, sagged))


def category_dangers(result: FieldTestResult) -> tuple[str, ...]:
    """Say which instruments were used where they must not be, before any result of theirs."""
    return tuple(
        f"DANGER: {told} Take no more readings with it. Have the work done with an instrument of the right category."
        for told in category_warnings(result.unfit)
    )


def _together(result: FieldTestResult) -> str:
    count, every = result.registration.runs, sum(run.repeats for run in result.runs)
    return f"All {count} runs together" if count == every else f"The {count} runs that agree, together"


def _said_already(result: FieldTestResult, one: Any) -> bool:
    return any(d.code == "explained-by" and d.figures["guess"] == one for d in result.doubts)


def _run(voice: Voice, run: JudgedRun, tolerance: float) -> str:
    step = places(run.expanded_percent or 0.0)
    word = {"inside": "inside", "outside": "outside", "cannot-tell": "cannot tell"}[run.zone]
    if any(note.code in ("set-aside-odd", "set-aside-disturbed") for note in run.remarks):
        word = "left out"
    how = "plug-in meter" if run.kind == "plug-in" else "legs"
    only = ", indicative" if run.indicative and run.load != "other" else ""
    point = "" if run.load == "other" else f", {run.load} load{only}"
    return (
        f"{run.label} ({how}{point}): true {true_power(run)}, meter {voice.number(run.meter_w)} W, "
        f"registration {voice.number(run.registration_percent, step)} % (from {voice.number(run.low_percent, step)} to "
        f"{voice.number(run.high_percent, step)}) against {100.0 - tolerance:g} to {100.0 + tolerance:g} %: {word}."
    )


def true_power(run: JudgedRun) -> str:
    """Write the load's power, and what a right meter shows of it where that is not the same."""
    voice = run.voice
    own, shown = voice.number(run.measured_w), voice.number(run.expected_w)
    return f"{own} W" if own == shown or run.expected_w is None else f"{own} W (a right meter shows {shown} W)"


def next_steps(result: FieldTestResult) -> tuple[str, ...]:
    """Return what comes next, in order of hazard; nothing here asks to open anything."""
    before = URGENT if result.dangers else ()
    return tuple(dict.fromkeys((*before, *(remark(result.voice, step) for step in result.steps))))


def instruments(result: FieldTestResult) -> tuple[tuple[str, str], ...]:
    """Return what was used for what, and its limit of error."""
    made = []
    for used in result.used:
        f = used.figures
        digits = f" + {f['digits']:g} digits of {f['resolution']:g}" if f["digits"] else ""
        limits = f"{f['percent']:g} % of reading{digits}"
        made.append((f["quantity"], f"{f['name']}: {limits}" + (" (taken as typical)" if f["assumed"] else "")))
    return tuple(made)


def observation(seen: Observation) -> str:
    """Say a site reading in one sentence, with its figures."""
    voice, f = seen.voice, seen.figures
    if seen.kind == "registration":
        how = " and ".join(
            {"plug-in": "a plug-in meter", "clamps": "readings at the legs"}[k]
            for k in sorted(f["kinds"], reverse=True)
        )
        runs = "one run" if f["runs"] == 1 else f"{f['runs']} runs"
        step = places(f["expanded"])
        return (
            f"Against {how} the meter registers {voice.number(f['percent'], step)} % (give or take "
            f"{voice.number(f['expanded'], step)}), from {runs}."
        )
    bound = seen.value if seen.kind == "main-off" else f.get("most", seen.value)
    watts = (
        f"at most {voice.figure(bound)} W"
        if seen.at_most
        else f"{voice.number(seen.value)} W (give or take {voice.number(max(f['expanded'], 1.0))})"
    )
    if seen.kind == "main-off":
        return f"With the main breaker off: {watts}."
    left = f"only {', '.join(seen.on)} on" if seen.on else "everything off"
    return f"Quiet, with {left}: {watts}, by {WAYS[f['way']]}."
