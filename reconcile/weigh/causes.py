"""From weights of patterns to causes in the trade's words: chance, onset, size, energy."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from reconcile.distributions import student_below
from reconcile.kinds import KINDS as KINDS_OF
from reconcile.kinds import OF_BILLS, OWN_METER, CauseCode, Family, Lasts
from reconcile.result import Cause, OneOf
from reconcile.weigh.evidence import Posterior, mean_sizes, sizes
from reconcile.weigh.generation_rows import generation_lost, silent_since
from reconcile.weigh.level import LEVEL_KINDS
from reconcile.weigh.patterns import CODE_OF_KIND, CODES, day_of, kinds_mask
from reconcile.weigh.places import CREEPING_KINDS
from reconcile.weigh.refit import Best, above_any, refit
from reconcile.weigh.weighed import Weighing

Floats = NDArray[np.float64]
Fits = dict[int, Best]

WORTH_SHOWING = 0.01
"""Causes less likely than this are left out of the answer."""

SIZED_BY = 12
"""Patterns of a cause whose sizes are fitted (our choice: of sixty onsets that are as likely, one is the one that the
scatter helped most, and its size the largest)."""

WORTH_MIXING = 0.998
"""Part of the chance of a cause that the likeliest of its patterns hold whose sizes are told; others are left out."""

WORTH_SIZING = 0.05
"""Bills with less than this chance are none of those that a cause of single bills may be about."""

WORTH_TELLING, MOST_TOLD = 0.15, 3
"""Chance, as a part of the likeliest bill's, from which another bill is told as the one it may be, and how many."""

USUAL_95 = 0.2
"""Relative doubt, at 95 %, of the usual heating or cooling of some weeks that the days of a year teach (our choice)."""

TOLD_PART = 0.2
"""Chance of an onset, as a part of the likeliest's, from which the diary's day, or that on which the sizes of steps
moved, is taken for it (our choice)."""

EVEN = 0.5
"""Part of its chance from which a cause is told without a beginning (our choice: as likely as not)."""

STAYED_DAYS, MOST_GROWING = 30.0, 0.2
"""A load that grew has stayed where it stands for so many days at the end of the bills [d], unless the chance that it
still grew then is more than this (our choice)."""

MOST_REACH = 60
"""Days about a limit in which it is sought: twice the longest cell of monthly bills."""

TELLS_PART = 0.1
"""Part of what a cause adds to its largest bill from which a bill tells that it has begun (our choice)."""

WEATHER_KINDS = tuple(
    name for name, kind in KINDS_OF.items() if kind.family is Family.WEATHER and kind.lasts is Lasts.ONWARD
)
"""Kinds that act in the cold, or in the heat, alone, from an onset on."""

FAR, FINE = 12.0, 41
"""How far limits of a size are looked for, in its scales, and in how many steps, twice."""

_WATTS = ("constant-load", "timed-load", "unlisted", "load-gone")
_KWH = ("single-period", "swap")
OF_SEVERAL_BILLS = ("absence", "catch-up", "trued-up")
"""Kinds of event that take some bills on end."""
_WINDOWS = ("timed-load", "single-period", "heating-rise", "cooling-rise")


def likeliest_with(posterior: Posterior, wanted: Sequence[int]) -> tuple[int, ...]:
    """Return the members of the likeliest model that holds one of the wanted patterns; empty where none does."""
    found: tuple[float, tuple[int, ...]] = (-1.0, ())
    sought = np.zeros(len(posterior.single), dtype=bool)
    sought[list(wanted)] = True
    for pattern in wanted:
        found = max(found, (float(posterior.single[pattern]), (int(pattern),)))
    for models, weight in ((posterior.pairs, posterior.pair), (posterior.triples, posterior.triple)):
        with_it = np.flatnonzero(np.logical_or.reduce([sought[member] for member in models.T]))
        if with_it.size:
            at = int(with_it[np.argmax(weight[with_it])])
            found = max(found, (float(weight[at]), tuple(int(i) for i in models[at])))
    return found[1]


