"""What every figure shares: palette, paper of a given width, calendar ticks, labels that keep apart, SVG out.

Figures are built on :class:`matplotlib.figure.Figure` directly: no window, no global state. Lengths are
inches and points, so a figure made narrow for a phone keeps the size of its print.
"""

from __future__ import annotations

import base64
import contextlib
import io
import os
import sys
import textwrap
import warnings
from collections.abc import Callable, Sequence, Set
from contextlib import AbstractContextManager
from datetime import date
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any

from reconcile.report.words import shorten
from reconcile.say import MONTHS

if TYPE_CHECKING:
    from matplotlib.axes import Axes

INK = "#000000"
ORANGE = "#E69F00"
GREEN = "#009E73"
BLUE = "#0072B2"
VERMILLION = "#D55E00"
PURPLE = "#CC79A7"
"""Okabe and Ito's set for the colour-blind (Color Universal Design, https://jfly.uni-koeln.de/color/)."""
DEEP_SKY = "#3a8fc4"
"""The same sky, dark enough for thin lines on white (contrast 3.6)."""
GREY = "#5a5a5a"
PALE = "#d9d9d9"

USUAL: dict[str, Any] = {"facecolor": "#a6dccb", "edgecolor": GREEN}
LISTED: dict[str, Any] = {"facecolor": "#e9f4fb", "edgecolor": DEEP_SKY, "hatch": "///"}
OVER: dict[str, Any] = {"facecolor": "#f0a877", "edgecolor": INK, "hatch": "////"}
UNDER: dict[str, Any] = {"facecolor": "#ecd0df", "edgecolor": INK, "hatch": "\\\\\\\\"}
WITHIN: dict[str, Any] = {"facecolor": "#b0b0b0", "edgecolor": INK}
OPEN: dict[str, Any] = {"facecolor": ORANGE, "edgecolor": INK, "hatch": "xxxx"}
"""What each thing looks like in every figure, told apart without colour: the usual plain, what comes from the list
striped to the right, over striped to the right in ink, under to the left, uncertainty crossed. A cause is blue."""
CAUSE = BLUE
CAUSE_MARK = "◆"

WIDE_INCHES = 7.2
NARROW_INCHES = 3.75
PRINT_POINTS = 9.5
"""Size of all print in figures: read on a phone without zooming, the figure drawn at its own size."""
_LETTER_INCHES = 0.58 * PRINT_POINTS / 72.0
"""Mean width of a letter of DejaVu Sans, on the generous side."""
MOST_SURE = 2
"""Largest values of a figure that are always labeled."""
ROW_INCHES = 0.5
LINE = 1.3
"""Height of a line of print over the size of its letters."""
EPOCH = date(1970, 1, 1).toordinal()
"""Day 0 of matplotlib's dates, unless a program sets another."""

STYLE = Path(__file__).with_name("figures.mplstyle")
"""What all figures are drawn in; matplotlib's own file format, so that a notebook can use it for its plots too."""


@cache
def _style() -> Any:
    return _matplotlib().rc_params_from_file(STYLE, use_default_template=False)


def settings() -> AbstractContextManager[None]:
    """Return the drawing settings as a context, so that a caller's own are left alone."""
    context: AbstractContextManager[None] = _matplotlib().rc_context(_style())
    return context


def _matplotlib() -> ModuleType:
    """Import matplotlib whatever ``MPLBACKEND`` names: a notebook sets one that may not be there."""
    if "matplotlib" in sys.modules:
        return sys.modules["matplotlib"]
    named = os.environ.pop("MPLBACKEND", None)
    try:
        import matplotlib
    finally:
        if named is not None:
            os.environ["MPLBACKEND"] = named
    if named:
        with contextlib.suppress(ValueError):
            matplotlib.rcParams["backend"] = named
    return matplotlib


def paper(
    width: float, height: float, *, right: float = 0.12, left: float = 0.5, bottom: float = 0.42, top: float = 0.34
) -> Axes:
    """Make axes on a figure of its own, margins in inches."""
    with settings():
        from matplotlib.figure import Figure

        figure = Figure(figsize=(width, height))
        return figure.add_axes(
            (left / width, bottom / height, (width - left - right) / width, (height - bottom - top) / height)
        )


def row_paper(rows: int, width: float) -> Axes:
    """Make axes for ``rows`` rows of a name over its bar."""
    return paper(width, ROW_INCHES * max(rows, 1) + 0.46, left=0.08, right=0.08, bottom=0.12)


