"""What each check is worth: the expected saving of wrong acts that its outcome would prevent.

A check is worth making where its outcome may change what is done. With p(h) the chance of each state h of the house,
L(a, h) the loss of an act a, and p(o | h) the chance of an outcome o of the check,

    worth = min_a sum_h p(h) L(a, h)  -  sum_o min_a sum_h p(h) p(o | h) L(a, h),

which is never negative, and nought where every outcome leaves the same act best (Raiffa and Schlaifer 1961).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from enum import StrEnum
from math import erf, sqrt

import numpy as np
from numpy.typing import NDArray

from reconcile.costs import COSTS, Costs
from reconcile.decide.rules import FAST_KINDS, SLOW_KINDS, STEADY_KINDS, WEATHER_KINDS
from reconcile.kinds import OWN_METER, Hazard
from reconcile.records import dataclass
from reconcile.result import Cause
from reconcile.weigh.places import TIMED_KINDS
from reconcile.weigh.weighed import Weighing

Floats = NDArray[np.float64]


class State(StrEnum):
    """What may be true of the house; the chances of all sum to one."""

    FAST = "fast"
    SLOW = "slow"
    OLD_SLOW = "old-slow"
    STEADY = "steady"
    TIMED = "timed"
    HABIT = "habit"
    WEATHER = "weather"
    LIST = "list"
    RECORD = "record"
    NONE = "none"


class Check(StrEnum):
    """What may be done to find out."""

    BEGAN = "began"
    OWN_READINGS = "own-readings"
    QUIET = "quiet"
    DOWNLOAD = "download"
    KNOWN_LOAD = "known-load"
    BREAKERS = "breakers"
    MAIN_OFF = "main-off"
    OLD_METER = "old-meter"
    UTILITY_TEST = "utility-test"
    PANEL = "panel"


HAZARD: dict[Check, Hazard] = {
    Check.BEGAN: Hazard.PAPER,
    Check.OWN_READINGS: Hazard.LOOK,
    Check.QUIET: Hazard.LOOK,
    Check.DOWNLOAD: Hazard.PAPER,
    Check.KNOWN_LOAD: Hazard.PLUG_IN,
    Check.BREAKERS: Hazard.MAIN_BREAKER,
    Check.MAIN_OFF: Hazard.MAIN_BREAKER,
    Check.OLD_METER: Hazard.PAPER,
    Check.UTILITY_TEST: Hazard.UTILITY,
    Check.PANEL: Hazard.PANEL,
}
"""How near each check comes to live parts."""

MINUTES: dict[Check, int] = {
    Check.BEGAN: 10,
    Check.OWN_READINGS: 20,
    Check.QUIET: 15,
    Check.DOWNLOAD: 15,
    Check.KNOWN_LOAD: 30,
    Check.BREAKERS: 45,
    Check.MAIN_OFF: 30,
    Check.OLD_METER: 10,
    Check.UTILITY_TEST: 20,
    Check.PANEL: 90,
}
"""Minutes of the household's own time (our own judgement)."""


NEEDS_A_RUN = (
    "meter-open", "meter-slow", "late-bill", "above-list", "meter-always", "meter-maybe", "above-plate", "falls",
    "resized",
)  # fmt: skip
"""Rules after which a known load is run whatever it is worth."""


def losses(costs: Costs = COSTS) -> Floats:
    """Loss of each act in each state, shape (acts, states): of what is left as it is, and of the act.

    Whoever acts pays for it, needed or not; but a test that was needed is paid back.
    """
    left = {
        State.FAST: costs.fast_left,
        State.SLOW: costs.slow_left,
        State.STEADY: costs.load_left,
        State.TIMED: costs.timed_left,
        State.WEATHER: costs.weather_left,
        State.LIST: costs.list_left,
        State.RECORD: costs.record_left,
    }
    acts: tuple[tuple[float, float, frozenset[State]], ...] = (
        # price where it mends nothing, and where it does
        (0.0, 0.0, frozenset()),
        (costs.needless_test, 0.0, frozenset({State.FAST, State.SLOW})),
        (costs.wasted_look, costs.wasted_look, frozenset({State.STEADY})),
        (costs.call, costs.call, frozenset({State.RECORD})),
        (costs.wasted_look, costs.wasted_look, frozenset({State.WEATHER})),
        (costs.listing, costs.listing, frozenset({State.LIST})),
    )
    rows = [[needed if s in mends else price + left.get(s, 0.0) for s in State] for price, needed, mends in acts]
    return np.array(rows)


@dataclass(frozen=True, slots=True)
class Sizes:
    """How large the suspected causes are, beside what the checks can tell."""

    meter_percent: float = 20.0
    """Suspected error of the meter [%]."""
    load_watts: float = 300.0
    """Suspected round-the-clock load [W]."""
    run_percent: float = 1.5
    """Standard uncertainty of a known-load run [%]."""
    quiet_watts: float = 60.0
    """Standard uncertainty of what is on in a quiet house by the list, and of the reading [W]."""


