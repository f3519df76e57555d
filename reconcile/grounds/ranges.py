"""Each bill beside its range: what is usual, the limits as they are shown, the flag that follows, and its money."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from reconcile import money
from reconcile.costs import Costs
from reconcile.facts import SUM_ALONE, Facts
from reconcile.house import Bill, House
from reconcile.house.outdoors import THIN_PERIOD
from reconcile.kinds import KINDS, LATE, SCATTER, Flag, Lasts
from reconcile.records import dataclass
from reconcile.result import Cause, Period, Visible
from reconcile.result_parts import HiddenWeather
from reconcile.rounding import limits_shown, limits_step
from reconcile.say import Voice
from reconcile.texts.findings import aside_text
from reconcile.texts.notices import NOT_JUDGED
from reconcile.voices import voice_of
from reconcile.weigh.bands import Bands, TakenOut, inventory_band, usual_bands
from reconcile.weigh.causes import best_model, likeliest_with
from reconcile.weigh.gaussian import Fit, fit
from reconcile.weigh.model import Model, build
from reconcile.weigh.pairs import Candidates
from reconcile.weigh.places import TIMED_KINDS
from reconcile.weigh.visible import LARGEST, Rules, least_by_scatter, smallest_visible
from reconcile.weigh.weighed import Weighing

Floats = NDArray[np.float64]

PART_AT = 0.05
"""Part of a bill's usual use from which a lasting cause is said to be part of it."""

EPISODES = tuple(name for name, kind in KINDS.items() if kind.lasts not in (Lasts.ALWAYS, Lasts.ONE_BILL))
"""Kinds of cause that begin and last."""

LASTING_CODES = frozenset(KINDS[name].code for name in EPISODES) - {
    kind.code for kind in KINDS.values() if kind.lasts is Lasts.ONE_BILL
}


def joint(coverage: float, bills: int) -> float:
    """Coverage of one bill's range for which all of them together hold all bills of a house in order.

    Examples
    --------
    >>> round(joint(0.95, 18), 4)
    0.9972
    """
    return float(coverage ** (1.0 / max(bills, 1)))


@dataclass(frozen=True, slots=True, eq=False)
class Heard:
    """Which bills are judged, and which of them predict the others; each of shape (n,)."""

    judged: NDArray[np.bool_]
    predict: NDArray[np.bool_]


def bands_of(house: House, facts: Facts, model: Model, heard: Heard, weighing: Weighing | None, costs: Costs) -> Bands:
    """Return the bands of all bills.

    Parameters
    ----------
    weighing : Weighing or None
        None where no bill could be judged.

    Returns
    -------
    Bands
        The list's alone at the house's coverage for one bill; the usual ones at its coverage for all bills together,
        since a mark on any bill is read as trouble.
    """
    n, coverage = len(house.bills), house.band.coverage
    low, high = inventory_band(model, coverage)
    if weighing is None:
        empty = np.full(n, np.nan)
        return Bands(low, high, empty, empty, empty)
    effect, sd = episode(weighing, costs.taken_out_at) or (np.zeros(n), np.zeros(n))
    together = joint(coverage, int(heard.judged.sum()))
    taken_out = TakenOut(effect, sd, *weighing.odd_bills())
    vouching = weighing.model.vouching(heard.predict)
    return Bands(low, high, *usual_bands(weighing.under, facts, vouching, taken_out, together))


def episode(weighing: Weighing, at: float) -> tuple[Floats, Floats] | None:
    """Effect, and its standard uncertainty, of the likeliest causes with an onset, where one has so great a chance."""
    if weighing.chance(*EPISODES) < at:
        return None
    lasting = weighing.kinds(*EPISODES)
    likeliest = np.argsort(np.where(lasting, weighing.posterior.acts, -1.0))[-3:]
    best = best_model(weighing, [int(i) for i in likeliest])
    if best is None:
        return None
    n = len(weighing.judged)
    effect, variance = np.zeros(n), np.zeros(n)
    for at, member in enumerate(best.members):
        if lasting[member]:
            effect += best.kwh[:, at]
            variance += best.kwh_sd[:, at] ** 2
    return effect, np.sqrt(variance)


