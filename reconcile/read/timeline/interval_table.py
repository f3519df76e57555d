"""Interval data: files laid end to end on one ruler; whatever is dropped, kept or moved is counted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np

from reconcile.array_types import Flags, Floats, Ints, Places
from reconcile.clock import DAY_SECONDS, local_seconds
from reconcile.distributions import steady
from reconcile.house import Action, House, Interval
from reconcile.read.household.settings import IntervalSettings
from reconcile.read.tables.gate import Gate
from reconcile.read.timeline.espi_series import Billed
from reconcile.read.timeline.file_series import series_of_files
from reconcile.read.timeline.interval_parts import Part, parts_of, share_standard_time
from reconcile.read.timeline.interval_quality import judge, length, told_of
from reconcile.read.timeline.series import ReadContext, Series, flags_together
from reconcile.read.timeline.told_zone import zone_of_series
from reconcile.read.timeline.unit_by_bills import settle_units
from reconcile.read.values import local_stamps
from reconcile.read.wrappings.sources import IntervalFile
from reconcile.records import dataclass

FEW_CONFLICTS, CONFLICT_SHARE = 10, 0.02
"""Readings of one interval that disagree, up to which the larger is kept; more are a fault (our choice)."""
SAME_WITHIN = 0.02
"""How far finer readings may miss a coarser one of the same time, as a share, to be the same (our choice)."""


@dataclass(slots=True)
class Line:
    """Readings of one register in order of time, none of them blank."""

    starts: Ints
    kwh: Floats
    steps: Ints | int
    estimated: Flags | None = None

    def part(self, keep: Flags | Places) -> Line:
        """Return some of the readings, or all in another order."""
        return Line(
            self.starts[keep],
            self.kwh[keep],
            self.steps if isinstance(self.steps, int) else self.steps[keep],
            None if self.estimated is None else self.estimated[keep],
        )

    def settle_step(self) -> None:
        """Take the step of the first reading for all where they have one."""
        if not isinstance(self.steps, int) and len(np.unique(self.steps)) == 1:
            self.steps = int(self.steps[0])


def read_interval(
    files: Sequence[IntervalFile], gate: Gate, house: House, settings: IntervalSettings, *, zone_given: bool = True
) -> tuple[Interval | None, Billed]:
    """Read interval data.

    Parameters
    ----------
    files : sequence of IntervalFile
        One or several files of the house, or a sheet.
    house : House
        Its clock, its service and whether it generates.
    zone_given : bool
        Whether the household named that clock; else the data may tell it, and ``billed`` has it then.

    Returns
    -------
    interval : Interval or None
        None where something is wrong, or the files hold bills alone.
    billed : Billed
        Bills that the files hold.
    """
    faults_before = len(gate.faults)
    context = ReadContext(gate, house, settings, zone_given=zone_given)
    found, billed = series_of_files(files, context)
    if not zone_given:
        billed.timezone = billed.timezone or zone_of_series(found, house.timezone)
        if billed.timezone is not None:
            context.assumed.add("zone-told", zone=billed.timezone)
            context = replace(context, house=replace(house, timezone=billed.timezone))
    share_standard_time(found, context)
    interval = interval_of(found, context, own=True)
    if interval is None and len(gate.faults) == faults_before and not billed.bills:
        name = files[0].name if files else "interval"
        gate.fault("no energy or power is in it", "Add a column kwh, or take the file away.", file=name)
    return interval, billed


def interval_of(
    found: Sequence[Series], context: ReadContext, *, served: bool = True, own: bool = False
) -> Interval | None:
    """Lay series of readings on one ruler, each judged; None where something is wrong, or they hold no energy.

    Parameters
    ----------
    served : bool
        Whether the house's service and generation are known, which readings are held against.
    own : bool
        Whether nobody else holds the arrays of the series, so that the data may keep them as they are.
    """
    faults_before = len(context.gate.faults)
    actions: list[Action] = []
    parts: list[Part] = []
    settle_units(found, context)
    for series in found:
        for part in parts_of(series, context):
            actions += judge(part, context, served=served)
            parts.append(part)
    if len(context.gate.faults) > faults_before or all(part.series.unit == "V" for part in parts):
        return None
    return _joined(parts, context, actions, own=own)


def _joined(parts: list[Part], context: ReadContext, actions: list[Action], *, own: bool) -> Interval | None:
    gate, home = context.gate, context.home
    mains = [part for part in parts if part.series.unit != "V" and part.flow != "received"]
    if not mains:
        return None
    net = any(part.flow == "net" for part in mains)
    blanks = sum(part.blanks for part in mains)
    counted = [
        Action("blank", blanks, 0.0),
        Action("clock-back", sum(part.back_twice for part in mains), 0.0),
        Action("clock-back-once", sum(part.back_once for part in mains), 0.0),
        Action("reset", sum(part.resets for part in mains), 0.0),
        Action("spread", sum(part.spread for part in mains), sum(part.spread_kwh for part in mains)),
    ]
    moved = [part for part in mains if part.moved]
    if moved:
        counted.append(Action("off-step", sum(part.moved for part in moved), 0.0, {"step": length(moved[0].step)}))
    line = _merged(mains, gate, home, counted)
    if line is None:
        mains[0].series.wrong(gate, "it holds no value", "Fill it or take it away.")
        return None
    left_out = sum(part.left_out for part in mains)
    counted.append(Action("gap", max(_gaps(line) - blanks - left_out, 0), 0.0))
    received = _beside(line, [part for part in parts if part.flow == "received"], gate, home, counted, "received")
    volts = _beside(line, [part for part in parts if part.series.unit == "V"], gate, home, counted, "volts")
    if line.estimated is not None:
        counted.append(Action("estimated", int(line.estimated.sum()), float(line.kwh[line.estimated].sum())))
    steps, starts = line.steps, line.starts.view("datetime64[s]")
    for kept in (starts, line.kwh) if own else ():  # a copy of long data takes as long as a tenth of their reading
        kept.setflags(write=kept.flags.writeable and not kept.flags.c_contiguous)
    return Interval(
        starts=starts,
        kwh=line.kwh,
        step_seconds=int(np.max(steps)),
        assumed=tuple(context.assumed.values()),
        actions=tuple(a for a in (*actions, *counted, *told_of(line.kwh, steps)) if a.count),
        seconds=None if isinstance(steps, int) else steps,
        received_kwh=received,
        net=net,
        estimated=line.estimated,
        volts=volts,
    )


def _merged(parts: list[Part], gate: Gate, home: ZoneInfo, counted: list[Action]) -> Line | None:
    """Lay parts of one register end to end."""
    lines = [_line(part, home, counted) for part in parts]
    lines = [line for line in lines if len(line.starts)]
    if not lines:
        return None
    line = lines[0]
    if len(lines) > 1:
        line = Line(
            np.concatenate([one.starts for one in lines]),
            np.concatenate([one.kwh for one in lines]),
            np.concatenate([np.full(len(one.starts), one.steps, dtype=np.int64) for one in lines]),
            flags_together([(one.estimated, len(one.starts)) for one in lines]),
        )
        line.settle_step()
    if len(line.starts) > 1 and not bool((line.starts[1:] > line.starts[:-1]).all()):
        line = _once(line, parts, gate, counted)
    if not isinstance(line.steps, int):
        line = _coarse_and_fine(line, home, counted)
    return line


def _line(part: Part, home: ZoneInfo, counted: list[Action]) -> Line:
    """Return a part's readings that have a value; of those in the hour that the clock skips, what has a place."""
    keep = ~np.isnan(part.kwh)
    starts = part.starts
    if part.step == DAY_SECONDS:  # days stand on the house's clock
        starts = local_stamps.place(starts, home, "start", np.zeros(len(starts), dtype=bool)).instants
    if part.skipped is not None:
        skipped = part.skipped & keep
        twice = skipped & np.isin(part.starts, part.starts[keep & ~part.skipped])
        counted.append(Action("clock-forward", int(skipped.sum()), float(part.kwh[twice].sum())))
        keep &= ~twice
    if bool(keep.all()):
        return Line(starts, part.kwh, part.step, part.estimated)
    flags = None if part.estimated is None else part.estimated[keep]
    return Line(starts[keep], part.kwh[keep], part.step, flags)