def inches_wide(ax: Axes) -> float:
    """Return the width of the axes [in]."""
    return float(ax.get_position().width * ax.get_figure().get_size_inches()[0])  # type: ignore[union-attr]


def inches_tall(ax: Axes) -> float:
    """Return the height of the axes [in]."""
    return float(ax.get_position().height * ax.get_figure().get_size_inches()[1])  # type: ignore[union-attr]


def letters_across(ax: Axes) -> int:
    """Return how many letters fit across the axes."""
    return max(8, int(inches_wide(ax) / _LETTER_INCHES))


def undress(ax: Axes) -> None:
    """Leave only what carries meaning: a base line and quiet horizontal rules."""
    if not ax.spines["left"].get_visible():
        return  # axes of `paper` are made so, by the style
    for side in ("top", "right", "left"):
        ax.spines[side].set_visible(False)
    ax.grid(axis="y", color=PALE, linewidth=0.6)
    ax.set_axisbelow(True)
    ax.tick_params(axis="both", length=0, labelsize=PRINT_POINTS, colors=INK)


def fitting(ax: Axes, choices: Sequence[str], taken: int = 0) -> str:
    """Return the first choice that fits across the axes beside ``taken`` letters, else the last one cut."""
    room = letters_across(ax) + 3 - taken
    return next((words for words in choices if len(words) <= room), shorten(choices[-1], room))


def heading(ax: Axes, text: str, *, row: int = 0) -> None:
    """Write what the figure's heights are, above its axes, from the left edge of the paper; rows count upwards."""
    _written_above(ax, text, 0.0, (5, row), INK)


def above(ax: Axes, when: date, choices: Sequence[str], *, row: int = 0) -> None:
    """Write the first text that fits above the axes, in a row of its own, as near its day as there is room."""
    low, high = ax.get_xlim()
    figure = ax.get_figure()
    wide = float(figure.get_size_inches()[0])  # type: ignore[union-attr]
    left = float(ax.get_position().x0) * wide
    at = left + (on_axis(when) - low) / (high - low) * inches_wide(ax)
    room = int((wide - 0.1) / _LETTER_INCHES)
    text = next((words for words in choices if len(words) <= room), shorten(choices[-1], room))
    begin = max(0.07, min(at - 0.05, wide - 0.05 - len(text) * _LETTER_INCHES * 1.05))
    _written_above(ax, text, begin / wide, (0, row), CAUSE)


def _written_above(ax: Axes, text: str, across: float, off: tuple[int, int], color: str) -> None:
    """Write above the axes, at a part of the paper's width, ``off`` by points to the right and by rows up."""
    ax.annotate(
        text,
        (across, 1.0),
        xycoords=("figure fraction", "axes fraction"),
        xytext=(off[0], 9 + off[1] * PRINT_POINTS * LINE),
        textcoords="offset points",
        fontsize=PRINT_POINTS,
        color=color,
        va="bottom",
        ha="left",
        annotation_clip=False,
    )


def on_axis(day: date) -> float:
    """Return a day as matplotlib's own date number, so that dated data of any other plot lie over a figure."""
    return float(day.toordinal() - EPOCH)


def _month(day: date) -> str:
    return MONTHS[day.month - 1][:3]


def calendar(ax: Axes, start: date, end: date) -> None:
    """Put dates under an axis that runs in matplotlib's date numbers (:func:`on_axis`), as many as fit."""
    ax.set_xlim(on_axis(start), on_axis(end))
    days = (end - start).days
    if days < 75:
        marks = [start, end]
        ax.set_xticks(
            [on_axis(mark) for mark in marks],
            [f"{mark.day} {_month(mark)}\n{mark.year}" for mark in marks],
        )
        ax.get_xticklabels()[0].set_horizontalalignment("left")
        ax.get_xticklabels()[-1].set_horizontalalignment("right")
        return
    months = [
        date(year, month, 1)
        for year in range(start.year, end.year + 1)
        for month in range(1, 13)
        if start <= date(year, month, 1) <= end
    ]
    inches = inches_wide(ax)
    every = next((n for n in (1, 2, 3, 6, 12, 24, 60) if len(months) / n <= inches / (0.6 if n < 12 else 0.45)), 120)
    marks = [m for m in months if ((m.year * 12 + m.month - 1) % every) == 0] or months[:1]
    seen: set[int] = set()
    labels = []
    for mark in marks:
        labels.append(
            f"{_month(mark)}" + ("" if mark.year in seen else f"\n{mark.year}") if every < 12 else str(mark.year)
        )
        seen.add(mark.year)
    ax.set_xticks([on_axis(mark) for mark in marks], labels)
    per_inch = days / inches
    for mark, text in zip(marks, ax.get_xticklabels(), strict=True):
        if (end - mark).days < 0.15 * per_inch:
            text.set_horizontalalignment("right")


