"""Do the chances given to causes come true? Simulated kinds weighted to the documented prior.

Each kind stands for a pattern of :data:`reconcile.kinds.KINDS`; houses are weighted so that a house in order is as
frequent as that table says, and the kinds among the others as frequent beside one another. For the chances given
between two marks the report says *ok* where their mean lies inside the limits of the share that was right, *off the
mean* where only the marks and the limits overlap, *OUT* where not even they do.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from climate import Floats

from reconcile.kinds import KINDS as PRIORS

if TYPE_CHECKING:
    from power import Judged

EXCHANGES = 0.15
"""Part of houses whose meter is exchanged in a year and a half; our guess, as in the unkind world."""

BINS = ((0.0, 0.1), (0.1, 0.3), (0.3, 0.5), (0.5, 0.7), (0.7, 0.9), (0.9, 1.0))
CODES = ("meter-step", "constant-load", "none")

STANDS_FOR: dict[str, tuple[str, ...]] = {
    # patterns of the prior table whose chances a kind carries; several kinds of one pattern share it
    "occupant": ("habit-step",),
    "fewer": ("habit-fall",),
    "left": ("house-left",),
    "thermostat": ("heating-rise", "cooling-rise", "heating-setting", "cooling-setting"),
    "thermostat-back": ("heating-fall", "cooling-fall"),
    "vacation": ("single-low",),
    "guests": ("single-high",),
    "slip": ("swap", "swap-back"),
    "meter-10-exchange": ("meter-exchange",),
    "meter-20-exchange": ("meter-exchange",),
    "meter-50-exchange": ("meter-exchange",),
    "estimate-fast": ("meter-exchange",),
    "meter-20": ("meter-step",),
    "meter-50": ("meter-step",),
    "meter-30-always": ("meter-always",),
    "slow-new": ("meter-low-exchange",),
    "slow-old": ("old-meter-slow",),
    "constant": ("constant-load",),
    "leak-vacation": ("constant-load",),
    "constant-exchange": ("constant-load",),
    "drift": ("drift",),
    "hot-water-leak": ("hot-water-leak",),
    "seasonal-heater": ("timed-load", "winter-load", "summer-load"),
    "stuck": ("stuck-load",),
    "hot-tub": ("unlisted",),
    "hot-tub that came": ("cold-load",),
    "listed-gone": ("load-gone",),
}
NONE_KINDS = ("healthy", "healthy-exchange", "spells", "long-period", "price-rise", "estimate")
AT_EXCHANGE = ("meter-exchange", "meter-low-exchange", "old-meter-slow")
EQUIPPED = {"heating": 0.6, "cooling": 0.67, "hot": 0.55}
"""Part of the simulated houses that are heated, and cooled, and have their water warmed by electricity: only these can
take more or less for it."""
COINCIDENCE = EXCHANGES / 17
"""Chance that an exchange falls on the very reading at which something else began."""


def group(j: Judged) -> str:
    """Kind for weighting: a hot tub that came and one that was always there stand for different patterns."""
    return f"{j.kind} that came" if j.kind == "hot-tub" and "constant-load" in j.codes else j.kind


def codes_of(j: Judged, stage: str) -> frozenset[str]:
    """Causes that are right; a tub that was always there is a load round the clock once the night has been read."""
    if stage == "final" and j.kind == "hot-tub":
        return j.codes | {"constant-load"}
    return j.codes


SETTLED_BY_PAPER = ("slip",)
"""Where *none* is neither right nor wrong: a slip is a cause until the paper has settled it."""


NEED_MORE = ("generation-fall", "clock-load", "meter-low-always", "meter-leg")
"""Patterns of houses that make electricity, of interval data, and of a run at the meter: no simulated house has one of
these."""


def chance_of(pattern: str) -> float:
    """Chance of a pattern in a simulated house, before any bill is seen."""
    prior = PRIORS[pattern]
    part = EXCHANGES if pattern in AT_EXCHANGE else EQUIPPED.get(pattern.split("-")[0], 1.0)
    return 0.0 if pattern in NEED_MORE else (prior.chance + prior.large_chance) * part


def frequencies(kinds: Sequence[str]) -> dict[str, float]:
    """Chance of each kind among houses at large, from the table of priors.

    What may befall a house befalls it whatever else does, so that nothing has befallen as many as escape each by
    itself, more than the chances of all leave of one: some houses meet two. Those simulated meet one kind each, which
    stand for all others, in proportion.
    """
    sharing: dict[str, list[str]] = {}
    for kind in kinds:
        for pattern in STANDS_FOR.get(kind, ()):
            sharing.setdefault(pattern, []).append(kind)
    out = dict.fromkeys(kinds, 0.0)
    for pattern, of in sharing.items():
        weights = {kind: COINCIDENCE if kind == "constant-exchange" else 1.0 for kind in of}
        for kind in of:
            out[kind] += chance_of(pattern) * weights[kind] / sum(weights.values())
    in_order = float(np.prod([1.0 - chance_of(pattern) for pattern in PRIORS]))
    calm, all_others = [kind for kind in kinds if kind in NONE_KINDS], sum(out.values())
    out = {kind: chance * (1.0 - in_order) / all_others for kind, chance in out.items()}
    for kind in calm:
        part = EXCHANGES if kind == "healthy-exchange" else (1 - EXCHANGES) / max(len(calm) - 1, 1)
        out[kind] = in_order * part
    return out


def weighted_limits(right: Floats, weight: Floats) -> tuple[float, float, float, float]:
    """Share right, 95 % limits at the effective number of houses (Kish), and that number."""
    from scipy.stats import beta

    total = float(weight.sum())
    p = float((weight * right).sum() / total)
    n = total**2 / float((weight**2).sum())
    k = p * n
    low = float(beta.ppf(0.025, k, n - k + 1)) if k > 1e-12 else 0.0
    high = float(beta.ppf(0.975, k + 1, n - k)) if n - k > 1e-12 else 1.0
    return p, low, high, n


def reliability(rows: Sequence[Judged], stage: str = "first") -> list[str]:
    """The lines of the table for one world."""
    groups = [group(j) for j in rows]
    count = Counter(groups)
    chance = frequencies(sorted(count))
    lines = [f"  chances that came true, {'bills alone' if stage == 'first' else 'in the end'}, weighted to the prior"]
    for code in CODES:
        given, right, weight = [], [], []
        for j, of in zip(rows, groups, strict=True):
            if code == "none" and j.kind in SETTLED_BY_PAPER:
                continue
            answer = j.first if stage == "first" else j.final
            given.append(max((p for c, p in answer.causes if c == code), default=0.0))
            right.append(code in codes_of(j, stage))
            weight.append(chance[of] / count[of])
        g, r, w = np.array(given), np.array(right, dtype=float), np.array(weight)
        base = float((w * r).sum() / w.sum())
        lines.append(f"    {code} (prior {base:.4f}, mean chance given {float((w * g).sum() / w.sum()):.4f})")
        for low, high in BINS:
            inside = (g >= low) & ((g < high) | ((high == 1.0) & (g <= 1.0)))
            if not inside.any() or w[inside].sum() == 0:
                continue
            share, least, most, n = weighted_limits(r[inside], w[inside])
            mean = float((w[inside] * g[inside]).sum() / w[inside].sum())
            judged = "ok" if least <= mean <= most else "off the mean" if least <= high and most >= low else "OUT"
            lines.append(
                f"      {low:.1f}-{high:.1f}: given {mean:.3f}, right {share:.3f} [{least:.3f}, {most:.3f}] "
                f"of {int(inside.sum())} houses (worth {n:.0f}) {judged}"
            )
    return lines
