"""Simulation-based calibration: causes, sizes, household ways and noise drawn from the documented priors, then weighed.

    python tests/benchmarks/calibration.py --houses 2000 --picture docs/calibration.png

Three sources of houses. *drawn*: the list of a simulated house, and all else from the model's own priors
(:data:`reconcile.kinds.KINDS`, :data:`reconcile.weigh.constants.WAYS`): where these are the truth, chances must come
true and the ranks of true sizes be even, whatever the data (Talts et al. 2018, arXiv:1804.06788, from memory).
*plain* and *unkind*: houses of the independent simulator, those in order as frequent as the priors say, and each kind
beside the others.

A list that falls short of what the house uses is what ``unlisted`` says of it ("watts and hours stated too low
throughout"), whether or not a load is missing from it: in houses of the simulator whose own use, the trouble left out,
is above what the list expects by :data:`SHORT` or more, and by more than the list's own 95 % limits where they are as
wide as the model takes lists' to be (:data:`reconcile.weigh.constants.WAYS`), it counts as right, and *none* as neither
right nor wrong; from half of :data:`SHORT` on both are neither. A list that falls short by no more than it says it may,
or whose limits are too narrow as many are, needs no cause: that is told as what it is, a doubtful list.

A chance is right where its mean lies inside the exact 95 % limits of the share that came true; of so many bins one in
twenty lies outside by chance, so those outside the limits of all bins together (Bonferroni) are marked apart.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from climate import Floats
from reliability import BINS, EXCHANGES, NONE_KINDS, STANDS_FOR, frequencies
from simulate import simulate

from reconcile import kinds
from reconcile.costs import COSTS
from reconcile.facts import Facts
from reconcile.house import House
from reconcile.paper import examine
from reconcile.weigh import constants as k
from reconcile.weigh.causes import NOTHING_LEFT, name_causes
from reconcile.weigh.model import lay_out
from reconcile.weigh.patterns import GROUP_OF_KIND, KINDS, acted_on, told_apart, usual_sizes
from reconcile.weigh.places import places
from reconcile.weigh.shapes import shape_at
from reconcile.weigh.ways import Ways
from reconcile.weigh.weighed import Weighing
from reconcile.weigh.weighing import weigh_house

WORLDS = ("drawn", "plain", "unkind")
CODES = tuple(dict.fromkeys(kind.code for kind in kinds.KINDS.values()))
MOST_CAUSES = 3
SIZED_AT = 0.5
"""Chance from which the size stated of a cause is ranked."""
TOO_SURE = 0.1
FAR = 10_000_000
"""Seeds so far apart are no other house's."""
SHORT = kinds.KINDS["list-short"].size_mean
"""Part by which a house uses more than its list expects from which the list is called short."""


EITHER = (
    frozenset({"timed-load", "heating-rise"}),
    frozenset({"heating-rise", "cooling-rise"}),
    frozenset({"heating-fall", "cooling-fall"}),
    frozenset({"constant-load", "unlisted"}),
    frozenset({"constant-load", "timed-load"}),
)
"""Names of which one or the other describes what a simulated house has: a heater for the cold months, a thermostat, a
hot tub that came."""


@dataclass(frozen=True)
class Weighed:
    """One house: the chance given to each cause and to none, those that acted, and the ranks of true sizes (0 to 1).

    ``short``: by what part it uses more than its list expects, what befell it left out.
    """

    given: dict[str, float]
    acted: frozenset[str]
    ranks: tuple[float, ...]
    short: float = 0.0

    def beside(self, code: str) -> bool:
        """Whether a name is neither right nor wrong: another of the same thing is likelier, or the list is short."""
        if code == "none" and self.short >= SHORT / 2.0:
            return True
        if code == "unlisted" and self.short >= SHORT / 2.0 and code not in self.acted:
            return True
        for names in EITHER:
            if code in names and names <= self.acted:
                return code != max(names, key=lambda name: self.given[name])
        return False


@dataclass(frozen=True)
class Drawn:
    """Bills drawn from the model, and the size of each cause that acts, in the unit in which it is told."""

    house: House
    sizes: dict[str, float]
    acted: frozenset[str]