def likeliest_with_each(posterior: Posterior, wanted: Iterable[int]) -> dict[int, tuple[int, ...]]:
    """Return the members of the likeliest model that holds each of some patterns: of them all at once."""
    several = ((posterior.pairs, posterior.pair), (posterior.triples, posterior.triple))
    places = []
    for models, weight in several:
        rising = np.argsort(-weight, kind="stable")[::-1]
        places.append(np.full(len(posterior.single), -1))
        places[-1][models[rising].ravel()] = np.repeat(rising, models.shape[1])  # the last, the likeliest, stays
    found: dict[int, tuple[int, ...]] = {}
    for pattern in wanted:
        held: list[tuple[float, tuple[int, ...]]] = [(float(posterior.single[pattern]), (int(pattern),))]
        for (models, weight), place in zip(several, places, strict=True):
            if (at := int(place[pattern])) >= 0:
                held.append((float(weight[at]), tuple(models[at].tolist())))
        found[pattern] = max(held)[1]
    return found


def best_model(weighing: Weighing, wanted: Sequence[int]) -> Best | None:
    """Fit the likeliest model that holds one of the wanted patterns; None where none is wanted.

    Parameters
    ----------
    wanted : sequence of int
        Patterns.
    """
    members = likeliest_with(weighing.posterior, wanted)
    if not members:
        return None
    begin, _, _ = sizes(weighing.data, weighing.candidates, members)
    # with the ways of the household as the bands have them; a size that is told is doubted more
    heard = replace(weighing.heard, model=weighing.model)
    return refit(heard, {members: begin * weighing.found.size_sd[list(members)]})[members]


def _fitted(weighing: Weighing, wanted: Iterable[int]) -> Fits:
    """Fit the likeliest model that holds each of some patterns."""
    members = likeliest_with_each(weighing.posterior, wanted)
    begin = mean_sizes(weighing.data, weighing.candidates, dict.fromkeys(members.values()))
    best = refit(
        weighing.heard, {chosen: size * weighing.found.size_sd[list(chosen)] for chosen, size in begin.items()}
    )
    return {pattern: best[chosen] for pattern, chosen in members.items()}


NOTHING_LEFT = -100.0
"""No use and no registration falls by more than all of it [%]; the curve that is fitted may reach beyond."""


def name_causes(
    weighing: Weighing, open_at: float, told: Sequence[date] = (), moved: date | None = None
) -> tuple[Cause, ...]:
    """State every cause worth showing, likeliest first, and the chance that none is needed.

    Parameters
    ----------
    open_at : float
        Chance that all the bills stand above the list from which a meter fast all along is told with its chance,
        however small: it is the question people come with.
    told : sequence of date
        Days on which by the diary something came: the onset of a cause that may well begin on one.
    moved : date, optional
        Day on which the sizes of the house's own steps moved: the onset of a meter's error that may well begin on it.
    """
    found = weighing.found
    stated = [Cause("none", weighing.none, None, None, "")]
    shown: list[tuple[CauseCode, float, NDArray[np.int64], int]] = []
    asked = weighing.chance(*LEVEL_KINDS) >= open_at
    code = CODE_OF_KIND[found.kind_index]
    chances = weighing.chances(np.arange(len(CODES))[:, None] == CODE_OF_KIND)
    for index, name in enumerate(CODES):
        chance = float(chances[index])
        if name == "none" or chance < (0.0 if name == "meter-always" and asked else WORTH_SHOWING):
            continue
        mine = np.flatnonzero(code == index)
        if mine.size:
            shown.append((name, chance, mine, _onset(weighing, mine, told, moved if name in OWN_METER else None)))
    alike = [_alike(weighing, mine, pattern) for *_, mine, pattern in shown]
    fitted = _fitted(weighing, [one for several in alike for one in several])
    for (name, chance, mine, pattern), several in zip(shown, alike, strict=True):
        fit = _sized(weighing, several, pattern, fitted)
        if fit is None:
            continue
        model, size, limits = fit
        effect = model.kwh[:, model.members.index(pattern)]
        factor, unit = _unit(name, weighing, model, pattern)
        reach = _reach(weighing, mine, model, pattern)
        began = float(found.start[pattern])
        dated = name not in _KWH and math.isfinite(began)
        low, high = between(weighing, mine, reach) if dated else (None, None)
        if name == "generation-fall":
            lost = generation_lost(weighing.house, np.array([size, *limits]), began)
            size, limits = -float(lost[0]), (-float(lost[2]), -float(lost[1]))
            # whatever day the scatter prefers: of a bill that sent out nothing the register tells
            began = min(began, silent_since(weighing.house))
            low = min(low or date.max, day_of(began) or date.max)
        if low is not None and high is not None and (since := day_of(began)) is not None:
            # the likeliest day may be an unlikely one of many
            low, high = min(low, since), max(high, since)
        least = NOTHING_LEFT if unit == "%" else -math.inf
        scaled = sorted(max(factor * limit, least) for limit in limits)
        stated.append(
            Cause(
                code=name,
                probability=chance,
                since=day_of(began),
                size=max(factor * size, least),
                unit=unit,
                size_low=scaled[0],
                size_high=scaled[1],
                kwh=float(effect.sum()),
                pattern_kwh=tuple(float(value) for value in effect),
                until=_ends(weighing, pattern) if name in _WINDOWS else None,
                since_low=low,
                since_high=high,
                grew_until=_grew_until(weighing, mine, pattern),
                one_of=_one_of(weighing, mine, fitted) if name in _KWH else (),
            )
        )
    return tuple(sorted(stated, key=lambda cause: -cause.probability))


