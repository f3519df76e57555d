"""The patterns that may stand in a house's bills: one column each, with its onset, size and prior."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from reconcile import kinds
from reconcile.facts import Facts
from reconcile.house import Event, House
from reconcile.kinds import Lasts
from reconcile.weigh.constants import EVENT_CODES, EVENT_DAYS, EVENT_LIFT, WORK_LIFT
from reconcile.weigh.evidence import Candidates
from reconcile.weigh.gaussian import Fit
from reconcile.weigh.model import Model
from reconcile.weigh.shapes import Acting, Shape, sharpen

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

FOLLOWS = {
    "meter-step": "all",
    "meter-exchange": "all",
    "old-meter-slow": "all",
    "meter-low-exchange": "all",
    "meter-always": "all",
    "meter-low": "all",
    "habit-step": "clock",
    "habit-fall": "clock",
    "heating-rise": "heating",
    "heating-fall": "heating",
    "cooling-rise": "cooling",
    "cooling-fall": "cooling",
}
"""Which share of the use each proportional kind acts on (:func:`reconcile.weigh.shapes.shares`)."""

WINDOW_LENGTHS = (2, 3, 4, 6, 8)
"""Lengths of a timed load, in billing periods."""

LATE_WINDOW = 4
"""Longest time for which a load that has not gone yet may still be one for a season."""

MOST_ONSETS = 100
"""Onsets tried of one kind at the most: of many bills, every so many."""

MOST_SINGLES = 200
"""Periods tried as a passing event at the most: of many bills, those that stand out furthest."""

KINDS = tuple(kinds.KINDS)
PASSING = tuple(name for name, kind in kinds.KINDS.items() if kind.lasts in (Lasts.WINDOW, Lasts.ONE_BILL))
CODES = tuple(dict.fromkeys(kinds.KINDS[kind].code for kind in KINDS))
CODE_OF_KIND = np.array([CODES.index(kinds.KINDS[kind].code) for kind in KINDS])

NOWHEN = np.zeros(0)
"""No day."""

_EXCLUDING = (
    ("meter-step", "old-meter-slow", "meter-always", "meter-low"),
    ("constant-load", "load-gone"),
)
"""Codes of which only one is taken to act: a meter that turned fast and then slow again, or a load that came as another
went, is a load between two dates."""
GROUP_OF_KIND = np.array(
    [next((CODES.index(g[0]) for g in _EXCLUDING if CODES[code] in g), code) for code in CODE_OF_KIND]
)


def kinds_mask(*kinds: str) -> NDArray[np.bool_]:
    """Mark some kinds among :data:`KINDS`.

    Examples
    --------
    >>> int(kinds_mask("drift").sum())
    1
    """
    return np.array([kind in kinds for kind in KINDS])


@dataclass(frozen=True, slots=True, eq=False)
class Patterns:
    """K patterns on n periods.

    Attributes
    ----------
    effect : ndarray, shape (n, K)
        kWh in each period per unit of size (1 = the part of use, or kWh/d, that ``unit`` says).
    kind : tuple of str
        Key of :data:`kinds.KINDS`.
    kind_index : ndarray of int, shape (K,)
        Its place in :data:`KINDS`.
    start : ndarray, shape (K,)
        Day (ordinal) from which each acts; NaN for always.
    size_mean, size_sd : ndarray, shape (K,)
    log_prior : ndarray, shape (K,)
    persistent : int
        The first so many.
    opens, closes : ndarray of int, shape (K,)
        First period in which each acts, and the one after its last.
    acting : Acting
        What the proportional ones act on, and by what part.
    idle : ndarray of bool, shape (K,)
        Loads that rest while a quiet night is read.
    """

    effect: Floats
    kind: tuple[str, ...]
    kind_index: NDArray[np.int64]
    start: Floats
    size_mean: Floats
    size_sd: Floats
    log_prior: Floats
    persistent: int
    opens: Ints
    closes: Ints
    acting: Acting
    idle: NDArray[np.bool_]

    def code(self, index: int) -> str:
        """Cause code of a pattern."""
        return kinds.KINDS[self.kind[index]].code

    def candidates(self, effect: Floats) -> Candidates:
        """Scale the patterns' effects on the observations heard, shape (N, K), for the evidence."""
        return Candidates(
            columns=effect * self.size_sd,
            shift=self.size_mean / self.size_sd,
            log_prior=self.log_prior,
            group=GROUP_OF_KIND[self.kind_index],
            kind=self.kind_index,
            persistent=self.persistent,
            opens=self.opens,
            closes=self.closes,
        )


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """Patterns of one kind: the part of each period in which each acts (m, n), and the day it starts (m,).

    ``large``: with a size of another order.
    """

    kind: str
    mask: Floats
    start: Floats
    large: bool = False


