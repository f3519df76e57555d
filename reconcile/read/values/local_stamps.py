"""Local clock times into instants, by a counted rule of our own for the hours a clock change skips or repeats.

Seconds of a local clock are counted from 1970-01-01 00:00 of that clock, as if it never changed. A meter may write
the repeated hour twice, once, or in pairs; it may stamp the end of an interval, so that the hour's first label
belongs to the hour before; and it may never change its clock at all. Each is recognised from the labels themselves.
"""

from __future__ import annotations

from collections import Counter
from datetime import tzinfo
from typing import Literal

import numpy as np

from reconcile.array_types import Flags, Ints, Places
from reconcile.clock import DAY_SECONDS, Change, changes, offset_at
from reconcile.records import dataclass

MOST_BACK = 3 * 3600
"""How far labels in the order of time may go back: at a clock change, and no clock changes by more [s]."""
FIRST_LABELS, MOST_LATE = 4500, 0.9
"""Labels, three days of minutes and some, in which a midnight behind its day is looked for, and the share of all
midnights that must stand so (our choice)."""
NEAR_SECONDS = DAY_SECONDS
"""How far from a clock change its labels are looked at [s]."""


@dataclass(slots=True)
class Placed:
    """Labels brought to instants."""

    instants: Ints
    """UTC [s]."""
    skipped: Flags
    """Labels of an hour the clock skips."""
    back_twice: int = 0
    """Labels of repeated hours that stand twice, as they should."""
    back_once: int = 0
    """Labels of repeated hours that stand only once: the other hour is missing."""
    standard_time: bool = False
    """Whether the clock of this file never changes."""


def place(
    labels: Ints,
    zone: tzinfo,
    stamps: Literal["start", "end"],
    loaded: Flags,
    *,
    named_standard: bool = False,
) -> Placed:
    """Bring labels of a local clock to instants.

    Parameters
    ----------
    labels : ndarray of int64
        Seconds of the local clock, in the order of the file, the oldest first.
    stamps : {'start', 'end'}
        What of its interval a label names.
    loaded : ndarray of bool
        Where energy above zero stands beside the label: energy in an hour that the clock skips tells that the
        file's clock does not change.
    named_standard : bool
        Whether the file calls its times standard time: so they are, where no label stands twice, and where no change
        of the clocks lies within them.
    """
    placed = Placed(np.empty_like(labels), np.zeros(len(labels), dtype=bool))
    if len(labels) == 0:
        return placed
    reached = _reached(labels)
    found = changes(int(labels.min()) - 2 * DAY_SECONDS, int(labels.max()) + 2 * DAY_SECONDS, zone)
    offsets = np.array([_offset(int(labels.min()), zone), *(change.after for change in found)])
    if found:
        offsets[0] = found[0].before
        edges = np.array([change.instant + min(change.before, change.after) for change in found])
        if reached is None:
            np.subtract(labels, offsets[np.searchsorted(edges, labels, side="right")], out=placed.instants)
        else:  # what stands the wrong way round is near a change, and placed anew below
            cuts = [0, *np.searchsorted(reached, edges).tolist(), len(labels)]
            for offset, low, high in zip(offsets.tolist(), cuts, cuts[1:], strict=False):
                np.subtract(labels[low:high], offset, out=placed.instants[low:high])
    else:
        np.subtract(labels, offsets[0], out=placed.instants)
    told, within = 0, False
    for change in found:
        walls = sorted((change.instant + change.before, change.instant + change.after))
        first, last = walls[0] - NEAR_SECONDS, walls[1] + NEAR_SECONDS
        if reached is None:
            near = np.flatnonzero((labels >= first) & (labels <= last))
        else:
            near = np.arange(*np.searchsorted(reached, [first, last + 1]))
        if len(near) == 0:
            continue
        within = True
        if change.after > change.before:
            told += _forward(labels, near, change, stamps, loaded, placed)
        else:
            _back(labels, near, change, stamps, placed)
    year = changes(int(labels.min()) - 366 * DAY_SECONDS, int(labels.max()) + 2 * DAY_SECONDS, zone)
    standard = min((min(change.before, change.after) for change in year), default=int(offsets[0]))
    in_summer = not within and standard < offsets[0]
    if (told or (named_standard and (placed.back_once or in_summer))) and not placed.back_twice:
        np.subtract(labels, standard, out=placed.instants)
        placed.skipped[:] = False
        return Placed(placed.instants, placed.skipped, standard_time=True)
    return placed


def _reached(labels: Ints) -> Ints | None:
    """Return the latest label up to each, where the labels go back by a clock change at most; None where by more."""
    back = labels[1:] < labels[:-1]
    if not back.any():
        return labels
    reached: Ints = np.maximum.accumulate(labels)
    return reached if int((reached - labels).max()) <= MOST_BACK else None


def _forward(labels: Ints, near: Places, change: Change, stamps: str, loaded: Flags, placed: Placed) -> int:
    """Place the labels about a change that skips; return how many skipped ones carry energy."""
    first, last = change.instant + change.before, change.instant + change.after
    here = labels[near]
    if stamps == "start":
        skipped = (here >= first) & (here < last)
    else:
        # the label that ends the hour is the same instant as the one that begins it: skipped if both are there
        skipped = (here > first) & ((here <= last) if bool((here == first).any()) else (here < last))
    if last - first < _step(here):  # of a step that goes over the change a part is there
        skipped[:] = False
    after = (here >= last) & ~skipped
    placed.instants[near[after]] = here[after] - change.after
    placed.instants[near[~after]] = here[~after] - change.before
    placed.skipped[near[skipped]] = True
    return int(loaded[near[skipped]].sum())


