"""What a run of the power bench shows, as text."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from acceptance import DECISIONS, constant_strategies, told_it_could_hide
from kinds import EVERY, WORLDS
from reliability import reliability

if TYPE_CHECKING:
    from power import Judged


def limits(hits: int, of: int) -> tuple[float, float]:
    """Exact 95 % limits of a share (Clopper and Pearson 1934)."""
    from scipy.stats import binomtest

    if of == 0:
        return 0.0, 1.0
    interval = binomtest(hits, of).proportion_ci(0.95, "exact")
    return float(interval.low), float(interval.high)


def share(hits: int, of: int) -> str:
    """A share with its limits."""
    if of == 0:
        return "    -"
    low, high = limits(hits, of)
    return f"{hits / of:.3f} [{low:.3f}, {high:.3f}] of {of}"


def report(judged: Sequence[Judged], *, misses: int = 0) -> str:
    """The whole text of one run."""
    lines: list[str] = []
    for world in WORLDS:
        rows = [j for j in judged if j.world == world]
        if rows:
            lines += [*measures(world, rows), "", *confusion(rows), ""]
            lines += [*reliability(rows, "first"), *reliability(rows, "final"), ""]
            if misses:
                lines += [*missed(rows, misses), ""]
    kinds = sorted({j.kind for j in judged}, key=list(EVERY).index)
    lines.append("Answers that need no thought (share of kinds accepted)")
    lines += [f"  {name:42s} {value:.3f}" for name, value in constant_strategies(kinds).items()]
    crashes = Counter(next(iter(j.first.findings)) for j in judged if j.first.decision == "crash")
    crashes.update(next(iter(j.final.findings)) for j in judged if j.final.decision == "crash")
    for text, count in crashes.most_common(5):
        lines += ["", f"CRASH x {count}: {text}"]
    return "\n".join(lines) + "\n"


def good_of(method: str, j: Judged) -> bool:
    """Whether an expert would accept what a hand method said."""
    return j.good_of(method)


def _unseen(j: Judged) -> bool:
    return not j.good and told_it_could_hide(j.first, j.size_percent, j.size_watts)


def measures(world: str, rows: Sequence[Judged]) -> list[str]:
    """The table of measures with its bars."""
    plain = world == "plain"
    asked = [j for j in rows if not j.extra]
    right = [j for j in rows if EVERY[j.kind].meter_right]
    rivals = list(rows[0].rivals)
    wrong = sum(j.first.tests or j.final.tests for j in right)
    lines = [f"== {world} world =="]

    def line(name: str, chosen: Sequence[Judged], test: Callable[[Judged], bool], bar: str) -> None:
        lines.append(f"  {name:58s} {share(sum(map(test, chosen)), len(chosen)):38s} bar {bar}")

    line("decisions an expert would accept", asked, lambda j: j.good, ">= .90" if plain else ">= .80")
    line("  not, but told that so small a trouble could hide", asked, _unseen, "")
    for rival in rivals:
        good = partial(good_of, rival)
        line(f"  by hand, {rival}", asked, good, "" if plain else "program >= .05 above")
    lines.append(
        f"  {'field test wrongly advised, meter right':58s} {share(wrong, len(right)):38s} "
        f"bar upper limit <= {1.0 if plain else 1.5} %"
    )
    for rival in rivals:
        tested = sum(any(a.tests for a in j.rivals[rival]) for j in right)
        lines.append(f"  {'  by hand, ' + rival:58s} {share(tested, len(right))}")
    for percent, bars in ((50, (0.95, 0.88)), (20, (0.75, 0.50))):
        chosen = [j for j in asked if j.kind == f"meter-{percent}-exchange"]
        line(
            f"meter +{percent} % at an exchange tested in the end",
            chosen,
            lambda j: j.first.tests or j.final.tests,
            f">= {bars[0 if plain else 1]}",
        )
    enough = ("inventory", "outside-check", "field-test")
    always = [j for j in asked if j.kind == "meter-30-always"]
    line(
        "+30 % since the first bill, inventory or better",
        always,
        lambda j: j.first.decision in enough,
        ">= .80" if plain else ">= .60",
    )
    line(
        "+30 % since the first bill, chance told and a known load asked for",
        always,
        lambda j: j.first.tests or (j.first.fast is not None and j.first.offers_run),
        "1.00",
    )
    healthy = [j for j in asked if j.kind in ("healthy", "healthy-exchange")]
    line(
        "healthy houses answered inventory",
        healthy,
        lambda j: "inventory" in (j.first.decision, j.final.decision),
        "<= .03",
    )
    took = np.array([j.milliseconds for j in rows])
    lines.append(f"  a house: {np.median(took):.1f} ms in the median, {np.percentile(took, 95):.1f} at the 95 % mark")
    return lines


SHORT = {
    "explained": "explain",
    "paperwork": "paper",
    "inventory": "invent",
    "outside-check": "outside",
    "field-test": "TEST",
    "not-enough-data": "little",
    "urgent": "urgent",
    "crash": "CRASH",
}


def confusion(rows: Sequence[Judged]) -> list[str]:
    """Kinds against decisions, at both stages."""
    decisions = [d for d in (*DECISIONS, "crash") if any(d in (j.first.decision, j.final.decision) for j in rows)]
    head = "".join(f"{SHORT[d]:>9s}" for d in decisions)
    rivals = list(rows[0].rivals)
    lines = [f"  {'kind':20s} {'ok':>5s}  first:{head}   final:{head}   ok by hand: {', '.join(rivals)}"]
    for kind in sorted({j.kind for j in rows}, key=list(EVERY).index):
        of_kind = [j for j in rows if j.kind == kind and not j.extra]
        first, final = Counter(j.first.decision for j in of_kind), Counter(j.final.decision for j in of_kind)
        cells = "".join(f"{first[d] or '.':>9}" for d in decisions)
        ends = "".join(f"{final[d] or '.':>9}" for d in decisions)
        good = np.mean([j.good for j in of_kind])
        by_hand = "  ".join(f"{np.mean([j.good_of(r) for j in of_kind]):.2f}" for r in rivals)
        lines.append(f"  {kind:20s} {good:5.2f}        {cells}         {ends}   {by_hand}")
    return lines


def missed(rows: Sequence[Judged], most: int) -> list[str]:
    """Some of the houses an expert would not accept, to be looked at."""
    lines = ["  Not accepted:"]
    for kind in sorted({j.kind for j in rows}, key=list(EVERY).index):
        for j in [j for j in rows if j.kind == kind and not j.good][:most]:
            causes = ", ".join(f"{c} {p:.2f}" for c, p in sorted(j.final.causes, key=lambda cp: -cp[1])[:4])
            lines.append(
                f"    {kind} seed {j.seed} onset {j.onset_period} size {j.size_percent:.0f} %: "
                f"{j.first.decision} -> {j.final.decision} | {causes}"
            )
    return lines