def patterns(
    house: House,
    facts: Facts,
    model: Model,
    shape: Shape,
    bills: Fit,
    judged: NDArray[np.bool_],
    dated: Floats = NOWHEN,
) -> Patterns:
    """Lay out every pattern that these bills could hold.

    Parameters
    ----------
    house : House
    facts : Facts
        Exchanges bring patterns of their own; a loose edge already explains its swap.
    model : Model
    shape : Shape
    bills : Fit
        The judged bills with no pattern in.
    judged : ndarray of bool, shape (n,)
        Periods that are heard; a pattern that touches none of them is left out.
    dated : ndarray
        Days (ordinal) at which interval data show a change: onsets of a meter step and of a constant load besides.

    Returns
    -------
    Patterns
    """
    rows, persistent = _lay_out(house, facts, shape, _outstanding(model, bills, judged), dated)
    per_day = shape.days * shape.per_day
    on = {
        "all": shape.all,
        "clock": shape.clock,
        "heating": shape.heating,
        "cooling": shape.cooling,
        "heating-setting": shape.warmer,
        "cooling-setting": shape.cooler,
        "cold-load": per_day * shape.outdoors,
        "list-short": shape.all,
        "single-high": shape.all,
        "single-low": shape.all,
    }
    # A pattern too small to be seen in any period that is heard is no cause of these bills; one that differs from the
    # next onset's in nothing (a rise of heating that begins in June or July) need not be weighed twice.
    least = 0.08 * per_day.mean()
    # ... nor is one seen only where the weather is not known: such a period accuses nobody
    known = judged & ~model.thin
    known = known if known.any() else judged
    kept = []
    for row in rows:
        effect = row.mask * on.get(FOLLOWS.get(row.kind, row.kind), per_day)
        heard = effect[:, known]
        big = np.abs(heard).max(axis=1, initial=0.0) > least
        if row.kind in FOLLOWING_WEATHER and len(heard) > 1:
            big[:-1] &= np.abs(heard[1:] - heard[:-1]).max(axis=1, initial=0.0) > least / 4.0
        kept.append((replace(row, mask=row.mask[big], start=row.start[big]), effect[big]))
    counts = [len(effect) for _, effect in kept]
    index = np.repeat([KINDS.index(row.kind) for row, _ in kept], counts)
    large = np.repeat([row.large for row, _ in kept], counts)
    mask = np.concatenate([row.mask for row, _ in kept])
    acts = np.abs(mask) > 0.0
    effect = np.concatenate([effect for _, effect in kept]).T.copy()
    acting = Acting(
        mask=mask.T.copy(),
        follows=np.array([FOLLOWS.get(kind, "") for kind in KINDS])[index],
        size_mean=np.where(large, kinds.LARGE_MEAN, np.array([kinds.KINDS[kind].size_mean for kind in KINDS])[index]),
        size_sd=np.where(large, kinds.LARGE_SD, np.array([kinds.KINDS[kind].size_sd for kind in KINDS])[index]),
    )
    exchanges = np.array([exchange.day.toordinal() for exchange in facts.exchanges], dtype=float)
    return Patterns(
        effect=sharpen(effect, acting, model, bills, judged),
        kind=tuple(KINDS[i] for i in index),
        kind_index=index,
        start=np.concatenate([row.start for row, _ in kept]),
        size_mean=acting.size_mean,
        size_sd=acting.size_sd,
        log_prior=np.concatenate([_log_prior(row, house.events, exchanges, dated) for row, _ in kept]),
        persistent=sum(counts[:persistent]),
        opens=np.argmax(acts, axis=1),
        closes=acts.shape[1] - np.argmax(acts[:, ::-1], axis=1),
        acting=acting,
        idle=np.zeros(len(index), dtype=bool),
    )


def _lay_out(house: House, facts: Facts, shape: Shape, outstanding: Ints, dated: Floats) -> tuple[list[_Rows], int]:
    """Return the rows of every kind, the persistent kinds first, and how many kinds of rows those are."""
    bills = house.bills
    opens = np.array([bill.start.toordinal() for bill in bills], dtype=float)
    closes = opens + shape.days
    at_starts = _thinned(opens[1:])
    exchanges = np.array([exchange.day.toordinal() for exchange in facts.exchanges], dtype=float)
    within = [] if len(opens) > MOST_ONSETS else [(2.0 * opens + closes) / 3.0, (opens + 2.0 * closes) / 3.0]
    thirds = np.unique(np.concatenate([at_starts, *within, exchanges, dated]))
    steps = np.union1d(at_starts, dated) if dated.size else at_starts
    whole = np.concatenate([steps, exchanges])
    rows: list[_Rows] = []

    def step(kind: str, onsets: Floats, *, until: bool = False) -> None:
        on = np.clip((closes - onsets[:, None]) / shape.days, 0.0, 1.0)
        rows.append(_Rows(kind, on - 1.0 if until else on, onsets))
        if kinds.KINDS[kind].large_chance:
            some = np.isin(onsets, whole)
            rows.append(_Rows(kind, on[some], onsets[some], large=True))

    def always(kind: str) -> None:
        rows.append(_Rows(kind, np.ones((1, len(bills))), np.full(1, np.nan)))
        if kinds.KINDS[kind].large_chance:
            rows.append(replace(rows[-1], large=True))

    step("meter-step", steps)
    if exchanges.size:
        step("meter-exchange", exchanges)
        step("old-meter-slow", exchanges, until=True)
        step("meter-low-exchange", exchanges)
    always("meter-always")
    step("meter-low", steps)
    step("constant-load", thirds)
    step("cold-load", at_starts)
    rows.append(_Rows("drift", _ramp(opens, closes, at_starts), at_starts))
    for kind in ("habit-step", "habit-fall", *FOLLOWING_WEATHER):
        step(kind, at_starts)
    always("unlisted")
    always("list-short")
    step("load-gone", at_starts)
    persistent = len(rows)

    windows, begins = _windows(len(bills))
    rows.append(_Rows("timed-load", windows, opens[begins]))
    ones = np.eye(len(bills))[outstanding]
    rows.append(_Rows("single-high", ones, opens[outstanding]))
    rows.append(_Rows("single-low", ones, opens[outstanding]))
    meets = np.array([bills[i + 1].start == bills[i].closes for i in range(len(bills) - 1)], dtype=bool)
    tight = np.array([i not in facts.loose_edges for i in range(len(bills) - 1)], dtype=bool)
    both = np.flatnonzero(meets & tight)
    both = both[np.isin(both, outstanding)]
    moved = np.zeros((len(both), len(bills)))
    moved[np.arange(len(both)), both] = 1.0
    moved[np.arange(len(both)), both + 1] = -shape.days[both] / shape.days[both + 1]
    rows.append(_Rows("swap", moved, opens[both]))
    rows.append(_Rows("swap-back", moved, opens[both]))
    return rows, persistent


