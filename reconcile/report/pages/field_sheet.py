"""The plan of a field test on paper: as text, as a page for a notebook, and as the sheets to fill in on site.

The householder's sheet and the electrician's are two pages: nobody holds a page with steps that are not theirs.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any, Literal

from reconcile import __version__
from reconcile.meter.resolve import planning_meter
from reconcile.records import dataclass
from reconcile.report.pages.html import GENERATOR
from reconcile.report.pages.templating import environment
from reconcile.report.words import clean, shorten
from reconcile.texts import safety
from reconcile.texts.field.field_keys import INTERVAL_RUN
from reconcile.texts.field.field_plan_words import TESTS, StepWords, lines, step_words
from reconcile.texts.safety import Caution, Reader, Signal

if TYPE_CHECKING:
    from reconcile.meter.resolve import Resolution
    from reconcile.plan.field_plan import Plan

WIDTH = 100
PHOTOGRAPHS = (
    "the meter's whole face, its number and constants readable",
    "its display or dials before and after each run, a watch beside it",
    "the plug-in meter's display during each run",
    "the bill's line with number, readings and dates",
    "from a distance, conduit, ring and seal as they are",
)
"""What to photograph, touching nothing."""
BY_NIGHT = "By night, read from the interval data, with nobody at the meter"
TRUE_WATTS = {
    "split-phase": "V1 x A1 x PF + V2 x A2 x PF",
    "network": "V1 x A1 x PF + V2 x A2 x PF; for a load between two legs all of it x 0.866",
    "two-wire": "V x A x PF",
    "three-phase": "V1 x A1 x PF + V2 x A2 x PF + V3 x A3 x PF",
}
"""True watts from the legs, PF the load's power factor (1 for a plain heater); after Blondel."""


POINTS = 9.4
"""Size of print on the pages [pt]: with the tables on the other side they are one sheet of paper."""


@dataclass(frozen=True, slots=True)
class Section:
    """One step on a page, the cautions that stand before it first; ``words`` is None at the head of the page."""

    cautions: tuple[Caution, ...]
    words: StepWords | None
    code: str = ""


def sections(plan: Plan, reader: Reader) -> tuple[Section, ...]:
    """Return what a reader's page of a plan holds, in order."""
    return tuple(
        Section(
            tuple(safety.CAUTIONS[code] for code in codes),
            None if step is None else step_words(step, plan.voice),
            "" if step is None else step.code,
        )
        for codes, step in plan.page(reader)
    )


def plan_text(plan: Plan, width: int = WIDTH, reader: Reader = Reader.HOUSEHOLDER) -> str:
    """Return a plan as plain text, every caution once, before the first step it belongs to.

    Parameters
    ----------
    width : int
        Columns there are.
    reader : Reader
        Panel work is told to a qualified person only.
    """
    out: list[str] = [f"Field test for {plan.house.name}", "", *wrap(plan.headline, width)]
    if plan.urgent:
        return _text([*out, *listing(plan.stop, width, "! ")])
    head, *steps = sections(plan, reader)
    qualified = reader is Reader.QUALIFIED
    warned = [f"{Signal.DANGER}: {text}" for text in plan.warnings] if qualified else []
    out += listing((*warned, *(c.text for c in head.cautions)), width, "! ")
    out += listing((*((COVERS_ON_FIRST,) if qualified else ()), *plan.notes), width, "- ")
    for place, step in enumerate(steps, start=1):
        assert step.words is not None
        out += ["", f"{place}. {step.words.title} ({step.words.who})"]
        out += listing((c.text for c in step.cautions), width, "   ! ")
        out += listing(step.words.do, width, "   - ")
        out += listing(step.words.expect, width, "   Expect: ")
        out += listing(step.words.proves, width, "   It shows: ")
    if plan.by_night and not qualified:
        out += ["", BY_NIGHT, *wrap(plan.by_night, width, "   - ")]
    out += ["", "What each test can tell"]
    for told in plan.resolutions:
        can = "" if told.resolves is None else ("; it would tell this one" if told.resolves else "; not this one")
        can += "; less sure than wanted" if told.test in plan.falls_short else ""
        out += wrap(
            f"{TESTS[told.test]}{_length(plan, told)}: good to {told.expanded_percent:.1f} %, detects errors of "
            f"{told.smallest_error_percent:.1f} % and more{can}.",
            width,
            "- ",
        )
    if reader is Reader.HOUSEHOLDER and plan.has_panel_work:
        out += ["", *wrap("Readings behind a cover are on the electrician's own page (--for electrician).", width)]
    return _text(out)


