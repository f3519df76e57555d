"""A register that stands still: bills of nothing, or next to nothing, where something is always on."""

from __future__ import annotations

from dataclasses import field
from datetime import timedelta
from statistics import median
from typing import Any

from reconcile.facts import Aside, Finding
from reconcile.house import Bill, House
from reconcile.paper.ledger import Ledger
from reconcile.records import dataclass

NOTHING_OF_USUAL = 0.02
"""A bill of up to this part of the house's middle daily use is next to nothing: a house left empty keeps its
refrigerator and standby on, a tenth of usual use or so (our choice)."""
NOTHING_KWH_PER_DAY = 0.5
"""And of up to this [kWh/d]: about what a clock, a door bell and a router take (our choice)."""
NOTHING_OF_LISTED = 0.1
"""The same against the loads listed as running all day (our choice: a list may be off by half, not by ten)."""
LISTED_KWH_PER_DAY = 1.0
"""Loads listed as running all day count from this sum on [kWh/d]: a refrigerator (our choice)."""
FEWEST_WITH_USE = 3
"""Bills with use needed to call a use usual (our choice)."""
LIVED_IN_DAYS = 180
"""And days of use before a longer standstill, so that it is no season of a holiday house [d] (our choice)."""
SHORT_RUN = 2
"""Without a list, up to this many bills of nothing between others are a register not read or stopped; more of them
may be a house left empty with its main switch off (our choice)."""
SEASONS_A_YEAR = 2.0
"""Runs of nothing that a year of a holiday house has at most; bills of all and nothing in turn have
more (our choice)."""
HELD_OVER = 1.5
"""A bill after one of nothing that shows this many times the usual daily use holds both (our choice)."""


@dataclass(slots=True)
class Stopped:
    """What this examiner hands on."""

    findings: list[Finding] = field(default_factory=list)
    aside: dict[int, Aside] = field(default_factory=dict)
    loose: set[int] = field(default_factory=set)


def always_kwh_per_day(house: House, bill: Bill) -> float:
    """Daily use of the loads listed as running round the clock all through a bill [kWh/d]."""
    total = 0.0
    for load in house.loads:
        there = (load.arrives is None or load.arrives <= bill.start) and (
            load.leaves is None or load.leaves >= bill.closes
        )
        if there and load.months is None and load.follows == "always" and load.watts is not None:
            total += load.count * load.watts * load.share_on * 24.0 / 1000.0
        if there and load.months is None and load.kwh_per_year is not None and load.follows in ("always", "clock"):
            total += load.count * load.kwh_per_year / 365.25
    return total


def examine_stopped(ledger: Ledger, estimated: frozenset[int]) -> Stopped:
    """Find bills of nothing where the house was in use.

    Parameters
    ----------
    estimated : frozenset of int
        Bills that close with an estimate: what they say was not read.
    """
    out = Stopped()
    used = [ledger.per_day[i] for i in ledger.live if ledger.per_day[i] > NOTHING_KWH_PER_DAY]
    if ledger.house.generation or not used:
        return out
    usual = median(used)
    nothing = [_is_nothing(ledger, i, usual) and i not in estimated for i in ledger.live]
    runs = _runs(nothing)
    between: list[int] = []
    for run in runs:
        listed = min(always_kwh_per_day(ledger.house, ledger.bills[ledger.live[k]]) for k in run)
        sure = listed >= LISTED_KWH_PER_DAY
        if _a_season(ledger, run, runs) or (not sure and not _told_by_use(ledger, run, runs)):
            continue
        if run.stop < len(nothing) and ledger.per_day[ledger.live[run.stop]] >= HELD_OVER * usual:
            _not_read(ledger, run, usual, out)
        elif run.stop < len(nothing):
            between += [ledger.live[k] for k in run]
        else:
            _stopped(ledger, ledger.live[run.start :], usual, "", out)
    if between:
        _stopped(ledger, tuple(between), usual, "between", out)
    return out


def _runs(nothing: list[bool]) -> list[range]:
    """Return the places, one after another, that are true."""
    out: list[range] = []
    for k, here in enumerate(nothing):
        if here and out and out[-1].stop == k:
            out[-1] = range(out[-1].start, k + 1)
        elif here:
            out.append(range(k, k + 1))
    return out