def _thinned(onsets: Floats) -> Floats:
    """Every so many of the onsets, where there are many."""
    every = max(-(-len(onsets) // MOST_ONSETS), 1)
    return onsets[::every]


def _outstanding(model: Model, bills: Fit, judged: NDArray[np.bool_]) -> Ints:
    """Periods that may hold an event of their own: all, or of many bills those that stand out furthest."""
    n = len(model.mean)
    if n <= MOST_SINGLES:
        return np.arange(n)
    pulled = np.zeros(n)
    pulled[judged] = np.abs(bills.half.T @ bills.white) / np.sqrt(np.diagonal(bills.precision))
    return np.sort(np.argsort(pulled)[-MOST_SINGLES:])


def _log_prior(row: _Rows, events: tuple[Event, ...], exchanges: Floats, dated: Floats) -> Floats:
    """Spread a kind's chance over its onsets, more where the diary speaks of something like it.

    Onsets that interval data name share the chance of the usual one nearest to them: that they were looked for makes
    them no likelier. A load likewise: who has a meter exchanged often has more work done that day.
    """
    prior, start = kinds.KINDS[row.kind], row.start
    if not start.size:
        return np.zeros(0)
    usual = prior.large_chance if row.large else prior.chance
    share = _shares(start, dated)
    told = [event.day.toordinal() for event in events if prior.code in EVENT_CODES.get(event.kind, ())]
    # two lines about the same days say no more than one
    near = (np.abs(start[:, None] - np.array(told, dtype=float)) <= EVENT_DAYS).any(axis=1)
    chance = np.where(near, min(usual * EVENT_LIFT, 0.9), usual)
    if prior.name == "constant-load":
        chance = np.where(np.isin(start, exchanges), np.maximum(chance, usual * WORK_LIFT), chance)
    spread: Floats = np.log(share) + np.log(chance / (1.0 - chance))
    return spread


def _shares(start: Floats, dated: Floats) -> Floats:
    """Part of a kind's chance at each onset."""
    named = np.isin(start, dated)
    if not named.any() or named.all():
        return np.full(len(start), 1.0 / len(start))
    usual = start[~named]
    cell = np.argmin(np.abs(start[:, None] - usual), axis=1)
    share: Floats = 1.0 / (len(usual) * np.bincount(cell, minlength=len(usual))[cell])
    return share


def _ramp(opens: Floats, closes: Floats, onsets: Floats) -> Floats:
    """A slow rise from each onset to 1 at the end of the bills, as the mean over each period."""
    end = closes.max()
    length = np.maximum(end - onsets, 1.0)[:, None]
    rise = np.clip((closes - onsets[:, None]) / length, 0.0, 1.0)
    before = np.clip((opens - onsets[:, None]) / length, 0.0, 1.0)
    ramp: Floats = 0.5 * (rise + before) * (rise > 0)
    return ramp


def _windows(n: int) -> tuple[Floats, Ints]:
    """Loads that come and go, in windows of some periods; the shorter ones may still be there at the end."""
    every = max(n // MOST_ONSETS, 1)
    spans = [
        (begin, begin + length * every)
        for length in WINDOW_LENGTHS
        if length <= n - 2
        for begin in range(0, n - length * every + (length <= LATE_WINDOW), every)
    ]
    out = np.zeros((len(spans), n))
    for row, (begin, end) in enumerate(spans):
        out[row, begin:end] = 1.0
    return out, np.array([begin for begin, _ in spans], dtype=np.int64)


def day_of(ordinal: float) -> date | None:
    """Date of an ordinal day; None for always."""
    return None if np.isnan(ordinal) else date(1, 1, 1) + timedelta(days=int(ordinal) - 1)
