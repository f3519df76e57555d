"""The patterns that may stand in a house's bills: one column each, with its onset, size and prior."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from reconcile import kinds
from reconcile.facts import Facts
from reconcile.house import Event, House
from reconcile.kinds import Kind, Lasts
from reconcile.weigh.constants import EVENT_CODES, EVENT_DAYS, EVENT_LIFT
from reconcile.weigh.evidence import Candidates
from reconcile.weigh.gaussian import Fit
from reconcile.weigh.model import Model

Floats = NDArray[np.float64]

FOLLOWING_WEATHER = (
    "heating-rise",
    "cooling-rise",
    "heating-setting",
    "cooling-setting",
    "heating-fall",
    "cooling-fall",
)

WINDOW_LENGTHS = (2, 3, 4, 6, 8)
"""Lengths of a timed load, in billing periods."""

OUTDOOR_SWING = 0.35
"""Part by which something warm out of doors takes more in the coldest period than on the mean, and less in summer."""

LATE_WINDOW = 4
"""Longest time for which a load that has not gone yet may still be one for a season."""

KINDS = tuple(kinds.KINDS)
PASSING = tuple(name for name, kind in kinds.KINDS.items() if kind.lasts in (Lasts.WINDOW, Lasts.ONE_BILL))
PERSISTENT = tuple(name for name in KINDS if name not in PASSING)
CODES = tuple(dict.fromkeys(kinds.KINDS[kind].code for kind in KINDS))
CODE_OF_KIND = np.array([CODES.index(kinds.KINDS[kind].code) for kind in KINDS])

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
class Shape:
    """The use a pattern scales: fitted energy of each period by what it follows [kWh].

    ``warmer`` and ``cooler`` are the change of heating and cooling for a set point moved the same way all along, scaled
    to the energy of the whole: it goes by the days on which the equipment runs, not by how cold they are. ``outdoors``
    is what something warm out of doors takes in each period, as a part of its mean.
    """

    all: Floats
    clock: Floats
    heating: Floats
    cooling: Floats
    warmer: Floats
    cooler: Floats
    outdoors: Floats
    days: Floats

    @property
    def per_day(self) -> float:
        """Mean use [kWh/d]."""
        return float(self.all.sum() / self.days.sum())


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
    """

    effect: Floats
    kind: tuple[str, ...]
    kind_index: NDArray[np.int64]
    start: Floats
    size_mean: Floats
    size_sd: Floats
    log_prior: Floats
    persistent: int

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
        )


def fitted_shape(model: Model, data: Fit, judged: NDArray[np.bool_]) -> Shape:
    """Split the use into what follows the clock, heating and cooling, as fitted to the bills.

    The list may be off in level; a pattern in proportion to use must have the *house's* seasons, so the shared
    factors are taken at their posterior mean.
    """
    pull = data.half.T @ data.white
    moved = model.factors.T[:, judged] @ pull
    smooth = model.mean + model.factors @ moved
    count = len(model.heats)
    own = model.parts + model.factors[:, :count] * moved[:count]
    own = np.maximum(own, 0.0)
    smooth = np.maximum(smooth, 0.2 * model.mean)
    rest = smooth - own.sum(axis=1)
    heat_days, cool_days = model.energy.degree_days.T
    both = np.maximum(heat_days + cool_days, 1e-9)
    heating = np.maximum(own[:, model.heats].sum(axis=1) + np.maximum(rest, 0.0) * heat_days / both, 0.0)
    cooling = np.maximum(own[:, model.cools].sum(axis=1) + np.maximum(rest, 0.0) * cool_days / both, 0.0)
    if not model.weathered:
        heating = own[:, model.heats].sum(axis=1)
        cooling = own[:, model.cools].sum(axis=1)
    clock = own[:, model.clocks].sum(axis=1)
    warmer, cooler = (
        _setting(energy, np.abs(model.energy.balance_slope[:, which[:-1]]).sum(axis=1))
        for energy, which in ((heating, model.heats), (cooling, model.cools))
    )
    cold = heat_days / model.days
    outdoors = 1.0 + OUTDOOR_SWING * (2.0 * cold / cold.max() - 1.0) if cold.max() > 0 else np.zeros(len(cold))
    return Shape(smooth, clock, heating, cooling, warmer, cooler, outdoors, model.days)