def draw(seed: int) -> Drawn:
    """Draw a house from the model's own priors."""
    rng = np.random.default_rng([seed, 12])
    case = simulate("healthy-exchange" if rng.random() < EXCHANGES else "healthy", "plain", seed)
    # what the paper finds in readings and money has no part here
    bare = tuple(
        replace(bill, reading_start=None, reading_end=None, amount=None, amount_due=None) for bill in case.house.bills
    )
    house = replace(case.house, bills=bare, tariffs=(), readings=())
    facts = examine(house)
    layout = lay_out(house, facts, farther=k.BALANCE_FARTHER)
    chances = k.BARE_CHANCES if layout.model.bare else tuple(chance for chance, *_ in k.WAYS)
    n = len(house.bills)
    at = places(house, facts, layout.model.days, np.arange(n))
    while True:  # all is drawn again where a bill comes out below nothing: so the bills alone decide it
        _, *way = k.WAYS[rng.choice(len(k.WAYS), p=chances)]
        model = layout.under(Ways.of(*way))
        scale = np.sqrt(k.FREEDOM / rng.chisquare(k.FREEDOM))
        unknowns = scale * rng.standard_normal(model.factors.shape[1])
        shape = shape_at(model, unknowns)
        on = acted_on(shape)
        kept = np.flatnonzero(told_apart(at, at.mask * on[at.kind_index], on, shape, model, np.ones(n, bool)))
        chosen = [
            int(rng.choice(here))
            for row in np.unique(at.row[kept])
            for here in [kept[at.row[kept] == row]]
            if rng.random() < 1.0 / (1.0 + np.exp(-at.log_odds[here[0]]))
        ]
        groups = GROUP_OF_KIND[at.kind_index[chosen]]
        if len(chosen) > MOST_CAUSES or len(set(groups.tolist())) < len(chosen):
            continue
        noise = scale * np.linalg.cholesky(model.noise) @ rng.standard_normal(n)
        kwh, sizes = _with(chosen, at, shape, noise, rng)
        if (kwh > 1.0).all():
            break
    bills = tuple(replace(bill, kwh=float(value)) for bill, value in zip(house.bills, kwh, strict=True))
    return Drawn(replace(house, bills=bills), sizes, frozenset(sizes))


def _with(
    chosen: Sequence[int], at: Any, shape: Any, noise: Floats, rng: np.random.Generator
) -> tuple[Floats, dict[str, float]]:
    """Let the chosen causes act: meters on everything behind them, all others on the use."""
    use, factor, sizes = shape.all.copy(), np.ones(len(noise)), {}
    on, usual = acted_on(shape), usual_sizes(shape)
    for place in chosen:
        kind = kinds.PATTERNS[KINDS[at.kind_index[place]]]
        large = bool(at.large[place])
        size = _size(*(kind.large_size if large else (kind.size_mean, kind.size_sd)), rng)
        size *= float(usual[at.kind_index[place]])
        if kind.family == "meter":
            factor = factor * np.maximum(1.0 + size * at.mask[place], 0.05)
        else:
            use = use + size * at.mask[place] * on[at.kind_index[place]]
        if kind.code != "none":
            sizes[kind.code] = size * (100.0 if kind.unit == "%" else shape.per_day / 0.024)
    return factor * (use + noise), sizes


def _size(mean: float, sd: float, rng: np.random.Generator) -> float:
    """Draw a size of its own sign: a load uses, and an empty house saves."""
    size = float(rng.normal(mean, sd))
    while size * mean < 0.0:
        size = float(rng.normal(mean, sd))
    return size


