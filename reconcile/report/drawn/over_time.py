"""Figures over the calendar: bills against both bands, the excess, what these bills could have shown."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reconcile.costs import COSTS
from reconcile.report.drawn import drawing as d
from reconcile.report.drawn.figure_frame import NothingError, figure
from reconcile.report.views.read_as_one import rows_joined
from reconcile.texts.cause_words import named
from reconcile.verdict.sums import excess_step

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from reconcile.report.views.read_as_one import Joined
    from reconcile.result import Cause, Period, Reconciliation

_MARKERS = {"within": "o", "over": "^", "under": "v", "not-judged": "o"}
_COLOURS = {"within": d.INK, "over": d.VERMILLION, "under": d.PURPLE, "not-judged": d.INK}
NEAR_AXIS = 0.2
"""Part of the height below which a label stands over its place: under it lies the axis."""
MOST_DRAWN = 2
ROOM_FOR_LIST = 1.25
"""How far above the bills and their usual ranges those from the load list are drawn: a vague list is cut off there, so
that the bills are not flattened. Own choice."""
ONE = "read as one"


def _bills_paper(result: Reconciliation, width: float) -> Axes:
    """Leave a line above the bills for each cause drawn in."""
    lines = d.PRINT_POINTS * d.LINE / 72.0 * len(drawn_causes(result))
    return d.paper(width, (3.9 if width >= d.WIDE_INCHES else 3.5) + lines, right=0.82, top=0.34 + lines)


@figure(_bills_paper)
def bills_against_bands(result: Reconciliation, ax: Axes) -> str:
    """Draw each bill [kWh/day] against the range from the load list only and the usual range, with the cause.

    A cause of at least one half that began or ended on a day stands as a line at that day and a bar over its time.
    """
    causes = drawn_causes(result)
    rows = [row for row in result.rows if row.billed_kwh is not None and row.days > 0]
    if not rows:
        raise NothingError("No bill gives its kWh.")
    d.undress(ax)
    few = len(rows) <= 24
    merged, pairs = rows_joined(result)
    # the list's range of an estimate is as wide as an estimate may be wrong: of bills read as one it tells nothing
    singles = [r for r in merged if r in rows] if result.house.loads else []
    listed_rows = [r for r in singles if r.low_kwh is not None and r.high_kwh is not None]
    usual_rows = [r for r in merged if r.usual_low_kwh is not None and r.usual_high_kwh is not None]
    for chosen, low, high, style in (
        (listed_rows, "low_kwh", "high_kwh", {**d.LISTED, "linewidth": 0.8 if few else 0.0}),
        (usual_rows, "usual_low_kwh", "usual_high_kwh", {**d.USUAL, "linewidth": 0.9 if few else 0.3}),
    ):
        lows = [_a_day(r, getattr(r, low)) for r in chosen]
        d.rectangles(ax, _spans(chosen), lows, [_a_day(r, getattr(r, high)) for r in chosen], **style)
    heights = [_a_day(r, r.billed_kwh) for r in rows]
    ax.hlines(heights, [a for a, _ in _spans(rows)], [z for _, z in _spans(rows)], color=d.INK, linewidth=1.6)
    _markers(ax, rows, heights)
    listed_top = _axis(ax, heights, usual_rows, listed_rows)
    d.calendar(ax, rows[0].start, rows[-1].end)
    for pair in pairs:
        _bracket(ax, result.rows, pair)
    d.heading(ax, "kWh a day", row=len(causes))
    told = _draw_causes(ax, causes, result)
    d.label_largest(
        ax,
        [
            (_middle(r), _a_day(r, r.billed_kwh), _excess_words(result, r), r.excess_kwh)
            for r in rows
            if r.flag in ("over", "under") and r.excess_kwh is not None
        ],
        [(*span_, height) for span_, height in zip(_spans(rows), heights, strict=True)],
        always=_named(result, rows),
    )
    names = [("billed", heights[-1], d.INK)]
    if usual_rows:
        last = usual_rows[-1]
        names.append(("usual", (_a_day(last, last.usual_low_kwh) + _a_day(last, last.usual_high_kwh)) / 2, "#00664b"))
    if listed_rows:
        end = _a_day(listed_rows[-1], listed_rows[-1].high_kwh)
        words = "load list\nonly" if listed_top is None else f"load list\nto {result.voice.figure(listed_top)} ↑"
        bottom, top = ax.get_ylim()
        names.append((words, end if listed_top is None else top - 0.06 * (top - bottom), "#1f6f9f"))
    d.edge_labels(ax, names)
    above = (
        ""
        if listed_top is None
        else f" The range from the load list goes on above, to {result.voice.figure(listed_top)}."
    )
    one = "".join(f" Read as one: {result.voice.span(p.row.start, p.row.end)}." for p in pairs)
    return _told_by_flag(result, rows) + one + above + "".join(f" Drawn in: {text}." for text in told)


def _axis(
    ax: Axes, heights: Sequence[float], usual_rows: Sequence[Period], listed_rows: Sequence[Period]
) -> float | None:
    """Set the heights by the bills and their usual ranges; return how far the list's go where they are cut off."""
    own = [*heights, *(_a_day(r, r.usual_high_kwh) for r in usual_rows)]
    listed = max((_a_day(r, r.high_kwh) for r in listed_rows), default=0.0)
    least = min(0.0, *heights)
    reach = max(*own, 1.0) - least
    cut = listed - least > ROOM_FOR_LIST * reach
    top = least + ROOM_FOR_LIST * reach if cut else max(*own, listed, 1.0)
    lows = max(min(least, *(_a_day(r, r.low_kwh) for r in listed_rows)), least - reach / 2.0) if listed_rows else least
    ax.set_ylim(lows * 1.1, top + (0.0 if cut else 0.12 * (top - lows)))
    if not cut:
        return None
    from matplotlib.markers import CARETUP

    at = [_middle(r) for r in listed_rows if _a_day(r, r.high_kwh) > top]
    ax.plot(at, [top] * len(at), linestyle="none", marker=CARETUP, markersize=4, color=d.DEEP_SKY, clip_on=False)
    return listed


