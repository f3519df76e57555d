"""Where patterns may stand in the bills of a house: the kinds that its bills could hold, and the days of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reconcile import kinds
from reconcile.facts import Facts
from reconcile.house import Event, House
from reconcile.loads.handbook import most_kwh_per_day
from reconcile.loads.own_generation import makes_its_own
from reconcile.loads.reference import warms_water
from reconcile.records import dataclass
from reconcile.weigh.constants import EVENT_CODES, EVENT_DAYS, EVENT_LIFT, EVENT_SMALL, WORK_LIFT
from reconcile.weigh.large_loads import Between
from reconcile.weigh.seasons import season_windows, weather_spells
from reconcile.weigh.spans import LATE_WINDOW, MOST_ONSETS, absences, estimates, windows

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FOLLOWING_WEATHER = (
    "heating-rise",
    "cooling-rise",
    "heating-setting",
    "cooling-setting",
    "heating-fall",
    "cooling-fall",
)

SEASON_KINDS = ("winter-load", "summer-load")
"""Timed loads of one season (:mod:`reconcile.weigh.seasons`)."""

TIMED_KINDS = ("timed-load", "stuck-load", *SEASON_KINDS)
"""Loads that came and may have gone again."""

CREEPING_KINDS = ("meter-drift", "meter-slowing")
"""Meters whose registration moves by and by."""

SAME_EVERY_DAY, SPELL_DAYS = ("constant-load", *TIMED_KINDS), 31.0
"""Loads that a spell of more heating or cooling is held against day by day, where they begin so near to it [d]: of a
bill it is not known when in it a load began (our own judgement)."""

SEEN_LIFT = 120.0
"""By how much days that show it multiply the chance of more heating or cooling for a time (our choice)."""

MOST_SINGLES = 200
"""Periods tried as a passing event at the most: of many bills, those that stand out furthest."""

NOWHEN, NEVER = np.zeros(0), np.zeros((0, 2))
"""No day, and no time from a day to another."""


@dataclass(frozen=True, slots=True, eq=False)
class SpellSeen:
    """A time in which heating or cooling took more by the days of interval data: first day and the day after its last
    (ordinal), infinite where it lasts, and what it adds to each bill for its size [kWh/d].
    """

    side: str
    begin: float
    end: float
    kwh_a_day: Floats
    sure: bool
    lead: float
    """Log likelihood by which its days tell it from a load that is the same every day."""


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """Patterns of one kind: the part of each period in which each acts (m, n), and the day it starts (m,).

    ``large``: with a size of another order. ``end``: the day each is over, infinite if it is not, NaN where the mask
    alone says; ``sure``: the days of interval data show it; ``full``: the day from which what grows stands, NaN for
    what does not grow. ``share``: part of its kind's chance at each, where they were found and not laid out.
    ``spared``: as in :class:`Places`.
    """

    kind: str
    mask: Floats
    start: Floats
    large: bool = False
    end: Floats | None = None
    sure: bool = False
    full: Floats | None = None
    share: Floats | None = None
    spared: Floats | None = None


@dataclass(frozen=True, slots=True, eq=False)
class _Since:
    """Days of onset (m,), the part of each period after each (m, n), and which are of a reading or an exchange."""

    onsets: Floats
    on: Floats
    whole: NDArray[np.bool_]

    def rows(self, kind: str, *, until: bool = False, large: bool = True) -> list[_Rows]:
        """What acts from each onset on, or ``until`` it, where the kind has large sizes in these too."""
        rows = [_Rows(kind, self.on - 1.0 if until else self.on, self.onsets)]
        if large and kinds.PATTERNS[kind].large_chance:
            rows.append(_Rows(kind, self.on[self.whole], self.onsets[self.whole], large=True))
        return rows


def _always(kind: str, count: int) -> list[_Rows]:
    """What acts in every bill."""
    row = _Rows(kind, np.ones((1, count)), np.full(1, np.nan))
    return [row, replace(row, large=True)] if kinds.PATTERNS[kind].large_chance else [row]


@dataclass(frozen=True, slots=True, eq=False)
class Places:
    """Where patterns may stand in the bills of a house, whatever its use: kind, days and chance of m of them."""

    mask: Floats
    """Part of each period in which each acts, shape (m, n); of those with an ``end``, what each adds for its size
    [kWh/d]."""
    row: Ints
    """Patterns of one row are of one kind and size, one after the other, and share that kind's chance, shape (m,)."""
    kind_index: Ints
    """Shape (m,)."""
    large: NDArray[np.bool_]
    """Shape (m,)."""
    start: Floats
    """Day (ordinal), shape (m,); NaN for always."""
    end: Floats
    """Day (ordinal) on which it is over, infinite where it is not, shape (m,); NaN where the mask alone says."""
    full: Floats
    """Day (ordinal) from which what grows stands at its size, shape (m,); NaN for what does not grow."""
    spared: Floats
    """Of the base load, what a meter of a dead element counts beyond its part of all use [kWh/d], shape (m,)."""
    log_odds: Floats
    """Of the whole row, more where the diary speaks of something like it, shape (m,)."""
    dated: NDArray[np.bool_]
    """Onsets that interval data name, shape (m,)."""
    persistent: int
    """The first so many."""