def less_own(bands: Bands, own_kwh: Floats) -> Bands:
    """Return bands of what is billed where those given are of what is used, own generation included."""
    sides = ("low", "high", "usual", "usual_low", "usual_high")
    return replace(bands, **{side: getattr(bands, side) - own_kwh for side in sides})


def rows_of(
    house: House, facts: Facts, expected: Floats, bands: Bands, causes: Sequence[Cause], costs: Costs
) -> tuple[Period, ...]:
    """Return every bill with its ranges, rounded as shown, and the flag that follows from them.

    Parameters
    ----------
    expected : ndarray, shape (n,)
        What the list of loads expects of each bill [kWh].
    """
    voice = voice_of(house)
    part = _part_of(causes, bands.usual, costs)
    misread = {i for f in facts.findings if f.key in SUM_ALONE for i in f.periods}
    rows = []
    for i, bill in enumerate(house.bills):
        code = (facts.set_aside or {}).get(i)
        billed = float(facts.billed_kwh[i])
        known, usual = math.isfinite(billed), float(bands.usual[i])
        judged = known and code is None and math.isfinite(usual)
        why = None if judged else aside_text(code, voice) if code is not None else _why_not(known, house, bill, voice)
        low, high = _shown(float(bands.usual_low[i]), float(bands.usual_high[i]), usual)
        if judged and i in misread:  # its range is fitted to its wrong share of the sum
            judged, why = False, NOT_JUDGED["misread"]
            low = high = usual = math.nan
        excess = billed - usual if judged else None
        amount: Decimal | None = None if excess is None else money.cost_of(house, facts, i, excess)
        rows.append(
            Period(
                start=bill.start,
                end=bill.end,
                days=bill.days,
                billed_kwh=billed if known else None,
                flag=_flag(billed, low, high) if judged else Flag.NOT_JUDGED,
                why_not_judged=why,
                expected_kwh=float(expected[i]),
                low_kwh=float(bands.low[i]),
                high_kwh=float(bands.high[i]),
                usual_kwh=_known(usual),
                usual_low_kwh=_known(low),
                usual_high_kwh=_known(high),
                excess_kwh=excess,
                excess_amount=amount,
                read_type=bill.read_type,
                part_of=part.get(i) if judged else None,
            )
        )
    return tuple(rows)


def _flag(billed: float, low: float, high: float) -> Flag:
    return Flag.OVER if billed > high else Flag.UNDER if billed < low else Flag.WITHIN


def _shown(low: float, high: float, usual: float) -> tuple[float, float]:
    """Limits rounded as they are printed, the usual between them: the flag follows from what is printed."""
    if not (math.isfinite(low) and math.isfinite(high)):
        return math.nan, math.nan
    least, most = limits_shown(low, high)
    step = limits_step((most - least) / 2.0)
    return least - step * (least > usual), most + step * (most < usual)


def _why_not(known: bool, house: House, bill: Bill, voice: Voice) -> str:
    if house.dangers:
        return NOT_JUDGED["danger"]
    if not known:
        return NOT_JUDGED["no-energy"]
    if house.weather is not None and bill.mean_temperature_c is None:
        days = house.weather.between(bill.start, bill.closes)
        missing = int(np.isnan(days).sum())
        if missing > THIN_PERIOD * len(days):
            return voice.fill(NOT_JUDGED["few-days"], {"missing": missing, "days": len(days)})
    return NOT_JUDGED["little-left"]


def _part_of(causes: Sequence[Cause], usual: Floats, costs: Costs) -> dict[int, int]:
    """Index of the likeliest lasting cause of which each bill is a part.

    Those more likely than not; where none is, the likeliest of all, where it is worth a look: it is what is told.
    """
    found: dict[int, int] = {}
    likeliest = max((cause.probability for cause in causes if cause.code != "none"), default=0.0)
    at = costs.likely if likeliest >= costs.likely else max(likeliest, costs.look_at)
    for index, cause in enumerate(causes):
        if cause.code not in LASTING_CODES or cause.probability < at:
            continue
        for i, kwh in enumerate(cause.pattern_kwh):
            if i not in found and np.isfinite(usual[i]) and abs(kwh) > max(PART_AT * usual[i], 1.0):
                found[i] = index
    return found


