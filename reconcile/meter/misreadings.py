"""Which misread or keying error would explain a registration: every one that can happen, tried and ranked.

An error is tried by mending it (:mod:`reconcile.meter.mends`): the run is changed back, its registration worked out
again, and everything that must agree is checked again (:mod:`reconcile.meter.coherence`). What makes the meter right
and the set whole is the likelier, the commoner the error. The spreads and the weights are our choice (common practice,
no published source).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from reconcile.house import Meter
from reconcile.house.site import Run
from reconcile.meter.coherence import checks
from reconcile.meter.combine import combine
from reconcile.meter.judged import Guess
from reconcile.meter.load_run import Weighed, weigh_run
from reconcile.meter.mends import Case, Mend, mends
from reconcile.records import dataclass

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
BY_HAND = {"cycled", "decimal"}
"""What comes about anew in every run all the same: a thermostat that opens, a decimal point as it is written down."""
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
    """What the other runs of a test say of an error in one."""

    repeats: int = 1
    """Runs that say the same: a keying error would have to be made in each."""
    scattered: bool = False
    """Whether they lie farther apart than their own budgets foresee."""
    alone: bool = False
    """Whether the others are in order: what is written once for all of them is then not it."""

    def weight(self, mend: Mend) -> float:
        """Return what the other runs weigh against an error."""
        if mend.field in ONCE:
            return NOT_IN_ONE if self.alone else 0.0
        alike = mend.field in EVERY_TIME and mend.code not in BY_HAND
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
        written, meant = value_of(case.run, case.meter, mend.field), value_of(mend.run, mend.meter, mend.field)
        guess = Guess(mend.code, weighed.named, mend.field, mend.factor, weighed.percent, tried.percent, written, meant)
        found.append(Ranked(guess, score, True, mend.names_only))
    return _first_of_each(found)


def genuine_score(case: Case, percent: float) -> float:
    """Return the score of the set as it is written, with a meter that really registers so."""
    off = abs(percent - 100.0)
    return strain(case) + GENUINE * min(off / 10.0, 1.0) + GENUINE_PER_PERCENT * max(off - 10.0, 0.0)


def value_of(run: Run, meter: Meter, field: str) -> float | None:
    """Return the figure of a run, or the constant of its meter, that a key names; None where it names no one figure.

    Examples
    --------
    >>> from reconcile.house.site import Registered
    >>> value_of(Run("a", Registered(seconds=501.0)), Meter(pulse_wh=1.0), "seconds")
    501.0
    """
    for holder in (run, run.registered, meter):
        if hasattr(holder, field):
            found = getattr(holder, field)
            return float(found) if isinstance(found, int | float) else None
    stem, _, leg = field.rpartition("_")
    if leg.isdigit() and int(leg) <= len(run.legs):
        found = getattr(run.legs[int(leg) - 1], stem, None)
        return None if found is None else float(found)
    return None


def mends_the_whole(guess: Guess, case: Case, runs: Sequence[Weighed], spoiled: Sequence[Weighed]) -> bool:
    """Whether an error, undone in every run that it would have spoiled, makes the whole test right.

    A single run is wide enough for many errors to explain it; what all runs say together is narrower. Where an error
    cannot be undone in one of the runs it would have spoiled, it is no explanation.

    Parameters
    ----------
    case : Case
        The run in which it was found, and what the test should register.
    runs : sequence of Weighed
        All runs of the test.
    spoiled : sequence of Weighed
        Those that the error would have spoiled.
    """
    if len(runs) < 2 or guess.code == "swapped":
        return True
    made = []
    for run in runs:
        undone = _undone(guess, case, run) if any(run is one for one in spoiled) else run
        if undone is None:
            return False
        made.append(undone)
    together = combine(made)
    return abs(together.percent - case.target) < NEAR * math.hypot(together.standard_percent, LOOSE_PERCENT)


def _undone(guess: Guess, case: Case, weighed: Weighed) -> Weighed | None:
    """One run with the same error undone: of several sizes the one that makes it most nearly right."""
    own = Case(weighed.run, case.house, case.meter, case.test, weighed.percent, case.target, weighed.expected_w)
    alike = [m for m in mends(own) if (m.code, m.field) == (guess.code, guess.field)]
    made = [weigh_run(m.run, m.house, case.test, m.meter) for m in alike]
    tried = [one for one in made if isinstance(one, Weighed)]
    return min(tried, key=lambda one: abs(one.percent - case.target), default=None)


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
