"""Figures of interval data: the year by day and hour, the steps before and after, base load, daily use, tie-out."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import DAY_SECONDS, HOUR_SECONDS, as_day, local_seconds
from reconcile.interval.alignment import size_axis
from reconcile.interval.sizes_moved import that_moved
from reconcile.report.drawn import drawing as d
from reconcile.report.drawn.figure_frame import NothingError, figure
from reconcile.say import Voice
from reconcile.voices import voice_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from reconcile.interval.daily import DailyUse
    from reconcile.result import Reconciliation

NOTHING = "There are no interval data to draw."
EPOCH = d.on_axis(as_day(0))
NARROW = 5.0
TICKS = (0.1, 0.2, 0.3, 0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0)
FEW_TICKS = (0.1, 0.2, 0.5, 1.0, 2.0, 4.0, 8.0)
"""Sizes named on the axis [kW], and on one narrower than so many inches."""

FAST_QUANTILE = 0.98
"""Power at which the map is as dark as it gets: a few high hours do not pale all the others (our choice)."""


def _voice(result: Reconciliation) -> Voice:
    return voice_of(result.house)


@figure(lambda result, width: d.paper(width, 3.0, right=0.3))
def year_map(result: Reconciliation, ax: Axes) -> str:
    """Draw power by day and hour, the hours of a day one above the other."""
    interval = result.house.interval
    if interval is None or len(interval.kwh) == 0 or interval.step_seconds > HOUR_SECONDS:
        raise NothingError(NOTHING)
    d.undress(ax)
    local = local_seconds(interval.starts, ZoneInfo(result.house.timezone))
    day = local // DAY_SECONDS
    first, last = int(day[0]), int(day[-1])
    slot = (day - first) * 24 + local % DAY_SECONDS // HOUR_SECONDS
    count = (last - first + 1) * 24
    hours = np.bincount(slot, weights=interval.lengths, minlength=count) / HOUR_SECONDS
    kw = np.bincount(slot, weights=interval.kwh, minlength=count) / np.where(hours > 0.5, hours, np.nan)
    table = kw.reshape(-1, 24).T
    most = float(np.nanquantile(table, FAST_QUANTILE))
    ax.imshow(
        table,
        aspect="auto",
        origin="lower",
        cmap="cividis_r",
        vmin=0.0,
        vmax=most,
        extent=(EPOCH + first, EPOCH + last + 1, 0, 24),
        interpolation="nearest",
    )
    d.calendar(ax, as_day(first), as_day(last + 1))
    ax.grid(visible=False)
    ax.set_ylim(0, 24)
    ax.set_yticks([0, 6, 12, 18, 24])
    voice = _voice(result)
    d.heading(
        ax,
        d.fitting(
            ax,
            [
                f"Hour of the day; dark is {voice.figure(most)} kW or more, white is not recorded",
                f"Hour; dark is {voice.figure(most)} kW",
            ],
        ),
    )
    return f"Power by day and hour, up to {voice.figure(float(np.nanmax(table)))} kW in an hour."


@figure(lambda result, width: d.paper(width, 3.2, right=0.2, left=0.3))
def step_sizes(result: Reconciliation, ax: Axes) -> str:
    """Draw how often the house's own appliances switch by the size of the step, before and after one date."""
    gain = None if result.interval is None else result.interval.gain
    if gain is None:
        raise NothingError("Too few appliances are seen switching in the data.")
    d.undress(ax)
    voice, change = _voice(result), gain.change
    size = size_axis()
    # the root, so that what switches seldom shows beside a refrigerator
    before, after = (np.sqrt(side / max(float(side.sum()), 1e-9)) for side in (change.before, change.after))
    top = float(max(before.max(), after.max(), 1e-9))
    ax.fill_between(size, before, color=d.PALE, linewidth=0)
    ax.plot(size, before, color=d.GREY, linewidth=1.2)
    ax.plot(size, after, color=d.BLUE, linewidth=1.8, linestyle=(0, (5, 1.5)))
    ax.set_xscale("log")
    seen = size[(before + after) > 0.1 * top]
    ax.set_xlim(0.92 * float(seen.min()), 1.08 * float(seen.max()))
    low_kw, high_kw = ax.get_xlim()
    ticks = [t for t in (FEW_TICKS if d.inches_wide(ax) < NARROW else TICKS) if low_kw <= t <= high_kw]
    ax.set_xticks(ticks, [f"{t:g} kW" for t in ticks])
    ax.minorticks_off()
    ax.set_yticks([])
    ax.set_ylim(0, 1.42 * top)
    for cluster in sorted(change.clusters, key=lambda c: -c.steps_before)[:3]:
        at = int(np.argmin(np.abs(size - cluster.kw)))
        near = slice(max(at - 15, 0), at + 16)
        low = float(size[near][before[near].argmax()])
        height = 1.04 * float(max(before[near].max(), after[near].max()))
        moved = low * math.exp(cluster.shift)
        if not change.found:
            break  # an arrow would show a change where there is none to be told
        ax.annotate(
            "", (moved, height), (low, height), arrowprops={"arrowstyle": "->", "color": d.VERMILLION, "linewidth": 1.5}
        )
        ax.text(math.sqrt(low * moved), height + 0.03 * top, _signed(voice, cluster.shift), ha="center", color=d.INK)
    day = voice.short_day(as_day(change.day))
    ax.text(0.01, 0.97, f"gray: before {day}", transform=ax.transAxes, color=d.GREY, va="top")
    ax.text(0.01, 0.88, f"blue, dashed: since {day}", transform=ax.transAxes, color=d.BLUE, va="top")
    room = voice.percent(196.0 * change.standard_uncertainty)
    told = f"{_signed(voice, change.shift)}, give or take {room}" if change.found else f"no change told within {room}"
    d.heading(ax, d.fitting(ax, [f"Sizes of the steps when appliances switch: {told}", f"Step sizes: {told}"]))
    how = ("no change beyond the scatter.", "one appliance moved.", "they moved together.")
    return f"Step sizes before and since {day}: {told}; {how[min(len(that_moved(change)), 2)]}"


