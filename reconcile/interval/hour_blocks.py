"""Blocks of hours that stand higher from one day on: the 24 hours before and after, with the weather taken out.

How far each hour of the day rose is known with its own noise, and three things may move all hours together: more or
less of what people do, of heating and of cooling. Beside them a block of hours is set against the whole day rising
alike: what runs round the clock is no block, however dark it is outside.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field
from datetime import datetime, tzinfo
from functools import cache, cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import DAY_SECONDS, HOUR_SECONDS, as_day, local_seconds
from reconcile.house import House, Interval
from reconcile.interval.weather_hours import HELD_SHARE, days_of, weather_curve
from reconcile.records import dataclass

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

SPANS_DAYS, EVERY_DAYS = (28, 56), 7
"""Days on either side of a date whose usual days are compared, and how far the dates tried are apart [d]: the longer
is the steadier, the shorter less of a season."""

LEAST_DAYS = 14
"""Days on either side, at the least, and how long such a load runs [d] (our own judgement)."""

MOST_HOURS = 20
"""Longest run of hours looked for [h], as of lights over plants; what runs longer is nearly round the clock."""

LEAST_WATTS, LEAST_SDS = 150.0, 4.0
"""Smaller steps, in watts and in standard uncertainties, are not looked at (our own judgement; the best of some
thousand places is taken)."""

TRIMMED = 0.2
"""Part of the days on either end that the mean of an hour leaves out: guests, absences, a bath."""

PEOPLE_SHARE, OWN_SHARE = 0.15, 0.05
"""How far what people do may move all hours together from one month to the next, as a part of it, and the weather's
part of an hour by itself (our own judgement)."""

SEASON_SHAPES, LEAST_ELSEWHERE = 2, 6
"""Where nobody knows the weather: so many shapes in which the hours moved at other dates may be a season's here too,
and dates from which they are told (our own judgement)."""

BETTER = 12.0
"""By how much a block of hours must fit the day's changes better than a load round the clock, than more of what people
do, and than more heating or cooling (in chi-square; our own judgement)."""

SURE_SDS, FLAT_SHARE = 2.0, 0.5
"""Standard uncertainties by which the hours outside the block must stay below this part of its step (our own
judgement)."""

ODD_HOUR_SDS = 3.0
"""An hour farther off than so many standard uncertainties counts no more for how well the others are known."""

CHANGED_DAYS = 21
"""Days on either side of a change of the clocks in which a block must also stand out from the days before moved by an
hour [d]: a clock that was not changed moves the whole day."""

UNKNOWN_WATTS = 1e5
"""Noise of an hour that is not heard [W]."""

EDGE_HOURS = 2
"""How far beyond the block of whole hours that fits best its ends are looked for [h]."""

MOST_TRIED, APART_DAYS = 5, 14
"""Places looked at closely, the likeliest first, and how far apart they are [d]."""

LEAST_NOISE_WATTS = 20.0
"""No hour of the day is steadier than this from one day to the next (our own judgement)."""


@dataclass(frozen=True, slots=True)
class Block:
    """A block of hours from a day on: slots of the day, and by how much it fits better than all else."""

    at: int
    begin: int
    length: int
    lead: float = 0.0


@dataclass(frozen=True, eq=False)
class Rise:
    """How far each slot of the day rose at a day."""

    watts: Floats
    """[W], shape (s,)"""
    variance: Floats
    """Its own noise [W^2], shape (s,)."""
    shapes: Floats
    """What people, heating and cooling may add to all slots together, one standard deviation [W], shape (s, c)."""
    before: Floats
    """What each slot usually held before, without the weather's part [W], shape (s,)."""

    @property
    def covariance(self) -> Floats:
        """Of the rises, shape (s, s)."""
        return np.asarray(np.diag(self.variance) + self.shapes @ self.shapes.T)

    @cached_property
    def precision(self) -> Floats:
        """Inverse of the covariance, shape (s, s)."""
        return np.asarray(np.linalg.inv(self.covariance))

    def without(self, slots: Sequence[int] | Ints) -> Rise:
        """The same with some slots unknown."""
        variance = self.variance.copy()
        variance[list(slots)] += UNKNOWN_WATTS**2
        return Rise(self.watts, variance, self.shapes, self.before)

    def split(self, inside: Bools) -> tuple[float, float, float, float]:
        """Rise of the slots of a block and of all others, each with its standard uncertainty [W].

        Where the slots scatter more about the two than their noise says, both are known the less.
        """
        both = np.stack([inside, ~inside]).astype(float)
        doubt = np.linalg.inv(both @ self.precision @ both.T)
        size = doubt @ (both @ self.precision @ self.watts)
        common = np.linalg.inv(np.eye(self.shapes.shape[1]) + self.shapes.T @ (self.shapes / self.variance[:, None]))
        left = self.watts - size @ both
        left = left - self.shapes @ (common @ (self.shapes.T @ (left / self.variance)))
        odd = np.minimum(left**2 / self.variance, ODD_HOUR_SDS**2)
        doubt *= max(1.0, float(odd.sum()) / (len(odd) - 2.0))
        return float(size[0]), math.sqrt(doubt[0, 0]), float(size[1]), math.sqrt(doubt[1, 1])

    def mean(self, inside: Bools) -> tuple[float, float]:
        """Mean rise of some slots, whatever the others did, and its standard uncertainty [W]."""
        some = self.covariance[np.ix_(inside, inside)]
        return float(self.watts[inside].mean()), math.sqrt(float(some.mean()))

    def ends(self, block: Block) -> Block:
        """The same block to its slots, as far as half its step stands on either side."""
        slots = len(self.watts)
        inside = np.arange(block.begin, block.begin + block.length) % slots
        weight = 1.0 / self.variance[inside]
        half = FLAT_SHARE * float(self.watts[inside] @ weight / weight.sum())
        high, low = self.watts >= half, self.watts + np.sqrt(self.variance) < half
        first, last = block.begin, block.begin + block.length - 1
        while first < last and low[first % slots]:
            first += 1
        while last > first and low[last % slots]:
            last -= 1
        near = EDGE_HOURS * slots // 24
        while block.begin - first < near and high[(first - 1) % slots]:
            first -= 1
        while last - (block.begin + block.length - 1) < near and high[(last + 1) % slots]:
            last += 1
        return Block(block.at, first % slots, min(last - first + 1, MOST_HOURS * slots // 24), block.lead)


def _best(tried: Sequence[tuple[int, int, Rise]]) -> list[tuple[Block, int]]:
    """Block of hours that fits each rise best, with its span, unless something else fits as well.

    Parameters
    ----------
    tried : sequence of (int, int, Rise)
        Day, span and rise; slots are hours here.
    """
    blocks, found = _every_block(), []
    watts, gain, others = _explained([rise for *_, rise in tried], blocks)
    gain = np.where(watts >= LEAST_WATTS, gain, -np.inf)
    for (at, span, rise), place, most, other in zip(tried, gain.argmax(axis=1), gain.max(axis=1), others, strict=True):
        if most - other < BETTER:
            continue
        inside, sd, outside, unsure = rise.split(blocks[place] > 0.0)
        if inside >= LEAST_SDS * sd and outside + SURE_SDS * unsure < FLAT_SHARE * inside:
            begin, length = divmod(int(place), MOST_HOURS)
            found.append((Block(at, begin, length + 1, float(most - other)), span))
    return found


def _explained(rises: Sequence[Rise], blocks: Floats) -> tuple[Floats, Floats, Floats]:
    """Size of each of some blocks that fits each rise best, what it explains then, and the most anything else does.

    All rises at once; of shapes (m, b), (m, b) and (m,).
    """
    slots = blocks.shape[1]
    watts = np.array([rise.watts for rise in rises]).reshape(-1, slots, 1)
    others = np.zeros((len(rises), 1 + max((rise.shapes.shape[1] for rise in rises), default=0), slots))
    others[:, 0] = 1.0
    for beside, rise in zip(others, rises, strict=True):
        beside[1 : 1 + rise.shapes.shape[1]] = rise.shapes.T
    precision = np.linalg.inv(np.array([rise.covariance for rise in rises]).reshape(-1, slots, slots))
    pulled = precision @ watts
    fitted, told = pulled[:, :, 0] @ blocks.T, (others @ pulled)[:, :, 0]
    pairs = (blocks[:, :, None] * blocks[:, None]).reshape(len(blocks), -1)
    length = np.maximum(precision.reshape(len(rises), slots**2) @ pairs.T, 1e-12)
    theirs = np.maximum(((others @ precision) * others).sum(axis=2), 1e-12)
    return fitted / length, fitted**2 / length, (told**2 / theirs).max(axis=1)


class _Stretch(NamedTuple):
    """Usual powers of some days with their variance, None of too few, and the mean of their heating and cooling."""

    usual: tuple[Floats, Floats] | None
    heat: Floats
    cool: Floats


@dataclass(frozen=True, eq=False)
class Hours:
    """Powers by day and slot of the day: as they are, without what the weather adds, and that; all (n, s) [W]."""

    first: int
    """Day since 1970-01-01 [d]."""
    raw: Floats
    fine: Floats
    heat: Floats
    cool: Floats
    changes: Ints
    """Places of the days on which the clocks change."""
    blind: bool = False
    """Nobody knows the weather, and its part is not taken out."""
    _stretches: dict[tuple[int, int], _Stretch] = field(default_factory=dict)

    @classmethod
    def of(cls, interval: Interval, zone: tzinfo, house: House | None) -> Hours:
        """Lay them out; with the house's weather taken out where a house is given."""
        first, raw = by_day(interval, zone)
        heat = cool = np.zeros_like(raw)
        outside = None if house is None or not len(raw) else days_of(house, first, first + len(raw) - 1)
        if outside is not None:
            by_hour = raw.reshape(len(raw), 24, -1)
            curve = weather_curve(by_hour.mean(axis=2), outside.mean_c, outside.known)
            warm = curve.cooling().part(outside.mean_c)
            cold = curve.part(outside.mean_c) - warm
            heat, cool = (np.repeat(part, by_hour.shape[2], axis=1) for part in (cold, warm))
        midnights = [datetime.combine(as_day(first + i), datetime.min.time(), zone) for i in range(len(raw) + 1)]
        offsets = [midnight.utcoffset() for midnight in midnights]
        changes = np.array([i for i in range(len(raw)) if offsets[i] != offsets[i + 1]], dtype=np.int64)
        return cls(first, raw, raw - heat - cool, heat, cool, changes, house is not None and outside is None)

    @property
    def per_hour(self) -> int:
        """Slots in an hour."""
        return int(self.raw.shape[1]) // 24

    def by_hour(self) -> Hours:
        """The same with hours for slots."""
        parts = (self.raw, self.fine, self.heat, self.cool)
        raw, fine, heat, cool = (part.reshape(len(part), 24, self.per_hour).mean(axis=2) for part in parts)
        return Hours(self.first, raw, fine, heat, cool, self.changes, self.blind)

    def rise(self, at: int, span: int, moved: int = 0) -> Rise | None:
        """How far each slot rose at a day, from so many days on either side; None without enough whole days.

        ``moved``: hours by which the day before is taken to have been shifted.
        """
        rise = self._compared(at, span, moved)
        if rise is None or not self.blind:
            return rise
        places, others = self._elsewhere[span]
        others = others[np.abs(places - at) >= span]
        if len(others) < LEAST_ELSEWHERE:
            return rise
        _, length, shapes = np.linalg.svd(others, full_matrices=False)
        seasons = shapes[:SEASON_SHAPES].T * length[:SEASON_SHAPES] / math.sqrt(len(others))
        return Rise(rise.watts, rise.variance, np.column_stack([rise.shapes, seasons]), rise.before)

    @cached_property
    def _elsewhere(self) -> dict[int, tuple[Ints, Floats]]:
        """How far each slot rose at dates all over the data, by the span: what its seasons do to the hours."""
        found = {}
        for span in SPANS_DAYS:
            tried = ((at, self._compared(at, span, 0)) for at in self._places())
            told = [(at, rise.watts) for at, rise in tried if rise is not None]
            slots = self.raw.shape[1]
            found[span] = np.array([at for at, _ in told]), np.array([w for _, w in told]).reshape(-1, slots)
        return found

    def rise_of_held(self, at: int, span: int) -> tuple[Rise, Floats] | None:
        """The same, with what each slot held before, the weather's part with it [W]."""
        rise, before = self.rise(at, span), self._stretch(max(at - span, 0), at)
        if rise is None or before.usual is None:
            return None
        return rise, before.usual[0] + before.heat + before.cool

    @property
    def weather_taken(self) -> bool:
        """Whether what the weather adds is taken out of the hours."""
        return bool(self.heat.any() or self.cool.any())

    def others(self, at: int, apart: int) -> list[int]:
        """Dates all over the data at which a change is read as on a day, so far from it that none of it is in them."""
        return [place for place in self._places() if abs(place - at) >= apart]

    def _places(self) -> range:
        return range(LEAST_DAYS, len(self.fine) - LEAST_DAYS + 1, EVERY_DAYS)

    def _compared(self, at: int, span: int, moved: int) -> Rise | None:
        (was, *weather), (now, *weather_now) = self._stretch(max(at - span, 0), at), self._stretch(at, at + span)
        if was is None or now is None:
            return None
        level, doubt = was
        usual = level - level.min()
        if moved:
            level, doubt = (np.roll(part, moved * self.per_hour) for part in (level, doubt))
        heat, cool = (later - earlier for earlier, later in zip(weather, weather_now, strict=True))
        shapes = np.array([PEOPLE_SHARE * usual, HELD_SHARE * heat, HELD_SHARE * cool]).T
        return Rise(now[0] - level, doubt + now[1] + OWN_SHARE**2 * (heat**2 + cool**2), shapes, level)

    def _stretch(self, begin: int, end: int) -> _Stretch:
        """Usual powers, heating and cooling of some days, which lie before one date and after another."""
        if (begin, end) not in self._stretches:
            usual = _usual(self.fine[begin:end])
            self._stretches[begin, end] = _Stretch(usual, _mean(self.heat[begin:end]), _mean(self.cool[begin:end]))
        return self._stretches[begin, end]

    def likeliest(self) -> list[Block]:
        """Blocks that stand out most, in slots, one at a time of year."""
        hourly = self.by_hour()
        every = ((at, span, hourly.rise(at, span)) for at in self._places() for span in SPANS_DAYS)
        tried = [(at, span, rise) for at, span, rise in every if rise is not None]
        found = [block for block, span in _best(tried) if hourly._stands(block, span)]
        chosen: list[Block] = []
        for one in sorted(found, key=lambda block: -block.lead):
            if all(abs(one.at - other.at) >= APART_DAYS for other in chosen):
                chosen.append(Block(one.at, one.begin * self.per_hour, one.length * self.per_hour, one.lead))
        return chosen[:MOST_TRIED]

    def _stands(self, block: Block, span: int) -> bool:
        """Whether a block stands out even if the house's clocks were not changed when all others were."""
        if not self.changes.size or np.abs(self.changes - block.at).min() > CHANGED_DAYS:
            return True
        inside = _every_block()[block.begin * MOST_HOURS + block.length - 1]
        moved = (self.rise(block.at, span, hours) for hours in (-1, 1))
        _, gain, others = _explained([rise for rise in moved if rise is not None], inside[None])
        return bool((gain[:, 0] - others >= BETTER).all())


def by_day(interval: Interval, zone: tzinfo) -> tuple[int, Floats]:
    """First day since 1970-01-01 [d], and mean power by slot of each day [W]; NaN where readings are missing."""
    step = interval.step_seconds
    if step > HOUR_SECONDS or HOUR_SECONDS % step:
        return 0, np.empty((0, 24))
    slot = max(step, 900) if 900 % step == 0 or step > 900 else HOUR_SECONDS
    local = local_seconds(interval.starts, zone)
    first, last = int(local[0] // DAY_SECONDS), int(local[-1] // DAY_SECONDS)
    cell = (local - first * DAY_SECONDS) // slot
    cells = (last - first + 1) * (DAY_SECONDS // slot)
    inside = (cell >= 0) & (cell < cells) & np.isfinite(interval.kwh)
    kwh = np.bincount(cell[inside], weights=interval.kwh[inside], minlength=cells)
    held = np.bincount(cell[inside], weights=interval.lengths[inside], minlength=cells)
    watts = np.where(held >= slot, kwh * 3.6e6 / np.maximum(held, 1.0), np.nan)
    return first, watts.reshape(-1, DAY_SECONDS // slot)


@cache
def _every_block() -> Floats:
    """Every block of hours, by its first hour and its length, shape (24 x MOST_HOURS, 24)."""
    begin, length, hour = np.arange(24)[:, None, None], np.arange(1, MOST_HOURS + 1)[:, None], np.arange(24)
    return np.asarray((hour - begin) % 24 < length, dtype=float).reshape(-1, 24)


def _mean(days: Floats) -> Floats:
    mean: Floats = days.sum(axis=0) / max(len(days), 1)
    if np.isfinite(mean).all():
        return mean
    return _mean(days[np.isfinite(days).all(axis=1)])


def _usual(days: Floats) -> tuple[Floats, Floats] | None:
    """Mean of some days without the odd ones, by slot, and its variance, two neighbors taken for one [W, W^2]."""
    whole = days[np.isfinite(days).all(axis=1)]
    count, out = len(whole), int(TRIMMED * len(whole))
    if count < LEAST_DAYS // 2:
        return None
    ordered = np.sort(whole, axis=0)
    usual = ordered[out : count - out].sum(axis=0) / (count - 2 * out)
    # the odd days drawn in
    ordered[:out], ordered[count - out :] = ordered[out], ordered[count - out - 1]
    apart = ordered - ordered.sum(axis=0) / count
    return usual, 2.0 * (apart * apart).sum(axis=0) / (count - 2 * out) ** 2 + LEAST_NOISE_WATTS**2