def _bracket(ax: Axes, rows: Sequence[Period], pair: Joined) -> None:
    """Draw a bracket over bills that are read as one, and what they used together as a line across."""
    low, high = ax.get_ylim()
    left, right = _inner(pair.row)
    tallest = max(_a_day(row, row.billed_kwh) for row in rows[pair.first : pair.last + 1])
    at, foot = tallest + 0.075 * (high - low), 0.02 * (high - low)
    ax.plot([left, left, right, right], [at - foot, at, at, at - foot], color=d.INK, linewidth=1.1, clip_on=False)
    span = (d.on_axis(pair.row.start), d.on_axis(pair.row.end))
    ax.hlines([_a_day(pair.row, pair.row.billed_kwh)], [span[0]], [span[1]], color=d.INK, linewidth=1.6, linestyle=":")
    d.label_largest(ax, [((left + right) / 2, at - 0.01 * (high - low), ONE, 1.0)], [])


def drawn_causes(result: Reconciliation) -> list[Cause]:
    """Return the causes that are drawn among the bills: at least as likely as not, and from or until a day shown."""
    if not result.rows:
        return []
    first, last = result.rows[0].start, result.rows[-1].end
    likely = [
        cause
        for cause in result.causes
        if cause.code != "none"
        and cause.probability >= (result.costs or COSTS).likely
        and cause.turn is not None
        and first < cause.turn < last
    ]
    return sorted(likely, key=lambda cause: -cause.probability)[:MOST_DRAWN]


def _draw_causes(ax: Axes, causes: Sequence[Cause], result: Reconciliation) -> list[str]:
    """Draw when each acts as a bar along the calendar, its own mark where it began or ended, its name above."""
    told = []
    first, last = ax.get_xlim()
    for row, (cause, mark, dash) in enumerate(zip(causes, (d.CAUSE_MARK, "■"), ((5, 2), (1.5, 1.5)), strict=False)):
        assert cause.turn is not None
        chance = result.voice.chance_percent(cause.probability)
        text, short = (f"{named(cause.code, since, result.voice)} ({chance})" for since in (cause.turn, None))
        at, height = d.on_axis(cause.turn), 1.0 - 0.03 * row
        until = last if cause.until is None else min(d.on_axis(cause.until), last)
        acts = (first, at) if cause.code == "old-meter-slow" else (at, until)
        ax.axvline(at, color=d.CAUSE, linewidth=1.6, linestyle=(0, dash))
        ax.plot(
            [at, *acts],
            [height] * 3,
            "D-" if row == 0 else "s-",
            markevery=[0],
            transform=ax.get_xaxis_transform(),
            color=d.CAUSE,
            markersize=5,
            linewidth=3.2,
            solid_capstyle="butt",
            clip_on=False,
        )
        d.above(ax, cause.turn, (f"{mark} {text}", f"{mark} {short}"), row=len(causes) - 1 - row)
        told.append(text)
    return told