@figure(lambda result, width: d.paper(width, 3.0, right=0.3))
def base_load_over_time(result: Reconciliation, ax: Axes) -> str:
    """Draw the low power of each night, and the steps of its level."""
    base = None if result.interval is None else result.interval.base
    if base is None:
        raise NothingError("There are no interval data with a whole night.")
    d.undress(ax)
    voice = _voice(result)
    at = base.days + EPOCH
    ax.plot(at, base.watts, ".", color=d.GREY, markersize=2.6)
    edges = [float(at[0]), *(d.on_axis(step.day) for step in base.steps), float(at[-1]) + 1]
    top = float(np.quantile(base.watts, 0.99)) * 1.35 + 1.0
    for begin, end in pairwise(edges):
        here = (at >= begin) & (at < end)
        if here.any():
            ax.hlines(float(np.median(base.watts[here])), begin, end, color=d.BLUE, linewidth=2.0)
    for step in base.steps:
        ax.axvspan(d.on_axis(step.low), d.on_axis(step.high) + 1, facecolor=d.ORANGE, alpha=0.35, linewidth=0)
        ax.axvline(d.on_axis(step.day), color=d.VERMILLION, linewidth=1.0, linestyle=(0, (4, 2)))
    d.calendar(ax, as_day(int(base.days[0])), as_day(int(base.days[-1]) + 1))
    ax.set_ylim(0, top)
    largest = sorted(base.steps, key=lambda s: -abs(s.watts))[:3]
    letters = max(8, d.letters_across(ax) // 4)
    middle = (edges[0] + edges[-1]) / 2.0
    for row, step in enumerate(sorted(largest, key=lambda s: s.day)):
        text = f"{'+' if step.watts > 0 else '−'}{voice.figure(abs(step.watts))} W"
        text = f"{text}, {voice.short_day(step.day)}" if letters > 16 else text
        x = d.on_axis(step.day)
        ax.text(x, top * (0.97 - 0.09 * row), text, ha="left" if x < middle else "right", va="top", color=d.INK)
    d.heading(ax, d.fitting(ax, ["Watts that run all night, with their steps", "Watts at night"]))
    return "Base load by night. " + " ".join(
        f"{voice.watts(step.watts)} on {voice.short_day(step.day)}." for step in base.steps
    )


@figure(lambda result, width: d.paper(width, 3.2, right=0.3))
def daily_against_weather(result: Reconciliation, ax: Axes) -> str:
    """Draw each day's energy against the day's outdoor temperature, and the model of both."""
    used = None if result.interval is None else result.interval.daily
    if used is None or not np.isfinite(used.mean_c).any():
        raise NothingError("Interval data and weather do not cover the same days.")
    d.undress(ax)
    fahrenheit = result.house.temperature_unit == "F"

    def shown(celsius: NDArray[np.float64]) -> NDArray[np.float64]:
        return celsius * 1.8 + 32.0 if fahrenheit else celsius

    weekend = (used.days + 3) % 7 >= 5
    since = used.lift_kwh != used.lift_kwh[0]
    for mark, color, of in (("o", d.DEEP_SKY, ~weekend), ("s", d.VERMILLION, weekend)):
        for here, fill in ((of & ~since, {"markeredgewidth": 0}), (of & since, {"fillstyle": "none"})):
            ax.plot(shown(used.mean_c[here]), used.kwh[here], mark, color=color, markersize=3.2, **fill)
    grid = np.linspace(np.nanmin(used.mean_c), np.nanmax(used.mean_c), 120)
    level = float(np.median(used.expected_kwh - used.lift_kwh - _by_weather(used, used.mean_c))) + used.lift_kwh[0]
    ax.plot(shown(grid), level + _by_weather(used, grid), color=d.INK, linewidth=2.0)
    ax.set_ylim(0, 1.12 * float(used.kwh.max()) or 1.0)
    ax.text(0.01, 0.97, "● weekday   ■ weekend   — model", transform=ax.transAxes, va="top", color=d.INK)
    if since.any():
        day = _voice(result).short_day(as_day(int(used.days[int(np.argmax(since))])))
        ax.text(0.01, 0.89, f"hollow: since a step on {day}", transform=ax.transAxes, va="top", color=d.INK)
    ax.set_xlabel(f"mean outdoor temperature of the day, °{result.house.temperature_unit}")
    d.heading(ax, "kWh a day")
    voice = _voice(result)
    return (
        f"Daily use against temperature: {voice.figure(used.heating_kwh_per_degree)} kWh more for each degree of cold, "
        f"{voice.figure(used.cooling_kwh_per_degree)} for each of heat (degrees Celsius)."
    )


@figure(lambda result, width: d.paper(width, 3.0, right=0.3))
def tie_out_by_bill(result: Reconciliation, ax: Axes) -> str:
    """Draw billed less interval energy of each bill, and the room that whole register steps leave."""
    ties = [] if result.interval is None else [t for t in result.interval.tie_out if t.within is not None]
    if not ties:
        raise NothingError("The interval data cover no bill.")
    d.undress(ax)
    voice = _voice(result)
    bills = result.house.bills
    marks = {True: ("o", d.GREEN), False: ("^", d.VERMILLION)}
    ax.axhline(0.0, color=d.INK, linewidth=0.8)
    most = 1.0
    for tie in ties:
        begin, end = d.on_axis(bills[tie.period].start), d.on_axis(bills[tie.period].closes)
        over = tie.billed_kwh - tie.interval_kwh
        most = max(most, abs(over), tie.slack_kwh)
        ax.fill_between([begin, end], -tie.slack_kwh, tie.slack_kwh, color=d.PALE, linewidth=0)
        ax.hlines(over, begin, end, color=d.INK, linewidth=1.4)
        mark, color = marks[bool(tie.within)]
        ax.plot([(begin + end) / 2.0], [over], mark, color=color, markersize=6)
    ax.set_ylim(-1.25 * most, 1.35 * most)
    d.calendar(ax, bills[ties[0].period].start, bills[ties[-1].period].closes)
    odd = sorted((t for t in ties if t.within is False), key=lambda t: -abs(t.billed_kwh - t.interval_kwh))[:3]
    for tie in odd:
        middle = (d.on_axis(bills[tie.period].start) + d.on_axis(bills[tie.period].closes)) / 2.0
        over = tie.billed_kwh - tie.interval_kwh
        ax.annotate(
            f"{voice.number(over, sign=True)} kWh",
            (middle, over),
            xytext=(0, 7 if over > 0 else -7),
            textcoords="offset points",
            ha="center",
            va="bottom" if over > 0 else "top",
        )
    agree = sum(tie.within is True for tie in ties)
    d.heading(
        ax,
        d.fitting(
            ax,
            [
                f"Billed less interval data, kWh: {agree} of {len(ties)} bills add up",
                f"{agree} of {len(ties)} bills add up, kWh",
            ],
        ),
    )
    return f"{agree} of {len(ties)} bills add up to their interval data."


def _by_weather(used: DailyUse, celsius: NDArray[np.float64]) -> NDArray[np.float64]:
    heating = used.heating_kwh_per_degree * np.maximum(used.balance_heating_c - celsius, 0.0)
    cooling = used.cooling_kwh_per_degree * np.maximum(celsius - used.balance_cooling_c, 0.0)
    total: NDArray[np.float64] = np.nan_to_num(heating) + np.nan_to_num(cooling)
    return total


def _signed(voice: Voice, shift: float) -> str:
    percent = 100.0 * math.expm1(shift)
    return f"{'+' if percent > 0 else '−'}{voice.number(abs(percent), 0.1 if abs(percent) < 9.95 else 1.0)} %"
