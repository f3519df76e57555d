"""The decision, in the order of the method page: danger, data, paper, check, test, list, and otherwise explained."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from reconcile.facts import Finding
from reconcile.house import Event, House
from reconcile.meter.observation import Observation
from reconcile.weigh.constants import EVENT_CODES, EVENT_DAYS
from reconcile.weigh.weighing import Weighing

RIVAL_AT = 0.10
"""Chance of a lasting rise at which it is worth a look outside beside a likelier rise of heating or cooling."""

CHECK_AT = 0.5
"""Chance of a meter or round-the-clock cause at which checks outside the panel are worth their hour."""

TEST_AT = 0.6
"""Chance of a fast meter, checks entered, at which a meter test is warranted."""

TEST_FROM_BILLS_AT = 0.997
"""The same from the bills alone: only where the meter stands out against every rival."""

LEVEL_AT = 1.68
"""Score of the level of all bills against the list, from which the list is to be measured first."""

FAR_BELOW = -5.0
"""The same score, below: a meter that stands still or a list of another house."""

MONEY_FINDINGS = ("other-charge", "budget-settlement", "amount-mismatch")
"""Findings about money alone: no kWh stands behind them, and yet the bill is high."""

WORTH_ASKING = Decimal("0.10")
"""Part of a usual bill from which such money is worth a call to the billing desk."""

MEASURE_AT = 0.7
"""Chance of a rise of heating or cooling at which that equipment is to be measured."""

FEWEST = 3
"""Fewer periods than this cannot vouch for one another."""

FEWEST_BARE = 6
"""The same where there is no inventory."""

CHECKABLE = ("meter-step", "meter-exchange", "constant-load", "cold-load", "drift", "timed-load")
STILL_THERE = ("meter-step", "meter-exchange", "constant-load", "cold-load", "drift")
"""Of these, what the checks would still find: a load that came and went left nothing to look at."""
WEATHER = ("heating-rise", "cooling-rise", "heating-setting", "cooling-setting")
LASTING = (*CHECKABLE, "habit-step", "old-meter-slow")
"""Rises that bills tell poorly apart: where one of them is likely, a cheap look at the others is worth it."""
ALIKE = (*LASTING, *WEATHER)
SLOW = ("meter-low", "meter-low-exchange")
LOW_MONTHS, LOW_WEIGHT = 0.12, 3.0
"""A meter that was always fast lifts every month, a list that leans lifts some: the part by which the lowest months
stand above the list enters the score with this weight (chosen on simulated houses)."""

CHANGED_METER = ("meter-step", "meter-exchange", *SLOW)
METER = (*CHANGED_METER, "meter-always")
FALLS = (*SLOW, "load-gone", "habit-fall")


@dataclass(frozen=True, slots=True)
class Chances:
    """The chances the decision turns on."""

    meter: float
    changed_meter: float
    checkable: float
    still_there: float
    lasting: float
    alike: float
    falls: float
    constant: float
    swap: float
    weather: float
    habit: float
    single: float
    slow: float
    level_score: float
    level_percent: float
    last_single: bool


def chances(weighing: Weighing) -> Chances:
    """Gather the chances of the groups of causes, and the level of all bills against the list.

    Notes
    -----
    The level is that of :func:`level`.
    """
    any_of = weighing.chance
    late = weighing.kinds("single-high") & (weighing.found.start >= weighing.last_starts(2))
    s, z = level(weighing)
    return Chances(
        meter=any_of(*METER),
        changed_meter=any_of(*CHANGED_METER),
        checkable=any_of(*CHECKABLE),
        still_there=any_of(*STILL_THERE),
        lasting=any_of(*LASTING),
        alike=any_of(*ALIKE),
        falls=any_of(*FALLS),
        constant=any_of("constant-load", "cold-load", "drift"),
        swap=any_of("swap", "swap-back"),
        weather=any_of(*WEATHER),
        habit=any_of("habit-step"),
        single=any_of("single-high"),
        slow=any_of(*SLOW),
        level_score=z,
        level_percent=100.0 * s,
        last_single=float(weighing.posterior.acts[late].sum()) >= CHECK_AT,
    )


def level(weighing: Weighing) -> tuple[float, float]:
    """Return how far all bills stand above the list, as a part of it, and a score of how surely.

    Returns
    -------
    part : float
        Total billed less total expected, over the total expected, the causes that begin and last taken out.
    score : float
        Mean of two scores in standard uncertainties, and the lowest months' part, see Notes.

    Notes
    -----
    The best-weighed level, s = m'P r / m'Pm, z = s sqrt(m'Pm), trusts the best-known part of the list most, and is led
    astray where that part is wrong; the plain total, 1'r / sqrt(1'S 1), trusts all parts alike and sees less. z is
    divided by the learnt scale where the bills scatter more than the stated limits allow. On simulated houses their
    mean, with a weight on how far the lowest months stand above the list, tells a meter that was always fast from a
    list that leans better than any of them alone (method page).
    """
    data = weighing.bills
    mean = weighing.model.mean[weighing.judged]
    changing = ~weighing.kinds(
        "meter-always", "unlisted", "list-short", "single-high", "single-low", "swap", "swap-back"
    )
    columns = weighing.candidates.columns[: len(mean)]
    left = data.residual - columns @ (weighing.candidates.shift * weighing.posterior.acts * changing)
    pulled = data.precision @ mean
    weighed = float(pulled @ left) / np.sqrt(max(float(mean @ pulled), 1e-12)) / max(1.0, data.scale**0.5)
    covariance = weighing.model.covariance[np.ix_(weighing.judged, weighing.judged)]
    plain = float(left.sum()) / float(np.sqrt(covariance.sum()))
    lowest = float(np.quantile(left / np.maximum(mean, 1e-9), LOW_MONTHS))
    return float(left.sum() / max(mean.sum(), 1e-9)), float(0.5 * (weighed + plain) + LOW_WEIGHT * lowest)


def diary_tells(house: House, weighing: Weighing) -> Event | None:
    """Return the diary's line that tells of the likeliest rise: the household knows what came, and when."""
    acts = np.where(weighing.kinds(*ALIKE), weighing.posterior.acts, 0.0)
    if not acts.size or not house.events:
        return None
    likeliest = int(np.argmax(acts))
    code, start = weighing.found.code(likeliest), weighing.found.start[likeliest]
    for event in house.events:
        if code in EVENT_CODES.get(event.kind, ()) and abs(event.day.toordinal() - start) <= EVENT_DAYS:
            return event
    return None