@figure(lambda result, width: d.paper(width, 3.1, right=0.3))
def excess_by_period(result: Reconciliation, ax: Axes) -> str:
    """Draw billed less usual [kWh] by period, its uncertainty, and the likeliest cause's pattern over it."""
    rows = [row for row in rows_joined(result)[0] if row.excess_kwh is not None and row.usual_kwh is not None]
    if not rows:
        raise NothingError("No period could be judged.")
    d.undress(ax)
    low = [(r.usual_low_kwh or 0.0) - (r.usual_kwh or 0.0) for r in rows]
    high = [(r.usual_high_kwh or 0.0) - (r.usual_kwh or 0.0) for r in rows]
    excess = [r.excess_kwh or 0.0 for r in rows]
    d.rectangles(ax, _spans(rows), low, high, **d.USUAL, alpha=0.55, linewidth=0.5)
    for flag, style in (("over", d.OVER), ("under", d.UNDER), ("", d.WITHIN)):
        chosen = [i for i, r in enumerate(rows) if (r.flag if r.flag in ("over", "under") else "") == flag]
        d.rectangles(
            ax,
            [_inner(rows[i]) for i in chosen],
            [min(excess[i], 0.0) for i in chosen],
            [max(excess[i], 0.0) for i in chosen],
            linewidth=0.6,
            **style,
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
        since = named(cause.code, cause.turn, result.voice)
        mark = f"{d.CAUSE_MARK} {since}"
        words = d.fitting(
            ax,
            (
                f"{words};  {mark}",
                f"kWh over usual;  {mark}",
                f"kWh over usual;  {d.CAUSE_MARK} {named(cause.code, None, result.voice)}",
            ),
        )
    d.heading(ax, words)
    d.label_largest(
        ax,
        [
            (
                _middle(r),
                max(value, 0.0) if value >= 0 else min(value, 0.0),
                _excess_words(result, r),
                value,
            )
            for r, value in zip(rows, excess, strict=True)
            if r.flag in ("over", "under")
        ],
        [(*span_, height) for span_, height in zip(_spans(rows), excess, strict=True)],
        always=_named(result, rows),
    )
    described = f"Bars of billed less usual kWh for {_periods(len(rows))}. {_told_by_flag(result, rows)}"
    if cause:
        described += f" Laid over them: {since}, {result.voice.chance(cause.probability)}."
    return described


def _visible_paper(result: Reconciliation, width: float) -> Axes:
    return d.paper(width, 2.5, right=0.3)


@figure(_visible_paper)
def visible_meter_error(result: Reconciliation, ax: Axes) -> str:
    """Draw the smallest meter error [%] these bills would have shown, by the period in which it began."""
    values = result.visible.meter_percent if result.visible else ()
    return _visible(result, values, "%", "smallest meter error these bills would show, %", ax)


@figure(_visible_paper)
def visible_constant_load(result: Reconciliation, ax: Axes) -> str:
    """Draw the smallest round-the-clock load [W] these bills would have shown, by the period it began in."""
    values = result.visible.constant_watts if result.visible else ()
    return _visible(result, values, "W", "smallest steady load these bills would show, W", ax)


def winning_cause(result: Reconciliation) -> Cause | None:
    """Return the likeliest cause where one is likelier than none and has a pattern to draw."""
    best = max(result.causes, key=lambda cause: cause.probability, default=None)
    return best if best is not None and best.code != "none" and len(best.pattern_kwh) == len(result.rows) else None


def _visible(
    result: Reconciliation,
    values: Sequence[float | None],
    unit: str,
    words: str,
    ax: Axes,
) -> str:
    onset = result.visible.onset if result.visible else ()
    seen = [(result.rows[i].start, value) for i, value in zip(onset, values, strict=True) if value is not None]
    unseen = [result.rows[i].start for i, value in zip(onset, values, strict=True) if value is None]
    if not seen:
        raise NothingError(f"No {'meter error' if unit == '%' else 'steady load'} could have been seen.")
    d.undress(ax)
    most = 1.25 * max(value for _, value in seen)
    ax.plot(
        [d.on_axis(when) for when, _ in seen],
        [value for _, value in seen],
        color=d.BLUE if unit == "%" else d.VERMILLION,
        marker="o" if unit == "%" else "s",
        markersize=4 if len(seen) <= 24 else 2.5,
        linewidth=1.2,
        clip_on=False,
    )
    if unseen:
        ax.plot(
            [d.on_axis(when) for when in unseen],
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
    write = result.voice.figure
    least = min(seen, key=lambda pair: pair[1])
    under = 1.0 if least[1] < NEAR_AXIS * most else -1.0
    d.label_largest(ax, [(d.on_axis(least[0]), least[1], f"{write(least[1])} {unit}", under)], [])
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
    return (
        f"By the date on which it began: {words.split(',')[0]}, from "
        f"{write(least[1])} {unit} (begun {result.voice.short_day(least[0])}) to "
        f"{write(max(v for _, v in seen))} {unit}."
    )


def _a_day(row: Period, kwh: float | None) -> float:
    return (kwh or 0.0) / row.days


def _spans(rows: Sequence[Period]) -> list[tuple[float, float]]:
    return [(d.on_axis(row.start), d.on_axis(row.end)) for row in rows]


def _inner(row: Period) -> tuple[float, float]:
    edge = 0.12 * (row.end - row.start).days
    return (d.on_axis(row.start) + edge, d.on_axis(row.end) - edge)


def _middle(row: Period) -> float:
    return (d.on_axis(row.start) + d.on_axis(row.end)) / 2.0


def _excess_words(result: Reconciliation, row: Period) -> str:
    """Write what a bill is over or under as the table of the bills does."""
    return result.voice.number(row.excess_kwh, excess_step(result.rows), sign=True)


def _named(result: Reconciliation, rows: Sequence[Period]) -> set[float]:
    """Return the middles of the bills that the headline names: they are labeled whatever stands beside them."""
    said = result.verdict.headline
    return {_middle(row) for row in rows if result.voice.span(row.start, row.end) in said}


def _markers(ax: Axes, rows: Sequence[Period], heights: Sequence[float]) -> None:
    size = 6.5 if len(rows) <= 24 else 4.0
    for flag, marker in _MARKERS.items():
        at = [i for i, row in enumerate(rows) if row.flag == flag]
        if at:
            ax.plot(
                [_middle(rows[i]) for i in at],
                [heights[i] for i in at],
                marker,
                color=_COLOURS[flag],
                markeredgecolor=d.INK,
                markerfacecolor="white" if flag == "not-judged" else None,
                markersize=size + (2.5 if flag in ("over", "under") else 0.0),
                linestyle="none",
            )


def _step_line(ax: Axes, rows: Sequence[Period], pattern: Sequence[float]) -> None:
    xs, ys = [], []
    for row, value in zip(rows, pattern, strict=True):
        xs += [d.on_axis(row.start), d.on_axis(row.end)]
        ys += [value, value]
    ax.plot(xs, ys, color="white", linewidth=3.6)
    ax.plot(xs, ys, color=d.BLUE, linewidth=1.8)
    ax.plot([_middle(row) for row in rows], pattern, "D", color=d.BLUE, markersize=4 if len(rows) <= 24 else 2.5)


def _periods(count: int) -> str:
    return "one period" if count == 1 else f"{count} periods"


def _told_by_flag(result: Reconciliation, rows: Sequence[Period]) -> str:
    parts, voice = [], result.voice
    for flag, words in (("over", "High"), ("under", "Low")):
        chosen = [row for row in rows if row.flag == flag]
        if chosen:
            told = [f"{voice.span(r.start, r.end)} ({voice.kwh(r.billed_kwh)})" for r in chosen[:6]]
            more = f" and {len(chosen) - 6} more" if len(chosen) > 6 else ""
            parts.append(f"{words}: {'; '.join(told)}{more}.")
    return f"{_periods(len(rows))[0].upper()}{_periods(len(rows))[1:]} of bills. " + (
        " ".join(parts) if parts else "None stands out of the usual."
    )
