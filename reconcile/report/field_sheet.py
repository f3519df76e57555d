"""The field test on paper: the plan and its verdict as text, the page to fill in on site, the record for the utility.

The householder's page and the qualified person's are two pages: nobody holds a page with steps that are not theirs.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Literal

from reconcile import __version__
from reconcile.meter.component_words import spoken_component
from reconcile.report.html import GENERATOR, environment, picture
from reconcile.report.words import clean, day, number, shorten

if TYPE_CHECKING:
    from reconcile.meter.judged import FieldTestResult, JudgedRun
    from reconcile.plan.field_plan import Plan
    from reconcile.plan.field_steps import PlanStep

WIDTH = 100
PHOTOGRAPHS = (
    "the meter's whole face, its number and constants readable",
    "its display or dials before and after each run, a watch beside it",
    "the plug-in meter's display during each run",
    "the bill's line with number, readings and dates",
    "from a distance, conduit, ring and seal as they are",
)
"""What to photograph, touching nothing."""
ZONES = {"inside": "● inside", "outside": "▲ outside", "cannot-tell": "○ cannot tell"}
"""Shape and word of each zone: the shape carries it, colour never alone."""


def plan_text(plan: Plan, width: int = WIDTH) -> str:
    """Return a plan as plain text, every caution before its step.

    Parameters
    ----------
    plan : Plan
    width : int
        Columns there are.

    Returns
    -------
    str
    """
    lines: list[str] = [f"Field test for {plan.house}", ""]
    lines += _wrap(plan.headline, width)
    lines += _list(plan.cautions, width, "! ")
    for note in plan.notes:
        lines += _wrap(note, width, "- ")
    for place, step in enumerate(plan.steps, start=1):
        lines += ["", f"{place}. {step.title} ({step.who})"]
        lines += _list(step.cautions, width, "   ! Caution: ")
        lines += _list(step.do, width, "   - ")
        lines += _list(step.expect, width, "   Expect: ")
        lines += _list(step.proves, width, "   It shows: ")
    if plan.resolutions:
        lines += ["", "What each test can tell"]
        for told in plan.resolutions:
            can = "" if told.resolves is None else ("; it would tell this one" if told.resolves else "; not this one")
            lines += _wrap(
                f"{told.title}: good to {told.expanded_percent:.1f} %, tells errors of "
                f"{told.smallest_error_percent:.1f} % and more{can}.",
                width,
                "- ",
            )
    return "\n".join(str(clean(line)) for line in lines).rstrip() + "\n"


def judge_text(result: FieldTestResult, width: int = WIDTH) -> str:
    """Return a judged field test as plain text, signs of danger first.

    Parameters
    ----------
    result : FieldTestResult
    width : int
        Columns there are.

    Returns
    -------
    str
    """
    lines = [*_list(result.cautions, width, "! "), *_wrap(result.headline, width), ""]
    lines += _list(result.reasons, width, "- ")
    for run in result.runs:
        lines += ["", f"{run.label}: {ZONES[run.zone]}"]
        lines += _list(run.notes, width, "   ")
    if result.averages:
        lines += ["", "Average registration"]
        for average in result.averages:
            only = ", indicative only" if average.indicative else ""
            lines += _wrap(
                f"{average.method} = {average.formula}: {average.percent:.1f} % ± {average.expanded_percent:.1f} "
                f"({ZONES[average.zone]}{only})",
                width,
                "   ",
            )
    if result.next_steps:
        lines += ["", "Next"]
        for place, step in enumerate(result.next_steps, start=1):
            lines += _wrap(step, width, f"{place}. ")
    return "\n".join(str(clean(line)) for line in lines).rstrip() + "\n"


def _list(items: tuple[str, ...], width: int, mark: str) -> Iterator[str]:
    for item in items:
        yield from _wrap(item, width, mark)


def _wrap(text: str, width: int, mark: str = "") -> list[str]:
    return textwrap.wrap(str(clean(text)), width, initial_indent=mark, subsequent_indent=" " * len(mark))


def sheet_html(plan: Plan, for_whom: Literal["householder", "qualified"] = "householder") -> str:
    """Return the page to fill in on site: one printed page, cautions before each step.

    Parameters
    ----------
    plan : Plan
    for_whom : {'householder', 'qualified'}
        The householder's page holds nothing that needs a cover removed; the qualified person's is a page of its own.

    Returns
    -------
    str
        HTML that needs nothing else.
    """
    qualified = for_whom == "qualified"
    wanted = "a qualified person" if qualified else "anyone"
    steps = [step for step in plan.steps if step.who == wanted]
    return (
        environment()
        .get_template("fieldtest_sheet.html")
        .render(
            plan=plan,
            steps=steps,
            cautions=plan.cautions,
            qualified=qualified,
            columns=[_form(step) for step in steps],
            photographs=PHOTOGRAPHS,
            generator=f"{GENERATOR} {__version__}",
        )
    )


def _form(step: PlanStep) -> dict[str, Any]:
    """Name the columns of a step's form, and how many blank rows it gets."""
    rows = {1: 1, 2: 3, 3: 1, 4: 0, 5: 12}.get(step.hazard, 1)
    if step.title.startswith("Breaker"):
        rows = 4
    return {"names": step.form, "rows": rows, "twice": step.title.startswith("Breaker")}


