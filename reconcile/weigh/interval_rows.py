"""What interval data say of causes, as rows of known noise beside the bills (method page, eq. 14 and 15)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reconcile.house import Bill
from reconcile.interval.found import Evidence, Seen
from reconcile.interval.night_weather import LEARNT_SHARE
from reconcile.weigh.constants import PEAKS_PART
from reconcile.weigh.large_loads import Between
from reconcile.weigh.model import Model
from reconcile.weigh.patterns import Patterns, kinds_mask
from reconcile.weigh.places import NEVER, NOWHEN, SpellSeen, risen
from reconcile.weigh.shapes import Shape
from reconcile.weigh.site_rows import METER_KINDS, SiteRows

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

ONSETS = 5
"""Onsets tried between the limits of a change that the data date."""

CLOSE_DAYS = 1.0
"""Limits this near to the likeliest day are tried as one with it [d]."""

MOST_LACKING = 0.9
"""Part of a bill that an empty house lacks, at the most: something always runs (our own judgement)."""

MOST_SEEN, TAKEN_FOR = 0.35, 0.25
"""Error of a meter up to which the sizes of steps are looked for, and the one for which an error that may be twice as
large and more is taken there (our own choice): sizes that stay where they were speak against either."""

GROWTH_DAYS, GRID_DAYS = 60.0, 15.0
"""Shortest growth of a base load that is told from a step, and how far apart the days are that are tried for its
beginning and its end [d] (our own choice)."""

GROWTH_SEEN, GROWTH_LIKELY = 12.0, 6.0
"""By how much, in twice its log likelihood, a growth that stops must fit the windows better than none to be tried, and
how near to the best those of other ends must come (our own choice)."""

LEAST_REST = 0.2
"""Part of what is usual that is left beside a meter's error, at the least: none counts five times (our own
judgement)."""

OFF_WHILE_LEFT = 0.4
"""Part of the nights' base load that may be off as long as nobody is at home, one standard deviation (our judgement:
chargers, a second refrigerator, a water heater; the refrigerator itself takes less where no door is opened)."""

COMES_WITH = 0.3
"""Part of what comes and goes again by the clock that may draw round the clock as long as it is there, one standard
deviation (our own judgement): people who live in a house for a season cook in the evening, and leave more on at night.
"""

BEYOND_SDS, LEAST_WINDOWS = 2.3, 4
"""Standard deviations of a mean square by which a signal must scatter more than is known of it to be doubted, and the
fewest windows that tell (our choice: one in a hundred does so by chance)."""

WEATHER_SIDES, SIZES = ("heating", "cooling"), ("gain", "peaks")

STEADY_KINDS = ("constant-load", "cold-load", "hot-water-leak", "load-gone", "drift")


def dated_onsets(evidence: Sequence[Evidence]) -> Floats:
    """Days (ordinal) at which a signal finds a change: its likeliest day, some between its limits, and its falls."""
    days = [float(day.toordinal()) for signal in evidence for day in signal.fell]
    for signal in evidence:
        if signal.onset is None or signal.kind in ("clock", "away", "between", *WEATHER_SIDES):
            continue
        likeliest = float(signal.onset.toordinal())
        days.append(likeliest)
        if signal.low is not None and signal.high is not None:
            low, high = float(signal.low.toordinal()), float(signal.high.toordinal())
            between = np.round(np.linspace(low, high, ONSETS))
            days += [float(day) for day in between if abs(day - likeliest) > CLOSE_DAYS]
    return np.unique(days) if days else NOWHEN


def fallen(evidence: Sequence[Evidence]) -> Floats:
    """Days (ordinal) on which the nights fell, and what a dead element of the meter spares of them, shape (f, 2)."""
    falls = [fall for signal in evidence for fall in signal.falls]
    return np.array([(float(day.toordinal()), spared) for day, spared in falls]).reshape(-1, 2)


def clocked(evidence: Sequence[Evidence], opens: Floats, closes: Floats) -> tuple[Floats, Floats]:
    """Days (ordinal) from which a load runs by the clock, or may do, shape (c,), and the part of each bill for which it
    does, shape (c, n).
    """
    mine = [
        signal
        for signal in evidence
        if signal.onset is not None and (signal.kind == "clock" or signal.clock_hours is not None)
    ]
    begins = np.array([float(signal.onset.toordinal()) for signal in mine if signal.onset is not None])
    return begins, np.array([signal.there(opens, closes) for signal in mine]).reshape(len(mine), len(opens))


def spells_seen(evidence: Sequence[Evidence], opens: Floats, days: Floats) -> list[SpellSeen]:
    """Times in which by its days heating or cooling took more for the same weather, as they lie in the bills."""
    found = []
    for signal in evidence:
        seen, onset, until = signal.spell, signal.onset, signal.until
        if seen is None or onset is None or signal.kind in ("away", "between"):
            continue
        count, added = _by_bill(seen, opens, days)
        more = 0.024 * added / np.maximum(count, 1)
        if more.any():
            end = np.inf if until is None else float(until.toordinal())
            day = float(onset.toordinal())
            found.append(SpellSeen(signal.kind, day, end, more / seen.size, seen.sure, seen.lead))
    return found


def grown(evidence: Sequence[Evidence]) -> Floats:
    """Days (ordinal) from and to which the base load may have grown, by its windows, shape (g, 2): of each end the
    likeliest beginning. None where a step fits them as well.
    """
    base = next((signal for signal in evidence if signal.kind == "base-load"), None)
    if base is None:
        return NEVER
    begins, ends = (np.array([float(d.toordinal()) for d in days]) for days in (base.begins, base.ends))
    first, last = begins.min(), ends.max()
    days = np.arange(first, last, GRID_DAYS)
    if days[-1] - first < GROWTH_DAYS:
        return NEVER
    inverse = np.linalg.inv(base.covariance)

    def fits(course: Floats) -> Floats:
        pull, held = course @ inverse @ base.value, np.einsum("ij,jk,ik->i", course, inverse, course)
        better: Floats = np.maximum(pull, 0.0) ** 2 / np.maximum(held, 1e-12)
        return better

    tried = []
    for full in [*days[days - first >= GROWTH_DAYS], last]:
        since = days[full - days >= GROWTH_DAYS]
        better = fits(risen(begins, ends, since[:, None], full))
        at = int(np.argmax(better))
        tried.append((float(better[at]), float(since[at]), float(full)))
    steps = np.unique(np.concatenate([begins, days]))[:, None]
    step = fits(np.clip((ends - np.maximum(begins, steps)) / (ends - begins), 0.0, 1.0)).max()
    best = max(tried)[0]
    if best < max(step, GROWTH_SEEN):
        return NEVER
    return np.array([(since, full) for better, since, full in tried if better >= best - GROWTH_LIKELY])


def seen_between(evidence: Sequence[Evidence], opens: Floats, days: Floats) -> Between | None:
    """Where the hours show a large load between two days, as it lies in the bills; None where they show none."""
    found = []
    for signal in evidence:
        if signal.kind == "between" and signal.spell is not None and signal.onset is not None:
            mask = _by_bill(signal.spell, opens, days)[1] / days
            found.append((mask, float(signal.onset.toordinal())))
    if not found:
        return None
    masks, starts = zip(*found, strict=True)
    return Between(np.stack(masks), np.array(starts), np.full(len(found), 1.0))


def lacking(evidence: Sequence[Evidence], bills: Sequence[Bill]) -> Floats:
    """Part of the usual use of each bill that it lacks by times with nobody at home, as the days of the data show;
    below nothing where guests added to it.
    """
    opens = np.array([bill.start.toordinal() for bill in bills], dtype=float)
    days = np.array([max(bill.days, 1) for bill in bills], dtype=float)
    away = [signal.spell for signal in evidence if signal.kind == "away" and signal.spell is not None]
    lacks = sum((_by_bill(seen, opens, days)[1] for seen in away), np.zeros(len(opens)))
    part: Floats = np.clip(lacks / days, -1.0, MOST_LACKING)
    return part


def _by_bill(seen: Seen, opens: Floats, days: Floats) -> tuple[Ints, Floats]:
    """How many days of each bill the data hold, and what came on top in all of them."""
    place = np.searchsorted(opens, seen.days, side="right") - 1
    held = (place >= 0) & (seen.days < (opens + days)[place])
    count = np.bincount(place[held], minlength=len(opens)).astype(np.int64)
    added: Floats = np.bincount(place[held], weights=seen.more[held], minlength=len(opens)).astype(np.float64)
    return count, added


def evidence_rows(found: Patterns, shape: Shape, evidence: Sequence[Evidence], model: Model) -> SiteRows:
    """Turn the signals of interval data into rows.

    A meter's error multiplies the house's own appliance steps, a load of known watts and the base load; a load that
    runs round the clock adds to the base load, as its season has it, and its part to some hours of the day, or, with a
    thermostat of its own, to what the nights hold above it; a load that runs by the clock adds to its hours alone. A
    habit adds its part to what the nights hold above the base load; the weather and a single bill move none of them.

    Parameters
    ----------
    shape : Shape
    """
    meter = kinds_mask(*METER_KINDS, "old-meter-slow")[found.kind_index]
    steady = kinds_mask(*STEADY_KINDS)[found.kind_index]
    by_clock = kinds_mask("clock-load")[found.kind_index]
    habits = kinds_mask("habit-step", "habit-fall", "house-left")[found.kind_index]
    left = kinds_mask("house-left")[found.kind_index]
    stuck = kinds_mask("stuck-load")[found.kind_index]
    told = [float(signal.onset.toordinal()) for signal in evidence if signal.kind == "between" and signal.onset]
    taken_out = stuck & np.isin(found.start, told)
    between = stuck & ~taken_out
    grows = ~np.isnan(found.full)
    until = kinds_mask("old-meter-slow")[found.kind_index]
    leg = kinds_mask("meter-leg")[found.kind_index]
    far = meter & (found.size_mean > MOST_SEEN)
    start = np.where(np.isnan(found.start), -np.inf, found.start)
    stops = _stops(found, model)
    rows = sum(len(signal.value) for signal in evidence)
    residual, noise = np.zeros(rows), np.zeros((rows, rows))
    effect, turned = np.zeros((2, rows, len(found.kind_index)))
    at = 0
    for signal in evidence:
        if not len(signal.value):
            continue
        here = slice(at, at + len(signal.value))
        at = here.stop
        residual[here], noise[here, here] = signal.value, signal.covariance
        begins, ends = (np.array([[float(d.toordinal())] for d in days]) for days in (signal.begins, signal.ends))
        share = np.clip((ends - np.maximum(begins, start)) / (ends - begins), 0.0, 1.0)
        held = np.clip((np.minimum(ends, stops) - np.maximum(begins, start)) / (ends - begins), 0.0, 1.0)
        share[:, grows] = risen(begins, ends, found.start[grows], found.full[grows])
        if signal.kind == "gain":
            # no mean over a window: sizes of one or the other, and a change is told at the windows' edges alone
            share = np.where(grows, share, np.round(share))
            if signal.onset is not None:  # the sizes moved at once: nothing that grows moved them so
                share[:, grows] = 0.0
            share[:, leg] = 0.0  # some sizes halve, some stay and some are no more
            # no size is looked for so far away: those that stay speak against it as against a lesser error
            share[:, far] *= TAKEN_FOR / found.size_mean[far]
        turned[here] = np.where(meter & ~leg, share - until, 0.0)
        share = np.where(between, held, share)
        drawn = np.where(
            steady | between, shape.per_day * share * _course(found, shape, model, (begins + ends) / 2.0), 0.0
        )
        size: Floats | float = signal.base_kwh_per_day
        weather = signal.weather_kwh_per_day.T[:, :, None]
        if signal.kind == "base-load":
            effect[here] = np.where(found.idle, 0.0, drawn)
            if signal.clock_hours is not None and signal.onset is not None:
                # all of it in some hours of the night, that much more there
                mine = by_clock & (start == float(signal.onset.toordinal()))
                effect[here] += np.where(mine, shape.per_day * share * 24.0 / signal.clock_hours, 0.0)
            size, weather = _nights_at_rest(signal, share - until)
            effect[here] += found.nights * size * share
            size = size - found.spared
            noise[here, here] += _while_there(evidence, begins[:, 0], ends[:, 0])
            noise[here, here] += _while_left(evidence, begins[:, 0], ends[:, 0], signal.base_kwh_per_day)
            noise[here, here] += _of_runs(evidence, (begins + ends)[:, 0] / 2.0)
        elif signal.kind == "night-runs":
            # what rests in every hour is above the floor alone
            size, weather = _nights_at_rest(signal, share - until)
            effect[here] = np.where(found.idle, drawn, 0.0) + np.where(habits, size * share, 0.0)
            noise[here, here] += _while_there(evidence, begins[:, 0], ends[:, 0])
            noise[here, here] += _while_left(evidence, begins[:, 0], ends[:, 0], signal.base_kwh_per_day)
        elif signal.kind == "clock":
            mine = by_clock & (start == (np.nan if signal.onset is None else float(signal.onset.toordinal())))
            effect[here] = np.where(mine, shape.per_day * signal.there(begins, ends), 0.0)
            effect[here] += signal.steady_share * drawn
        elif signal.kind in WEATHER_SIDES:
            mine = _by_weather(found, signal.kind)
            size = _at_rest(signal, np.where(mine, held, share - until))
            effect[here] = np.where(mine, size * held, 0.0)
        elif signal.kind == "between":
            mine = taken_out & (start == (np.nan if signal.onset is None else float(signal.onset.toordinal())))
            effect[here] = np.where(mine, shape.per_day, 0.0)
            size = 0.0  # an error multiplies what a load uses and is none by itself
        elif signal.kind == "by-day":
            people = float(shape.clock.sum() / shape.days.sum())
            effect[here] = drawn + np.where(habits, people * share, 0.0)
        elif signal.kind == "peaks":
            size = _at_rest(signal, share - until)
            effect[here] = np.where(habits, np.where(left, 1.0, PEAKS_PART) * size * share, 0.0)
        elif signal.kind == "gain":
            # as a part of what the first windows show, in which an old meter counts too little
            size = np.where(until, 1.0 / (1.0 - found.size_mean), 1.0)
        else:
            size = 1.0
        effect[here] += np.where(meter, size * (share - until), 0.0)
        if len(signal.weather_kwh_per_day):
            # a meter's error multiplies what was taken out for the weather as well
            for side, part in zip(WEATHER_SIDES, weather, strict=True):
                times = np.where(_by_weather(found, side), held, np.where(meter, share - until, 0.0))
                effect[here] += part * times
    nothing = np.zeros(rows, dtype=bool)
    of_sizes = np.repeat([signal.kind in SIZES for signal in evidence], [len(signal.value) for signal in evidence])
    return SiteRows(
        residual, np.zeros((rows, model.factors.shape[1])), noise, effect, turned, nothing, nothing, ~nothing, of_sizes
    )


def as_scattered(rows: SiteRows, left: Floats, evidence: Sequence[Evidence]) -> SiteRows:
    """Return the rows with those signals in as much more doubt as they scatter about what the likeliest causes leave,
    and about no cause.

    The variance of a signal whose windows lie farther off than chance allows is multiplied by the mean square of how
    far, in standard deviations [Birge ratio]: what moves it besides is not known, and is no cause's to explain.

    Parameters
    ----------
    left : ndarray, shape (N,)
        Residuals of all that was heard, the signals' rows last.
    """
    noise, at = rows.noise.copy(), len(rows.residual) - sum(len(signal.value) for signal in evidence)
    tail = left[len(left) - len(rows.residual) :]
    scattered = False
    for signal in evidence:
        here = slice(at, at + len(signal.value))
        at, count = here.stop, len(signal.value)
        if count < LEAST_WINDOWS:
            continue
        known = np.linalg.pinv(noise[here, here], hermitian=True)
        # one that no cause disturbs is not in doubt because it speaks against the likeliest
        square = min(float(part @ known @ part) for part in (tail[here], rows.residual[here])) / count
        if square > 1.0 + BEYOND_SDS * math.sqrt(2.0 / count):
            noise[here, here] *= square
            scattered = True
    return replace(rows, noise=noise) if scattered else rows


def _course(found: Patterns, shape: Shape, model: Model, middle: Floats) -> Floats:
    """Part of its mean that each load takes in windows about some days, (m, 1), shape (m, K): hot water takes more as
    the mains are colder. What goes by the cold of the day itself was taken out for the weather.
    """
    course = np.ones((len(middle), len(found.kind_index)))
    leaks = kinds_mask("hot-water-leak")[found.kind_index]
    course[:, leaks] = np.interp(middle, model.starts + model.days / 2.0, shape.mains)
    return course


def _while_there(evidence: Sequence[Evidence], begins: Floats, ends: Floats) -> Floats:
    """Covariance of the base load's windows by what comes and goes again by the clock, shape (m, m)."""
    doubt = np.zeros((len(begins), len(begins)))
    for signal in evidence:
        if signal.kind == "clock" and (signal.until is not None or signal.rests):
            inside = signal.there(begins, ends)
            doubt += (COMES_WITH * np.ptp(signal.value)) ** 2 * np.outer(inside, inside)
    return doubt


