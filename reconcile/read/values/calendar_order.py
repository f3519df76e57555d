"""The order of day and month in a file, settled by all of its dates; and days as numbers."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reconcile.array_types import Flags, Ints
from reconcile.read.values.dates import FIRST_YEAR, LAST_YEAR
from reconcile.read.values.time_grammar import DATE_KIND, SETTLED, SHORT_YEAR, UNSETTLED
from reconcile.records import dataclass

FEW_HEADS = 40
"""Rows a run of one date must have on the average for runs to be filled one by one."""


@dataclass(frozen=True, slots=True)
class Calendar:
    """How the dates of a file are to be read."""

    order: str = ""
    """``dmy``, ``mdy``, ``ymd``; ``""`` where every date is settled by itself."""
    clash: tuple[int, ...] = ()
    """Dates (as :attr:`Times.dates`) that speak for each order where they contradict each other."""
    open: int | None = None
    """A date that could be two days, where nothing in the file settles it."""
    evenly: bool = False
    """Whether the order was settled by the days following one another."""
    told: bool = True
    """Whether the dates told the order: those that are the same day either way do not."""


def settle(dates: NDArray[np.int32], wanted: str | None) -> Calendar:
    """Find the order of day and month from all dates of a file.

    Parameters
    ----------
    dates : ndarray of int32
        As :attr:`Times.dates`; 0 passes.
    wanted : str or None
        The order the household gave, as ``dmy``.
    """
    if int(dates.max(initial=0)) < UNSETTLED * DATE_KIND:
        return Calendar("")
    keys = _distinct(dates)
    keys = keys[keys >= UNSETTLED * DATE_KIND]
    if len(keys) == 0:
        return Calendar("")
    orders = ("dmy", "mdy", "ymd") if int(keys[-1]) >= SHORT_YEAR * DATE_KIND else ("dmy", "mdy")
    read = {order: _days(keys, order) for order in orders}
    able = [order for order in orders if not read[order][1].any()]
    if not able:
        firsts = [int(keys[np.argmax(read[order][1])]) if read[order][1].any() else 0 for order in orders[:2]]
        return Calendar("mdy", clash=tuple(firsts))
    if wanted in able:
        return Calendar(wanted)
    days = {order: read[order][0] for order in able}
    if all(np.array_equal(days[able[0]], days[order]) for order in able):
        return Calendar(able[0], told=len(able) == 1)
    spread = {order: int(days[order].max()) - int(days[order].min()) + 1 for order in able}
    best = min(able, key=lambda order: spread[order])
    if all(spread[best] * 2 <= spread[order] for order in able if order != best):
        return Calendar(best, evenly=True)
    differ = np.any([days[order] != days[able[0]] for order in able], axis=0)
    return Calendar("mdy", open=int(keys[np.argmax(differ)]))


def _distinct(dates: NDArray[np.int32]) -> NDArray[np.int32]:
    """Return the dates that occur, which mostly stand in runs."""
    if len(dates) == 0:
        return dates
    heads = dates[np.concatenate([[True], dates[1:] != dates[:-1]])]
    return np.unique(heads)


def day_numbers(dates: NDArray[np.int32], order: str, size: int = 1) -> tuple[Ints, Flags]:
    """Return days since 1970-01-01, and which cells are no day of the calendar.

    Parameters
    ----------
    dates : ndarray of int32
        As :attr:`Times.dates`.
    order : str
        From :func:`settle`.
    size : int
        What a day counts as: 1, or its seconds.

    Returns
    -------
    days : ndarray of int64
        Days times ``size``; 0 where there is none.
    bad : ndarray of bool
    """
    if len(dates) == 0:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=bool)
    heads = np.flatnonzero(np.concatenate([[True], dates[1:] != dates[:-1]]))
    distinct, place = np.unique(dates[heads], return_inverse=True)
    made, wrong = _days(distinct, order)
    numbers = (made.astype(np.int64) * size)[place]
    bad = np.repeat(wrong[place], np.diff(np.append(heads, len(dates)))) if wrong.any() else np.zeros(len(dates), bool)
    if len(heads) * FEW_HEADS > len(dates):
        return np.repeat(numbers, np.diff(np.append(heads, len(dates)))), bad
    days = np.empty(len(dates), dtype=np.int64)  # long runs are filled faster than repeated
    for low, high, number in zip(heads.tolist(), [*heads[1:].tolist(), len(dates)], numbers.tolist(), strict=True):
        days[low:high] = number
    return days, bad


def _days(keys: NDArray[np.int32], order: str) -> tuple[NDArray[np.int32], Flags]:
    """Return days since 1970-01-01 of distinct dates, and which of them are no day."""
    kind, rest = np.divmod(keys.astype(np.int64), DATE_KIND)
    year, rest = np.divmod(rest, 10_000)
    month, day = np.divmod(rest, 100)
    short = kind == SHORT_YEAR
    if order == "ymd":
        year, month, day = np.where(short, month, year), np.where(short, day, month), np.where(short, year, day)
    elif order == "dmy":
        month, day = np.where(kind != SETTLED, day, month), np.where(kind != SETTLED, month, day)
    year = np.where(short, year + 2000, year)
    good = (keys > 0) & (year >= FIRST_YEAR) & (year <= LAST_YEAR) & (month >= 1) & (month <= 12) & (day >= 1)
    months = np.where(good, (year - 1970) * 12 + month - 1, 0).astype("datetime64[M]")
    begin = months.astype("datetime64[D]").astype(np.int64)
    after = (months + np.timedelta64(1, "M")).astype("datetime64[D]").astype(np.int64)
    good &= day <= after - begin
    return np.where(good, begin + day - 1, 0).astype(np.int32), ~good
