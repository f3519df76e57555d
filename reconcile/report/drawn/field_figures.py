"""Figures of a judged field test: where the uncertainty comes from, and where each run lies against the tolerance."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reconcile.report.drawn import drawing
from reconcile.report.drawn.figure_frame import NothingError, figure
from reconcile.report.words import shorten
from reconcile.texts.components import spoken_component

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from reconcile.meter.judged import FieldTestResult, JudgedRun

MOST_BARS = 8
LEAST_SHARE = 0.005
"""Components drawn by name: so many, each of at least this share; the rest are one bar."""


_Named = tuple[str, float, float]
"""A component as it is called, its share, and what it contributes [% of registration]."""


def _components(run: JudgedRun) -> list[_Named]:
    """Return the components that are drawn, the largest first."""
    lines = sorted((c for c in run.budget if c.share > 0.0), key=lambda c: -c.share)
    named = [c for c in lines[:MOST_BARS] if c.share >= LEAST_SHARE]
    names = [(spoken_component(c.name), c.share, abs(c.contribution)) for c in named]
    left = lines[len(named) :]
    if left:
        together = sum(c.contribution**2 for c in left) ** 0.5
        names.append((f"{len(left)} more", sum(c.share for c in left), together))
    return names


@figure(lambda run, width: drawing.row_paper(len(_components(run)), width))
def budget_contributions(run: JudgedRun, ax: Axes) -> str:
    """Draw the share of each component in the uncertainty of one run."""
    names = _components(run)
    if not names:
        raise NothingError("No uncertainty was stated for this run.")
    values = [f"{100.0 * share:.0f} %" if share >= LEAST_SHARE else "under 1 %" for _, share, _ in names]
    whole = [
        f"{value} ({run.voice.number(part, 0.01)} % of registration)"
        for value, (*_, part) in zip(values, names, strict=True)
    ]
    room = drawing.letters_across(ax) - 2
    if all(len(name) + len(value) <= room for (name, *_), value in zip(names, whole, strict=True)):
        values = whole  # on a phone the names come first: the table above tells the rest
    drawing.named_rows(ax, [name for name, _, _ in names], values, max(share for _, share, _ in names))
    for i, (_, share, _) in enumerate(names):
        ax.barh(-i - 0.42, share, height=0.28, linewidth=0.6, **drawing.OPEN)
    return (
        f"Share of each component in the uncertainty of {shorten(run.label, 40)}: {names[0][0]} makes "
        f"{100.0 * names[0][1]:.0f} % of it."
    )


def _judged(result: FieldTestResult) -> list[JudgedRun]:
    return [run for run in result.runs if run.registration_percent is not None]


@figure(lambda result, width: drawing.paper(width, 0.62 * max(len(_judged(result)), 1) + 1.1, left=0.12, bottom=0.5))
def verdict_zones(result: FieldTestResult, ax: Axes) -> str:
    """Draw every run's registration with its limits against the tolerance."""
    runs = _judged(result)
    if not runs:
        raise NothingError("No run could be judged.")
    low, high = 100.0 - result.tolerance_percent, 100.0 + result.tolerance_percent
    ends = [low, high, *(v for r in runs for v in (r.low_percent or low, r.high_percent or high))]
    margin = 0.12 * (max(ends) - min(ends))
    ax.set_xlim(min(ends) - margin, max(ends) + margin)
    ax.set_ylim(-len(runs) + 0.25, 0.75)
    ax.axvspan(low, high, **drawing.USUAL, alpha=0.6, linewidth=0.0)
    for limit in (low, high):
        ax.axvline(limit, color=drawing.GREEN, linewidth=1.2)
    ax.axvline(100.0, color=drawing.GREY, linewidth=0.8, linestyle=(0, (2, 2)))
    marks = {"inside": "o", "outside": "^", "cannot-tell": "s"}
    for i, run in enumerate(runs):
        y = -i
        ax.hlines(y, run.low_percent or low, run.high_percent or high, color=drawing.INK, linewidth=2.2)
        filled = drawing.INK if run.zone != "cannot-tell" else "white"
        ax.plot(
            [run.registration_percent or 100.0],
            [y],
            marks[run.zone],
            markersize=8,
            color=drawing.INK,
            markerfacecolor=filled,
        )
        words = f": {result.voice.number(run.registration_percent, 0.1)} %, {run.zone.replace('-', ' ')}"
        ax.annotate(
            shorten(run.label, drawing.letters_across(ax) - len(words)) + words,
            (0.01, y + 0.2),
            xycoords=("axes fraction", "data"),
            va="bottom",
            fontsize=drawing.PRINT_POINTS,
            color=drawing.INK,
            bbox={"facecolor": "white", "alpha": 0.85, "linewidth": 0, "pad": 0.8},
        )
    drawing.undress(ax)
    ax.set_yticks([])
    ax.set_xlabel("Registration, % (shaded: what the local tolerance allows)", fontsize=drawing.PRINT_POINTS)
    number = result.voice.number
    zones = "; ".join(
        f"{shorten(r.label, 30)} {number(r.low_percent, 0.1)} to {number(r.high_percent, 0.1)} %: "
        + r.zone.replace("-", " ")
        for r in runs
    )
    return f"Registration of each run against {low:g} to {high:g} %: {zones}."
