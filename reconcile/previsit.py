"""Before any bill is known: what a house should use in each month of a year, how sure that is, and what to measure.

The list of loads, the handbook's watts and hours, and the whole-house reference for what the list leaves out; a year
of the weather that is given, or the mean of all climates where none is.
"""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from reconcile.facts import Facts
from reconcile.house import Bill, House, Load
from reconcile.loads.handbook import find
from reconcile.money.recompute import decimal
from reconcile.money.tariff_lines import CannotPrice, Missing, Use, price_bill, total
from reconcile.records import dataclass
from reconcile.weigh.measure import effort_of
from reconcile.weigh.model import Model, build

MONTHS = 12
KNOWN_WEATHER = 0.8
"""Part of a month's days that must have a temperature for the month to count as known (common practice)."""
LEAST_DOUBT = 0.02
"""Share of the doubt from which a load is worth measuring first."""
MOST_MEASURES = 4


@dataclass(frozen=True, slots=True)
class Expected:
    """Energy of a stretch of days with its band [kWh], and its bill by the tariff; None where that cannot be told."""

    start: date
    days: int
    expected_kwh: float
    low_kwh: float
    high_kwh: float
    amount: Decimal | None = None
    low_amount: Decimal | None = None
    high_amount: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Part:
    """One load of the list, or the unlisted rest (``load`` is None), over the year."""

    load: Load | None
    kwh: float
    """Expected energy of the year [kWh]."""
    within_percent: float
    """95 % limit of it [%]."""
    share_of_doubt: float
    """Part of the variance of the year that is its own, 0 to 1."""
    how: str
    """How it would be measured."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """What to expect of a house before its bills are seen.

    Attributes
    ----------
    house : House
    months : tuple of Expected
        January to December.
    year : Expected
    parts : tuple of Part
        The largest first.
    measure : tuple of Part
        What to measure first: what holds most of the doubt.
    ask : tuple of str
        Codes of what is not known and worth asking (:mod:`reconcile.texts.estimate_words`).
    weathered : bool
        Whether temperatures were given.
    no_price : Missing or None
        Why the bills cannot be worked out, where a tariff is given.
    """

    house: House
    months: tuple[Expected, ...]
    year: Expected
    parts: tuple[Part, ...]
    measure: tuple[Part, ...]
    ask: tuple[str, ...]
    weathered: bool
    no_price: Missing | None

    def __repr__(self) -> str:
        year = self.year
        told = f"{year.expected_kwh:.0f} kWh a year ({year.low_kwh:.0f} to {year.high_kwh:.0f})"
        return f"<Estimate of {self.house.name!r}: {told}>"


def estimate(house: House, today: date | None = None) -> Estimate:
    """Say what a house should use and cost in a year, from its loads alone.

    Parameters
    ----------
    house : House
        With at least one load; its bills, where it has any, are not looked at.
    today : date, optional
        The year of the prices begins with its month, or with the tariff where that is later; the clock's day
        where not given.

    Returns
    -------
    Estimate

    Raises
    ------
    ValueError
        Where no load is listed.
    """
    if not house.loads:
        raise ValueError("a house without a single load cannot be estimated")
    today = today or date.today()
    first = _first_month(house, today)
    weathered = _has_weather(house, first)
    seen = replace(house, weather=house.weather if weathered else None)
    starts = [_months_on(first, n) for n in range(MONTHS + 1)]
    bills = tuple(Bill(start, end) for start, end in itertools.pairwise(starts))
    seen = replace(seen, bills=bills, readings=(), charges=(), interval=None, field_test=None)
    model = build(seen, Facts(np.full(MONTHS, np.nan)))
    months = [_expected(bill.start, np.array([i]), model, house.band.coverage) for i, bill in enumerate(bills)]
    year = _expected(first, np.arange(MONTHS), model, house.band.coverage)
    priced, why = _priced(house, months, today)
    priced.sort(key=lambda month: month.start.month)
    parts = _parts(house, model)
    doubtful = sorted(parts, key=lambda part: -part.share_of_doubt)
    return Estimate(
        house=house,
        months=tuple(priced),
        year=_summed(year, priced),
        parts=parts,
        measure=tuple(part for part in doubtful if part.share_of_doubt >= LEAST_DOUBT)[:MOST_MEASURES],
        ask=_ask(house, weathered=weathered),
        weathered=weathered,
        no_price=why,
    )


def _months_on(first: date, count: int) -> date:
    months = first.month - 1 + count
    return date(first.year + months // 12, months % 12 + 1, 1)


def _first_month(house: House, today: date) -> date:
    """First of the twelve months: the last year that the weather covers, else the year from this month on."""
    if house.weather is None:
        return today.replace(day=1)
    last = house.weather.first + timedelta(days=len(house.weather.mean_c))
    return _months_on(last.replace(day=1), -MONTHS)


def _has_weather(house: House, first: date) -> bool:
    """Whether every one of the twelve months has most of its days of weather."""
    if house.weather is None:
        return False
    for n in range(MONTHS):
        mean_c = house.weather.between(_months_on(first, n), _months_on(first, n + 1))
        if float(np.mean(np.isfinite(mean_c))) < KNOWN_WEATHER:
            return False
    return True


def _expected(start: date, at: NDArray[np.int64], model: Model, coverage: float) -> Expected:
    """Add up periods and their band: lognormal, with what the list's limits, its gaps and the household make of it."""
    mean = max(float(model.mean[at].sum()), 1e-9)
    shared = model.factors[at].sum(axis=0)
    variance = float((shared[: model.stated] ** 2).sum() + model.noise[np.ix_(at, at)].sum())
    spread = float(np.log1p(variance / mean**2))
    centre, reach = np.log(mean) - spread / 2.0, NormalDist().inv_cdf(0.5 + coverage / 2.0) * spread**0.5
    return Expected(
        start=start,
        days=int(model.days[at].sum()),
        expected_kwh=mean,
        low_kwh=float(np.exp(centre - reach)),
        high_kwh=float(np.exp(centre + reach)),
    )