def _a_season(ledger: Ledger, run: range, runs: list[range]) -> bool:
    """Whether a run of nothing is a season of a house left empty with its main switch off, whatever its list says.

    It comes back at the same time of the year, or it lasts for months and use as usual follows: a register that stopped
    does not start again by itself.
    """
    live, bills = ledger.live, ledger.bills
    years = (bills[live[-1]].closes - bills[live[0]].start).days / 365.25
    if len(runs) > SEASONS_A_YEAR * years + 1:
        return False
    if len(run) > SHORT_RUN and run.stop < len(live) and run.start > 0:
        return True
    first, end = bills[live[run.start]].start, bills[live[run.stop - 1]].closes
    for other in runs:
        if other is run:
            continue
        begins, ends = bills[live[other.start]].start, bills[live[other.stop - 1]].closes
        for apart in (-2, -1, 1, 2):
            shift = timedelta(days=round(365.25 * apart))
            if first + shift < ends and begins < end + shift:
                return True
    return False


def _told_by_use(ledger: Ledger, run: range, runs: list[range]) -> bool:
    """Whether a run of nothing is out of the way of this house, told by its other bills alone.

    A house left empty with its main switch off stands still for months, often at the same time of every year.
    """
    live = ledger.live
    others = [r for r in runs if r is not run]
    if run.start == 0 or any(r.start == 0 and len(r) > 1 for r in others) or any(len(r) > SHORT_RUN for r in others):
        return False
    before = [live[k] for k in range(run.start) if not any(k in r for r in others)]
    after = [live[k] for k in range(run.stop, len(live)) if not any(k in r for r in others)]
    if len(run) <= SHORT_RUN:
        return len(before) + len(after) >= FEWEST_WITH_USE
    return run.stop == len(live) and sum(ledger.days[i] for i in before) >= LIVED_IN_DAYS


def _is_nothing(ledger: Ledger, i: int, usual: float) -> bool:
    rate, bill = ledger.per_day[i], ledger.bills[i]
    if not rate >= 0 or _told_away(ledger.house, bill) or bill.bill_type in ("first", "final"):
        return False
    listed = always_kwh_per_day(ledger.house, bill)
    by_list = NOTHING_OF_LISTED * listed if listed >= LISTED_KWH_PER_DAY else 0.0
    return rate <= max(min(NOTHING_OF_USUAL * usual, NOTHING_KWH_PER_DAY), by_list)


def _told_away(house: House, bill: Bill) -> bool:
    """Whether the diary tells of an absence or an outage in the bill."""
    return any(
        e.kind in ("away", "outage") and e.day < bill.closes and (e.until is None or e.until > bill.start)
        for e in house.events
    )


def _figures(ledger: Ledger, run: tuple[int, ...], usual: float) -> dict[str, Any]:
    listed = min(always_kwh_per_day(ledger.house, ledger.bills[i]) for i in run)
    return {
        **ledger.which(run),
        "since": ledger.bills[run[0]].start,
        "usual_per_day": usual,
        "always_watts": listed * 1000.0 / 24.0 if listed >= LISTED_KWH_PER_DAY else None,
    }


def _not_read(ledger: Ledger, places: range, usual: float, out: Stopped) -> None:
    run, held = tuple(ledger.live[k] for k in places), ledger.live[places.stop]
    out.loose.update(run)
    out.findings.append(
        Finding(
            "stopped-register",
            (*run, held),
            settles=True,
            case="not-read",
            figures={**_figures(ledger, run, usual), "next": ledger.dates(held)},
            asks=("reading-between",),
            household=("away-in-diary",),
        )
    )


def _stopped(ledger: Ledger, run: tuple[int, ...], usual: float, case: str, out: Stopped) -> None:
    out.aside |= dict.fromkeys(run, Aside.STOPPED)
    out.findings.append(
        Finding(
            "stopped-register",
            run,
            -sum(usual * ledger.days[i] - ledger.kwh[i] for i in run),
            settles=True,
            case=case,
            figures=_figures(ledger, run, usual),
            asks=("check-meter",),
            household=("watch-register", "away-in-diary"),
        )
    )