def _while_left(evidence: Sequence[Evidence], begins: Floats, ends: Floats, base: float) -> Floats:
    """Covariance of windows of the nights by what is off as long as nobody is at home, shape (m, m).

    All such times lack the same; with guests as much more may be on.
    """
    inside = np.zeros(len(begins))
    for signal in evidence:
        if signal.kind == "away" and signal.onset is not None and signal.until is not None:
            first, last = float(signal.onset.toordinal()), float(signal.until.toordinal())
            inside += np.clip((np.minimum(ends, last) - np.maximum(begins, first)) / (ends - begins), 0.0, 1.0)
    return np.asarray((OFF_WHILE_LEFT * base) ** 2 * np.outer(inside, inside))


def _of_runs(evidence: Sequence[Evidence], middle: Floats) -> Floats:
    """Covariance of the base load's windows by what goes on and off in the night, shape (m, m)."""
    doubt = np.zeros((len(middle), len(middle)))
    for signal in evidence:
        if signal.kind == "night-runs":
            at = [
                (begin.toordinal() + end.toordinal()) / 2.0
                for begin, end in zip(signal.begins, signal.ends, strict=True)
            ]
            lifted = signal.lifts * np.interp(middle, at, signal.value - signal.value.min())
            doubt += np.outer(lifted, lifted)
    return doubt