def _known(value: Any) -> float | None:
    return float(value) if math.isfinite(value) else None


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """What these bills could have shown: by onset, and at the onset that stands for the house."""

    shown: Visible
    meter_percent: float | None
    constant_watts: float | None
    weather: tuple[HiddenWeather, ...] = ()


LOOKED_FOR = (
    (
        "meter-step",
        "meter-exchange",
        "meter-drift",
        "constant-load",
        "cold-load",
        "hot-water-leak",
        "drift",
        *TIMED_KINDS,
        "habit-step",
        "old-meter-slow",
    ),
    ("heating-rise", "cooling-rise", "heating-setting", "cooling-setting", "heating-spell", "cooling-spell"),
)
"""Kinds whose chance together makes somebody look: lasting rises, and with them those of weather."""


SEEN_ROUNDS = 2
"""Times that the size is found anew under the scatter that bills with it in would be given (our choice)."""


def learns_scatter(model: Model) -> bool:
    """Whether the bills alone say how far they may scatter: neither a list nor any weather does."""
    return model.bare and not model.weathered


def view_of(weighing: Weighing | None, facts: Facts, costs: Costs) -> View | None:
    """Return what these bills could have shown, None where too few are judged to show anything."""
    if weighing is None or int(weighing.judged.sum()) < 3:
        return None
    judged, shape = weighing.judged, weighing.shape
    n = len(judged)
    onsets = np.arange(n)
    steps = (np.arange(n)[None, :] >= onsets[:, None]).astype(float)
    meter = (steps * shape.all)[:, judged].T
    constant = (steps * shape.days)[:, judged].T
    effect = np.concatenate([meter, constant * shape.per_day], axis=1)
    lasting, weather = LOOKED_FOR
    gone = weighing.gone()
    rules = Rules(
        np.stack([weighing.kinds(*lasting, *weather) & ~gone, weighing.kinds(*lasting) & ~gone], axis=1).astype(float),
        np.array([costs.likely, costs.look_at]),
    )
    stands_for = facts.exchanges[-1].period if facts.exchanges else n // 2
    at = min(max(stands_for, 1), n - 1) if n > 1 else 0
    calm, causes = _calm(weighing, costs.likely), _of_causes(weighing)
    size = smallest_visible(calm, causes, effect, rules, (at, at))
    for _ in range(SEEN_ROUNDS if learns_scatter(weighing.model) and np.isfinite(size[at]) else 0):
        # the bills are all that says how far they may scatter, and an error within them is taken for some of it
        with_it = np.nan_to_num(facts.billed_kwh) + steps[at] * shape.all * size[at]
        calm = _calm(weighing, costs.likely, replace(facts, billed_kwh=with_it))
        size = smallest_visible(calm, causes, effect, rules, (at, at))
    # no smaller than what stands out from the scatter of the bills: a model sure of itself promises too much
    size = np.maximum(size, least_by_scatter(calm, effect))
    size = np.where(size > LARGEST, np.nan, size)
    percent, watts = 100.0 * size[:n], size[n:] * shape.per_day / 0.024
    shown = Visible(
        onset=tuple(int(i) for i in onsets),
        meter_percent=tuple(_known(x) for x in percent),
        constant_watts=tuple(_known(x) for x in watts),
    )
    return View(shown, _known(percent[at]), _known(watts[at]), weather_hides(calm, weighing, costs.likely))


def _of_causes(weighing: Weighing) -> Candidates:
    """The patterns without late readings, which stand beside a cause and never in its place."""
    candidates, late = weighing.candidates, weighing.kinds(LATE.name)
    return replace(candidates, log_prior=np.where(late, -np.inf, candidates.log_prior))


