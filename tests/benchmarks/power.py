"""Power bench: what the program decides on houses whose truth is known, beside two hand methods.

    python tests/benchmarks/power.py --seeds 40 --world both --jobs 2

Prints the table of measures with 95 % limits (exact binomial, Clopper and Pearson), the confusion of kinds
and decisions, the constant strategies, and how often the chances given to causes came true.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
import time
import traceback
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import datetime
from multiprocessing import get_context
from pathlib import Path

import hand
from acceptance import ASKS_FOR_CHECKS, Answer, accepted
from checks import with_checks
from kinds import EVERY, KINDS, WORLDS, World
from simulate import simulate

import reconcile
from reconcile.house import House

RIGHT_HOUSES = 900
"""Houses with a right meter that the wrong-advice measure wants in a full run."""


@dataclass(frozen=True)
class Judged:
    """One house, answered by the program and by the hand methods, at both stages."""

    kind: str
    world: str
    seed: int
    first: Answer
    final: Answer
    size_percent: float
    size_watts: float
    onset_period: int | None
    codes: frozenset[str]
    rivals: dict[str, tuple[Answer, Answer]]
    milliseconds: float
    extra: bool = False
    """Beyond the seeds asked for: counted only where wrong advice is."""

    @property
    def good(self) -> bool:
        """Whether an expert would accept what the program said."""
        return self.good_of("program")

    def good_of(self, method: str) -> bool:
        """The same of any method."""
        first, final = (self.first, self.final) if method == "program" else self.rivals[method]
        return accepted(self.kind, first, final, size_percent=self.size_percent, size_watts=self.size_watts)


def answer_of(house: House) -> Answer:
    """Ask the program."""
    said = reconcile.reconcile(house)
    verdict = said.verdict
    return Answer(
        verdict.decision,
        verdict.field_test_warranted,
        tuple((cause.code, cause.probability) for cause in said.causes),
        frozenset(finding.code for finding in said.findings),
        verdict.smallest_visible_meter_error_percent,
        verdict.smallest_visible_constant_watts,
        verdict.meter_fast_probability,
        any(step.code == "known-load" or "plug-in" in step.text for step in verdict.next_steps),
    )


def safely(house: House) -> Answer:
    """Ask the program; a crash is an answer of its own, and a wrong one."""
    try:
        return answer_of(house)
    except Exception:  # the bench must survive whatever it judges, and show it
        return Answer("crash", findings=frozenset({traceback.format_exc(limit=-2)}))


def judge(job: tuple[str, World, int, bool]) -> Judged:
    """Simulate one house and ask everybody."""
    kind, world, seed, extra = job
    case = simulate(kind, world, seed)
    checked = with_checks(case)
    began = time.perf_counter()
    first = safely(case.house)
    took = 1000 * (time.perf_counter() - began)
    final = safely(checked) if first.decision in ASKS_FOR_CHECKS else first
    rivals = {}
    for name, method in hand.METHODS.items():
        said = method(case.house)
        rivals[name] = (said, hand.after_checks(said, checked))
    truth = case.truth
    return Judged(
        kind,
        world,
        seed,
        first,
        final,
        truth.size_percent,
        truth.size_watts,
        truth.onset_period,
        truth.codes,
        rivals,
        took,
        extra,
    )


def run(jobs: Sequence[tuple[str, World, int, bool]], workers: int) -> list[Judged]:
    """Judge many houses, in fresh processes where more than one is wanted."""
    if workers <= 1:
        return [judge(job) for job in jobs]
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        return list(pool.map(judge, jobs, chunksize=8))


def plan(seeds: int, worlds: Iterable[World], start: int, kinds: Sequence[str]) -> list[tuple[str, World, int, bool]]:
    """The houses of a run; a full one has enough right meters for the measure of wrong advice."""
    right = sum(EVERY[kind].meter_right for kind in kinds)
    wanted = seeds
    if seeds >= 40:
        wanted = max(seeds, -(-RIGHT_HOUSES // max(right, 1)))
    jobs: list[tuple[str, World, int, bool]] = []
    for world in worlds:
        for kind in kinds:
            for k in range(wanted if EVERY[kind].meter_right else seeds):
                jobs.append((kind, world, start + k, k >= seeds))
    return jobs


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the bench and print what it saw."""
    from tables import report

    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--seeds", type=int, default=10)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--world", choices=[*WORLDS, "both"], default="both")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--kinds", nargs="*", default=list(KINDS))
    parser.add_argument("--out", type=Path, help="folder that a copy of the output is written to")
    parser.add_argument("--misses", type=int, default=0, help="list so many unaccepted houses a kind, by seed")
    asked = parser.parse_args(arguments)
    worlds = WORLDS if asked.world == "both" else (asked.world,)
    began = time.perf_counter()
    judged = run(plan(asked.seeds, worlds, asked.start, asked.kinds), asked.jobs)
    text = report(judged, misses=asked.misses)
    text += f"\n{len(judged)} houses in {time.perf_counter() - began:.0f} s, seeds from {asked.start}\n"
    print(text)
    if asked.out:
        asked.out.mkdir(parents=True, exist_ok=True)
        stamp = datetime.now().strftime("%m%d-%H%M%S")
        (asked.out / f"power-{stamp}.txt").write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
