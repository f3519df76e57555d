"""Several runs as one result: what they share stays shared, what is each run's own averages, their scatter is heard.

A reading's doubt has parts that are the same in every run with the same instruments (Type B: the instrument's own
error, the wires of one receptacle, a display that rounds the same load the same way), and parts that are new each
time. Repeats narrow only the latter, and test them. While the runs scatter no more than chance lets them, their scatter
is pooled with what the budget foresees; where they scatter more, it counts alone (Type A, n - 1 degrees of freedom; the
additional variance after Paule and Mandel [1]_).

References
----------
.. [1] R. C. Paule and J. Mandel, "Consensus values and weighting factors", Journal of Research of the National Bureau
   of Standards 87 (1982) 377-385 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import Any

from reconcile.distributions import chi_square_limit
from reconcile.meter.budget import Budget, Component, Input, Model, propagate
from reconcile.meter.load_run import Weighed
from reconcile.meter.montecarlo import Simulated, coverage_interval, simulate
from reconcile.meter.zone import Decision, decide
from reconcile.records import dataclass

SHARED = (
    "plug-in meter",
    "volts",
    "clamp",
    "meter form",
    "wires",
    "wires to the receptacle",
    "sag",
    "legs unequal",
    "background's angle",
)
"""Inputs that are the same error in every run with the same instruments at the same place."""
SHARED_BY_LABEL = ("clamp position", "power factor")
"""Inputs that stay as they are while one load is tested: the clamp is left where it hangs."""
ROUNDED = ("display", "plug-in watts", "volts step", "amps step")
"""Steps: two readings that show the same figure were rounded the same way."""
SMALLEST = 1e-9
TYPE_B_FREEDOM = 4.0
"""How many readings the budget's own parts are worth beside the repeats' scatter, while the two agree: limits known
to about a third of themselves (JCGM 100, eq. G.3)."""
AGREE_RISK = 0.05
"""How often runs that agree are taken to scatter."""
SCATTER = "scatter of repeats"


@dataclass(frozen=True, eq=False)
class Combined:
    """One or several runs as one registration; drawn only where its limits are asked for."""

    percent: float
    """Registration [%]."""
    budget: Budget
    """Of it, by JCGM 100."""
    model: Model
    inputs: tuple[Input, ...]
    """Both: what it follows from."""
    scatter: bool
    """Whether the runs scatter more than their own budgets foresee."""
    weights: tuple[float, ...]
    """Of each run in the mean, in the order given."""

    @cached_property
    def drawn(self) -> Simulated:
        """The same by JCGM 101."""
        return simulate(self.model, self.inputs)

    @cached_property
    def _interval(self) -> tuple[float, float, float]:
        return coverage_interval(self.budget, self.drawn)

    @property
    def low(self) -> float:
        """Lower limit of the interval to go by [%]."""
        return self._interval[0]

    @property
    def high(self) -> float:
        """Upper limit of the same [%]."""
        return self._interval[1]

    @property
    def expanded(self) -> float:
        """Half of its width [%]."""
        return self._interval[2]

    @property
    def standard_percent(self) -> float:
        """Standard uncertainty [%]."""
        return self.budget.standard_uncertainty

    def decided(self, tolerance_percent: float) -> Decision:
        """Return its zone by the local rule's tolerance [%]."""
        return decide(self.percent, self.expanded, tolerance_percent, interval=(self.low, self.high))


def combine(runs: Sequence[Weighed]) -> Combined:
    """Return all runs as one registration.

    Parameters
    ----------
    runs : sequence of Weighed
        At least one.
    """
    if len(runs) == 1:
        return Combined(runs[0].budget.value, runs[0].budget, runs[0].model, runs[0].inputs, False, (1.0,))
    kinds = dict.fromkeys(run.kind for run in runs)
    places = [[i for i, run in enumerate(runs) if run.kind == kind] for kind in kinds]
    parts = [mean_of([runs[i] for i in place]) for place in places]
    shares = _shares([(mean.own, mean.shared) for mean in parts])
    weights = [0.0] * len(runs)
    inputs: list[Input] = []
    for share, mean, place in zip(shares, parts, places, strict=True):
        for i, weight in zip(place, mean.weights, strict=True):
            weights[i] = share * weight
    shared: dict[str, tuple[float, Component]] = {}
    for share, mean in zip(shares, parts, strict=True):
        for key, (part, line) in mean.shared.items():
            shared[key] = (shared.get(key, (0.0, line))[0] + share * part, line)
        inputs += mean.own_inputs(share)
    inputs = [*(_input(key, part, line) for key, (part, line) in shared.items() if part), *inputs]
    percent = math.fsum(w * run.percent for w, run in zip(weights, runs, strict=True))
    names = [q.name for q in inputs]

    def model(q: Mapping[str, Any]) -> Any:
        return sum((q[name] for name in names), percent)

    budget = propagate(model, inputs)
    return Combined(percent, budget, model, tuple(inputs), any(mean.extra > 0 for mean in parts), tuple(weights))


@dataclass(frozen=True, slots=True, eq=False)
class Mean:
    """Mean of runs of one kind.

    ``own`` is the variance of its unshared part, with ``freedom`` degrees of freedom; ``extra`` is what had to be added
    to each run's own variance because the runs scatter more than chance lets them.
    """

    weights: tuple[float, ...]
    own: float
    freedom: float
    extra: float
    shared: dict[str, tuple[float, Component]]
    lines: tuple[tuple[str, float, Component], ...]

    def own_inputs(self, share: float) -> list[Input]:
        """Return the unshared part as inputs [%]: their scatter where it is the larger, else line by line."""
        if math.isfinite(self.freedom):
            why = f"scatter of {len(self.weights)} runs"
            return [Input(SCATTER, 0.0, share * math.sqrt(self.own), "normal", 1.0, self.freedom, "%", why)]
        return [_input(name, share * part, line) for name, part, line in self.lines if part]