def plan_html(plan: Plan) -> str:
    """Return a plan to stand in a notebook's cell or another page, every caution before its step.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    str
        HTML whose style keeps to itself.
    """
    return environment().get_template("fieldtest_plan.html").render(plan=plan)


def record_snippet(result: FieldTestResult) -> str:
    """Return the evidence in short, to stand in a notebook's cell."""
    return record_html(result, whole=False)


def record_html(result: FieldTestResult, *, whole: bool = True) -> str:
    """Return the evidence for the utility: facts, readings, budget, photographs.

    Parameters
    ----------
    result : FieldTestResult
    whole : bool
        A page of its own; else what stands in a notebook's cell.

    Returns
    -------
    str
        HTML that needs nothing else.
    """
    from reconcile.report.field_figures import budget_contributions, verdict_zones

    judged = [run for run in result.runs if run.registration_percent is not None]
    pictures = {"zones": picture(verdict_zones, result)} if judged else {}
    if judged:
        pictures["budget"] = picture(budget_contributions, surest(judged))
    return (
        environment()
        .get_template("fieldtest_record.html")
        .render(
            result=result,
            whole=whole,
            runs=[_run(run) for run in judged],
            unjudged=[run for run in result.runs if run not in judged],
            main_off=[_still(reading, result.currency) for reading in result.main_off],
            budget=_budget(surest(judged)) if judged else None,
            pictures=pictures,
            photographs=PHOTOGRAPHS,
            zones=ZONES,
            generator=f"{GENERATOR} {__version__}",
        )
    )


def surest(runs: list[JudgedRun]) -> JudgedRun:
    """Return the run with the least doubt."""
    return min(runs, key=lambda run: run.expanded_percent or 0.0)


def _run(run: JudgedRun) -> dict[str, str | tuple[str, ...]]:
    return {
        "label": shorten(run.label, 40),
        "place": ", ".join(_place(run)),
        "how": "plug-in meter" if run.kind == "plug-in" else "volts and amps of the legs",
        "measured": f"{number(run.measured_w)} W",
        "meter": f"{number(run.meter_w)} W",
        "registration": f"{number(run.registration_percent, 0.1)} %",
        "limits": f"{number(run.low_percent, 0.1)} to {number(run.high_percent, 0.1)} %",
        "zone": ZONES[run.zone],
        "notes": run.notes,
    }


def _place(run: JudgedRun) -> Iterator[str]:
    if run.day is not None:
        yield day(run.day)
    if run.load != "other":
        yield f"{run.load} load" + (", indicative" if run.indicative else "")
    if run.repeats > 1:
        yield f"{run.repeats} repeats"


def _still(reading: Any, currency: str) -> dict[str, str | tuple[str, ...]]:
    counted = reading.watts is not None
    bound = "–" if reading.at_most_watts is None else f"at most {number(reading.at_most_watts)} W"
    cost = ""
    if reading.zone == "outside" and reading.kwh_a_month is not None:
        cost = f"{number(reading.kwh_a_month)} kWh a month"
        if reading.cost_a_month is not None:
            cost += f", about {number(reading.cost_a_month)} {currency}"
    return {
        "told": f"{number(reading.watts)} W counted" if counted else bound,
        "zone": ZONES[reading.zone],
        "cost": cost,
        "day": day(reading.day),
        "notes": reading.notes,
    }


def _budget(run: JudgedRun) -> dict[str, Any]:
    lines = sorted(run.budget, key=lambda c: -c.share)
    return {
        "label": shorten(run.label, 40),
        "lines": [
            {
                "name": spoken_component(c.name),
                "value": f"{c.value:.6g} {c.unit}".strip(),
                "limit": f"{c.limit:.3g} {c.unit}".strip(),
                "distribution": c.distribution,
                "divisor": f"{c.divisor:.3f}",
                "sensitivity": f"{c.sensitivity:.3g}",
                "contribution": f"{abs(c.contribution):.3f}",
                "share": f"{100.0 * c.share:.0f} %",
            }
            for c in lines
            if c.contribution
        ],
        "standard": f"{number(run.standard_percent, 0.01)} %",
        "expanded": f"{number(run.expanded_percent, 0.01)} %",
        "factor": number(run.coverage_factor, 0.01),
        "freedom": number(run.degrees_of_freedom) if math.isfinite(run.degrees_of_freedom or math.inf) else "infinite",
        "interval": run.interval,
        "ratio": number(run.test_uncertainty_ratio, 0.01),
        "monte_carlo": f"{number(run.monte_carlo_low_percent, 0.01)} to {number(run.monte_carlo_high_percent, 0.01)} %",
    }