def weights_of(weighing: Weighing | None) -> dict[State, float]:
    """Chances of what may be true, for the worth of checks."""
    if weighing is None:
        return {}
    of = weighing.chance
    return {
        State.FAST: of(*FAST_KINDS),
        State.SLOW: of(*SLOW_KINDS),
        State.OLD_SLOW: of("old-meter-slow"),
        State.STEADY: of(*STEADY_KINDS),
        State.TIMED: of(*TIMED_KINDS),
        State.HABIT: of("habit-step", "habit-fall", "house-left"),
        State.WEATHER: of(*WEATHER_KINDS),
        State.LIST: of("unlisted", "list-short"),
        State.RECORD: of("swap", "swap-back", "catch-up", "trued-up", "single-high"),
        State.NONE: weighing.none,
    }


def likeliest(causes: Sequence[Cause], *codes: str) -> Cause | None:
    """The likeliest of some causes that has a size."""
    known = [cause for cause in causes if cause.code in codes and cause.size]
    return max(known, key=lambda cause: cause.probability, default=None)


def sizes_of(causes: Sequence[Cause]) -> Sizes:
    """How large the suspected meter error and load are."""
    wrong, steady = likeliest(causes, *OWN_METER), likeliest(causes, "constant-load")
    usual = Sizes()
    return replace(
        usual,
        meter_percent=abs(wrong.size) if wrong is not None and wrong.size else usual.meter_percent,
        load_watts=abs(steady.size) if steady is not None and steady.size else usual.load_watts,
    )


def worth(check: Check, weights: Mapping[State, float], sizes: Sizes, costs: Costs = COSTS) -> float:
    """Return the expected saving of a check [USD], before its own cost.

    Parameters
    ----------
    weights : mapping of State to float
        Chances; they are scaled to sum to one.

    Examples
    --------
    >>> sure = {State.NONE: 1.0}
    >>> worth(Check.QUIET, sure, Sizes())
    0.0
    >>> torn = {State.STEADY: 0.5, State.FAST: 0.5}
    >>> worth(Check.KNOWN_LOAD, torn, Sizes()) > 50.0
    True
    """
    p = np.array([max(weights.get(state, 0.0), 0.0) for state in State])
    p /= max(p.sum(), 1e-12)
    loss = losses(costs)
    now = float((loss @ p).min())
    outcomes = _outcomes(check, sizes)
    after = sum(float((loss @ (p * given)).min()) for given in outcomes)
    return max(0.0, round(now - after, 6))


def cost(check: Check, costs: Costs = COSTS) -> float:
    """Return what a check costs in time, risk and trouble [USD]."""
    return MINUTES[check] * costs.minute + costs.hazard[HAZARD[check]]


def _seen(size: float, uncertainty: float) -> float:
    """Chance that a size stands out half-way to nothing."""
    return 0.5 * (1.0 + erf(abs(size) / (2.0 * max(uncertainty, 1e-9)) / sqrt(2.0)))


def _outcomes(check: Check, sizes: Sizes) -> list[Floats]:
    """Chance of each outcome in each state, one array of len(State) an outcome; they sum to one in every state."""
    run = _seen(sizes.meter_percent, sizes.run_percent)
    quiet = _seen(sizes.load_watts, sizes.quiet_watts)
    tables: dict[Check, list[tuple[float, dict[State, float]]]] = {
        # outcome: chance where nothing else is said, and in the states where it differs
        Check.BEGAN: [(0.1, {State.STEADY: 0.55, State.TIMED: 0.6, State.HABIT: 0.6, State.WEATHER: 0.3})],
        Check.OWN_READINGS: [(0.05, {State.RECORD: 0.7})],
        Check.QUIET: [(1.0 - quiet, {State.STEADY: quiet})],
        Check.DOWNLOAD: [
            (0.02, {State.FAST: 0.5, State.SLOW: 0.4}),
            (0.03, {State.STEADY: 0.85}),
            (0.05, {State.HABIT: 0.6, State.TIMED: 0.7}),
            (0.02, {State.RECORD: 0.8}),
        ],
        Check.KNOWN_LOAD: [(1.0 - run, {State.FAST: run, State.SLOW: 0.0}), (0.0, {State.SLOW: run})],
        Check.BREAKERS: [(0.03, {State.STEADY: 0.9})],
        Check.MAIN_OFF: [(0.005, {State.STEADY: 0.08, State.FAST: 0.03})],
        Check.OLD_METER: [(0.02, {State.OLD_SLOW: 0.95})],
        Check.UTILITY_TEST: [(0.002, {State.FAST: 0.99}), (0.002, {State.SLOW: 0.99})],
        Check.PANEL: [(0.03, {State.FAST: 0.9}), (0.03, {State.SLOW: 0.9})],
    }
    given = [np.array([own.get(state, base) for state in State]) for base, own in tables[check]]
    rest = 1.0 - sum(given, np.zeros(len(State)))
    return [*given, np.maximum(rest, 0.0)]