COVERS_ON_FIRST = (
    "The covers-on page comes first: meter number, quiet reading, a known load through a plug-in meter, breakers, main "
    "off (plan without --for electrician). Take both pages."
)


def _length(plan: Plan, told: Resolution) -> str:
    """How often and how long, where that was worked out."""
    if told.seconds is None:
        return ""
    times = "once" if told.repeats == 1 else f"{told.repeats} times"
    return f" ({times}, {plan.voice.number(told.seconds / 60.0)} minutes)"


def _text(lines: Iterable[str]) -> str:
    return "\n".join(str(clean(line)) for line in lines).rstrip() + "\n"


def listing(items: Iterable[str], width: int, mark: str) -> Iterator[str]:
    """Yield lines of items, each behind a mark."""
    for item in items:
        yield from wrap(item, width, mark)


def wrap(text: str, width: int, mark: str = "") -> list[str]:
    """Break a text into lines, all but the first set in under its mark."""
    return textwrap.wrap(str(clean(text)), width, initial_indent=mark, subsequent_indent=" " * len(mark))


def sheet_html(plan: Plan, for_whom: Literal["householder", "electrician"] = "householder") -> str:
    """Return the sheet to fill in on site: one printed page, each caution once, before its steps.

    Parameters
    ----------
    for_whom : {'householder', 'electrician'}
        The householder's sheet holds nothing that needs a cover removed; the electrician's is a page of its own.

    Returns
    -------
    str
        HTML that needs nothing else.

    Raises
    ------
    ValueError
        For the electrician, where the house's kind of service is not known.
    """
    reader = Reader.QUALIFIED if for_whom == "electrician" else Reader.HOUSEHOLDER
    if reader is Reader.QUALIFIED and not plan.urgent and not plan.has_panel_work:
        raise ValueError("readings at the legs cannot be planned: the house's kind of service is not known")
    template = "fieldtest_danger.html" if plan.urgent else f"fieldtest_{for_whom}.html"
    head, *steps = (Section((), None),) if plan.urgent else sections(plan, reader)
    figures = {step.code: step.figures for step in plan.steps}
    return (
        environment()
        .get_template(template)
        .render(
            plan=plan,
            name=shorten(plan.house.name, 36),
            head=head,
            steps=[step for step in steps if step.code != "utility"],
            figures=figures,
            telling=_telling(plan),
            formulas=_formulas(plan),
            photographs=PHOTOGRAPHS,
            generator=f"{GENERATOR} {__version__}",
            points=POINTS,
            by_night=BY_NIGHT,
            in_data={key.name: key.words for key in INTERVAL_RUN},
        )
    )


def _telling(plan: Plan) -> tuple[str, ...]:
    """What a right meter, one that is out, and a new load would show: the figures that tell them apart."""
    said = [line for step in plan.steps for line in step.expect if line.key in ("quiet-sought", "plug-off-by")]
    return lines(said, plan.voice)


def _formulas(plan: Plan) -> dict[str, Any]:
    """What a sheet needs for its sums: the constant of a count, and the words for counts and true watts."""
    meter = planning_meter(plan.house)
    disk = meter.type == "disk"
    size = ((meter.disk_wh if disk else meter.pulse_wh) or 0.0) * meter.multiplier
    known = (meter.disk_wh if disk else meter.pulse_wh) == (plan.meter.disk_wh if disk else plan.meter.pulse_wh)
    return {
        "counts": "turns" if disk else "flashes",
        "one": "turn" if disk else "flash",
        "constant": plan.voice.exact(3600.0 * size) if known else "3,600 x Wh a " + ("turn" if disk else "flash"),
        "true_watts": TRUE_WATTS.get(plan.house.service, ""),
        "multiplier": plan.voice.exact(meter.multiplier) if meter.multiplier != 1.0 else "",
        "legs": {"two-wire": 1, "three-phase": 3}.get(plan.house.service, 2),
    }


def plan_html(plan: Plan) -> str:
    """Return a plan to stand in a notebook's cell or another page, every caution before its step.

    Returns
    -------
    str
        HTML whose style keeps to itself.
    """
    head, *steps = (Section((), None),) if plan.urgent else sections(plan, Reader.HOUSEHOLDER)
    return environment().get_template("fieldtest_plan.html").render(plan=plan, head=head, steps=steps, tests=TESTS)