def weighed(house: House, acted: frozenset[str], sizes: dict[str, float], used: float | None = None) -> Weighed | None:
    """Weigh a house by its bills alone; None where paper settles all of it. ``used``: kWh but for what befell it."""
    facts = examine(house)
    judged = np.isfinite(facts.billed_kwh)
    judged[list(facts.set_aside or {})] = False
    if judged.sum() < 6:
        return None
    weighing = weigh_house(house, facts)
    given = {code: _chance(weighing, code) for code in CODES} | {"none": weighing.none}
    ranks = [
        _rank(sizes[cause.code], cause)
        for cause in name_causes(weighing, COSTS.open_at)
        if cause.code in sizes and cause.probability >= SIZED_AT and cause.unit != "kWh"
    ]
    short = 0.0 if used is None else used / float(weighing.model.mean.sum()) - 1.0
    named = acted | {"unlisted"} if short >= max(SHORT, own_limit(house, facts)) else acted
    return Weighed(given, named or frozenset({"none"}), tuple(ranks), short)


def own_limit(house: House, facts: Facts) -> float:
    """Return by what part the use of all bills may be above what a list expects by the widest limits it may have."""
    model = lay_out(house, facts).under(Ways(limits=max(limits for _, limits, *_ in k.WAYS) ** 2))
    stated = model.factors[:, : model.stated].sum(axis=0)
    log_sd = np.sqrt(np.log1p(float(stated @ stated) / float(model.mean.sum()) ** 2))
    return float(np.expm1(1.96 * log_sd - log_sd**2 / 2.0))


def _chance(weighing: Weighing, code: str) -> float:
    return weighing.chance(*(name for name, kind in kinds.KINDS.items() if kind.code == code))


def _rank(true: float, cause: Any) -> float:
    """Where the true size stands in what is stated of it, from nothing upward; its limits at .025 and .975.

    A drawn fall of more than all there is counts as one of all: no more is ever stated.
    """
    from scipy.special import ndtr

    true = max(true, NOTHING_LEFT) if cause.unit == "%" else true
    above, limit = true - cause.size, cause.size_high if true > cause.size else cause.size_low
    rank = float(ndtr(1.96 * above / max(abs(limit - cause.size), 1e-9)))
    return rank if cause.size > 0.0 else 1.0 - rank


def run(world: str, houses: int, start: int) -> Iterator[Weighed]:
    """Weigh so many houses of a world."""
    named = (*NONE_KINDS, *STANDS_FOR)
    chance = frequencies(named)
    total = sum(chance.values())
    rng = np.random.default_rng([start, 21])
    for seed in range(start, start + houses):
        if world == "drawn":
            made = draw(seed)
            one = weighed(made.house, made.acted, made.sizes)
        else:
            name = str(rng.choice(named, p=[chance[name] / total for name in named]))
            one = weighed(*simulated(name, world, seed))
        if one is not None:
            yield one


def simulated(name: str, world: str, seed: int) -> tuple[House, frozenset[str], dict[str, float], float]:
    """One house of the independent simulator, as :func:`weighed` takes it."""
    kind = "hot-tub" if name == "hot-tub that came" else name
    case = simulate(kind, world, seed)  # type: ignore[arg-type]
    while kind == "hot-tub" and ("unlisted" in case.truth.codes) != (name == kind):
        seed += FAR
        case = simulate(kind, world, seed)  # type: ignore[arg-type]
    house = case.house
    if name == "slip":  # no readings are printed: with them the paper settles it
        house = replace(
            house, bills=tuple(replace(bill, reading_start=None, reading_end=None) for bill in house.bills), readings=()
        )
    used = float((case.truth.true_kwh - case.truth.parts_kwh["trouble"]).sum())
    return house, case.truth.codes - {"none"}, {}, used


@dataclass(frozen=True)
class Bin:
    """Chances given of one cause between two marks."""

    code: str
    low: float
    high: float
    given: float
    right: int
    of: int

    def limits(self, coverage: float) -> tuple[float, float]:
        """Exact limits of the share that came true."""
        from scipy.stats import binomtest

        interval = binomtest(self.right, self.of).proportion_ci(coverage, "exact")
        return float(interval.low), float(interval.high)

    def holds(self, coverage: float) -> bool:
        """Whether the mean chance given lies inside them."""
        low, high = self.limits(coverage)
        return low <= self.given <= high


