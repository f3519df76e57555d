"""The figure that leads from one bill's money to another's, a step for each reason."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reconcile.report.drawn import drawing as d
from reconcile.report.drawn.figure_frame import NothingError, figure
from reconcile.texts.labels import BRIDGE
from reconcile.texts.money import bridge_sentence

if TYPE_CHECKING:
    from decimal import Decimal

    from matplotlib.axes import Axes

    from reconcile.money.bridge import Bridge
    from reconcile.result import Reconciliation

NO_BRIDGE = "There are no two bills whose money can be compared."


def _parts(bridge: Bridge) -> list[tuple[str, Decimal]]:
    return [(name, value) for name, value in bridge.parts.items() if value]


def _paper(result: Reconciliation, width: float) -> Axes:
    bridge = None if result.money is None else result.money.bridge
    return d.row_paper(1 if bridge is None else 2 + len(_parts(bridge)), width)


@figure(_paper)
def bridge_figure(result: Reconciliation, ax: Axes) -> str:
    """Draw why the money changed: from the earlier amount to the later one, a bar for each part.

    A part that adds has ▲ before its amount, one that takes away ▼, each striped its own way.
    """
    bridge = None if result.money is None else result.money.bridge
    if bridge is None:
        raise NothingError(NO_BRIDGE)
    parts = [(BRIDGE[name], float(value)) for name, value in _parts(bridge)]
    before, after = float(bridge.from_amount), float(bridge.to_amount)
    voice = result.voice
    names = [voice.span(*bridge.from_dates), *(name for name, _ in parts), voice.span(*bridge.to_dates)]
    values = [
        voice.money(bridge.from_amount),
        *(f"{'▲' if value > 0 else '▼'} {voice.money(value, sign=True)}" for _, value in parts),
        voice.money(bridge.to_amount),
    ]
    reached = [before]
    for _, value in parts:
        reached.append(reached[-1] + value)
    low, high = min(0.0, *reached, after), max(0.0, *reached, after)
    d.named_rows(ax, names, values, 1.0)
    room = (high - low) * 0.02 or 1.0
    ax.set_xlim(low - (room if low < 0 else 0.0), high + room)
    for label in ax.texts:
        label.set_bbox({"facecolor": "white", "linewidth": 0, "pad": 1.0})
    _ends(ax, before, after, len(names))
    for i, (_, value) in enumerate(parts, start=1):
        look = d.OVER if value > 0 else d.UNDER
        d.bars(ax, [-i - 0.45], [value], 0.3, left=reached[i - 1], linewidth=0.6, **look)
    steps = range(len(reached))
    ax.vlines(reached, [-i - 1.3 for i in steps], [-i - 0.6 for i in steps], color=d.GREY, linewidth=0.8, linestyle=":")
    d.heading(ax, "▲ adds to the bill, ▼ takes from it")
    return f"Bars from {values[0]} to {values[-1]}. {bridge_sentence(bridge, voice)}"


def _ends(ax: Axes, before: float, after: float, rows: int) -> None:
    for row, amount in ((0, before), (rows - 1, after)):
        d.bars(ax, [-row - 0.45], [amount], 0.3, **d.WITHIN, linewidth=0.6)