def _setting(energy: Floats, slope: Floats) -> Floats:
    total = float(slope.sum())
    scaled: Floats = slope * (float(energy.sum()) / total) if total > 0 else np.zeros_like(energy)
    return scaled


def patterns(house: House, facts: Facts, shape: Shape, judged: NDArray[np.bool_]) -> Patterns:
    """Lay out every pattern that these bills could hold.

    Parameters
    ----------
    house : House
    facts : Facts
        Exchanges bring patterns of their own; a loose edge already explains its swap.
    shape : Shape
    judged : ndarray of bool, shape (n,)
        Periods that are heard; a pattern that touches none of them is left out.

    Returns
    -------
    Patterns
    """
    bills = house.bills
    opens = np.array([bill.start.toordinal() for bill in bills], dtype=float)
    closes = opens + shape.days
    at_starts = opens[1:]
    exchanges = np.array([exchange.day.toordinal() for exchange in facts.exchanges], dtype=float)
    thirds = np.unique(
        np.concatenate([opens[1:], (2.0 * opens + closes) / 3.0, (opens + 2.0 * closes) / 3.0, exchanges])
    )
    rows: list[tuple[str, Floats, Floats]] = []  # kind, effect (m, n), start (m,)

    def step(on: Floats, onsets: Floats) -> Floats:
        return on * np.clip((closes - onsets[:, None]) / shape.days, 0.0, 1.0)

    per_day = shape.days * shape.per_day
    always = np.full(1, np.nan)
    rows.append(("meter-step", step(shape.all, at_starts), at_starts))
    if exchanges.size:
        rows.append(("meter-exchange", step(shape.all, exchanges), exchanges))
        rows.append(("old-meter-slow", step(shape.all, exchanges) - shape.all, exchanges))
        rows.append(("meter-low-exchange", step(shape.all, exchanges), exchanges))
    rows.append(("meter-always", shape.all[None, :], always))
    rows.append(("meter-low", step(shape.all, at_starts), at_starts))
    rows.append(("constant-load", step(per_day, thirds), thirds))
    rows.append(("cold-load", step(per_day * shape.outdoors, at_starts), at_starts))
    rows.append(("drift", per_day * _ramp(opens, closes, at_starts), at_starts))
    rows.append(("habit-step", step(shape.clock, at_starts), at_starts))
    rows.append(("habit-fall", step(shape.clock, at_starts), at_starts))
    rows.append(("heating-rise", step(shape.heating, at_starts), at_starts))
    rows.append(("cooling-rise", step(shape.cooling, at_starts), at_starts))
    rows.append(("heating-setting", step(shape.warmer, at_starts), at_starts))
    rows.append(("cooling-setting", step(shape.cooler, at_starts), at_starts))
    rows.append(("heating-fall", step(shape.heating, at_starts), at_starts))
    rows.append(("cooling-fall", step(shape.cooling, at_starts), at_starts))
    rows.append(("unlisted", per_day[None, :], always))
    rows.append(("list-short", shape.all[None, :], always))
    rows.append(("load-gone", step(per_day, at_starts), at_starts))
    persistent = len(rows)
    windows, begins = _windows(len(bills))
    rows.append(("timed-load", windows * per_day, opens[begins]))
    ones = np.diag(shape.all)
    rows.append(("single-high", ones, opens))
    rows.append(("single-low", ones, opens))
    meets = np.array([bills[i + 1].start == bills[i].closes for i in range(len(bills) - 1)], dtype=bool)
    tight = np.array([i not in facts.loose_edges for i in range(len(bills) - 1)], dtype=bool)
    both = np.flatnonzero(meets & tight)
    moved = np.zeros((len(both), len(bills)))
    level = per_day[both]
    moved[np.arange(len(both)), both] = level
    moved[np.arange(len(both)), both + 1] = -level
    rows.append(("swap", moved, opens[both]))
    rows.append(("swap-back", moved, opens[both]))

    return _assemble(rows, persistent, house.events, judged, per_day)