def _onset(weighing: Weighing, mine: NDArray[np.int64], told: Sequence[date], moved: date | None) -> int:
    """The likeliest pattern of a cause, or the one of the diary's day where that day is not much less likely, or lies
    where the cause may have begun, or else of the day on which the sizes of steps moved, where that is not much less
    likely: every step tells of it, bills and nights hardly do; one without a beginning where that is as likely as all
    days together.
    """
    acts, start = weighing.posterior.acts[mine], weighing.found.start[mine]
    always = np.isnan(start)
    if acts[always].sum() >= EVEN * acts.sum():
        return int(mine[np.argmax(np.where(always, acts, -1.0))])
    acts = np.where(always, -1.0, acts)
    low, high = between(weighing, mine)
    within = [low is not None and high is not None and low <= day <= high for day in told]
    days, held = np.array([day.toordinal() for day in told], dtype=float), np.array(within, dtype=bool)
    here = np.isin(start, days[held]) | (np.isin(start, days) & (acts >= TOLD_PART * acts.max()))
    if moved is not None and not here.any():
        here = (start == moved.toordinal()) & (acts >= TOLD_PART * acts.max())
    return int(mine[np.argmax(np.where(here, acts, -1.0) if here.any() else acts)])


def between(
    weighing: Weighing, mine: NDArray[np.int64], reach: Floats | None = None
) -> tuple[date | None, date | None]:
    """Days between which a cause began with 95 %, by the chances of its onsets; none where it has no beginning.

    What follows the weather may begin unseen while there is none of it: on any day up to the end of the first bill in
    which it tells.

    Parameters
    ----------
    reach : ndarray, shape (len(mine),), optional
        Standard uncertainty of each onset by itself [d]: days are tried, and the true one lies about them.
    """
    found = weighing.found
    acts, start = weighing.posterior.acts[mine], found.start[mine]
    known = np.isfinite(start)
    if not acts[known].sum() > 0.0:
        return None, None
    acts, start, late = acts[known], start[known], start[known].copy()
    about = np.zeros(len(acts)) if reach is None else reach[known]
    weather = weighing.kinds(*WEATHER_KINDS)[mine][known]
    if weather.any():
        effect = np.abs(found.effect[:, mine[known][weather]])
        first = np.argmax(effect >= TELLS_PART * effect.max(axis=0), axis=0)
        late[weather] = (weighing.model.starts + weighing.model.days)[first]
    low, high = _quantile(start, about, acts, 0.025), _quantile(late, about, acts, 0.975)
    opens, closes = weighing.model.starts[0], weighing.model.starts[-1] + weighing.model.days[-1]
    return day_of(max(low, min(opens, start.min()))), day_of(min(high, max(closes, late.max())))


def _quantile(day: Floats, about: Floats, chance: Floats, wanted: float) -> float:
    """Day that so much of the chance lies before, where each may be some days off."""
    order = np.argsort(day, kind="stable")
    share = np.cumsum(chance[order]) / chance.sum()
    middle = float(day[order[min(int(np.searchsorted(share, wanted)), len(order) - 1)]])
    if not about.any():
        return middle
    days = np.round(middle) + np.arange(-MOST_REACH, MOST_REACH + 1.0)
    before = student_below((days + 0.5 - day[:, None]) / np.maximum(about, 1e-3)[:, None], math.inf)
    return float(days[min(int(np.searchsorted(chance @ before / chance.sum(), wanted)), len(days) - 1)])