def _priced(house: House, months: list[Expected], today: date) -> tuple[list[Expected], Missing | None]:
    """Work out the bill of each month by the tariff, in the year that begins today or with the tariff."""
    if not house.tariffs:
        return list(months), None
    newest = max(tariff.valid_from for tariff in house.tariffs)
    first = max(today.replace(day=1), newest if newest.day == 1 else _months_on(newest.replace(day=1), 1))
    out = []
    for month in months:
        begin = _months_on(first, (month.start.month - first.month) % MONTHS)
        end = _months_on(begin, 1)
        try:
            low, middle, high = (
                total(price_bill(house.tariffs, Use(begin, end, decimal(round(kwh, 1)), bill_date=end)))
                for kwh in (month.low_kwh, month.expected_kwh, month.high_kwh)
            )
        except CannotPrice as reason:
            return list(months), reason.missing
        out.append(replace(month, amount=middle, low_amount=low, high_amount=high))
    return out, None


def _summed(year: Expected, months: list[Expected]) -> Expected:
    """Put the year's money beside its energy: its limits lie as the year's energy does between those of the months."""
    known = [month for month in months if month.amount is not None]
    if len(known) < len(months):
        return year
    middle = sum((month.amount for month in known if month.amount is not None), start=Decimal(0))
    low = sum((month.low_amount for month in known if month.low_amount is not None), start=Decimal(0))
    high = sum((month.high_amount for month in known if month.high_amount is not None), start=Decimal(0))
    below = sum(month.expected_kwh - month.low_kwh for month in months)
    above = sum(month.high_kwh - month.expected_kwh for month in months)
    down = decimal(round((year.expected_kwh - year.low_kwh) / below, 6)) if below > 0 else Decimal(1)
    up = decimal(round((year.high_kwh - year.expected_kwh) / above, 6)) if above > 0 else Decimal(1)
    cent = Decimal("0.01")
    return replace(
        year,
        amount=middle,
        low_amount=(middle - (middle - low) * down).quantize(cent),
        high_amount=(middle + (high - middle) * up).quantize(cent),
    )


def _parts(house: House, model: Model) -> tuple[Part, ...]:
    count = len(house.loads)
    kwh = model.parts.sum(axis=0)
    own = np.abs(model.factors[:, : count + 1].sum(axis=0))
    balance = np.append(np.abs(model.energy.balance_slope.sum(axis=0)), 0.0)
    climate = np.append(np.sqrt((model.energy.climate.sum(axis=0) ** 2).sum(axis=1)), 0.0)
    spread = np.sqrt(own**2 + balance**2 + climate**2)
    whole = max(float((spread**2).sum()), 1e-12)
    loads: list[Load | None] = [*house.loads, None]
    parts = [
        Part(load, float(kwh[j]), 196.0 * float(spread[j]) / max(float(kwh[j]), 1e-9), float(spread[j] ** 2) / whole,
             effort_of(load))
        for j, load in enumerate(loads)
    ]  # fmt: skip
    return tuple(sorted(parts, key=lambda part: -part.kwh))


def _ask(house: House, *, weathered: bool) -> tuple[str, ...]:
    """Codes of what to ask on the visit, the most telling first."""
    follow = {load.follows for load in house.loads}
    asks = ["danger", "bills", "readings"]
    asks += ["occupants"] if house.occupants is None else []
    asks += ["floor-area"] if house.floor_area_m2 is None else []
    asks += ["heating"] if house.heating_fuel is None and "heating" not in follow else []
    listed = {kinds[0].part for load in house.loads if (kinds := find(load.name))}
    asks += ["hot-water"] if house.water_heating_fuel is None and "hot water" not in listed else []
    asks += ["tariff"] if not house.tariffs else []
    asks += ["weather"] if not weathered and follow & {"heating", "cooling"} else []
    return (*asks, "missing-loads", "changes", "meter")
