"""Looks in the home: at the heating, the cooling, at what the list may have too low; and what follows from one made."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from reconcile.decide.rules import OFF_LEVEL
from reconcile.house import House
from reconcile.kinds import Decision, Flag, Hazard
from reconcile.loads.handbook import find
from reconcile.loads.reference import warms_water
from reconcile.plan.doubted import OF_READINGS
from reconcile.plan.first import BEFORE_ALL
from reconcile.plan.situation import Situation
from reconcile.plan.step_made import OWN_MINUTES, asking, at_the_circuit, made, noted, plain, size_of
from reconcile.plan.suspects import SEASONS, months_of
from reconcile.plan.worth import Check, State
from reconcile.result import Step

LOOKED_AT = 0.1
"""Chance of more heating or cooling from which a look at it is asked for (our choice: it costs nothing)."""

LIKE_HEAT_WATTS = 500.0
"""Mean watts of a load that began in the cold from which it may be heat, whatever its chance by the bills: elements are
of 1,000 W and more, and on for half of a cold day (our choice: a look costs nothing, the breakers an afternoon)."""

OWN = ("heating-rise", "cooling-rise")
ALIKE = ("constant-load", "timed-load", "meter-step")
"""Causes that a heat pump on its backup heat is easily taken for."""


def _heating(house: House) -> str:
    """The look at a heat pump where one heats this home, or may; else at whatever heats it."""
    kinds = {kind.load for load in house.loads for kind in find(load.name)[:1]}
    other = house.heating_fuel not in (None, "electric") or any(load.follows == "heating" for load in house.loads)
    return "heater-look" if other and "heat pump heating" not in kinds else "heating-look"


def weather_look(situation: Situation) -> list[Step]:
    """Return the look at the heating or the cooling, where one is worth it."""
    cause = situation.leading
    if cause is None:
        return []
    heats = any(load.follows == "heating" for load in situation.house.loads)
    cold = SEASONS["heating"].intersection(months_of(situation.house, cause))
    alike = bool(heats and cold and cause.code in ALIKE)
    in_the_cold = cause.since is not None and cause.since.month in SEASONS["heating"]
    like_heat = alike and in_the_cold and cause.unit == "W" and (cause.size or 0.0) >= LIKE_HEAT_WATTS
    if not like_heat and situation.weights.get(State.WEATHER, 0.0) < LOOKED_AT:
        return []
    if cause.code not in OWN and not alike:
        return []
    code = "cooling-look" if cause.code == "cooling-rise" else _heating(situation.house)
    until = cause.until if cause.code in OWN else None  # the day on which it was over by the data
    return [replace(made(situation, code, {"until": until}, Hazard.LOOK), minutes=10, worth=BEFORE_ALL)]


def hot_water_look(situation: Situation) -> list[Step]:
    """Return the look for hot water that runs off, where electricity warms it and something may draw day and night."""
    odds, cause = situation.case.odds, situation.leading
    if odds is None or odds.steady < LOOKED_AT or not warms_water(situation.house):
        return []
    if situation.rule.decision is not Decision.OUTSIDE_CHECK or (cause is not None and cause.until is not None):
        return []
    if situation.named is not None or situation.suspects.timer is not None or at_the_circuit(situation):
        return []  # what is known of it is looked at
    return [replace(made(situation, "hot-water-look", {}, Hazard.LOOK), minutes=10)]


def ended(situation: Situation) -> Step:
    """Ask what ended, where less is likely used for good."""
    cause = situation.leading
    assert cause is not None
    figures = {"cause": cause.code, "since": cause.since, "size": size_of(situation, cause)}
    return made(situation, "lived-in" if situation.case.emptied else "ended", figures, Hazard.PAPER)


def what_ended(situation: Situation) -> list[Step]:
    """Ask it first where a meter likely counts less since a day: who lives there knows more than the bills."""
    cause = situation.leading
    if situation.rule.name != "meter-slow" or cause is None or cause.code != "meter-low" or cause.since is None:
        return []
    if situation.named is not None or situation.exchanged or situation.case.site.read:
        return []  # what the diary names, or two meters, is asked about; readings there tell the meter itself
    return [replace(ended(situation), worth=BEFORE_ALL)]


MEASURES_TOLD = 3
AFTER_A_LOOK: dict[str, tuple[str, ...]] = {
    "other-home": ("meter-follows", "which-home", Check.BEGAN),
    "own-meter": ("meter-follows", "which-home"),
    "backup-heat": ("heating-look", "heater-look"),
    "panels": ("inverter",),
    "done": (Check.BEGAN, Check.OWN_READINGS),
}
"""Steps that a look, or something done, which the diary tells of, has made already."""


def after_a_look(situation: Situation, steps: Sequence[Step]) -> list[Step]:
    """What follows from what the diary tells since then, in place of what it has answered."""
    seen = situation.looked
    if seen is None or seen.code not in AFTER_A_LOOK or situation.case.site.run:
        return list(steps)
    left = [step for step in steps if step.code not in AFTER_A_LOOK[seen.code]]
    if seen.code == "own-meter" or len(left) == len(steps):
        return left
    if seen.code == "other-home":
        return [*left, replace(asking("other-home"), worth=BEFORE_ALL)]
    last = situation.last_bill
    a_day = 0.0 if last is None or last.billed_kwh is None else last.billed_kwh / last.days
    figures = {"day": seen.event.day, "a_day": a_day}
    step = made(situation, seen.code, figures, Hazard.LOOK if seen.code == "done" else Hazard.PAPER)
    return [*left, replace(step, worth=BEFORE_ALL)]


def of_a_slow_old_meter(situation: Situation, steps: Sequence[Step]) -> list[Step]:
    """Say what asking may bring, in place of asking, where the meter that was taken down was likely slow."""
    odds, slow = situation.case.odds, situation.weights.get(State.OLD_SLOW, 0.0)
    asked = [step for step in steps if step.asks in ("exchange-readings", "old-meter-test")]
    sure = odds is not None and slow >= situation.costs.likely and odds.fast < situation.costs.open_at
    if not sure or not asked or situation.whose:  # whose meter or which multiplier it is comes first
        return list(steps)
    rest = [step for step in steps if step not in asked]
    return [replace(plain(situation, "old-slow"), worth=BEFORE_ALL), *rest]


def of_suspects(situation: Situation) -> list[Step]:
    """Measure what the household listed itself, before anything unknown is looked for."""
    cause, found = situation.leading, situation.suspects
    if cause is None or not cause.size or cause.unit != "W" or not found.own:
        return []
    one, voice = found.own[0], situation.voice
    if one.never_off and cause.until is not None:
        return []  # it is over: a look today shows nothing
    if one.never_off:
        size = size_of(situation, cause)
        step = made(situation, "never-off", {"load": one.load, "size": size}, Hazard.LOOK)
        return [replace(step, minutes=OWN_MINUTES["measure"], for_cause=cause.code)]
    if one.usual_watts is not None:
        low = {"load": one.load, "how": one.how, "listed": one.listed_watts, "usual": one.usual_watts}
        hazard = Hazard.PLUG_IN if "plug-in" in one.how else Hazard.LOOK
        return [replace(made(situation, "listed-low", low, hazard), minutes=OWN_MINUTES["measure"])]
    if situation.rule.decision is Decision.EXPLAINED:
        return []
    cost = (
        "" if found.per_month is None else voice.fill(": about {money:about_money} a month", {"money": found.per_month})
    )
    figures = {"load": one.load, "how": one.how, "size": size_of(situation, cause), "cost": cost}
    hazard = Hazard.PLUG_IN if "plug-in" in one.how else Hazard.LOOK
    step = made(situation, "measure-own", figures, hazard)
    return [replace(step, minutes=OWN_MINUTES["measure"], for_cause=cause.code)]


def of_the_list(situation: Situation) -> list[Step]:
    """Measure listed loads, where the decision is about them; and where all the bills stand below what the list allows,
    look whether they are this home's.
    """
    name, odds = situation.rule.name, situation.case.odds
    if name in ("above-list", "equipment"):
        return measuring(situation)
    if name not in ("below-list", "explained") or odds is None or not situation.case.listed:
        return []
    if name == "explained" and odds.level_score >= -OFF_LEVEL:
        return []
    once = situation.case.cleared or (name == "below-list" and situation.case.stands_out)  # it is asked for there
    several = measuring(situation)
    return [*([] if once else [plain(situation, "compare")]), *(several if name == "below-list" else several[:1])]


def measuring(situation: Situation) -> list[Step]:
    """Measure the loads that leave most open."""
    steps = []
    for measure in situation.measures[:MEASURES_TOLD]:
        figures = {"load": measure.load, "how": measure.how, "percent": measure.doubt_percent_after}
        hazard = Hazard.PLUG_IN if "plug-in" in measure.how else Hazard.LOOK
        step = made(situation, "measure" if measure.helps else "measure-list", figures, hazard)
        steps.append(replace(step, code="measure", minutes=OWN_MINUTES["measure"]))
    return steps


def alone_likely(situation: Situation) -> bool:
    """Whether one bill alone is likely high or low, and no line of the diary tells of it."""
    cause = situation.leading
    if cause is None or situation.case.told or situation.away or cause.code != "single-period":
        return False
    return cause.probability >= situation.costs.likely and len(cause.pattern_kwh) == len(situation.house.bills)


def think_back(situation: Situation) -> Step:
    """Ask what was different in the bills that stand out, with what the diary says of then."""
    odd, bills = situation.odd, situation.house.bills
    cause, event, last = situation.leading, situation.named, situation.last_bill
    asked = odd or (situation.doubted if cause is not None and cause.code in OF_READINGS else ())
    figures: dict[str, Any] = {
        "span": (asked[0].start, asked[-1].end) if asked else None,
        "low": bool(odd) and odd[0].flag is Flag.UNDER,
    }
    if not odd and cause is not None and alone_likely(situation):  # within its range, and likely odd
        sizes = [abs(kwh) for kwh in cause.pattern_kwh]
        bill = bills[sizes.index(max(sizes))]
        figures = {"span": (bill.start, bill.end), "low": (cause.kwh or 0.0) < 0.0}
    if cause is not None and cause.code == "old-meter-slow" and event is not None and last is not None:
        figures = {"span": (event.day, last.end), "low": False}  # what came raised the bills since
    figures["kept"] = bool(situation.house.events)
    return made(situation, "diary", figures | noted(situation), Hazard.PAPER)


def two_as_one(situation: Situation) -> Step | None:
    """Two bills between which use likely moved, added: what counts is both together."""
    pair = situation.pair
    if pair is None:
        return None
    kwh, days = sum(row.billed_kwh or 0.0 for row in pair), sum(row.days for row in pair)
    figures: dict[str, Any] = {"span": (pair[0].start, pair[1].end), "kwh": kwh, "days": days, "a_day": kwh / days}
    return made(situation, "two-as-one", figures, Hazard.PAPER)