def _once(line: Line, parts: list[Part], gate: Gate, counted: list[Action]) -> Line:
    """Keep the largest of the readings of one interval: a smaller one is more often a part or a placeholder."""
    steps = line.steps if not isinstance(line.steps, int) else np.full(len(line.starts), line.steps, dtype=np.int64)
    order = np.lexsort((-line.kwh, steps, line.starts))
    line, steps = line.part(order), steps[order]
    first = np.concatenate([[True], (np.diff(line.starts) > 0) | (np.diff(steps) != 0)])
    kept = line.kwh[first][np.cumsum(first) - 1]
    same = ~first & np.isclose(line.kwh, kept, rtol=1e-6, atol=1e-9)
    other = ~first & ~same
    conflicts = int(other.sum())
    counted.append(Action("repeat", int(same.sum()), float(line.kwh[same].sum())))
    counted.append(Action("conflict", conflicts, float(line.kwh[other].sum())))
    if conflicts > max(FEW_CONFLICTS, CONFLICT_SHARE * int(first.sum())):
        if isinstance(line.steps, int) and line.steps == DAY_SECONDS and conflicts > len(line.starts) / 3:
            parts[0].series.wrong(
                gate,
                "several rows have the same day, and no column tells the hours apart",
                "Name the column of hours Hour (1 to 24, or 00:00 to 23:00), or write one row a day.",
            )
            return line.part(first)
        names = ", ".join(dict.fromkeys(part.series.table.file for part in parts))
        parts[0].series.wrong(
            gate,
            f"{conflicts} intervals are given twice with different values in {names}",
            "If they are two registers, say in the names of the files or channels which is delivered and which is "
            "received, or set channel under [interval]; else keep the right one.",
        )
    return line.part(first)