def _reach(weighing: Weighing, mine: NDArray[np.int64], fit: Best, pattern: int) -> Floats:
    """Standard uncertainty of each onset of a cause by itself [d], shape of ``mine``.

    A day earlier or later moves what the bill of the onset holds by what the cause adds a day, and that is seen against
    the bill's own scatter; the day that was tried may be as far again from the one that fits best. No farther than the
    middle between two days that were tried: there the other fits better.
    Days of the diary and of interval data are known.
    """
    model, found, judged = weighing.model, weighing.found, weighing.judged
    start = found.start[mine]
    tried = np.unique(start[np.isfinite(start)])
    if not tried.size:
        return np.zeros(len(mine))
    kwh, days = np.abs(fit.kwh[:, fit.members.index(pattern)]), model.days
    a_day = float(np.median((kwh / days)[kwh > 0.0])) if kwh.any() else 0.0
    scale = (weighing.bills.freedom + fit.misfit) / (weighing.bills.freedom + judged.sum())
    scatter = np.full(len(judged), np.inf)
    scatter[judged] = np.sqrt(scale / np.diagonal(weighing.bills.precision))
    edges = np.concatenate([tried[:1], (tried[1:] + tried[:-1]) / 2.0, tried[-1:]])
    cell = np.diff(edges)[np.searchsorted(tried, np.where(np.isfinite(start), start, tried[0]))]
    bill = np.clip(np.searchsorted(model.starts, np.nan_to_num(start), side="right") - 1, 0, len(days) - 1)
    own = math.sqrt(2.0) * scatter[bill] / max(a_day, 1e-9)
    named = {event.day.toordinal() for event in weighing.house.events}
    known = np.isin(start, list(named))
    if weighing.house.interval is not None:
        known |= ~np.isin(start, model.starts)
    return np.where(known | ~np.isfinite(start), 0.0, np.minimum(own, cell / math.sqrt(12.0)))


def _one_of(weighing: Weighing, mine: NDArray[np.int64], fitted: Fits) -> tuple[OneOf, ...]:
    """Every bill that a cause of single bills may well be about, the likeliest first; none where it is clear which."""
    acts, found = weighing.posterior.acts, weighing.found
    several = weighing.kinds(*OF_SEVERAL_BILLS)
    if several[mine[np.argmax(acts[mine])]]:
        return ()
    mine = mine[~several[mine]]
    worth = mine[acts[mine] >= max(WORTH_TELLING * float(acts[mine].max()), WORTH_SIZING)]
    chosen: list[int] = worth[np.argsort(-acts[worth])][:MOST_TOLD].tolist()
    fitted = fitted | _fitted(weighing, [pattern for pattern in chosen if pattern not in fitted])
    told = []
    for pattern in chosen:
        fit = _sized(weighing, {pattern: 1.0}, pattern, fitted)
        day = day_of(found.start[pattern])
        if fit is None or day is None:
            continue
        at = int(found.opens[pattern])
        kwh = float(fit[0].kwh[at, fit[0].members.index(pattern)])
        told.append(OneOf(at, day, float(acts[pattern]), kwh))
    return tuple(told) if len(told) > 1 else ()


def _alike(weighing: Weighing, mine: NDArray[np.int64], pattern: int) -> dict[int, float]:
    """Patterns of a cause of the same sign as one of them, which is the one told, and what part of the chance each
    stands for: the likeliest for their own, and of all others, one after the other by kind and day, the one in the
    middle of each of as many equal parts as are left.
    """
    acts, found = weighing.posterior.acts, weighing.found
    alike = mine[found.size_mean[mine] * found.size_mean[pattern] > 0.0]
    if kinds_mask(*OF_BILLS)[found.kind_index[pattern]] or not acts[alike].any():
        return {pattern: 1.0}
    alike = alike[np.argsort(-acts[alike], kind="stable")]
    upto = np.cumsum(acts[alike])
    alike = alike[: np.searchsorted(upto, WORTH_MIXING * upto[-1]) + 1]
    left, parts = np.cumsum(acts[alike][::-1])[::-1], np.maximum(SIZED_BY - np.arange(len(alike)), 1)
    own = min(int(np.argmin(np.append(acts[alike] * parts >= left, False))), SIZED_BY - 1)
    told = {pattern: 0.0} | {int(one): float(acts[one] / left[0]) for one in alike[:own]}
    others = np.sort(alike[own:])
    if others.size:
        count = SIZED_BY - own
        upto = np.cumsum(acts[others])
        middles = upto[-1] * (np.arange(count) + 0.5) / count
        for one in others[np.searchsorted(upto, middles)].tolist():
            told[one] = told.get(one, 0.0) + float(upto[-1] / left[0]) / count
    return told