def rectangles(
    ax: Axes, spans: Sequence[tuple[float, float]], low: Sequence[float], high: Sequence[float], **style: Any
) -> None:
    """Draw one box a span in a single artist."""
    from matplotlib.collections import PolyCollection

    corners = [((a, b), (a, t), (z, t), (z, b)) for (a, z), b, t in zip(spans, low, high, strict=True)]
    ax.add_collection(PolyCollection(corners, **style), autolim=False)


def keep_apart(wanted: Sequence[float], gap: float) -> list[float]:
    """Move values as little as needed so that neighbours stand at least ``gap`` apart; their order is kept.

    Examples
    --------
    >>> keep_apart([1.0, 1.1, 5.0], 1.0)
    [0.55, 1.55, 5.0]
    """
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    blocks: list[list[float]] = []  # mean of the wanted places of the first, and how many stand in it
    for index in order:
        blocks.append([wanted[index], 1.0])
        while len(blocks) > 1 and blocks[-1][0] - blocks[-2][0] < gap * blocks[-2][1]:
            start, count = blocks.pop()
            before, many = blocks[-1]
            blocks[-1] = [(before * many + (start - gap * many) * count) / (many + count), many + count]
    placed = [start + gap * step for start, count in blocks for step in range(int(count))]
    out = [0.0] * len(wanted)
    for index, value in zip(order, placed, strict=True):
        out[index] = round(value, 9)
    return out


def edge_labels(ax: Axes, labels: Sequence[tuple[str, float, str]]) -> None:
    """Name lines at the right edge: (words, height, colour), moved apart where they would touch.

    A label may have several lines.
    """
    if not labels:
        return
    low, high = ax.get_ylim()
    lines = max(words.count("\n") + 1 for words, _, _ in labels)
    gap = (high - low) * (PRINT_POINTS * 1.25 * lines / 72.0) / inches_tall(ax)
    placed = keep_apart([height for _, height, _ in labels], gap)
    over = max(placed) - high
    for (words, _, colour), height in zip(labels, placed, strict=True):
        ax.annotate(
            words,
            (1.0, height - max(over, 0.0)),
            xycoords=("axes fraction", "data"),
            xytext=(5, 0),
            textcoords="offset points",
            va="center",
            ha="left",
            fontsize=PRINT_POINTS,
            color=colour,
            annotation_clip=False,
        )


def label_largest(
    ax: Axes,
    places: Sequence[tuple[float, float, str, float]],
    taller: Sequence[tuple[float, float, float]],
    always: Set[float] = frozenset(),
) -> None:
    """Write labels at (x, y, words, weight), heaviest first, where they touch no other and nothing taller.

    A label of positive weight stands over its place, else under it; ``taller`` holds (from, to,
    height) of what is drawn. The :data:`MOST_SURE` heaviest and those whose x is in ``always`` are written first and
    whatever stands beside them: beyond it, with a thin line to their place.
    """
    low, high = ax.get_xlim()
    per_letter = (high - low) / inches_wide(ax) * _LETTER_INCHES
    bottom, top = ax.get_ylim()
    line = PRINT_POINTS * LINE / 72.0 / inches_tall(ax) * (top - bottom)
    ordered = sorted(places, key=lambda place: -abs(place[3]))
    sure = {place[0] for place in ordered[:MOST_SURE]} | set(always)
    taken: list[tuple[float, float, float]] = []
    ends = [bottom, top]
    for x, y, words, weight in sorted(ordered, key=lambda place: place[0] not in sure):
        up = weight >= 0
        half = per_letter * 1.2 * max(len(words), 4) / 2.0  # digits and signs are wider than letters
        middle = min(max(x, low + half), high - half)
        beyond = [t for a, z, t in taller if a < middle + half and z > middle - half and (t > y if up else t < y)]
        beside = [(at, width) for other, width, at in taken if abs(middle - other) < half + width]
        if (beyond or beside) and x not in sure:
            continue
        at = (max if up else min)(beyond, default=y)
        side = 1.0 if up else -1.0
        if beside:  # a little aside is easier to follow than far above
            aside = [other + way * (half + width) for other, width, _ in taken for way in (-1.0, 1.0)]
            free = [
                place
                for place in sorted(aside, key=lambda place: abs(place - middle))
                if abs(place - x) <= 2.0 * half
                and low + half <= place <= high - half
                and not any(abs(place - other) < 0.999 * (half + width) for other, width, _ in taken)
                and not any(a < place + half and z > place - half and (t > y if up else t < y) for a, z, t in taller)
            ]
            if free:
                middle, beside, at = free[0], [], y
        for other, _ in sorted(beside, reverse=not up):
            if abs(other - at) < line:
                at = other + side * line
        taken.append((middle, half, at))
        if at != y or abs(middle - x) > half:
            ends.append(at + side * 1.6 * line)
            foot = min(max(x, middle - 0.8 * half), middle + 0.8 * half)
            ax.plot([x, foot], [y, at + side * 0.4 * line], color=GREY, linewidth=0.7, clip_on=False)
        ax.annotate(
            words,
            (middle, at),
            xytext=(0, 7 * side),
            textcoords="offset points",
            ha="center",
            va="bottom" if up else "top",
            fontsize=PRINT_POINTS,
            color=INK,
            bbox={"facecolor": "white", "alpha": 0.75, "linewidth": 0, "pad": 0.6},
            annotation_clip=False,
        )
    ax.set_ylim(min(ends), max(ends))