@dataclass(frozen=True, slots=True, eq=False)
class DaysSeen:
    """Days (ordinal), besides those of readings, on which something may have begun or ended."""

    dated: Floats = field(default_factory=NOWHEN.copy)
    """Of changes in interval data: onsets of a meter step and of a constant load."""
    clocked: tuple[Floats, Floats] | None = None
    """From which days interval data show a load that runs by the clock, shape (c,), and for which part of each bill,
    shape (c, n)."""
    spells: Sequence[SpellSeen] = ()
    """Times in which by the days of interval data heating or cooling took more for the same weather."""
    grown: Floats = field(default_factory=NEVER.copy)
    """From and to which the base load of interval data may have grown, shape (g, 2)."""
    stuck: Between | None = None
    """Where bills stand so far out that a load of kilowatts may have run between two days."""
    fallen: Floats = field(default_factory=NEVER.copy)
    """Days on which the nights of interval data fell, and what a dead element spares of them [kWh/d], shape (f, 2)."""
    within: Floats = field(default_factory=NOWHEN.copy)
    """Inside bills, where these bills tell it themselves: onsets of every lasting kind."""


NONE_SEEN = DaysSeen()


def places(house: House, facts: Facts, days: Floats, outstanding: Ints, seen: DaysSeen = NONE_SEEN) -> Places:
    """Lay out every pattern that these bills could hold.

    Parameters
    ----------
    facts : Facts
        Exchanges bring patterns of their own; a loose edge already explains its swap, and a sure one refutes it.
    days : ndarray, shape (n,)
    outstanding : ndarray of int
        Periods that may hold an event of their own.
    """
    lasting = _lasting(house, facts, days, seen)
    rows = [*lasting, *_passing(house, facts, days, outstanding, seen)]
    told = [*seen.dated, *(spell.begin for spell in seen.spells), *seen.within]
    counts = [len(row.start) for row in rows]
    exchanges = np.array([exchange.day.toordinal() for exchange in facts.exchanges], dtype=float)
    start = np.concatenate([row.start for row in rows])
    full, closes = _whole(rows, "full"), house.bills[-1].start.toordinal() + float(days[-1])
    events = tuple(event for event in house.events if not _too_small(event, facts, days))
    index = {kind: at for at, kind in enumerate(kinds.PATTERNS)}
    return Places(
        mask=np.concatenate([row.mask for row in rows]),
        row=np.repeat(np.arange(len(rows)), counts),
        kind_index=np.repeat([index[row.kind] for row in rows], counts),
        large=np.repeat([row.large for row in rows], counts),
        start=start,
        end=_whole(rows, "end"),
        full=full,
        spared=np.nan_to_num(_whole(rows, "spared")),
        log_odds=np.concatenate([_log_odds(row, events, exchanges) - _told_apart(row, seen.spells) for row in rows]),
        dated=np.isin(start, told) | (full < closes),
        persistent=sum(counts[: len(lasting)]),
    )