def bins_of(rows: Sequence[Weighed]) -> list[Bin]:
    """Chances given and come true, by cause and bin."""
    out = []
    for code in (*CODES, "none"):
        counted = [row for row in rows if not row.beside(code)]
        given = np.array([row.given[code] for row in counted])
        right = np.array([code in row.acted for row in counted])
        for low, high in BINS:
            inside = (given >= low) & ((given < high) | (high == 1.0))
            if inside.any():
                out.append(
                    Bin(code, low, high, float(given[inside].mean()), int(right[inside].sum()), int(inside.sum()))
                )
    return out


def report(world: str, rows: Sequence[Weighed]) -> list[str]:
    """The table of one world."""
    bins = bins_of(rows)
    family = 1.0 - 0.05 / len(bins)
    lines = [f"{world}: {len(rows)} houses, {sum(row.acted != {'none'} for row in rows)} with a cause"]
    for one in bins:
        low, high = one.limits(0.95)
        mark = "" if one.holds(0.95) else "outside" if one.holds(family) else "OUTSIDE ALL"
        if one.given > 0.5 and one.right / one.of < one.given - TOO_SURE:
            mark += " too sure"
        lines.append(
            f"  {one.code:15s} {one.low:.1f}-{one.high:.1f}: given {one.given:.3f}, right {one.right / one.of:.3f} "
            f"[{low:.3f}, {high:.3f}] of {one.of} {mark}".rstrip()
        )
    inside = sum(one.holds(0.95) for one in bins)
    lines.append(f"  inside their limits {inside} of {len(bins)} ({0.95 * len(bins):.0f} expected)")
    lines.append(f"  inside those of all together {sum(one.holds(family) for one in bins)} of {len(bins)}")
    ranks = [rank for row in rows for rank in row.ranks]
    if ranks:
        counts = np.histogram(ranks, bins=np.linspace(0, 1, 6))[0]
        held = sum(0.025 <= rank <= 0.975 for rank in ranks)
        lines.append(f"  ranks of {len(ranks)} true sizes, in fifths {counts.tolist()}; 95 % limits hold {held}")
    return lines


def picture(found: dict[str, list[Weighed]], path: Path) -> None:
    """Draw chances given against come true, and the ranks."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(10.0, 3.4), layout="constrained")
    axes = figure.subplots(1, len(found) + 1)
    for ax, (world, rows) in zip(axes, found.items(), strict=False):
        ax.plot([0, 1], [0, 1], color="#5a5a5a", linewidth=0.8)
        for one in bins_of(rows):
            low, high = one.limits(0.95)
            color = "#0072B2" if one.holds(0.95) else "#D55E00"
            ax.plot([one.given] * 2, [low, high], color=color, linewidth=0.8, alpha=0.6)
            ax.plot([one.given], [one.right / one.of], "o" if one.holds(0.95) else "^", color=color, markersize=4)
        ax.set(title=f"{world}, {len(rows)} houses", xlabel="chance given", xlim=(0, 1), ylim=(0, 1))
    axes[0].set_ylabel("share that came true")
    ranks = [rank for row in found.get("drawn", []) for rank in row.ranks]
    axes[-1].hist(ranks, bins=np.linspace(0, 1, 11).tolist(), color="#56B4E9", edgecolor="black")
    axes[-1].axhline(len(ranks) / 10, color="#5a5a5a", linewidth=0.8)
    axes[-1].set(title=f"ranks of {len(ranks)} true sizes", xlabel="rank, 0 to 1", xlim=(0, 1))
    figure.savefig(path, dpi=120, metadata={"Software": None})


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the tables, and draw them where asked."""
    parser = argparse.ArgumentParser(description="Simulation-based calibration over the documented priors.")
    parser.add_argument("--houses", type=int, default=1000)
    parser.add_argument("--start", type=int, default=60000)
    parser.add_argument("--worlds", nargs="+", choices=WORLDS, default=WORLDS)
    parser.add_argument("--picture", type=Path)
    asked = parser.parse_args(arguments)
    began = time.perf_counter()
    found = {world: list(run(world, asked.houses, asked.start)) for world in asked.worlds}
    for world, rows in found.items():
        print("\n".join(report(world, rows)))
    if asked.picture:
        picture(found, asked.picture)
    print(f"{time.perf_counter() - began:.0f} s")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