def _at_rest(signal: Evidence, acting: Floats) -> Floats:
    """What a meter's error multiplies, as a part of the usual: what the windows show in which it does not act, shape
    (K,). The usual of all windows has the error in it where most are on its side.
    """
    weight = (1.0 - np.abs(acting)) / np.diag(signal.covariance)[:, None]
    apart = signal.value @ weight / np.maximum(weight.sum(axis=0), 1e-12)
    rest: Floats = np.maximum(1.0 + np.where(weight.any(axis=0), apart, 0.0), LEAST_REST)
    return rest


def _nights_at_rest(signal: Evidence, acting: Floats) -> tuple[Floats, Floats]:
    """What a meter's error, or more heating, multiplies: base load, shape (K,), and heating and cooling of each window
    [kWh/d], shape (2, m, K), as the windows show them in which it does not act.

    The usual of all windows, and the curve of the weather fitted to all nights, have the error in them where most are
    on its side. Each window counts by what it is known to, given the others: the level is in doubt for all alike.
    """
    taken = signal.weather_kwh_per_day if len(signal.weather_kwh_per_day) else np.zeros((len(signal.value), 2))
    weight = (1.0 - np.abs(acting)) * np.diag(np.linalg.inv(signal.covariance))[:, None]
    course = np.column_stack([np.ones(len(taken)), taken])
    held = np.einsum("mi,mk,mj->kij", course, weight, course)
    held += np.diag([1e-9, 1.0 / LEARNT_SHARE**2, 1.0 / LEARNT_SHARE**2])
    apart = np.linalg.solve(held, np.einsum("mi,mk,m->ki", course, weight, signal.value)[:, :, None])[:, :, 0].T
    base = np.maximum(signal.base_kwh_per_day + apart[0], LEAST_REST * signal.base_kwh_per_day)
    return base, np.maximum(1.0 + apart[1:, None], LEAST_REST) * taken.T[:, :, None]