def _lasting(house: House, facts: Facts, days: Floats, seen: DaysSeen) -> list[_Rows]:
    """Return the rows of every kind that stays once it has begun."""
    bills = house.bills
    opens = np.array([bill.start.toordinal() for bill in bills], dtype=float)
    closes = opens + days
    at_starts = np.union1d(_thinned(opens[1:]), seen.within)
    exchanges = np.array([exchange.day.toordinal() for exchange in facts.exchanges], dtype=float)
    thirds_of = [] if len(opens) > MOST_ONSETS else [(2.0 * opens + closes) / 3.0, (opens + 2.0 * closes) / 3.0]
    thirds = np.unique(np.concatenate([at_starts, *thirds_of, exchanges, seen.dated, _days_told(house, opens, closes)]))
    steps = np.union1d(at_starts, seen.dated) if seen.dated.size else at_starts
    whole = np.concatenate([steps, exchanges])

    def since(onsets: Floats) -> _Since:
        on = np.minimum(np.maximum((closes - onsets[:, None]) / days, 0.0), 1.0)
        return _Since(onsets, on, (onsets[:, None] == whole).any(axis=1))

    at_steps, each_bill = since(steps), since(at_starts)
    rows = at_steps.rows("meter-step", large=not facts.one_factor)  # no meter is so far out: a multiplier is
    if exchanges.size:
        at_exchanges = since(exchanges)
        rows += at_exchanges.rows("meter-exchange")
        rows += at_exchanges.rows("old-meter-slow", until=True)
        rows += at_exchanges.rows("meter-low-exchange")
    rows += _always("meter-always", len(bills))
    if house.field_test is not None and (house.field_test.runs or house.field_test.interval_runs):
        rows += _always("meter-low-always", len(bills))
    rows += at_steps.rows("meter-low")
    if len(seen.fallen):
        rows += since(seen.fallen[:, 0]).rows("meter-leg")
        # that the nights fell on these days makes none of them likelier than a bill's beginning
        rows[-1] = replace(rows[-1], spared=seen.fallen[:, 1], share=np.full(len(seen.fallen), 1.0 / len(bills)))
    rows += since(thirds).rows("constant-load")
    rows += each_bill.rows("cold-load")
    if warms_water(house):
        rows += at_steps.rows("hot-water-leak")
    begun = np.concatenate([at_starts, seen.grown[:, 0]])
    full = np.concatenate([np.full(len(at_starts), closes.max()), seen.grown[:, 1]])
    rows.append(_Rows("drift", risen(opens, closes, begun[:, None], full[:, None]), begun, full=full))
    # bills that rise or fall little by little are as well those of a meter that does, up to the last of them
    begun = _thinned(opens[:-1])
    full = np.full(len(begun), closes.max())
    grows = risen(opens, closes, begun[:, None], full[:, None])
    rows += [_Rows(kind, grows, begun, full=full) for kind in CREEPING_KINDS]
    for kind in ("habit-step", "habit-fall"):
        rows += each_bill.rows(kind)
    lived = at_starts[at_starts >= opens[min(LATE_WINDOW, len(opens) - 1)]]
    rows += since(lived).rows("house-left")  # fewer bills before it say nothing of people who lived there
    for kind in FOLLOWING_WEATHER:
        rows += at_steps.rows(kind)
    if house.loads:  # without a list the level, and all that follows the weather, is learnt from the bills
        for kind in ("unlisted", "list-short", "unlisted-heating", "unlisted-cooling"):
            rows += _always(kind, len(bills))
    rows += at_steps.rows("load-gone")
    if makes_its_own(house):
        rows += each_bill.rows("generation-fall")
    if seen.clocked is not None and len(seen.clocked[0]):
        begin, on = seen.clocked
        rows += [_Rows("clock-load", on, begin, large) for large in (False, True)]
    return rows


