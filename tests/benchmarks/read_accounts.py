"""Tie-out of accounts as their readers walk: routes on working days, estimates, exchanges, odd periods, odd clocks.

    python tests/benchmarks/read_accounts.py --houses 15

Another world than ``tied_accounts.py``, and the whole answer is asked: how many honest bills agree with the data, in
how many honest accounts a bill is sent back to the billing desk, and how many bills wrong by 3 % are found.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
from tables import share

import reconcile
from reconcile.grounds.stages import certain
from reconcile.house import Band, Bill, Event, House, Interval, Meter

KINDS = (
    "midnight", "standard clock", "fixed hour", "route", "route by weekday", "two months", "four weeks", "estimates",
    "estimates often", "exchange", "exchange overlap", "new year's rates", "two rates", "inclusive", "tens", "tenths",
    "data late", "data early", "data in the middle", "gap of days", "utc days", "last reading today",
)  # fmt: skip
"""How an account is read and billed."""
LOOSE = ("route", "route by weekday", "gap of days", "tens", "data late", "data early", "data in the middle")
"""Kinds whose readings wander by hours or come in tens, or whose data miss days: a bill wrong by 3 % may not show."""


@dataclass(frozen=True)
class Made:
    """An account, and the bill that is wrong."""

    house: House
    wrong: int | None


def power(rng: np.random.Generator, seconds: np.ndarray, zone: ZoneInfo) -> np.ndarray:
    """Energy of each interval [kWh]: a family with an electric heater or an air conditioner that goes by the week."""
    step = int(seconds[1] - seconds[0])
    hour = (seconds // 3600 - 6) % 24
    day = (seconds - seconds[0]) // 86400
    people = np.isin(hour, (6, 7, 8, 17, 18, 19, 20, 21)) * rng.uniform(0.4, 1.5)
    weather = np.repeat(np.clip(rng.normal(0.5, 0.6, int(day[-1]) // 7 + 2), 0, 2), 7)[day] * rng.uniform(0.2, 1.5)
    noise = rng.exponential(0.35, len(seconds))
    away = np.repeat(rng.random(int(day[-1]) // 5 + 2) < 0.04, 5)[day]
    kw = rng.uniform(0.15, 0.5) + (people + weather + noise) * np.where(away, 0.1, 1.0)
    return np.round(kw * step / 3600.0, 3)


def working(day: date) -> date:
    """The next day on which a reader walks."""
    while day.weekday() >= 5:
        day += timedelta(days=1)
    return day


def account(kind: str, seed: int, wrong_by: float = 0.0, ratio: float = 1.0) -> Made:
    """Make an account; with ``wrong_by`` one of its bills is off by that part."""
    rng = np.random.default_rng([77, KINDS.index(kind), seed])
    zone = ZoneInfo(str(rng.choice(["America/New_York", "America/Denver", "America/Los_Angeles"])))
    count = int(rng.integers(11, 19))
    days = {"two months": (56, 66), "four weeks": (27, 30)}.get(kind, (27, 36))
    edges = [working(date(2023, int(rng.integers(1, 13)), int(rng.integers(1, 28))))]
    for _ in range(max(count // (2 if kind == "two months" else 1), 7)):
        after = edges[-1] + timedelta(days=int(rng.integers(*days)))
        edges.append(working(after) if kind != "four weeks" else after)
    step = int(rng.choice([900, 1800, 3600]))
    first = datetime.combine(edges[0] - timedelta(days=3), datetime.min.time(), zone)
    last = datetime.combine(edges[-1] + timedelta(days=3), datetime.min.time(), zone)
    seconds = np.arange(int(first.timestamp()), int(last.timestamp()), step)
    kwh = power(rng, seconds, zone)
    register = np.concatenate([[0.0], np.cumsum(kwh)]) * ratio + rng.uniform(500, 60000)
    at = [_read_at(kind, day, zone, rng, seed) for day in edges]
    unit = {"tens": 10.0, "tenths": 0.1}.get(kind, 1.0)
    shown = np.floor(np.interp(at, np.append(seconds, seconds[-1] + step), register) / unit) * unit
    types = ["actual"] * (len(edges) - 1)
    if kind.startswith("estimates"):
        every = 2 if kind.endswith("often") else 4
        for i in range(1, len(edges) - 1):
            if i % every:
                continue
            shown[i] = np.round(shown[i] + rng.normal(0, 0.1) * (shown[i] - shown[i - 1]))
            types[i - 1] = "estimated"
    billed = np.round(np.diff(shown), 1)
    wrong = None
    if wrong_by:
        inside = range(2, len(billed) - 2)
        wrong = int(rng.choice(list(inside)))
        billed[wrong] = np.round(billed[wrong] * (1.0 + wrong_by))
    bills = [Bill(a, b, float(k), read_type=t) for (a, b), k, t in zip(pairwise(edges), billed, types, strict=True)]
    events: tuple[Event, ...] = ()
    if kind == "inclusive":
        bills = [replace(bill, end=bill.end - timedelta(days=1)) for bill in bills]
    if kind in ("new year's rates", "two rates"):
        bills, wrong = _divided(bills, kind, wrong)
    keep = np.ones(len(seconds), dtype=bool)
    if kind.startswith("exchange"):
        middle = len(bills) // 2
        bill = bills[middle]
        cut = bill.start + timedelta(days=bill.days // 3)
        when = datetime.combine(cut, datetime.min.time(), zone).timestamp() + 11 * 3600
        part = np.interp([at[middle], when, at[middle + 1]], np.append(seconds, seconds[-1] + step), register)
        old, new = np.floor(part[1] - part[0]), np.floor(part[2] - part[1])
        off = 1.0 + wrong_by if wrong == middle else 1.0
        bills[middle : middle + 1] = [
            replace(bill, end=cut, kwh=float(old), meter="1001"),
            replace(bill, start=cut, kwh=float(np.round(new * off)), meter="2002"),
        ]
        bills = [replace(b, meter="1001" if b.start < cut else "2002") for b in bills]
        wrong = None if wrong is None else wrong + (wrong >= middle)
        events = (Event(cut, "meter-exchange"),)
    if kind == "data late":
        keep = seconds >= at[int(rng.integers(2, len(at) // 2))] + rng.uniform(0, 15 * 86400)
    if kind == "data early":
        keep = seconds < at[int(rng.integers(len(at) // 2, len(at) - 2))] + rng.uniform(0, 15 * 86400)
    if kind == "data in the middle":
        keep = (seconds >= at[2] - rng.uniform(0, 20 * 86400)) & (seconds < at[-3] + rng.uniform(0, 20 * 86400))
    if kind == "gap of days":
        begin = int(rng.integers(len(seconds)))
        keep[begin : begin + int(rng.uniform(1, 9) * 86400 / step)] = False
    if kind == "utc days":
        keep = seconds >= (seconds[0] // 86400 + 1) * 86400
    data = Interval(seconds[keep].astype("datetime64[s]"), kwh[keep], step)
    house = House(
        "Invented", tuple(bills), timezone=zone.key, interval=data, meters=(Meter(),), events=events, band=Band()
    )
    return Made(house, wrong)


def _read_at(kind: str, day: date, zone: ZoneInfo, rng: np.random.Generator, seed: int) -> float:
    midnight = datetime.combine(day, datetime.min.time(), zone)
    if kind == "standard clock":
        winter = datetime(2024, 1, 1, tzinfo=zone).utcoffset() or timedelta(0)
        return (
            datetime.combine(day, datetime.min.time()).timestamp() * 0
            + ((datetime.combine(day, datetime.min.time()) - datetime(1970, 1, 1)) - winter).total_seconds()
        )
    if kind == "route":
        return midnight.timestamp() + rng.uniform(8, 16) * 3600
    if kind == "route by weekday":
        return midnight.timestamp() + (8.5 + 1.5 * day.weekday()) * 3600
    if kind in ("midnight", "last reading today"):
        return midnight.timestamp()
    return midnight.timestamp() + np.random.default_rng(seed).uniform(-24, 24) * 3600


def _divided(bills: list[Bill], kind: str, wrong: int | None) -> tuple[list[Bill], int | None]:
    """Divide bills by days where prices change: on New Year's day, or on the first of June and of October."""
    out: list[Bill] = []
    at = None
    for i, bill in enumerate(bills):
        at = len(out) if i == wrong else at
        turns = [(1, 1)] if kind == "new year's rates" else [(6, 1), (10, 1)]
        cuts = [date(y, m, d) for y in (2023, 2024, 2025) for m, d in turns if bill.start < date(y, m, d) < bill.end]
        left, begin = float(bill.kwh or 0.0), bill.start
        for cut in cuts:
            part = float(np.round((bill.kwh or 0.0) * (cut - begin).days / bill.days))
            out.append(replace(bill, start=begin, end=cut, kwh=part))
            left, begin = left - part, cut
        out.append(replace(bill, start=begin, kwh=round(left, 1)))
    return out, at


