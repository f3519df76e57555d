"""Which misread or keying error would explain a registration: every one that can happen, tried and ranked.

An error is tried by mending it (:mod:`reconcile.meter.mends`): the run is changed back, its registration worked out
again, and everything that must agree is checked again (:mod:`reconcile.meter.coherence`). What makes the meter right
and the set whole is the likelier, the commoner the error. The spreads and the weights are our choice (common practice,
no published source).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reconcile.meter.coherence import checks
from reconcile.meter.judged import Guess
from reconcile.meter.load_run import Weighed, weigh_run
from reconcile.meter.mends import Case, Mend, mends

LOOSE_PERCENT = 1.2
"""How near 100 % a mended registration is expected beside its own doubt, as a standard deviation: a sound meter."""
NEAR = 2.6
"""Standard deviations within which a mended registration counts as right."""
GENUINE = 8.0
"""Weight against a meter that really is ten per cent out, beside one keying error (both rare); less for one that is
less."""
GENUINE_PER_PERCENT = 0.10
"""The same for every per cent by which it is more than ten out: the farther, the rarer."""
AGAIN = 5.0
"""Weight against the same keying error in one more run, and against a wrong statement made once more."""
AGAIN_SAME = 1.5
"""The same where one wrong way of working, or one wrong idea, spoils every run alike."""
ONCE = {"service", "pulse_wh", "disk_wh", "multiplier"}
"""What is written once for all runs: repeats say nothing of it."""
EVERY_TIME = {"amps", "volts", "clamps", "leg_power_factor", "background_w"}
"""What is done alike in every run: how the clamp sits, what is taken for the house's own use."""
NOT_IN_ONE = 20.0
"""Weight against an error of what is written once for all runs, where only one run shows it."""
MOST_STRAIN = 60.0
"""Sum of squares up to which a check counts in full; what is beyond counts by its logarithm, so that one check does not
drown the rest, and a wilder contradiction is still the worse."""
BEYOND = 12.0


@dataclass(frozen=True, slots=True)
class Ranked:
    """A mend tried. ``score`` is a sum of squares: the smaller, the likelier."""

    guess: Guess
    score: float
    near: bool
    names_only: bool = False


@dataclass(frozen=True, slots=True)
class Again:
    """What the other runs of a test say of an error in one.

    Attributes
    ----------
    repeats : int
        Runs that say the same: a keying error would have to be made in each.
    scattered : bool
        Whether they lie farther apart than their own budgets foresee.
    alone : bool
        Whether the others are in order: what is written once for all of them is then not it.
    """

    repeats: int = 1
    scattered: bool = False
    alone: bool = False

    def weight(self, mend: Mend) -> float:
        """Return what the other runs weigh against an error."""
        if mend.field in ONCE:
            return NOT_IN_ONE if self.alone else 0.0
        alike = mend.field in EVERY_TIME and mend.code != "cycled"
        each = AGAIN_SAME if alike or (self.scattered and mend.code == "cycled") else AGAIN
        return each * (self.repeats - 1)


ONE = Again()


def strain(case: Case) -> float:
    """Return the sum of squares of every check on a run, each softened beyond :data:`MOST_STRAIN`."""
    return math.fsum(_soft(check.z**2) for check in checks(case.run, case.house, case.meter, case.test))


def _soft(square: float) -> float:
    if square <= MOST_STRAIN:
        return square
    return MOST_STRAIN + BEYOND * math.log(min(square, 1e300) / MOST_STRAIN)


def ranked(case: Case, weighed: Weighed, again: Again = ONE) -> tuple[Ranked, ...]:
    """Return every error that brings the registration near its target, the likeliest first.

    Parameters
    ----------
    case : Case
    weighed : Weighed
        The run as it is written.
    again : Again
        What the other runs say.
    """
    found = []
    wide = max(25.0, 2.0 * NEAR * weighed.budget.standard_uncertainty)
    for mend in mends(case):
        sketch = weigh_run(mend.run, mend.house, case.test, mend.meter, sketch=True)
        if isinstance(sketch, str) or abs(sketch.percent - case.target) > wide:
            continue
        tried = weigh_run(mend.run, mend.house, case.test, mend.meter)
        if isinstance(tried, str):
            continue
        doubt = math.hypot(tried.budget.standard_uncertainty, LOOSE_PERCENT)
        z = (tried.percent - case.target) / doubt
        if abs(z) >= NEAR:
            continue
        whole = strain(Case(mend.run, mend.house, mend.meter, case.test))
        score = z * z + 2.0 * math.log(doubt) + whole + mend.weight + again.weight(mend)
        guess = Guess(mend.code, case.run.label, mend.field, mend.factor, weighed.percent, tried.percent)
        found.append(Ranked(guess, score, True, mend.names_only))
    return _first_of_each(found)


def genuine_score(case: Case, percent: float) -> float:
    """Return the score of the set as it is written, with a meter that really registers so."""
    off = abs(percent - 100.0)
    return strain(case) + GENUINE * min(off / 10.0, 1.0) + GENUINE_PER_PERCENT * max(off - 10.0, 0.0)


SAME = (
    {"pulses", "turns", "seconds", "pulse_wh", "disk_wh", "multiplier"},
    {"amps", "power_factor"},
)
"""Figures whose errors come out as one: a count twice too high is a time of half."""
SECOND = 3.0
"""How much likelier an error must be than one of another kind to be named beside the first of its own kind."""


def merged(per_run: Sequence[Sequence[Ranked]]) -> tuple[Guess, ...]:
    """Return the guesses of all runs in one ranking, one a field and kind; the second of another kind where it can be.

    The reader is helped more by two different things to look at than by one in two forms.
    """
    every = list(_first_of_each([r for some in per_run for r in some]))
    if len(every) > 2:
        first = every[0].guess.field
        alike = next((group for group in SAME if first in group), {first})
        every[1:] = sorted(
            every[1:], key=lambda r: r.score + SECOND * (r.guess.field in alike) + NOT_IN_ONE * (r.guess.field == first)
        )
    return tuple(r.guess for r in every)


def _first_of_each(found: Sequence[Ranked]) -> tuple[Ranked, ...]:
    best: dict[tuple[str, str], Ranked] = {}
    for one in sorted(found, key=lambda r: r.score):
        best.setdefault((one.guess.field, one.guess.code), one)
    return tuple(best.values())