def _passing(house: House, facts: Facts, days: Floats, outstanding: Ints, seen: DaysSeen) -> list[_Rows]:
    """Return the rows of every kind that is of some bills only."""
    bills = house.bills
    opens = np.array([bill.start.toordinal() for bill in bills], dtype=float)
    closes = opens + days
    apart, begins = windows(len(bills))
    in_season = season_windows(house, opens, closes)
    rows = [_Rows(kind, on, start) for kind, (on, start) in zip(SEASON_KINDS, in_season, strict=True) if start.size]
    for side, (on, start) in zip(("heating", "cooling"), weather_spells(house, opens, closes), strict=True):
        mine = [spell for spell in seen.spells if spell.side == side]
        part = np.concatenate([on, np.array([spell.kwh_a_day for spell in mine]).reshape(len(mine), len(days))])
        began, until = (np.array([getattr(spell, name) for spell in mine]) for name in ("begin", "end"))
        row = _Rows(f"{side}-spell", part, np.concatenate([start, began]))
        row = replace(row, end=np.concatenate([np.full(len(start), np.nan), until]), sure=any(one.sure for one in mine))
        large = kinds.PATTERNS[row.kind].large_chance > 0.0
        rows += [row, replace(row, large=True)][: 1 + large] if row.start.size else []
    seasonal = {part.tobytes() for on, _ in in_season for part in on + 0.0}  # no negative zeros
    other = np.array([part.tobytes() not in seasonal for part in apart], dtype=bool)
    rows.append(_Rows("timed-load", apart[other], opens[begins[other]]))
    lived_in = other & (apart.sum(axis=1) >= LATE_WINDOW) & ~apart[:, -1].astype(bool)
    if lived_in.any():
        rows.append(_Rows("timed-load", apart[lived_in], opens[begins[lived_in]], large=True))
    if seen.stuck is not None and len(seen.stuck.start):
        rows.append(_Rows("stuck-load", seen.stuck.mask, seen.stuck.start, share=seen.stuck.share))
    ones = np.eye(len(bills))[outstanding]
    rows.append(_Rows("single-high", ones, opens[outstanding]))
    rows.append(_Rows("single-low", ones, opens[outstanding]))
    rows.append(_Rows("odd-bill", ones, opens[outstanding]))
    empty, left = absences(len(bills))
    if len(left):
        rows.append(_Rows("absence", empty, opens[left]))
    meets = [after.start == bill.closes for bill, after in pairwise(bills)]
    settled = facts.loose_edges | facts.sure_edges
    alone = set(outstanding.tolist())
    both = np.array([i for i, met in enumerate(meets) if met and i not in settled and i in alone], dtype=np.int64)
    moved = np.zeros((len(both), len(bills)))
    moved[np.arange(len(both)), both] = 1.0
    moved[np.arange(len(both)), both + 1] = -days[both] / days[both + 1]
    rows += [_Rows(kind, moved, opens[both]) for kind in ("swap", "late-reading")]
    late, first = estimates(days, [met and i not in facts.sure_edges for i, met in enumerate(meets)])
    if len(first):
        rows += [_Rows(kind, late, opens[first]) for kind in ("catch-up", "trued-up")]
    rows.append(_Rows("swap-back", moved, opens[both]))
    return rows


def _days_told(house: House, opens: Floats, closes: Floats) -> Floats:
    """Days within the bills on which by the diary a load came: the household knows better than any grid."""
    told = np.array([event.day.toordinal() for event in house.events if event.kind == "new-load"], dtype=float)
    within: Floats = told[(told > opens[0]) & (told < closes[-1])]
    return within