def _assemble(
    rows: Sequence[tuple[str, Floats, Floats]],
    persistent: int,
    events: Sequence[Event],
    judged: NDArray[np.bool_],
    per_day: Floats,
) -> Patterns:
    # A pattern too small to be seen in any period that is heard is no cause of these bills; one that differs from the
    # next onset's in nothing (a rise of heating that begins in June or July) need not be weighed twice.
    least = 0.08 * per_day.mean()
    kept = []
    for kind, effect, start in rows:
        heard = effect[:, judged]
        big = np.abs(heard).max(axis=1, initial=0.0) > least
        if kind in FOLLOWING_WEATHER and len(heard) > 1:
            big[:-1] &= np.abs(heard[1:] - heard[:-1]).max(axis=1, initial=0.0) > least / 4.0
        kept.append((kind, effect[big], start[big]))
    counts = [len(effect) for _, effect, _ in kept]
    index = np.repeat([KINDS.index(kind) for kind, _, _ in kept], counts)
    return Patterns(
        effect=np.concatenate([effect for _, effect, _ in kept]).T.copy(),
        kind=tuple(KINDS[i] for i in index),
        kind_index=index,
        start=np.concatenate([start for _, _, start in kept]),
        size_mean=np.array([kinds.KINDS[kind].size_mean for kind in KINDS])[index],
        size_sd=np.array([kinds.KINDS[kind].size_sd for kind in KINDS])[index],
        log_prior=np.concatenate([_log_prior(kinds.KINDS[kind], start, events) for kind, _, start in kept]),
        persistent=sum(counts[:persistent]),
    )


def _log_prior(prior: Kind, start: Floats, events: Sequence[Event]) -> Floats:
    """Spread a kind's chance over its onsets, more where the diary speaks of something like it."""
    if not start.size:
        return np.zeros(0)
    share = np.full(len(start), 1.0 / len(start))
    told = [event.day.toordinal() for event in events if prior.code in EVENT_CODES.get(event.kind, ())]
    # two lines about the same days say no more than one
    near = (np.abs(start[:, None] - np.array(told, dtype=float)) <= EVENT_DAYS).any(axis=1)
    chance = np.where(near, min(prior.chance * EVENT_LIFT, 0.9), prior.chance)
    spread: Floats = np.log(share) + np.log(chance / (1.0 - chance))
    return spread


def _ramp(opens: Floats, closes: Floats, onsets: Floats) -> Floats:
    """A slow rise from each onset to 1 at the end of the bills, as the mean over each period."""
    end = closes.max()
    length = np.maximum(end - onsets, 1.0)[:, None]
    rise = np.clip((closes - onsets[:, None]) / length, 0.0, 1.0)
    before = np.clip((opens - onsets[:, None]) / length, 0.0, 1.0)
    ramp: Floats = 0.5 * (rise + before) * (rise > 0)
    return ramp


def _windows(n: int) -> tuple[Floats, NDArray[np.int64]]:
    """Loads that come and go, in windows of some periods; the shorter ones may still be there at the end."""
    spans = [
        (begin, begin + length)
        for length in WINDOW_LENGTHS
        if length <= n - 2
        for begin in range(n - length + (length <= LATE_WINDOW))
    ]
    out = np.zeros((len(spans), n))
    for row, (begin, end) in enumerate(spans):
        out[row, begin:end] = 1.0
    return out, np.array([begin for begin, _ in spans], dtype=np.int64)


def day_of(ordinal: float) -> date | None:
    """Date of an ordinal day; None for always."""
    return None if np.isnan(ordinal) else date(1, 1, 1) + timedelta(days=int(ordinal) - 1)
