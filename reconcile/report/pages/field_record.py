"""The judged field test: its text for a terminal, and the record of evidence for the utility."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from reconcile import __version__
from reconcile.report.drawn.picture import picture
from reconcile.report.pages.field_sheet import PHOTOGRAPHS, WIDTH, listing, wrap
from reconcile.report.pages.html import GENERATOR
from reconcile.report.pages.templating import environment
from reconcile.report.views.field_readings import NO_DATE, carried, constant_words, missing, people, readings
from reconcile.report.words import clean, shorten
from reconcile.texts.components import spoken_component
from reconcile.texts.field.field_test import true_power

if TYPE_CHECKING:
    from reconcile.house import House
    from reconcile.house.site import FieldTest
    from reconcile.meter.judged import FieldTestResult, JudgedRun

BLANKS = ("Account and service address", "Read by (print)", "License or certification", "Date", "Signature")
"""What is written on the record by hand before it is sent."""
ZONES = {"inside": "● inside", "outside": "▲ outside", "cannot-tell": "○ cannot tell"}
"""Shape and word of each zone: the shape carries it, colour never alone."""


def judge_text(result: FieldTestResult, width: int = WIDTH) -> str:
    """Return a judged field test as plain text, signs of danger first.

    Parameters
    ----------
    width : int
        Columns there are.
    """
    lines = [*listing(result.cautions, width, "! "), *wrap(result.headline, width), ""]
    lines += listing(result.reasons, width, "- ")
    for run in result.runs if not result.dangers else ():
        lines += ["", f"{run.label}: {ZONES[run.zone]}"]
        lines += listing(run.notes, width, "   ")
    if result.averages and not result.dangers:
        lines += ["", "Average registration"]
        for average in result.averages:
            only = ", indicative only" if average.indicative else ""
            lines += wrap(
                f"{average.method} = {average.formula}: {average.percent:.1f} % ± {average.expanded_percent:.1f} "
                f"({ZONES[average.zone]}{only})",
                width,
                "   ",
            )
    if result.next_steps:
        lines += ["", "Next"]
        for place, step in enumerate(result.next_steps, start=1):
            lines += wrap(step, width, f"{place}. ")
    return "\n".join(str(clean(line)) for line in lines).rstrip() + "\n"


def record_snippet(result: FieldTestResult) -> str:
    """Return the evidence in short, to stand in a notebook's cell."""
    return record_html(result, whole=False)


def record_html(
    result: FieldTestResult, test: FieldTest | None = None, *, house: House | None = None, whole: bool = True
) -> str:
    """Return the evidence for the utility: facts, readings, budget, photographs.

    Parameters
    ----------
    test : FieldTest, optional
        What was written down; with it the record also says who read with what, and every reading.
    house : House, optional
        With it the record also says what one count of the meter is worth, and what a run in its interval data shows.
    whole : bool
        A page of its own; else what stands in a notebook's cell.

    Returns
    -------
    str
        HTML that needs nothing else.
    """
    from reconcile.report.drawn.field_figures import budget_contributions, verdict_zones
    from reconcile.report.views.interval_view import run_told

    # beside a sign of danger no figure stands: the readings as written do
    judged = [run for run in result.runs if run.registration_percent is not None and not result.dangers]
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
            unjudged=[run for run in result.runs if run not in judged and not result.dangers],
            main_off=[_still(reading) for reading in result.main_off],
            budget=_budget(surest(judged)) if judged else None,
            pictures=pictures,
            photographs=PHOTOGRAPHS,
            people=() if test is None else people(test.records),
            blanks=BLANKS,
            missing=() if test is None else missing(test),
            by_night="" if house is None or result.dangers else run_told(house),
            constant="" if house is None else constant_words(house),
            carried=() if test is None else carried(test),
            readings=() if test is None else readings(test),
            zones=ZONES,
            generator=f"{GENERATOR} {__version__}",
        )
    )


def surest(runs: list[JudgedRun]) -> JudgedRun:
    """Return the run with the least doubt, of those that were not set aside where there is one."""
    kept = [run for run in runs if not any(remark.code.startswith("set-aside") for remark in run.remarks)]
    return min(kept or runs, key=lambda run: run.expanded_percent or 0.0)


def _run(run: JudgedRun) -> dict[str, str | tuple[str, ...]]:
    return {
        "label": shorten(run.label, 40),
        "place": ", ".join(_place(run)),
        "how": "plug-in meter" if run.kind == "plug-in" else "volts and amps of the legs",
        "measured": true_power(run),
        "meter": f"{run.voice.number(run.meter_w)} W",
        "registration": f"{run.voice.number(run.registration_percent, 0.1)} %",
        "limits": f"{run.voice.number(run.low_percent, 0.1)} to {run.voice.number(run.high_percent, 0.1)} %",
        "zone": ZONES[run.zone],
        "notes": run.notes,
    }


def _place(run: JudgedRun) -> Iterator[str]:
    yield NO_DATE if run.day is None else run.voice.short_day(run.day)
    if run.load != "other":
        yield f"{run.load} load" + (", indicative" if run.indicative else "")
    if run.repeats > 1:
        yield f"{run.repeats} repeats"


def _still(reading: Any) -> dict[str, str | tuple[str, ...]]:
    counted = reading.watts is not None
    bound = "–" if reading.at_most_watts is None else f"at most {reading.voice.number(reading.at_most_watts)} W"
    cost = ""
    if reading.zone == "outside" and reading.kwh_a_month is not None:
        cost = f"{reading.voice.number(reading.kwh_a_month)} kWh a month"
        if reading.cost_a_month is not None:
            cost += f", {reading.voice.about_money(reading.cost_a_month)}"
    return {
        "told": f"{reading.voice.number(reading.watts)} W counted" if counted else bound,
        "zone": ZONES[reading.zone],
        "cost": cost,
        "day": NO_DATE if reading.day is None else reading.voice.short_day(reading.day),
        "notes": reading.notes,
    }


def _budget(run: JudgedRun) -> dict[str, Any]:
    from reconcile.report.drawn.field_figures import LEAST_SHARE

    number = run.voice.number
    lines = sorted(run.budget, key=lambda c: -c.share)
    return {
        "label": shorten(run.label, 40),
        "lines": [
            {
                "name": spoken_component(c.name),
                "value": f"{number(c.value) if abs(c.value) >= 1000.0 else f'{c.value:.6g}'} {c.unit}".strip(),
                "limit": f"{c.limit:.3g} {c.unit}".strip(),
                "distribution": c.distribution,
                "divisor": f"{c.divisor:.3f}",
                "sensitivity": f"{c.sensitivity:.3g}".replace("-", "−"),
                "contribution": f"{abs(c.contribution):.3f}",
                "share": f"{100.0 * c.share:.0f} %" if c.share >= LEAST_SHARE else "under 1 %",
            }
            for c in lines
            if c.contribution
        ],
        "standard": f"{number(run.standard_percent, 0.01)} %",
        "expanded": f"{number(run.expanded_percent, 0.01)} %",
        "factor": number(run.coverage_factor, 0.01),
        "freedom": number(run.degrees_of_freedom) if math.isfinite(run.degrees_of_freedom or math.inf) else "infinite",
        "interval": "Monte Carlo" if run.interval == "monte carlo" else run.interval,
        "ratio": number(run.test_uncertainty_ratio, 0.01),
        "monte_carlo": f"{number(run.monte_carlo_low_percent, 0.01)} to {number(run.monte_carlo_high_percent, 0.01)} %",
    }