def decide(
    house: House,
    weighing: Weighing | None,
    odds: Chances | None,
    findings: Sequence[Finding],
    observations: Sequence[Observation],
    *,
    over: bool,
    paid: Decimal = Decimal(0),
) -> str:
    """Choose the decision code.

    Parameters
    ----------
    house : House
    weighing : Weighing or None
        None where no period could be judged.
    odds : Chances or None
    findings : sequence of Finding
        Of the paper and of interval data.
    observations : sequence of Observation
    over : bool
        Whether any period stands over its band.
    paid : Decimal
        A bill's usual money, against which findings about money are held.

    Returns
    -------
    str
    """
    settled = any(finding.settles for finding in findings)
    owed = any(
        finding.code in MONEY_FINDINGS and finding.amount is not None and abs(finding.amount) > WORTH_ASKING * paid
        for finding in findings
    )
    fewest = FEWEST if house.loads else FEWEST_BARE
    if weighing is None or odds is None or int(weighing.judged.sum()) < fewest:
        return "paperwork" if settled or owed else "not-enough-data"
    checked = any(o.kind != "main-off" for o in observations)
    # without checks, a meter fast since before the first bill and a list too short look the same
    if (odds.meter >= TEST_AT) if checked else (odds.changed_meter >= TEST_FROM_BILLS_AT):
        return "field-test"
    if any(o.kind == "main-off" and not o.at_most and o.value > 2 * o.standard_uncertainty for o in observations):
        return "outside-check"
    told = diary_tells(house, weighing)
    if (odds.still_there if checked else 0.0 if told else odds.checkable) >= CHECK_AT or odds.slow >= CHECK_AT:
        return "outside-check"
    if not checked and not told and odds.alike >= CHECK_AT and odds.lasting >= RIVAL_AT:
        return "outside-check"
    if not checked and odds.falls >= CHECK_AT and odds.slow >= RIVAL_AT:
        return "outside-check"
    misread = odds.swap >= RIVAL_AT and odds.swap + odds.single >= CHECK_AT
    if settled or misread:
        return "paperwork"
    if house.loads and (odds.level_score > LEVEL_AT or odds.weather >= MEASURE_AT):
        return "inventory"
    if house.loads and odds.level_score < FAR_BELOW:
        return "inventory"
    if odds.last_single and over:
        return "outside-check"
    return "paperwork" if owed else "explained"