def _by_weather(found: Patterns, side: str) -> NDArray[np.bool_]:
    """Which patterns are more, or less, of heating, or of cooling."""
    return kinds_mask(*(f"{side}-{way}" for way in ("rise", "fall", "spell")))[found.kind_index]


def _stops(found: Patterns, model: Model) -> Floats:
    """Day (ordinal) on which each pattern stops acting, infinite where it is there in the last bill, shape (K,)."""
    last, every = found.closes - 1, np.arange(len(found.kind_index))
    whole = np.abs(found.acting.mask[last, every]) * model.days[last]
    begun = np.where(
        found.opens == last, np.nan_to_num(np.maximum(found.start, model.starts[last])), model.starts[last]
    )
    seen = np.where(last == len(model.days) - 1, np.inf, begun + whole)
    return np.where(np.isnan(found.end), seen, found.end)


def together(first: SiteRows, second: SiteRows) -> SiteRows:
    """Put rows of one source under those of another; their noise has nothing in common."""
    count, rows = len(first.residual), len(first.residual) + len(second.residual)
    noise = np.zeros((rows, rows))
    noise[:count, :count], noise[count:, count:] = first.noise, second.noise
    return SiteRows(
        np.concatenate([first.residual, second.residual]),
        np.concatenate([first.factors, second.factors]),
        noise,
        np.concatenate([first.effect, second.effect]),
        np.concatenate([first.turned, second.turned]),
        np.concatenate([first.night, second.night]),
        np.concatenate([first.slip, second.slip]),
        np.concatenate([first.by_hours, second.by_hours]),
        np.concatenate([first.of_sizes, second.of_sizes]),
    )
