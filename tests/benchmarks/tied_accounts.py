"""Tie-out of simulated accounts: how many honest ones tie out, and how many wrong bills are found.

    python tests/benchmarks/tied_accounts.py --houses 40

Every account is read at one hour between 24 h before and 24 h after the midnight that begins the printed date, and
its register shows whole kWh; some print inclusive dates, some split a bill in two rows by days where prices change,
some have interval data for a part of the bills only.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
import time
from collections import Counter
from dataclasses import dataclass, replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from tables import share

from reconcile import interval
from reconcile.clock import local_instants
from reconcile.facts import Facts
from reconcile.house import Bill, House, Interval, Meter
from reconcile.interval.examined import bills_tied
from reconcile.interval.tie_out import tie_out

ZONE = ZoneInfo("America/Chicago")
KINDS = ("plain", "inclusive", "prorated", "short data", "gaps", "wandering a little")
VARYING = ("a working day", "any hour", "low use", "a working day, inclusive")
"""Kinds of accounts read at a new hour every time: from 8:00 to 17:00, at any hour, where little is used."""


@dataclass(frozen=True)
class Account:
    """An account, and the bill that is wrong, if any, with its other row where it is split."""

    house: House
    billed: tuple[float, ...]
    wrong: int | None = None
    other_row: int | None = None


def use(rng: np.random.Generator, seconds: np.ndarray, step: int) -> np.ndarray:
    """Energy of an invented house: base, days and evenings, a summer, and appliances of a quarter to two hours."""
    hour = seconds % 86400 / 3600.0
    day = seconds // 86400
    season = 1.0 + rng.uniform(0.1, 0.6) * np.cos(2 * np.pi * (day - rng.uniform(0, 365)) / 365.25)
    shape = 0.3 + 0.4 * np.exp(-(((hour - 8) / 2.5) ** 2)) + 0.9 * np.exp(-(((hour - 19) / 3) ** 2))
    habit = np.repeat(rng.gamma(12, 1 / 12, len(np.unique(day)) + 1), 86400 // step)[: len(seconds)]
    kw = shape * season * habit * rng.gamma(3, 1 / 3, len(seconds)) * rng.uniform(0.6, 2.5)
    return np.round(kw * step / 3600, 3)


def account(rng: np.random.Generator, kind: str, wrong_by: float = 0.0) -> Account:
    """Make an account of 8 to 14 bills; with ``wrong_by`` one of its bills is off by that part."""
    count = int(rng.integers(8, 15))
    step = int(rng.choice([900, 1800, 3600]))
    edges = [date(2024, int(rng.integers(1, 13)), int(rng.integers(1, 28)))]
    for _ in range(count):
        edges.append(edges[-1] + timedelta(days=int(rng.integers(28, 34))))
    begin, end = local_instants([edges[0] - timedelta(days=3), edges[-1] + timedelta(days=3)], ZONE)
    seconds = np.arange(begin, end, step)
    kwh = use(rng, seconds, step)
    if kind == "low use":
        kwh = np.round(kwh * 0.35, 3)
    register = np.concatenate([[0.0], np.cumsum(kwh)]) + rng.uniform(100, 90000)
    hour = float(rng.uniform(-24, 24))
    jitter = rng.normal(0, 0.25, count + 1) if kind == "wandering a little" else np.zeros(count + 1)
    hours = hour + jitter
    if kind in VARYING:
        hours = rng.uniform(0, 24, count + 1) if kind == "any hour" else rng.uniform(8, 17, count + 1)
    at = local_instants(edges, ZONE) + (hours * 3600).astype(int)
    read = np.floor(np.interp(at, np.append(seconds, end), register))
    billed = np.diff(read)
    wrong = other_row = None
    if wrong_by:
        wrong = int(rng.integers(count))
        billed[wrong] = np.round(billed[wrong] * (1 + wrong_by))
    bills = [Bill(a, b, float(k)) for a, b, k in zip(edges, edges[1:], billed, strict=False)]
    if kind.endswith("inclusive"):
        bills = [replace(bill, end=bill.end - timedelta(days=1)) for bill in bills]
    if kind == "prorated":
        at_bill = int(rng.integers(count))
        bill, days = bills[at_bill], int(rng.integers(5, 24))
        assert bill.kwh is not None
        first = float(np.round(bill.kwh * days / bill.days))
        middle = bill.start + timedelta(days=days)
        bills[at_bill : at_bill + 1] = [
            replace(bill, end=middle, kwh=first),
            replace(bill, start=middle, kwh=bill.kwh - first),
        ]
        if wrong is not None and wrong > at_bill:
            wrong += 1
        other_row = at_bill + 1 if wrong == at_bill else None
    keep = np.ones(len(kwh), dtype=bool)
    if kind == "short data":
        first_kept = int(rng.integers(1, count // 2))
        keep = seconds >= local_instants([edges[first_kept]], ZONE)[0]
        keep &= seconds < local_instants([edges[-1]], ZONE)[0]
        if wrong is not None:
            bills[wrong] = replace(bills[wrong], kwh=float(np.diff(read)[wrong]))
            wrong = int(rng.integers(first_kept + 1, count - 1))
            bills[wrong] = replace(bills[wrong], kwh=float(np.round(np.diff(read)[wrong] * (1 + wrong_by))))
    if kind == "gaps":
        for _ in range(3):
            gap = int(rng.integers(0, len(kwh)))
            keep[gap : gap + int(rng.integers(1, 3 * 3600 // step + 1))] = False
    data = Interval(seconds[keep].astype("datetime64[s]"), kwh[keep], step)
    house = House("Invented", tuple(bills), timezone=ZONE.key, interval=data, meters=(Meter(),))
    return Account(house, tuple(float(bill.kwh or 0.0) for bill in bills), wrong, other_row)


def certain(made: Account, kind: str) -> set[int]:
    """Bills any one of which, taken for wrong, makes all readings fall in the hours in which this kind is read.

    Whoever knows those hours knows of one bill that it is wrong, where the readings fit no others, and none else does.
    """
    house, data = made.house, made.house.interval
    assert data is not None
    days = timedelta(days=kind.endswith("inclusive"))
    at = local_instants([house.bills[0].start, *(bill.closes + days for bill in house.bills)], ZONE)
    seconds = data.starts.astype("datetime64[s]").astype(int)
    opens, closes = (0, 24) if kind == "any hour" else (8, 17)
    counted = np.concatenate([[0.0], np.cumsum(made.billed)])
    register = np.concatenate([[0.0], np.cumsum(data.kwh)])
    ticks = np.append(seconds, seconds[-1] + data.step_seconds)
    low, high = (np.interp(at + 3600 * hour, ticks, register) - counted for hour in (opens, closes))
    low -= 1.0  # the register shows whole kWh

    def fit(part: slice) -> bool:
        return bool(low[part].max() <= high[part].min())

    bills = range(len(made.billed))
    return set() if fit(slice(None)) else {j for j in bills if fit(slice(j + 1)) and fit(slice(j + 1, None))}


def judged(made: Account) -> tuple[list[bool], bool | None, int]:
    """Whether each honest judged bill ties, whether the wrong one is found, and how many honest ones are reported."""
    facts = Facts(np.array(made.billed))
    result = bills_tied(made.house, tie_out(made.house, facts), ZONE)  # the signals take most of the time
    found = interval.findings(result, made.house)
    reported = {i for finding in found for i in finding.periods}
    honest = [
        bool(tie.within)
        for tie in result.tie_out
        if tie.within is not None and tie.period not in (made.wrong, made.other_row)
    ]
    caught = None if made.wrong is None else made.wrong in reported
    return honest, caught, len(reported - {made.wrong, made.other_row})


def of_another(rng: np.random.Generator, kind: str, *, whole: bool) -> tuple[set[int], set[int], bool]:
    """Bill another home's meter in an account from a bill on, or throughout: those bills, those told so, whether the
    data are told to be another meter's.
    """
    mine, other = account(rng, kind), account(rng, kind).billed
    since = 0 if whole else int(rng.integers(3, len(mine.billed) - 2))
    swapped = np.array(mine.billed)
    swapped[since:] = np.resize(other, len(swapped))[since:]
    bills = tuple(replace(b, kwh=float(k)) for b, k in zip(mine.house.bills, swapped, strict=True))
    house = replace(mine.house, bills=bills)
    found = interval.findings(result := bills_tied(house, tie_out(house, Facts(swapped)), ZONE), house)
    told = {i for finding in found if finding.key == "meter-number/hours" for i in finding.periods}
    return set(range(since, len(swapped))), told, result.foreign


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--houses", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kinds", nargs="+", default=KINDS + VARYING)
    asked = parser.parse_args()
    began = time.process_time()
    for kind in asked.kinds:
        rng = np.random.default_rng([asked.seed, (KINDS + VARYING).index(kind)])
        ties: list[bool] = []
        reported = Counter[str]()
        for _ in range(asked.houses):
            honest, _, sent = judged(account(rng, kind))
            ties += honest
            reported[kind] += sent > 0
        line = f"{kind:20s} honest bills tie {share(sum(ties), len(ties))}; honest accounts reported {reported[kind]}"
        for wrong_by in (0.03, -0.03, 0.06):
            made = [account(rng, kind, wrong_by) for _ in range(asked.houses)]
            caught = [judged(one) for one in made]
            found, blamed = sum(bool(c) for _, c, _ in caught), sum(o > 0 for *_, o in caught)
            line += f"; {wrong_by:+.0%} found {share(found, len(caught))} (others blamed {blamed})"
            if kind in VARYING:
                known = sum(certain(one, kind) == {one.wrong} for one in made)
                line += f", certain to whoever knows its hours {share(known, len(made))}"
        since = [of_another(rng, kind, whole=False) for _ in range(asked.houses)]
        named = sum(told == bills for bills, told, _ in since)
        wrongly = sum(bool(told - bills) for bills, told, _ in since)
        lost = sum(foreign for *_, foreign in since)
        whole = [of_another(rng, kind, whole=True) for _ in range(asked.houses)]
        line += f"; another home's since a bill: told {share(named, len(since))}, of its own {wrongly}, data lost "
        line += f"{lost}; throughout: told of some {sum(bool(told) for _, told, _ in whole)}, "
        line += f"data another's {share(sum(foreign for *_, foreign in whole), len(whole))}"
        print(line, flush=True)
    print(f"{time.process_time() - began:.0f} s of CPU")


if __name__ == "__main__":
    main()