def _coarse_and_fine(line: Line, home: ZoneInfo, counted: list[Action]) -> Line:
    """Of readings of several steps that lie over one another, keep the finer where they are complete."""
    assert not isinstance(line.steps, int)
    keep = np.ones(len(line.starts), dtype=bool)
    for step in np.unique(line.steps)[:0:-1].tolist():
        coarse = np.flatnonzero(keep & (line.steps == step))
        fine = np.flatnonzero(keep & (line.steps < step))
        starts, sums = line.starts[fine], np.concatenate([[0.0], np.cumsum(line.kwh[fine])])
        spans = np.concatenate([[0], np.cumsum(line.steps[fine])])
        ends = _ends_of_days(line.starts[coarse], home) if step == DAY_SECONDS else line.starts[coarse] + step
        low = np.searchsorted(starts, line.starts[coarse])
        high = np.searchsorted(starts, ends)
        over = high > low
        whole = over & (spans[high] - spans[low] >= ends - line.starts[coarse])
        near = np.abs(sums[high] - sums[low] - line.kwh[coarse]) <= SAME_WITHIN * np.abs(line.kwh[coarse]) + 0.01
        for code, here in (("repeat", whole & near), ("conflict", whole & ~near)):
            counted.append(Action(code, int(here.sum()), float(line.kwh[coarse[here]].sum())))
        keep[coarse[whole]] = False
        partly = np.flatnonzero(over & ~whole)
        dropped = np.concatenate([fine[low[i] : high[i]] for i in partly.tolist()] or [np.empty(0, dtype=np.intp)])
        keep[dropped] = False
        counted.append(Action("overlap", len(dropped), float(line.kwh[dropped].sum())))
    line = line.part(keep)
    line.settle_step()
    return line


def _ends_of_days(starts: Ints, home: ZoneInfo) -> Ints:
    """Return the midnights that end days of the house's clock, of whatever length."""
    days = np.round(local_seconds(starts, home) / DAY_SECONDS).astype(np.int64)
    nothing = np.zeros(len(starts), dtype=bool)
    return local_stamps.place((days + 1) * DAY_SECONDS, home, "start", nothing).instants


def _gaps(line: Line) -> int:
    if isinstance(line.steps, int) and steady(line.starts, line.steps):
        return 0
    distances = line.starts[1:] - line.starts[:-1]
    steps = line.steps if isinstance(line.steps, int) else line.steps[:-1]
    wide = np.flatnonzero(distances > steps)
    own = steps if isinstance(steps, int) else steps[wide]
    return int(np.round(distances[wide] / own - 1.0).sum())


def _beside(
    line: Line, parts: list[Part], gate: Gate, home: ZoneInfo, counted: list[Action], code: str
) -> Floats | None:
    """Return another register's readings at the times of the first; what has no reading beside it is counted."""
    if not parts:
        return None
    own: list[Action] = []
    other = _merged(parts, gate, home, own)
    if other is None:
        return None
    counted += [replace(action, figures={"of": code}) for action in own if action.code == "conflict"]
    place = np.searchsorted(other.starts, line.starts)
    place[place == len(other.starts)] = 0
    found = other.starts[place] == line.starts
    out = np.where(found, other.kwh[place], np.nan)
    left = len(other.starts) - int(found.sum())
    if left and code == "received":
        counted.append(Action("received-alone", left, float(other.kwh.sum() - np.nansum(out))))
    return out
