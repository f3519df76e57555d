"""Runs of bills whose money lies on one line to the cent: a fixed charge and a price, however little the use differs.

Whether bills lie on one line within cents is decided, not estimated: a price serves two bills where it lies between the
steepest and the flattest line that meets both within a cent or two, and it serves a run where it serves every pair. By
that a change of price shows in a flat whose kWh hardly differ, and every one of several changes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from reconcile.array_types import Floats
from reconcile.records import dataclass

CENTS = 0.02
"""How far rounding of a few lines moves a bill [money] (our choice)."""
RUN = 4
"""Bills that must lie on one line before it is a price of its own (our choice)."""
KNOWN_TO = 0.03
"""Part to which the price of such a run must be known by it (our choice)."""
ALIKE = 0.01
"""Part to which a few bills must show one price beside a fixed charge that is known (our choice)."""
MOST_BLOCKS = 4
"""Blocks of one price (our choice: tariffs mostly have two or three)."""
FEW_OFF = 0.15
"""Part of the bills that may lie on no line (our choice)."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line and the bills that follow it."""

    start: int
    stop: int
    fixed: float
    price: float


@dataclass(slots=True)
class _Run:
    """A stretch of bills, and the prices of a kWh that serve all of them to the cent."""

    start: int
    stop: int
    least: float = -math.inf
    most: float = math.inf

    @property
    def price(self) -> float:
        return (self.least + self.most) / 2.0


def exact_lines(unit: Floats, kwh: Floats, amount: Floats, most_lines: int) -> tuple[Line, ...]:
    """Return the lines that the bills follow one after the other, to the cent.

    Parameters
    ----------
    unit, kwh, amount : ndarray, length n
        What the fixed charge is asked for (1, or the days), the kWh and the money of each bill.
    most_lines : int
        With more lines than these the price is not understood.

    Returns
    -------
    tuple of Line
        Empty where the bills do not lie on lines to the cent.

    Examples
    --------
    >>> kwh = np.array([120.0, 191, 144, 170, 155, 119, 163, 201])
    >>> lines = exact_lines(np.ones(8), kwh, np.round(11 + kwh * ([0.15] * 4 + [0.18] * 4), 2), 5)
    >>> [(line.start, line.stop, f"{line.price:.2f}") for line in lines]
    [(0, 4, '0.15'), (4, 8, '0.18')]
    """
    bills = _Bills(kwh / unit, amount / unit, CENTS / unit, kwh)
    lines = _followed(bills, most_lines)
    return () if _blocks(bills, lines) else lines


def in_blocks(unit: Floats, kwh: Floats, amount: Floats) -> bool:
    """Whether the bills follow one price by the block to the cent: in the order of their use they lie on a bent line.

    Parameters
    ----------
    unit, kwh, amount : ndarray, length n
        As for :func:`exact_lines`.

    Examples
    --------
    >>> kwh = np.array([820.0, 310, 905, 450, 760, 250, 640, 390])
    >>> in_blocks(np.ones(8), kwh, np.round(11 + 0.15 * kwh + 0.05 * np.maximum(kwh - 500, 0), 2))
    True
    >>> in_blocks(np.ones(8), kwh, np.round(11 + kwh * ([0.15] * 4 + [0.18] * 4), 2))
    False
    """
    order = np.argsort(kwh / unit, kind="stable")
    use, cost, near = (values[order] for values in (kwh / unit, amount / unit, CENTS / unit))
    bills = _Bills(use, cost, near, kwh[order])
    return _blocks(bills, _followed(bills, MOST_BLOCKS))


def _followed(bills: _Bills, most_lines: int) -> tuple[Line, ...]:
    """The lines that bills follow in the order given; none where they do not."""
    runs = _joined(bills, _runs(bills))
    if not runs:
        return ()
    runs = [run for stretch in _with_short(bills, runs) for run in stretch]
    if not runs or len(runs) > most_lines:
        return ()
    lines = _lines(bills, runs)
    off = sum(
        bool(abs(bills.cost[i] - line.fixed - line.price * bills.use[i]) > 2.0 * bills.near[i])
        for line in lines
        for i in range(line.start, line.stop)
    )
    return () if off > FEW_OFF * len(bills.kwh) or any(line.price <= 0.0 for line in lines) else lines


@dataclass(frozen=True, slots=True)
class _Bills:
    use: Floats
    cost: Floats
    near: Floats
    kwh: Floats

    def meet(self, run: _Run, i: int, members: Sequence[int]) -> _Run | None:
        """The run with one bill more; None where no price serves."""
        rows = np.array(members, dtype=int)
        more, dearer = self.use[i] - self.use[rows], self.cost[i] - self.cost[rows]
        room = self.near[i] + self.near[rows]
        same = np.abs(more) < 1e-9
        if np.any(np.abs(dearer[same]) > room[same]):
            return None
        more, dearer, room = more[~same], dearer[~same], room[~same]
        ends = np.sort(np.stack([(dearer - room) / more, (dearer + room) / more]), axis=0)
        least, most = max(run.least, ends[0].max(initial=-math.inf)), min(run.most, ends[1].min(initial=math.inf))
        return _Run(run.start, i + 1, least, most) if least <= most else None

    def serves(self, run: _Run) -> bool:
        """Whether a run is long enough, and its price known well enough by it."""
        long = run.stop - run.start >= RUN and len(np.unique(self.kwh[run.start : run.stop])) > 2
        return long and run.most - run.least <= 2.0 * KNOWN_TO * abs(run.price)

    def fixed(self, run: _Run, price: float) -> float:
        return float(np.median(self.cost[run.start : run.stop] - price * self.use[run.start : run.stop]))