def _thinned(onsets: Floats) -> Floats:
    """Every so many of the onsets, where there are many."""
    every = max(-(-len(onsets) // MOST_ONSETS), 1)
    return onsets[::every]


def _too_small(event: Event, facts: Facts, days: Floats) -> bool:
    """Whether a line of the diary names a new load that, by the handbook, is lost in what the house uses."""
    if event.kind != "new-load":
        return False
    most = most_kwh_per_day(event.load or event.note)
    known = np.isfinite(facts.billed_kwh)
    return most is not None and most * float(days[known].sum()) < EVENT_SMALL * float(facts.billed_kwh[known].sum())


def _may_tell(told: str, kind: kinds.Kind) -> bool:
    """Whether a line of the diary may tell of a kind of cause: nobody at home raises no bill, and guests lower none."""
    wrong_way = (told == "away" and kind.size_mean > 0.0) or (told == "guests" and kind.size_mean < 0.0)
    return kind.code in EVENT_CODES.get(told, ()) and not wrong_way


def _log_odds(row: _Rows, events: tuple[Event, ...], exchanges: Floats) -> Floats:
    """Chance of a kind, more at onsets where the diary speaks of something like it.

    A load likewise: who has a meter exchanged often has more work done that day.
    """
    prior, start = kinds.PATTERNS[row.kind], row.start
    usual = prior.large_chance if row.large else prior.chance
    if row.share is not None:
        return np.asarray(np.log(usual / (1.0 - usual) * row.share * len(row.share)), dtype=np.float64)
    if row.sure:  # days were told from days by their weather: bills hear of it once more, and not for the first time
        usual = min(usual * SEEN_LIFT, 0.5)
    told = [event.day.toordinal() for event in events if _may_tell(event.kind, prior)]
    worked = prior.name == "constant-load" and exchanges.size > 0
    if not (told or worked):
        return np.full(len(start), np.log(usual / (1.0 - usual)))
    chance = np.full(len(start), usual)
    if told:  # two lines about the same days say no more than one
        near = (np.abs(start[:, None] - np.array(told, dtype=float)) <= EVENT_DAYS).any(axis=1)
        chance[near] = min(usual * EVENT_LIFT, 0.9)
    if worked:
        chance = np.where(np.isin(start, exchanges), np.maximum(chance, usual * WORK_LIFT), chance)
    odds: Floats = np.log(chance / (1.0 - chance))
    return odds


def _told_apart(row: _Rows, spells: Sequence[SpellSeen]) -> Floats:
    """Log likelihood by which days speak against loads that are the same every day and began as a spell did."""
    out = np.zeros(len(row.start))
    if row.kind in SAME_EVERY_DAY:
        for spell in spells:
            out = np.where(np.abs(row.start - spell.begin) <= SPELL_DAYS, np.maximum(out, spell.lead), out)
    return out


def _whole(rows: Sequence[_Rows], name: str) -> Floats:
    """What the rows say of each of their patterns, NaN where they say nothing."""
    out = np.full(sum(len(row.start) for row in rows), np.nan)
    at = 0
    for row in rows:
        days = getattr(row, name)
        if days is not None:
            out[at : at + len(row.start)] = days
        at += len(row.start)
    return out


def risen(begins: Floats, ends: Floats, since: Floats, full: Floats) -> Floats:
    """Mean, over the time from ``begins`` to ``ends``, of what grows from nothing to 1 between two days and stays.

    Examples
    --------
    >>> risen(np.array([0.0, 10.0, 20.0]), np.array([10.0, 20.0, 30.0]), 10.0, 20.0).tolist()
    [0.0, 0.5, 1.0]
    """
    length = np.maximum(full - since, 1.0)

    def upto(day: Floats) -> Floats:
        so_far: Floats = 0.5 * length * np.clip((day - since) / length, 0.0, 1.0) ** 2
        return so_far + np.maximum(day - since - length, 0.0)

    mean: Floats = (upto(ends) - upto(begins)) / (ends - begins)
    return mean