def named_rows(ax: Axes, names: Sequence[str], values: Sequence[str], most: float) -> None:
    """Lay out rows from the top: a name at the left, its value at the right, room for a bar beneath.

    Row i has its name at height -i and its bar around -i - 0.45; widths run from 0 to ``most``.
    """
    from matplotlib.ticker import NullLocator

    ax.set_xlim(0.0, most if most > 0 else 1.0)
    ax.set_ylim(-max(len(names), 1) + 0.12, 0.12)
    for side in ("top", "right", "bottom"):
        ax.spines[side].set_visible(False)
    ax.spines["left"].set_visible(True)
    ax.spines["left"].set_color(GREY)
    ax.xaxis.set_major_locator(NullLocator())
    ax.yaxis.set_major_locator(NullLocator())
    across = letters_across(ax)
    for i, (name, value) in enumerate(zip(names, values, strict=True)):
        for words, x, side in (
            (shorten(name, max(10, across - len(value) - 2)), 0.0, "left"),
            (value, 1.0, "right"),
        ):
            ax.annotate(
                words,
                (x, -i),
                xycoords=("axes fraction", "data"),
                xytext=(4 if side == "left" else 0, 0),
                textcoords="offset points",
                ha=side,
                va="center",
                fontsize=PRINT_POINTS,
                color=INK,
                annotation_clip=False,
            )


def bars(
    ax: Axes, middles: Sequence[float], widths: Sequence[float], height: float, *, left: float = 0.0, **style: Any
) -> None:
    """Draw one bar a row from ``left``; ``barh`` would ask the axes for units and limits that are set already."""
    from matplotlib.patches import Rectangle

    for middle, width in zip(middles, widths, strict=True):
        ax.add_artist(Rectangle((left, middle - height / 2.0), width, height, **style))


def nothing_to_draw(ax: Axes, words: str) -> Axes:
    """Say in the axes why there is no figure."""
    ax.set_axis_off()
    told = textwrap.fill(words, letters_across(ax))
    ax.text(0.0, 0.5, told, transform=ax.transAxes, va="center", ha="left", fontsize=PRINT_POINTS)
    ax.set_label(words)
    return ax


def svg(draw: Callable[[], Axes]) -> tuple[str, str]:
    """Draw, and return the picture as a data URI with its description in words.

    The same answer gives the same bytes: element names are salted by a constant, no date is written.
    """
    with settings(), warnings.catch_warnings():
        # Letters beyond DejaVu Sans are left to the reader's own fonts; only their width is guessed here.
        warnings.filterwarnings("ignore", message=r"Glyph .* missing from font")
        ax = draw()
        for axis in (ax.xaxis, ax.yaxis):
            if not axis.get_label_text():  # else all its numbers are measured again, to place a name that is not there
                axis.set_label_coords(0.5, 0.5)
        page = io.StringIO()
        ax.get_figure().savefig(page, format="svg", metadata={"Date": None, "Creator": None})  # type: ignore[union-attr]
    text = base64.b64encode(page.getvalue().encode()).decode("ascii")
    return f"data:image/svg+xml;base64,{text}", str(ax.get_label())