def judged(made: Made, verbose: bool = False) -> tuple[list[bool], bool, int]:
    """Whether each honest judged bill ties, whether the wrong one is found, and how many others are reported."""
    known = certain(made.house)
    assert known.intervals is not None
    reported = {
        i
        for finding in known.findings
        if finding.code == "interval-mismatch" and finding.case != "estimate"  # that one is said to be estimated
        for i in finding.periods
    }
    rows = known.intervals.tie_out
    judged = [tie for tie in rows if tie.within is not None and tie.period != made.wrong and tie.why != "estimate"]
    honest = [bool(tie.within) for tie in judged]
    if verbose and (reported - {made.wrong} or not all(honest)):
        for tie in rows:
            if tie.within is False:
                print("     ", made.house.bills[tie.period], tie)
        print("     ", known.intervals.reading_hour, known.intervals.ratio)
    return honest, made.wrong in reported, len(reported - {made.wrong})


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--houses", type=int, default=15)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--kinds", nargs="+", default=KINDS)
    parser.add_argument("--verbose", action="store_true")
    asked = parser.parse_args()
    seeds = range(asked.start, asked.start + asked.houses)
    for kind in asked.kinds:
        made = [judged(account(kind, seed), asked.verbose) for seed in seeds]
        ties = [one for honest, _, _ in made for one in honest]
        reported = sum(others > 0 for *_, others in made)
        line = f"{kind:20s} honest bills tie {share(sum(ties), len(ties))}; accounts reported {reported}"
        if kind not in LOOSE:
            caught = [judged(account(kind, seed, 0.03 if seed % 2 else -0.03)) for seed in seeds]
            line += (
                f"; 3 % found {sum(found for _, found, _ in caught)}, others blamed {sum(o > 0 for *_, o in caught)}"
            )
        print(line, flush=True)
    for ratio in (1.2, 2.0):
        settled = 0
        for seed in seeds:
            answer = reconcile.reconcile(account("fixed hour", seed, ratio=ratio).house)
            settled += answer.interval.ratio is not None and answer.verdict.decision == "paperwork"
        print(f"ratio {ratio}: told and settled {settled} of {asked.houses}")


if __name__ == "__main__":
    main()