def weather_hides(calm: Fit, weighing: Weighing, likely: float) -> tuple[HiddenWeather, ...]:
    """Return how much more heating, and cooling, may have taken in its last season while no cause would be told.

    Parameters
    ----------
    calm : Fit
        The bills with their scatter as it is without a cause.

    Notes
    -----
    With one season on record only the list says what it should have taken, and its doubt is all that shows.
    """
    shape, judged, energy = weighing.shape, weighing.judged, weighing.model.energy
    rule = Rules((~weighing.kinds(*SCATTER)).astype(float)[:, None], np.array([likely]))
    of_season: tuple[tuple[Literal["heating", "cooling"], Floats], ...] = (
        ("heating", shape.heating),
        ("cooling", shape.cooling),
    )
    looked_at: list[tuple[Literal["heating", "cooling"], float, Floats]] = []
    for which, (follows, used) in enumerate(of_season):
        season = _last_season(energy.degree_days[:, which], shape.days) & judged
        part = float(used[season].sum() / max(shape.all[season].sum(), 1e-9))
        if part >= LEAST_SEASON:
            looked_at.append((follows, part, (used * season)[judged]))
    if not looked_at:
        return ()
    effect = np.column_stack([moved for _, _, moved in looked_at])
    seen = smallest_visible(calm, _of_causes(weighing), effect, rule, (0,) * len(looked_at))
    sizes = 100.0 * np.maximum(seen, least_by_scatter(calm, effect))
    return tuple(
        HiddenWeather(follows, *((float(size), float(size) * part) if size <= 100.0 * LARGEST else (None, None)))
        for (follows, part, _), size in zip(looked_at, sizes, strict=True)
    )


LEAST_SEASON = 0.15
"""Part of all use in a season from which its heating or cooling is looked at: several times a furnace's fan is no
bill that anybody comes with (our choice)."""

SEASON_ENDS, SEASON_HEIGHT = 0.1, 0.5
"""Parts of the most degree-days a day below which a bill parts one season from the next, and from which it is of a
season's height (our choice)."""


def _last_season(degree_days: Floats, days: Floats) -> NDArray[np.bool_]:
    """Mark the bills of the last season that has its height on record, shape (n,)."""
    rate = degree_days / days
    season = np.zeros(len(rate), dtype=bool)
    if rate.max() > 0.0:
        last = int(np.flatnonzero(rate >= SEASON_HEIGHT * rate.max())[-1])
        before = np.flatnonzero(rate[:last] < SEASON_ENDS * rate.max())
        season[(int(before[-1]) + 1 if before.size else 0) :] = True
    return season


def _calm(weighing: Weighing, likely: float, with_it: Facts | None = None) -> Fit:
    """The bills with their scatter as it is once the likeliest causes are taken out: a cause is not noise.

    ``with_it``: bills that say how far these may scatter, where an effect were in them.
    """
    bills, judged = weighing.bills, weighing.judged
    part = 1.0
    if weighing.none < likely and bills.misfit > 0.0:  # one bill may lie where it was expected, to the last digit
        likeliest = [int(i) for i in np.argsort(weighing.posterior.acts)[-3:]]
        part = min(_left(weighing, likeliest) / bills.misfit, 1.0)
    if with_it is not None:
        covariance = build(weighing.house, with_it, ways=weighing.model.ways).covariance
        bills = fit(bills.residual, covariance[np.ix_(judged, judged)], bills.freedom)
    return replace(bills, misfit=part * bills.misfit)


def _left(weighing: Weighing, likeliest: Sequence[int]) -> float:
    """Misfit of the bills beside the likeliest model that holds some patterns.

    Where readings or interval data stand in the same rows, that of the bills alone.
    """
    bills = weighing.bills
    if len(weighing.data.residual) == len(bills.residual):
        best = best_model(weighing, likeliest)
        return bills.misfit if best is None else best.misfit
    some = list(likeliest_with(weighing.posterior, likeliest))
    white = bills.half @ weighing.candidates.columns[: len(bills.residual), some]
    shift = weighing.candidates.shift[some]
    size = np.linalg.solve(np.eye(len(some)) + white.T @ white, white.T @ bills.white + shift)
    return float(np.sum((bills.white - white @ size) ** 2) + np.sum((size - shift) ** 2))