def _sized(
    weighing: Weighing, alike: Mapping[int, float], pattern: int, fitted: Fits
) -> tuple[Best, float, tuple[float, float]] | None:
    """Size of a cause and its 95 % limits: of its onsets together, each by its chance."""
    several = [(part, fitted[one], fitted[one].members.index(one)) for one, part in alike.items() if one in fitted]
    total = sum(part for part, _, _ in several)
    if pattern not in fitted or total <= 0.0:
        return None
    best = fitted[pattern]
    size = sum(part * float(model.size[at]) for part, model, at in several) / total
    low, high = _limits([(part / total, model, at) for part, model, at in several])
    if not np.isnan(weighing.found.end[pattern]):
        # its kWh are of the days themselves: what they are a part of, the usual heating, is no better known than this
        low, high = (size + np.sign(side) * np.hypot(side, USUAL_95 * size) for side in (low - size, high - size))
    return best, size, (low, high) if size >= 0.0 else (-high, -low)


def _limits(several: Sequence[tuple[float, Best, int]]) -> tuple[float, float]:
    """Limits of 95 % of a size, by some fits of so much chance each, counted from nothing towards its sign."""
    most = max(abs(float(model.size[at])) + FAR * float(model.sd[at]) for _, model, at in several)

    grid = np.linspace(0.0, most, FINE)
    rough = above_any(several, grid)
    wanted = np.array([0.975, 0.025])
    begin = np.clip(np.searchsorted(-rough, -wanted) - 1, 0, FINE - 2)
    finer = np.linspace(grid[begin], grid[begin + 1], FINE, axis=1)
    above = above_any(several, finer.ravel()).reshape(finer.shape)
    low, high = (float(np.interp(-part, -one, at)) for part, one, at in zip(wanted, above, finer, strict=True))
    return low, high


def _ends(weighing: Weighing, pattern: int) -> date | None:
    """Day after the last on which what came and went was there; None where it is seen in the last bill."""
    told = float(weighing.found.end[pattern])
    if not np.isnan(told):
        return day_of(told) if np.isfinite(told) else None
    last = int(weighing.found.closes[pattern]) - 1
    if last == len(weighing.model.days) - 1:
        return None
    part = float(np.abs(weighing.found.acting.mask[last, pattern]))
    return day_of(float(weighing.model.starts[last] + part * weighing.model.days[last]))


def _grew_until(weighing: Weighing, mine: NDArray[np.int64], pattern: int) -> date | None:
    """Middle of the days from which what grew may have stayed; None where it never grew, or may be growing yet.

    Of a meter the day on which it stands as far out as is said.
    """
    if kinds_mask(*CREEPING_KINDS)[weighing.found.kind_index[pattern]]:
        return day_of(float(weighing.found.full[pattern]))
    acts, full = weighing.posterior.acts[mine], weighing.found.full[mine]
    last = float((weighing.model.starts + weighing.model.days).max())
    grew = ~np.isnan(full)
    yet = float(acts[full >= last - STAYED_DAYS].sum())
    if np.isnan(weighing.found.full[pattern]) or yet > MOST_GROWING * float(acts[grew].sum()):
        return None
    order = np.argsort(full[grew])
    share = np.cumsum(acts[grew][order])
    return day_of(float(full[grew][order][np.searchsorted(share, 0.5 * share[-1])]))


def _unit(code: str, weighing: Weighing, model: Best, pattern: int) -> tuple[float, str]:
    if code in _WATTS:
        return weighing.shape.per_day / 0.024, "W"
    if code in _KWH:
        # as billed: what the meter makes of it is in the bill
        at = model.members.index(pattern)
        billed = np.abs(model.kwh[:, at])
        whole = billed.sum() if code == "single-period" else billed.max()
        return float(whole / max(abs(float(model.size[at])), 1e-9)), "kWh"
    if weighing.kinds("meter-leg")[pattern]:
        # of all use, where its size is of what runs at 240 V
        at, acts = model.members.index(pattern), weighing.found.acting.mask[:, pattern]
        lost = -float(model.kwh[:, at] @ weighing.judged)
        counted = float(acts[weighing.judged] @ weighing.heard.billed_kwh[weighing.judged])
        return 100.0 * lost / max(lost + counted, 1e-9) / max(abs(float(model.size[at])), 1e-9), "%"
    return 100.0, "%"