def _back(labels: Ints, near: Places, change: Change, stamps: str, placed: Placed) -> None:
    first, last = change.instant + change.after, change.instant + change.before
    here = labels[near]
    placed.instants[near] = np.where(here < last, here - change.before, here - change.after)
    if stamps == "start":
        within = near[(here >= first) & (here < last)]
    else:
        within = near[(here >= first) & (here <= last)]
    count = Counter(labels[within].tolist())
    on_the_wall = stamps == "end" and count[first] > 1  # the label 1:00 twice: the clock's own reading
    step = _step(here)
    second_pass, previous = False, first
    seen: set[int] = set()
    for index in within.tolist():
        label = int(labels[index])
        second_pass = second_pass or label < previous
        if not second_pass and index > 0 and change.before - change.after < step:
            # a change by less than a step: of its two passes, the one a step after the reading before
            before = int(placed.instants[index - 1])
            second_pass = label - change.before - before < step == label - change.after - before
        later = second_pass or label in seen or (label == last and on_the_wall)
        placed.instants[index] = label - (change.after if later else change.before)
        seen.add(label)
        previous = label
    repeated = {label: n for label, n in count.items() if stamps == "start" or label not in (first, last)}
    placed.back_twice += sum(n > 1 for n in repeated.values())
    if stamps == "end" and not repeated:  # steps of an hour or more leave only the two ends
        placed.back_twice += int(count[first] > 1 or count[last] > 1)
        placed.back_once += int(count[first] == 1 and count[last] == 1)
    placed.back_once += sum(n == 1 for n in repeated.values())


def _step(labels: Ints) -> int:
    """Return the usual distance between labels [s]; 0 where they do not rise."""
    forward = np.diff(labels)
    return int(np.median(forward[forward > 0])) if (forward > 0).any() else 0


def late_midnights(labels: Ints) -> Ints | None:
    """Return labels with each midnight that stands behind the last hour of its own day moved to the end of that day.

    Parameters
    ----------
    labels : ndarray of int64
        Seconds of a local clock, in the order of the file [s].

    Returns
    -------
    ndarray or None
        None where midnights begin their days, as they mostly do.

    Examples
    --------
    >>> hours = np.array([22, 23, 0, 25, 26, 47, 24, 49]) * 3600
    >>> late_midnights(hours) // 3600
    array([22, 23, 24, 25, 26, 47, 48, 49])
    """
    if len(labels) < 3:
        return None
    first = labels[:FIRST_LABELS]
    falling = np.count_nonzero(first[1:] < first[:-1]) > len(first) / 2
    ordered = labels[::-1] if falling else labels
    if not _behind_their_day(ordered[:FIRST_LABELS]).any():
        return None
    heads = np.concatenate([[True], ordered[1:] != ordered[:-1]])
    once = ordered[heads]
    late = _behind_their_day(once)
    midnights = once % DAY_SECONDS == 0
    if late.sum() < max(2, MOST_LATE * int(midnights[1:].sum())):
        return None
    midnights[0] &= bool(once[1] // DAY_SECONDS > once[0] // DAY_SECONDS)
    moved: Ints = (once + DAY_SECONDS * midnights)[np.cumsum(heads) - 1]
    return moved[::-1] if falling else moved


def _behind_their_day(labels: Ints) -> Flags:
    """Return which labels but the first are midnights that stand behind a later time of the same day."""
    before, here = labels[:-1], labels[1:]
    late: Flags = (here % DAY_SECONDS == 0) & (before > here) & (before - here < DAY_SECONDS)
    return late


def _offset(local: int, zone: tzinfo) -> int:
    """Return the offset at a time of the local clock that is far from any change [s]."""
    return offset_at(local - offset_at(local, zone), zone)


def shifted_hours(labels: Ints, days: Ints, hours: Ints, zone: tzinfo) -> Ints:
    """Return labels of hours that are counted on through a clock change as labels of the clock on the wall.

    Parameters
    ----------
    labels : ndarray of int64
        Seconds of the clock, as if the day had 24 hours [s].
    days : ndarray of int64
        Day of each [d].
    hours : ndarray of int64
        End of each, in seconds since the day began [s].
    """
    if len(days) == 0:
        return labels
    labels = labels.copy()
    first, last = int(days.min()) * DAY_SECONDS, (int(days.max()) + 1) * DAY_SECONDS
    for change in changes(first - DAY_SECONDS, last + DAY_SECONDS, zone):
        size = change.after - change.before
        # a clock that goes back at midnight repeats an hour of the day before
        day = (change.instant + min(change.before, change.after)) // DAY_SECONDS
        here = days == day
        most = hours[here].max(initial=0)
        if most == DAY_SECONDS - size:  # 25 in autumn, 23 in spring
            wall = change.instant + change.before - day * DAY_SECONDS
            labels[here & (hours > wall)] += size
    return labels
