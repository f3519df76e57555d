"""The ladder of next steps, in order of hazard: paper, looking, a plug-in meter, the main breaker with covers on,
the utility's people, and last a qualified person at the panel.
"""

from __future__ import annotations

from collections.abc import Sequence

from reconcile.facts import Finding
from reconcile.house import House
from reconcile.result import Measure, Step
from reconcile.texts import safety

PAPER, LOOK, PLUG, MAIN, UTILITY, QUALIFIED = range(6)


def paper_steps(findings: Sequence[Finding]) -> list[Step]:
    """What the paper asks for, each thing once."""
    first = Step(
        "Compare the meter's number and reading on the wall with those on the last bill: look, do not touch.",
        PAPER,
        tuple(safety.OUTSIDE_LOOK),
        "That the bills are for this home's meter and end in a true reading.",
    )
    asked = dict.fromkeys(finding.do for finding in findings if finding.do)
    return [first, *(Step(text, PAPER) for text in asked)]


def reading_log() -> Step:
    """The householder's own dated readings."""
    return Step(
        "Read the meter yourself at the same hour for a week, and write down date, hour, reading and what ran.",
        LOOK,
        tuple(safety.OUTSIDE_LOOK),
        "Whether the use is high now, on which days, and whether the utility's next reading is right.",
    )


def base_load() -> Step:
    """The base load overnight."""
    return Step(
        "Read the meter last thing at night and first thing in the morning with everything off that can be: the "
        "difference over the hours is the base load. Enter it as a [[quiet]] reading in field_test.toml.",
        LOOK,
        tuple(safety.OUTSIDE_LOOK),
        "A load that runs round the clock shows in full at night; a fast meter shows only its per cent of very little.",
    )


def known_load() -> Step:
    """One known steady load through a plug-in meter."""
    return Step(
        "Run one steady load of known use, such as a portable heater, through a plug-in energy meter: off, on for a "
        "quarter of an hour or more, off, timed on the meter's display or pulses. Enter it as a [[run]].",
        PLUG,
        tuple(safety.PLUG_IN),
        "The meter's registration: how many watt-hours it counts for each one used, with no cover removed.",
    )


def main_off() -> Step:
    """The main breaker off with the covers on."""
    return Step(
        "If it is safe in this home: main breaker off, covers on, and watch the meter for fifteen minutes. Enter it as "
        "[[main_off]].",
        MAIN,
        tuple(safety.MAIN_OFF),
        "A sound meter stands still. If it counts, something acts ahead of the breaker, or the meter creeps.",
    )


def elimination() -> Step:
    """Breaker by breaker, covers on."""
    return Step(
        "Watch the meter while one branch breaker after another is switched off, covers on, and note which one makes "
        "it slow down by the watts sought.",
        MAIN,
        tuple(safety.MAIN_OFF),
        "Which circuit feeds the load.",
    )


def standing_meter() -> Step:
    """A house that is billed nothing at all."""
    return Step(
        "Every bill says 0 kWh: look whether the meter counts while something runs, and ask for a true reading.",
        LOOK,
        tuple(safety.OUTSIDE_LOOK),
        "Whether the meter counts at all; what it did not count may be billed later.",
    )


def walk_through() -> Step:
    """Look for what the list lacks."""
    return Step(
        "Walk through the house, attic, garage and yard, and add to loads.csv what draws power and is not on the list.",
        LOOK,
        (),
        "What the list lacks; with it, the bands become narrower.",
    )


def utility_test() -> Step:
    """The utility's own test of the meter."""
    return Step(
        "Ask the utility in writing for a meter test, and to be present: often free on request; check your local rule.",
        UTILITY,
        (),
        "The meter's registration at light and full load against a reference standard, which settles it.",
    )


def panel_test() -> Step:
    """Readings at the panel: qualified persons only."""
    return Step(
        "Last, and only if the steps above leave it open: readings at the panel by a qualified person (as a rule a "
        "licensed electrician), planned beforehand with `reconcile plan`.",
        QUALIFIED,
        tuple(safety.QUALIFIED_ONLY),
        "Volts, amps and power of each leg beside the meter's display, with their doubt.",
    )


def measuring(measures: Sequence[Measure]) -> list[Step]:
    """What to measure next, the best three."""
    return [
        Step(
            f"Measure {measure.load}: {measure.how}.",
            PLUG if "plug-in" in measure.how else LOOK,
            tuple(safety.PLUG_IN) if "plug-in" in measure.how else (),
            f"With this known, the bills would settle the meter to within about {measure.doubt_percent_after:.0f} %.",
        )
        for measure in measures[:3]
    ]


def ladder(
    decision: str,
    house: House,
    findings: Sequence[Finding],
    measures: Sequence[Measure],
    *,
    checked: bool,
    unlisted: bool = False,
) -> tuple[Step, ...]:
    """Lay out the steps that a decision asks for, in order of hazard.

    Parameters
    ----------
    decision : str
        A decision code.
    house : House
    findings : sequence of Finding
    measures : sequence of Measure
    checked : bool
        Whether site readings have been entered already.
    unlisted : bool
        Whether something that is not on the list is likely there.

    Returns
    -------
    tuple of Step
        ``hazard`` never falls.
    """
    if decision == "urgent":
        return tuple(Step(text, PAPER) for text in safety.dangers(house.dangers))
    asked = [finding for finding in findings if finding.settles] or list(findings)
    steps: list[Step]
    if decision == "explained":
        steps = [Step(text, PAPER) for text in dict.fromkeys(f.do for f in asked if f.do)]
        if not any(bill.kwh for bill in house.bills):
            steps.append(standing_meter())
        if unlisted:
            steps += [walk_through(), base_load()]
        steps = steps or [Step("Nothing needs to be done. Keep reading the meter now and then.", PAPER)]
    elif decision == "paperwork":
        steps = [*paper_steps(asked), reading_log()]
    elif decision == "not-enough-data":
        steps = [Step(text, PAPER) for text in missing(house)]
        steps += [reading_log()]
    elif decision == "inventory":
        steps = [*paper_steps(findings), reading_log(), *measuring(measures)]
        steps += [base_load(), known_load()]
    elif decision == "outside-check":
        steps = [*paper_steps(findings), reading_log(), base_load()]
        steps += [elimination()] if checked else [known_load(), main_off(), utility_test()]
    else:
        looks = [] if checked else [base_load(), known_load(), main_off()]
        steps = [*paper_steps(findings), reading_log(), *looks, utility_test(), panel_test()]
    return tuple(sorted(steps, key=lambda step: step.hazard))


def missing(house: House) -> tuple[str, ...]:
    """Say what would let the bills be weighed."""
    wanted = []
    if len(house.bills) < 12:
        wanted.append(
            f"Add bills until there are twelve or more ({len(house.bills)} now); the utility keeps past ones."
        )
    if not house.loads:
        wanted.append("Add loads.csv: what draws power, its watts, its hours (`reconcile loads` lists typical ones).")
    if house.weather is None:
        wanted.append("Add weather.csv: a year of daily temperatures from the nearest public weather station.")
    return tuple(wanted)
