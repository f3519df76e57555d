"""Figures in rows, a name over its bar: where the kWh go, the chances of causes, the uncertainty by load."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reconcile.grounds.load_shares import printed_step
from reconcile.report.drawn import drawing as d
from reconcile.report.drawn.figure_frame import NothingError, figure
from reconcile.report.views.first_view import causes_told
from reconcile.rounding import to_step
from reconcile.texts.cause_words import named

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from reconcile.result import LoadShare, Reconciliation

MOST_ROWS = 12
"""Rows of a figure by load; the rest are told together, since the table beside it names them all."""
MOST_CAUSES = 6
LEAST_SHARE = 0.005
"""Least share of the uncertainty that a load has a row of its own for: less is told as under 1 %."""


@figure(lambda result, width: d.row_paper(_rows(result.loads), width))
def where_kwh_go(result: Reconciliation, ax: Axes) -> str:
    """Draw each load's kWh over all bills: as listed, and as the bills make it likely, with its limits."""
    loads = sorted(result.loads, key=lambda load: -load.reconciled_kwh)
    shown, rest = _first(loads)
    names = [load.load for load in shown]
    expected = [load.expected_kwh for load in shown]
    reconciled = [load.reconciled_kwh for load in shown]
    voice = result.voice
    values = [f"{voice.number(load.reconciled_kwh, printed_step(load))} kWh" for load in shown]
    if rest:
        names.append(f"{len(rest)} other loads together")
        expected.append(sum(load.expected_kwh for load in rest))
        reconciled.append(sum(load.reconciled_kwh for load in rest))
        step = max(printed_step(load) for load in rest)
        told = sum(to_step(load.reconciled_kwh, printed_step(load)) for load in rest)
        values.append(f"{voice.number(told, step)} kWh")
    if not loads:
        raise NothingError("No load is listed.")
    d.named_rows(ax, names, values, 1.04 * max(*expected, *(load.high_kwh for load in shown), *reconciled))
    middles = [-i - 0.42 for i in range(len(names))]
    d.bars(ax, [m + 0.09 for m in middles], reconciled, 0.2, **d.USUAL, linewidth=0.9)
    d.bars(ax, [m - 0.14 for m in middles], expected, 0.2, **d.LISTED, linewidth=0.8)
    ax.hlines(
        [m + 0.09 for m in middles[: len(shown)]],
        [max(load.low_kwh, 0.0) for load in shown],
        [load.high_kwh for load in shown],
        color=d.INK,
        linewidth=1.3,
    )
    ends = [end for load in shown for end in (max(load.low_kwh, 0.0), load.high_kwh)]
    ax.plot(ends, [m + 0.09 for m in middles[: len(shown)] for _ in range(2)], "|", color=d.INK, markersize=7)
    d.heading(ax, "plain: with the bills; striped: load list only")
    return f"Bars of kWh by load over all bills, from the list with the bills: {_told(names[:5], values[:5])}."


@figure(lambda result, width: d.row_paper(min(len(causes_told(result)), MOST_CAUSES), width))
def cause_chances(result: Reconciliation, ax: Axes) -> str:
    """Draw the chance that each cause acts."""
    causes = sorted(causes_told(result), key=lambda cause: -cause.probability)[:MOST_CAUSES]
    if not causes:
        raise NothingError("No cause was weighed.")
    values = [result.voice.chance_percent(cause.probability) for cause in causes]
    names = [
        d.fitting(
            ax, (named(cause.code, cause.turn, result.voice), named(cause.code, None, result.voice)), len(value) + 5
        )
        for cause, value in zip(causes, values, strict=True)
    ]
    d.named_rows(ax, names, values, 1.0)
    middles = [-i - 0.42 for i in range(len(causes))]
    d.bars(ax, middles, [1.0] * len(causes), 0.26, facecolor="#f2f2f2", edgecolor=d.PALE, linewidth=0.6)
    chances = [cause.probability for cause in causes]
    d.bars(ax, middles, chances, 0.26, facecolor=d.CAUSE, edgecolor=d.INK, linewidth=0.6)
    d.heading(ax, "chance that it acts; several may")
    return f"Chances of causes: {_told(names, values)}."


@figure(lambda result, width: d.row_paper(len(_doubtful(result)[0]) + bool(_doubtful(result)[1]), width))
def doubt_by_load(result: Reconciliation, ax: Axes) -> str:
    """Draw each load's share of the uncertainty about the meter."""
    shown, rest = _doubtful(result)
    names = [load.load for load in shown]
    shares = [load.share_of_doubt for load in shown]
    if rest:
        names.append(f"{len(rest)} other loads together")
        shares.append(sum(load.share_of_doubt for load in rest))
    if not names:
        raise NothingError("No load leaves uncertainty about the meter.")
    values = [f"{result.voice.number(100 * share)} %" if share >= LEAST_SHARE else "under 1 %" for share in shares]
    d.named_rows(ax, names, values, 1.04 * max(shares))
    d.bars(ax, [-i - 0.42 for i in range(len(names))], shares, 0.26, **d.OPEN, linewidth=0.6)
    d.heading(ax, "share of the uncertainty about the meter")
    return f"Share of the uncertainty by load: {_told(names[:5], values[:5])}."


def _told(names: Sequence[str], values: Sequence[str]) -> str:
    return "; ".join(f"{name} {value}" for name, value in zip(names, values, strict=True))


def _doubtful(result: Reconciliation) -> tuple[list[LoadShare], list[LoadShare]]:
    """Loads by their share, and those that are told together: beyond the first, or too small to be told a percent."""
    loads = sorted((load for load in result.loads if load.share_of_doubt > 0), key=lambda load: -load.share_of_doubt)
    told = sum(load.share_of_doubt >= LEAST_SHARE for load in loads)
    cut = min(told, MOST_ROWS)
    if len(loads) - cut <= 1:  # one alone has its name
        cut = len(loads)
    return loads[:cut], loads[cut:]


def _rows(loads: Sequence[LoadShare]) -> int:
    shown, rest = _first(loads)
    return len(shown) + bool(rest)


def _first(loads: Sequence[LoadShare]) -> tuple[list[LoadShare], list[LoadShare]]:
    return (list(loads), []) if len(loads) <= MOST_ROWS + 1 else (list(loads[:MOST_ROWS]), list(loads[MOST_ROWS:]))