def mean_of(runs: Sequence[Weighed]) -> Mean:
    """Return the mean of runs of one kind, weighted by what is their own."""
    rounded = _rounding(runs)
    split = [_split(run, rounded) for run in runs]
    own = [max(math.fsum(c.contribution**2 for c in mine), SMALLEST) for mine, _ in split]
    percents = [run.percent for run in runs]
    found = spread(percents, own)
    agree = found <= _most_by_chance(len(runs) - 1)
    extra = 0.0 if agree else paule_mandel(percents, own)
    raw = [1.0 / (v + extra) for v in own]
    total = math.fsum(raw)
    weights = tuple(g / total for g in raw)
    shared: dict[str, tuple[float, Component]] = {}
    lines = []
    for n, (weight, (mine, ours)) in enumerate(zip(weights, split, strict=True), start=1):
        for key, line in ours.items():
            shared[key] = (shared.get(key, (0.0, line))[0] + weight * line.contribution, line)
        lines += [(f"{line.name}, run {n}", weight * line.contribution, line) for line in mine]
    freedom, ratio = math.inf, 1.0
    if extra > 0.0:
        freedom = len(runs) - 1.0
    elif found > len(runs) - 1:
        freedom = TYPE_B_FREEDOM + len(runs) - 1
        ratio = (TYPE_B_FREEDOM + found) / freedom
    return Mean(weights, ratio / total, freedom, extra, shared, tuple(lines))


def spread(values: Sequence[float], variances: Sequence[float]) -> float:
    """Return the sum of squares of the values about their weighted mean, each over its own variance.

    Examples
    --------
    >>> round(spread([0.0, 4.0, 8.0], [16.0, 16.0, 16.0]), 9)
    2.0
    """
    raw = [1.0 / v for v in variances]
    mean = math.fsum(g * x for g, x in zip(raw, values, strict=True)) / math.fsum(raw)
    return math.fsum(g * (x - mean) ** 2 for g, x in zip(raw, values, strict=True))


def _most_by_chance(freedom: int) -> float:
    """Return the spread that runs which agree exceed one time in twenty."""
    if freedom < 1:
        return math.inf
    return chi_square_limit(AGREE_RISK, freedom)


def paule_mandel(values: Sequence[float], variances: Sequence[float]) -> float:
    """Return the variance that must be added to each value's own so that they scatter as they do; 0 if they agree.

    Examples
    --------
    >>> paule_mandel([1.0, 1.1, 0.9], [1.0, 1.0, 1.0])
    0.0
    >>> round(paule_mandel([0.0, 4.0, 8.0], [1.0, 1.0, 1.0]), 6)
    15.0
    """
    count = len(values)
    if count < 2:
        return 0.0

    def excess(extra: float) -> float:
        return spread(values, [v + extra for v in variances]) - (count - 1)

    if excess(0.0) <= 0.0:
        return 0.0
    low, high = 0.0, (max(values) - min(values)) ** 2 * count
    for _ in range(80):
        middle = (low + high) / 2.0
        low, high = (middle, high) if excess(middle) > 0.0 else (low, middle)
    return (low + high) / 2.0


def _rounding(runs: Sequence[Weighed]) -> set[tuple[str, float]]:
    """Steps whose figure more than one run shows."""
    seen: dict[tuple[str, float], int] = {}
    for run in runs:
        for line in run.budget.components:
            if _stem(line.name) in ROUNDED:
                place = (line.name, _figure(run, line))
                seen[place] = seen.get(place, 0) + 1
    return {place for place, count in seen.items() if count > 1}


def _figure(run: Weighed, line: Component) -> float:
    if run.legs is not None and _stem(line.name) in ("volts step", "amps step"):
        number = line.name.rpartition(" ")[2]
        reading = run.legs.readings[int(number) - 1 if number.isdigit() else 0]
        return reading.volts if line.name.startswith("volts") else reading.amps
    return line.value


def _stem(name: str) -> str:
    stem, _, last = name.rpartition(" ")
    return stem if last.isdigit() else name


def _split(run: Weighed, rounded: set[tuple[str, float]]) -> tuple[list[Component], dict[str, Component]]:
    mine, ours = [], {}
    for line in run.budget.components:
        stem = _stem(line.name)
        if line.name in SHARED:
            ours[line.name] = line
        elif stem in SHARED_BY_LABEL:
            ours[f"{line.name}, {run.run.label}"] = line
        elif stem in ROUNDED and (line.name, _figure(run, line)) in rounded:
            ours[f"{line.name} at {_figure(run, line):g}"] = line
        else:
            mine.append(line)
    return mine, ours


def _input(name: str, part: float, line: Component) -> Input:
    """A line of a run's budget as an input in percent of registration."""
    limit = abs(part) * line.divisor
    kind: Any = line.distribution
    return Input(name, 0.0, limit, kind, line.divisor, line.degrees_of_freedom, "%", line.source)


def _shares(parts: Sequence[tuple[float, Mapping[str, tuple[float, Component]]]]) -> list[float]:
    """Weights of kinds of test by their whole variance: they share next to nothing."""
    raw = [1.0 / max(own + math.fsum(p * p for p, _ in shared.values()), SMALLEST) for own, shared in parts]
    return [g / math.fsum(raw) for g in raw]