def _runs(bills: _Bills) -> list[_Run]:
    """The longest runs on one line, from the first bill on; bills on none are passed over."""
    runs: list[_Run] = []
    at, n = 0, len(bills.use)
    while at < n:
        run = _Run(at, at + 1)
        while run.stop < n and (longer := bills.meet(run, run.stop, range(at, run.stop))) is not None:
            run = longer
        if bills.serves(run):
            runs.append(run)
            at = run.stop
        else:
            at += 1
    return runs


def _joined(bills: _Bills, runs: Sequence[_Run]) -> list[_Run]:
    """Runs of one line that odd bills part, as one."""
    out: list[_Run] = []
    for run in runs:
        last = out[-1] if out else None
        if last is not None and max(last.least, run.least) <= min(last.most, run.most):
            least, most = max(last.least, run.least), min(last.most, run.most)
            price = (least + most) / 2.0
            near = 2.0 * float(bills.near[run.start : run.stop].max())
            if abs(bills.fixed(last, price) - bills.fixed(run, price)) <= near:
                out[-1] = _Run(last.start, run.stop, least, most)
                continue
        out.append(run)
    return out


def _with_short(bills: _Bills, runs: Sequence[_Run]) -> list[list[_Run]]:
    """The runs with what lies between them: single bills go to the run before, a few with one price are a run.

    Nothing where two bills in a row follow neither.
    """
    n = len(bills.use)
    out: list[list[_Run]] = []
    first = runs[0]
    early = [i for i in range(first.start) if not _on(bills, first, i)]
    if len(early) > 1:
        short = _short(bills, first, 0, first.start)
        if short is None:
            return []
        out.append([short])
    else:
        runs = [_Run(0, first.stop, first.least, first.most), *runs[1:]]
    for run, after in pairwise([*runs, _Run(n, n)]):
        stray = [i for i in range(run.stop, after.start) if not _on(bills, run, i)]
        began = stray[0] if stray else after.start
        if not any(b - a == 1 for a, b in pairwise(stray)):
            out.append([_Run(run.start, after.start, run.least, run.most)])
            continue
        short = _short(bills, run, began, after.start)
        if short is None:
            return []
        out.append([_Run(run.start, began, run.least, run.most), short])
    return out


def _short(bills: _Bills, beside: _Run, start: int, stop: int) -> _Run | None:
    """A few bills with one price beside the fixed charge of the run next to them."""
    if not np.all(bills.use[start:stop]):
        return None
    prices = (bills.cost[start:stop] - bills.fixed(beside, beside.price)) / bills.use[start:stop]
    price = float(np.median(prices))
    return _Run(start, stop, price, price) if np.ptp(prices) <= ALIKE * abs(price) else None


def _on(bills: _Bills, run: _Run, i: int) -> bool:
    apart = bills.cost[i] - bills.fixed(run, run.price) - run.price * bills.use[i]
    return bool(abs(apart) <= 2.0 * bills.near[i])


def _lines(bills: _Bills, runs: Sequence[_Run]) -> tuple[Line, ...]:
    """Each run's line; the price, or else the fixed charge, stays that of the run before where it may."""
    lines: list[Line] = []
    for run in runs:
        price = run.price
        fixed = bills.fixed(run, price)
        if lines:
            before = lines[-1]
            middle = float(np.median(np.abs(bills.use[run.start : run.stop])))
            near = 2.0 * float(bills.near[run.start : run.stop].max())
            if run.least <= before.price <= run.most or abs(price - before.price) * middle <= near / 4.0:
                price = before.price
                fixed = bills.fixed(run, price)
            elif abs(fixed - before.fixed) <= (run.most - run.least) / 2.0 * middle + near:
                fixed = before.fixed
                used = np.flatnonzero(bills.use[run.start : run.stop]) + run.start
                price = float(np.median((bills.cost[used] - fixed) / bills.use[used]))
        lines.append(Line(run.start, run.stop, fixed, price))
    return tuple(lines)


def _blocks(bills: _Bills, lines: Sequence[Line]) -> bool:
    """Whether two lines are the blocks of one price: they cross between the use of the one's bills and the other's."""
    for a, b in pairwise(lines):
        if a.price == b.price or a.fixed == b.fixed:
            continue
        cross = (a.fixed - b.fixed) / (b.price - a.price)
        low, high = sorted(
            (bills.use[line.start : line.stop] for line in (a, b)), key=lambda use: float(np.median(use))
        )
        if cross > 0.0 and np.quantile(low, 0.8) <= cross <= np.quantile(high, 0.2):
            return True
    return False
