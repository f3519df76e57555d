"""What the whole answer makes of homes by the hour whose truth is known, with the download and from bills alone.

    python tests/benchmarks/hourly_answers.py                   every kind of home, 10 of each
    python tests/benchmarks/hourly_answers.py --kinds plain "clock night" --homes 30 --verbose

Homes in which nothing is wrong: how many have a cause at .5 or more, and at .9; a list that is short is no fault.
Homes with something put in: how often it is named (one half or more, and ahead), how many have a wrong cause at .5 and
at .9; of loads on a timer how many are found with their hours (an hour off at either end; a photocell's three),
watts (a fifth off) and day (three off). *Meter*: homes of a right meter with a meter cause over .2.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
from dataclasses import dataclass, replace

import hourly_homes

import reconcile
from reconcile.interval.clock_load import ClockLoad

METER = ("meter-step", "meter-always", "meter-low", "old-meter-slow")
FALSE_OVER = 0.2


@dataclass(frozen=True)
class Seen:
    """What was said of one home."""

    right: float
    """Chance of what is right."""
    wrong: float
    """Largest chance of what is not."""
    meter: float
    since: int | None
    """Days by which the right cause is dated late."""


def seen(home: hourly_homes.Home, answer: reconcile.Reconciliation) -> Seen:
    """Hold an answer to the truth."""
    chances = {cause.code: cause.probability for cause in answer.causes}
    right = sum(chances.get(code, 0.0) for code in home.put.right)
    wrong = [chance for code, chance in chances.items() if code not in (*home.put.right, "none", "unlisted")]
    dated = [cause.since for cause in answer.causes if cause.code in home.put.right and cause.since is not None]
    since = (dated[0] - hourly_homes.FIRST).days - home.put.day if dated else None
    return Seen(right, max(wrong, default=0.0), sum(chances.get(code, 0.0) for code in METER), since)


def as_it_runs(put: hourly_homes.Put, clock: ClockLoad | None) -> bool:
    """Whether a load on a timer is found with its hours, watts and day."""
    if clock is None:
        return False
    off = 3.0 if put.kind == "photocell" else 1.0
    begin = (clock.start_hour - put.start_hour + 12.0) % 24.0 - 12.0
    end = begin + clock.hours - put.hours
    near = abs((clock.day - hourly_homes.FIRST).days - put.day) <= 3
    return near and max(abs(begin), abs(end)) <= off and abs(clock.watts - put.watts) <= 0.2 * put.watts


def line(kind: str, count: int, *, watts: float = 600.0, verbose: bool = False) -> str:
    """What is said of one kind, as a line."""
    homes = [hourly_homes.home(kind, seed, watts) for seed in range(count)]
    found, whole = [], []
    for home in homes:
        answers = [reconcile.reconcile(one) for one in (home.house, replace(home.house, interval=None))]
        found.append([seen(home, answer) for answer in answers])
        data = answers[0].interval
        whole.append(data is not None and as_it_runs(home.put, data.clock_load))
        if verbose:
            told = {cause.code: round(cause.probability, 2) for cause in answers[0].causes if cause.probability > 0.05}
            print("  ", home.put, told, None if data is None or data.clock_load is None else data.clock_load.to_dict())
    said = []
    for way, ones in zip(("hours", "bills"), zip(*found, strict=True), strict=True):
        parts = [f"wrong .5 {sum(one.wrong > 0.5 for one in ones)}", f".9 {sum(one.wrong > 0.9 for one in ones)}"]
        if kind in hourly_homes.WRONG:
            parts.insert(0, f"named {sum(one.right >= 0.5 and one.right > one.wrong for one in ones)}")
        if kind != "meter exchange":
            parts.append(f"meter {sum(one.meter > FALSE_OVER for one in ones)}")
        said.append(f"{way}: {', '.join(parts)}")
    if homes[0].put.right == ("timed-load",):
        said.append(f"as it runs {sum(whole)}")
    return f"of {count}; " + "; ".join(said)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--homes", type=int, default=10)
    parser.add_argument("--kinds", nargs="*", default=(*hourly_homes.QUIET, *hourly_homes.WRONG))
    parser.add_argument("--watts", type=float, default=600.0, help="of a load on a timer")
    parser.add_argument("--verbose", action="store_true")
    asked = parser.parse_args()
    for kind in asked.kinds:
        print(f"{kind:16s} {line(kind, asked.homes, watts=asked.watts, verbose=asked.verbose)}", flush=True)


if __name__ == "__main__":
    main()
