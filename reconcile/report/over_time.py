"""Figures over the calendar: bills against both bands, the excess, what these bills could have shown."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reconcile.report import drawing as d
from reconcile.report.words import (
    CAUSES,
    billed,
    day,
    named_cause,
    signed,
    span,
    spoken,
    step_of,
    two_figures,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from reconcile.result import Cause, Period, Reconciliation

_MARKERS = {"within": "o", "over": "^", "under": "v", "not-judged": "o"}


def bills_against_bands(result: Reconciliation, ax: Axes | None = None, *, width: float = d.WIDE_INCHES) -> Axes:
    """Draw each bill [kWh/day] against the band of the list alone and the band of list and all other bills.

    Parameters
    ----------
    result : Reconciliation
    ax : matplotlib Axes, optional
        Where to draw; a figure of its own where not given.
    width : float
        Width of that figure [in].

    Returns
    -------
    matplotlib Axes
    """
    ax = ax if ax is not None else d.paper(width, 3.3, right=0.88)
    rows = [row for row in result.rows if row.billed_kwh is not None and row.days > 0]
    if not rows:
        return d.nothing_to_draw(ax, "No bill gives its kWh.")
    d.undress(ax)
    listed_rows = [r for r in rows if r.low_kwh is not None and r.high_kwh is not None]
    usual_rows = [r for r in rows if r.usual_low_kwh is not None and r.usual_high_kwh is not None]
    d.rectangles(
        ax,
        _spans(listed_rows),
        [_a_day(r, r.low_kwh) for r in listed_rows],
        [_a_day(r, r.high_kwh) for r in listed_rows],
        facecolor="#e9f4fb",
        edgecolor=d.SKY,
        hatch="///",
        linewidth=0.8 if len(rows) <= 24 else 0.0,
    )
    d.rectangles(
        ax,
        _spans(usual_rows),
        [_a_day(r, r.usual_low_kwh) for r in usual_rows],
        [_a_day(r, r.usual_high_kwh) for r in usual_rows],
        facecolor="#a6dccb",
        edgecolor=d.GREEN,
        linewidth=0.9 if len(rows) <= 24 else 0.3,
    )
    heights = [_a_day(r, r.billed_kwh) for r in rows]
    ax.hlines(
        heights,
        [r.start.toordinal() for r in rows],
        [r.end.toordinal() for r in rows],
        color=d.INK,
        linewidth=1.6,
    )
    _markers(ax, rows, heights)
    every = heights + [_a_day(r, r.high_kwh) for r in listed_rows] + [_a_day(r, r.usual_high_kwh) for r in usual_rows]
    lows = [0.0, *heights, *(_a_day(r, r.low_kwh) for r in listed_rows)]
    top = max(*every, 1.0)
    ax.set_ylim(min(lows) * 1.1, top + 0.12 * (top - min(lows)))
    d.calendar(ax, rows[0].start, rows[-1].end)
    d.heading(ax, "kWh a day")
    d.label_largest(
        ax,
        [
            (_middle(r), _a_day(r, r.billed_kwh), _excess_words(r), r.excess_kwh)
            for r in rows
            if r.flag in ("over", "under") and r.excess_kwh is not None
        ],
        [(*span_, height) for span_, height in zip(_spans(rows), heights, strict=True)],
    )
    names = [("billed", heights[-1], d.INK)]
    if usual_rows:
        last = usual_rows[-1]
        names.append(("usual", (_a_day(last, last.usual_low_kwh) + _a_day(last, last.usual_high_kwh)) / 2, "#00664b"))
    if listed_rows:
        names.append(("list alone", _a_day(listed_rows[-1], listed_rows[-1].high_kwh), "#1f6f9f"))
    d.edge_labels(ax, names)
    ax.set_label(_told_by_flag(rows))
    return ax


def excess_by_period(result: Reconciliation, ax: Axes | None = None, *, width: float = d.WIDE_INCHES) -> Axes:
    """Draw billed less usual [kWh] by period, the doubt about it, and the likeliest cause's pattern over it.

    Parameters
    ----------
    result : Reconciliation
    ax : matplotlib Axes, optional
        Where to draw; a figure of its own where not given.
    width : float
        Width of that figure [in].

    Returns
    -------
    matplotlib Axes
    """
    ax = ax if ax is not None else d.paper(width, 3.1, right=0.3)
    rows = [row for row in result.rows if row.excess_kwh is not None and row.usual_kwh is not None]
    if not rows:
        return d.nothing_to_draw(ax, "No period could be judged.")
    d.undress(ax)
    low = [(r.usual_low_kwh or 0.0) - (r.usual_kwh or 0.0) for r in rows]
    high = [(r.usual_high_kwh or 0.0) - (r.usual_kwh or 0.0) for r in rows]
    excess = [r.excess_kwh or 0.0 for r in rows]
    d.rectangles(ax, _spans(rows), low, high, facecolor="#ececec", edgecolor=d.GREY, linewidth=0.5, linestyle=":")
    for flag, colour, hatch in (
        ("over", d.ORANGE, "////"),
        ("under", d.SKY, "\\\\\\\\"),
        ("", "#b9b9b9", ""),
    ):
        chosen = [i for i, r in enumerate(rows) if (r.flag if r.flag in ("over", "under") else "") == flag]
        d.rectangles(
            ax,
            [_inner(rows[i]) for i in chosen],
            [min(excess[i], 0.0) for i in chosen],
            [max(excess[i], 0.0) for i in chosen],
            facecolor=colour,
            edgecolor=d.INK,
            hatch=hatch,
            linewidth=0.6,
        )
    cause = winning_cause(result)
    pattern = list(cause.pattern_kwh) if cause else []
    if cause:
        _step_line(ax, result.rows, pattern)
    reach = [*excess, *low, *high, *pattern]
    room = 0.14 * max(max(reach) - min(reach), 1.0)
    ax.set_ylim(min(reach) - room, max(reach) + room)
    ax.axhline(0.0, color=d.INK, linewidth=0.9)
    ax.spines["bottom"].set_visible(False)
    d.calendar(ax, rows[0].start, rows[-1].end)
    words = "kWh over or under the usual"
    if cause:
        mark = f"◆ {named_cause(cause.code, cause.since)}"
        words = d.fitting(
            ax,
            (
                f"{words};  {mark}",
                f"kWh over usual;  {mark}",
                f"kWh over usual;  ◆ {spoken(cause.code, CAUSES)}",
            ),
        )
    d.heading(ax, words)
    d.label_largest(
        ax,
        [
            (
                _middle(r),
                max(value, 0.0) if value >= 0 else min(value, 0.0),
                signed(value, _rounding(r)),
                value,
            )
            for r, value in zip(rows, excess, strict=True)
            if r.flag in ("over", "under")
        ],
        [(*span_, height) for span_, height in zip(_spans(rows), excess, strict=True)],
    )
    described = f"Bars of billed less usual kWh for {_periods(len(rows))}. {_told_by_flag(rows)}"
    if cause:
        described += (
            f" Laid over them: {named_cause(cause.code, cause.since)}, {result.voice.chance(cause.probability)}."
        )
    ax.set_label(described)
    return ax


def visible_meter_error(result: Reconciliation, ax: Axes | None = None, *, width: float = d.WIDE_INCHES) -> Axes:
    """Draw the smallest meter error [%] these bills would have shown, by the period in which it began.

    Parameters
    ----------
    result : Reconciliation
    ax : matplotlib Axes, optional
        Where to draw; a figure of its own where not given.
    width : float
        Width of that figure [in].

    Returns
    -------
    matplotlib Axes
    """
    values = result.visible.meter_percent if result.visible else ()
    return _visible(result, values, "%", "smallest meter error these bills would show, %", ax, width)


def visible_constant_load(result: Reconciliation, ax: Axes | None = None, *, width: float = d.WIDE_INCHES) -> Axes:
    """Draw the smallest round-the-clock load [W] these bills would have shown, by the period it began in.

    Parameters
    ----------
    result : Reconciliation
    ax : matplotlib Axes, optional
        Where to draw; a figure of its own where not given.
    width : float
        Width of that figure [in].

    Returns
    -------
    matplotlib Axes
    """
    values = result.visible.constant_watts if result.visible else ()
    return _visible(result, values, "W", "smallest steady load these bills would show, W", ax, width)


def winning_cause(result: Reconciliation) -> Cause | None:
    """Return the likeliest cause where one is likelier than none and has a pattern to draw."""
    best = max(result.causes, key=lambda cause: cause.probability, default=None)
    return best if best is not None and best.code != "none" and len(best.pattern_kwh) == len(result.rows) else None


def _visible(
    result: Reconciliation,
    values: Sequence[float | None],
    unit: str,
    words: str,
    ax: Axes | None,
    width: float,
) -> Axes:
    ax = ax if ax is not None else d.paper(width, 2.5, right=0.3)
    onset = result.visible.onset if result.visible else ()
    seen = [(result.rows[i].start, value) for i, value in zip(onset, values, strict=True) if value is not None]
    unseen = [result.rows[i].start for i, value in zip(onset, values, strict=True) if value is None]
    if not seen:
        return d.nothing_to_draw(ax, f"No {'meter error' if unit == '%' else 'steady load'} could have been seen.")
    d.undress(ax)
    most = 1.25 * max(value for _, value in seen)
    ax.plot(
        [when.toordinal() for when, _ in seen],
        [value for _, value in seen],
        color=d.BLUE if unit == "%" else d.VERMILLION,
        marker="o" if unit == "%" else "s",
        markersize=4 if len(seen) <= 24 else 2.5,
        linewidth=1.2,
        clip_on=False,
    )
    if unseen:
        ax.plot(
            [when.toordinal() for when in unseen],
            [most * 0.94] * len(unseen),
            "x",
            color=d.INK,
            markersize=6,
            clip_on=False,
        )
    ax.set_ylim(0.0, most)
    d.calendar(ax, result.rows[0].start, result.rows[-1].end)
    first, last = ax.get_xlim()
    ax.set_xlim(first - 0.03 * (last - first), last)  # marks on the first day keep off the numbers beside the axis
    least = min(seen, key=lambda pair: pair[1])
    d.label_largest(ax, [(least[0].toordinal(), least[1], f"{two_figures(least[1])} {unit}", -1.0)], [])
    d.heading(
        ax,
        d.fitting(
            ax,
            (
                words + (" (×: at no size)" if unseen else ""),
                words.replace(" these bills would show", " seen") + ("; ×: none" if unseen else ""),
            ),
        ),
    )
    ax.set_label(
        f"By the date on which it began: {words.split(',')[0]}, from "
        f"{two_figures(least[1])} {unit} (begun {day(least[0])}) to "
        f"{two_figures(max(v for _, v in seen))} {unit}."
    )
    return ax


def _a_day(row: Period, kwh: float | None) -> float:
    return (kwh or 0.0) / row.days


def _spans(rows: Sequence[Period]) -> list[tuple[float, float]]:
    return [(row.start.toordinal(), row.end.toordinal()) for row in rows]


def _inner(row: Period) -> tuple[float, float]:
    edge = 0.12 * (row.end - row.start).days
    return (row.start.toordinal() + edge, row.end.toordinal() - edge)


def _middle(row: Period) -> float:
    return (row.start.toordinal() + row.end.toordinal()) / 2.0


def _rounding(row: Period) -> float:
    return step_of(((row.usual_high_kwh or 0.0) - (row.usual_low_kwh or 0.0)) / 2)


def _excess_words(row: Period) -> str:
    return signed(row.excess_kwh, _rounding(row))


def _markers(ax: Axes, rows: Sequence[Period], heights: Sequence[float]) -> None:
    size = 6.5 if len(rows) <= 24 else 4.0
    for flag, marker in _MARKERS.items():
        at = [i for i, row in enumerate(rows) if row.flag == flag]
        if at:
            ax.plot(
                [_middle(rows[i]) for i in at],
                [heights[i] for i in at],
                marker,
                color=d.INK if flag in ("within", "not-judged") else d.VERMILLION,
                markeredgecolor=d.INK,
                markerfacecolor="white" if flag == "not-judged" else None,
                markersize=size + (2.5 if flag in ("over", "under") else 0.0),
                linestyle="none",
            )


def _step_line(ax: Axes, rows: Sequence[Period], pattern: Sequence[float]) -> None:
    xs, ys = [], []
    for row, value in zip(rows, pattern, strict=True):
        xs += [row.start.toordinal(), row.end.toordinal()]
        ys += [value, value]
    ax.plot(xs, ys, color="white", linewidth=3.6)
    ax.plot(xs, ys, color=d.BLUE, linewidth=1.8)
    ax.plot([_middle(row) for row in rows], pattern, "D", color=d.BLUE, markersize=4 if len(rows) <= 24 else 2.5)


def _periods(count: int) -> str:
    return "one period" if count == 1 else f"{count} periods"


def _told_by_flag(rows: Sequence[Period]) -> str:
    parts = []
    for flag, words in (("over", "High"), ("under", "Low")):
        chosen = [row for row in rows if row.flag == flag]
        if chosen:
            told = [f"{span(r.start, r.end)} ({billed(r.billed_kwh)} kWh)" for r in chosen[:6]]
            more = f" and {len(chosen) - 6} more" if len(chosen) > 6 else ""
            parts.append(f"{words}: {'; '.join(told)}{more}.")
    return f"{_periods(len(rows))[0].upper()}{_periods(len(rows))[1:]} of bills. " + (
        " ".join(parts) if parts else "None stands out of the usual."
    )
