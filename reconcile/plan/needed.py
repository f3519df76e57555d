"""What the rule that decided needs, whatever it is worth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from reconcile.decide.hidden import BLIND_PERCENT, hidden_percent
from reconcile.kinds import Decision, Hazard
from reconcile.plan.first import BEFORE_ALL, OF_ONE_BILL, of_a_season, read_today
from reconcile.plan.looks import (
    alone_likely,
    ended,
    hot_water_look,
    of_suspects,
    of_the_list,
    think_back,
    two_as_one,
    weather_look,
    what_ended,
)
from reconcile.plan.situation import Situation
from reconcile.plan.step_made import (
    BEGINS_AT_HOME,
    asking,
    at_the_circuit,
    check_reading,
    check_step,
    made,
    noted,
    plain,
    weathered,
)
from reconcile.plan.worth import NEEDS_A_RUN, Check, State
from reconcile.result import Step
from reconcile.say import quoted
from reconcile.texts.step_words import BY_REGISTER, PLANNED, RUN_AGAIN

TWO_YEARS = 700
"""Days of bills from which every season stands in them twice (our choice: a bill may be missing)."""
RUN_RULES = ("run-outside", "run-open")


def of_decision(situation: Situation) -> list[Step]:
    """Return what the rule needs, in the order in which equals are told."""
    alone = _whole_answer(situation)
    if alone:
        return alone
    steps = [*_of_the_records(situation), *_remembered(situation)]
    steps += (today := read_today(situation))
    steps += _compared(situation, already=bool(today))
    fell = situation.leading is not None and situation.leading.code == "generation-fall"
    if situation.rule.name == "generation" or (fell and not steps):
        steps.append(replace(plain(situation, "inverter"), worth=BEFORE_ALL))
    steps += [*_of_one_bill(situation), *_of_the_meter(situation)]
    steps += [*what_ended(situation), *weather_look(situation), *hot_water_look(situation), *of_the_list(situation)]
    steps += _of_a_load(situation)
    if situation.rule.name in ("lasting", "rivals"):
        steps += _apart(situation, told=_telling(steps))
    steps += _besides(situation)
    known = known_already(situation)
    return [step for step in steps if step.code not in known]


def _whole_answer(situation: Situation) -> list[Step]:
    """Everything there is to do, of rules that need nothing else; of others nothing."""
    name = situation.rule.name
    if name == "explained" and situation.fell:
        return [ended(situation)]
    if name == "falls" and situation.case.emptied:
        return [ended(situation), plain(situation, "compare"), known_load(situation)]
    if name == "too-few":
        more = [] if weathered(situation.house) else [plain(situation, "more-weather")]
        return [*_missing(situation), *more, check_step(situation, Check.OWN_READINGS)]
    return []


def _of_the_records(situation: Situation) -> list[Step]:
    """What would let the bills say more, where they account for all that is told and yet could hide something."""
    case, house = situation.case, situation.house
    if situation.rule.decision not in (Decision.EXPLAINED, Decision.PAPERWORK):
        return []
    steps = [replace(asking("which-rate"), worth=BEFORE_ALL)] if situation.pricier else []
    hidden = hidden_percent(house, case, situation.visible_percent)
    hides, blind = situation.rule.name == "explained" and hidden is not None, (hidden or 0.0) >= BLIND_PERCENT
    hides &= blind or not (case.told or situation.away)  # what the diary tells is confirmed first
    if case.cannot_tell or hides:
        steps += [*_missing(situation), check_step(situation, Check.DOWNLOAD)]
        days = sum(bill.days for bill in house.bills)
        if blind and all(step.code in known_already(situation) for step in steps) and days < TWO_YEARS:
            steps.append(plain(situation, "older-bills"))
    return steps


def _remembered(situation: Situation) -> list[Step]:
    """What passes is remembered, not measured."""
    case, odds = situation.case, situation.case.odds
    calm = case.cannot_tell and odds is not None and odds.none >= situation.costs.likely and bool(situation.odd)
    if calm or (situation.rule.name == "explained" and alone_likely(situation)):
        return [replace(think_back(situation), worth=BEFORE_ALL)]
    return []


def _compared(situation: Situation, *, already: bool) -> list[Step]:
    """The look whether the meter is this home's, where no other look at it is asked for ``already``."""
    explained = situation.rule.decision is Decision.EXPLAINED
    if not situation.case.stands_out or (explained and not situation.unlike):
        return []
    if already or _to_repeat(situation) or situation.rule.name == "generation":
        return []
    return [plain(situation, "compare"), *([nothing_needed(situation)] if explained else [])]


def _of_one_bill(situation: Situation) -> list[Step]:
    """Think back, or have the reading checked, where one bill stands out."""
    if situation.rule.name not in ("odd-bill", "late-bill", "moved"):
        return []
    low = situation.case.low > 0 and not situation.case.high
    steps = [two_as_one(situation) or think_back(situation)]
    if not situation.case.tied:
        steps.append(check_reading(situation, "check-low-reading" if low else "check-reading"))
        # how much is used now says nothing of a bill that was low, nor of one that others have followed
        followed = situation.last_bill is not None and situation.last_bill not in situation.odd and situation.odd
        steps += [] if low or followed else [check_step(situation, Check.OWN_READINGS)]
    if not low and not weathered(situation.house) and of_a_season(situation.odd, situation.house):
        steps.append(plain(situation, "more-weather"))
    return steps


def _to_repeat(situation: Situation) -> bool:
    """Whether what shows the meter outside its limits is one figure alone, which may be written wrong."""
    name, site, test = situation.rule.name, situation.case.site, situation.house.field_test
    if name == "run-outside" and site.by_list:
        return True
    return name in RUN_RULES and test is not None and (test.once or site.by_constant)


def _of_the_meter(situation: Situation) -> list[Step]:
    """Another run, and a test by the utility, where the meter is likely wrong."""
    name, odds, once = situation.rule.name, situation.case.odds, _to_repeat(situation)
    steps: list[Step] = []
    if name in (*RUN_RULES, "bills-alone"):
        cause = "meter-low" if odds is not None and odds.slow > odds.fast else "meter-step"
        by_list = situation.case.site.by_list
        again = check_step(situation, Check.KNOWN_LOAD) if by_list else plain(situation, run_again(situation))
        steps += [again] if once else []
        # it is asked in writing, and it is the answer itself: before anything else
        written = asking("meter-test", Hazard.UTILITY if once else Hazard.PAPER, cause)
        steps.append(written if once else replace(written, worth=BEFORE_ALL))
    if name == "bills-alone" or (name in NEEDS_A_RUN and not once):
        steps.append(known_load(situation))
    return steps


def _of_a_load(situation: Situation) -> list[Step]:
    """Look for a load that draws round the clock, at the circuit where it was found, and at what the list suspects."""
    outside, odds = situation.rule.decision is Decision.OUTSIDE_CHECK, situation.case.odds
    steps: list[Step] = []
    if outside and odds is not None and odds.steady >= situation.costs.likely:
        steps += [check_step(situation, Check.BEGAN)] if is_dated(situation) else []
        steps += [] if situation.case.site.read else [check_step(situation, Check.QUIET)]
        steps.append(check_step(situation, Check.BREAKERS))
    steps += [replace(step, worth=BEFORE_ALL) for step in at_the_circuit(situation)]
    if outside and situation.suspects.timer is not None:
        steps.append(check_step(situation, Check.BREAKERS))
    if outside or situation.rule.decision in (Decision.INVENTORY, Decision.EXPLAINED):
        steps += of_suspects(situation)
    return steps


def _apart(situation: Situation, *, told: bool) -> list[Step]:
    """What tells lasting causes apart, where no step does as ``told``, and what began."""
    steps, odds = [], situation.case.odds
    if not told:
        # two meters that disagree go on doing so: a week's reading tells nothing of which is wrong
        alike = odds is not None and odds.exchange < situation.costs.likely and not situation.house.nights_known
        steps += [check_step(situation, Check.OWN_READINGS)] if alike else []
        steps += [] if situation.case.site.read else [check_step(situation, Check.QUIET)]
        steps += [known_load(situation)] if situation.wrong_meter >= situation.costs.open_at else []
    return [*steps, check_step(situation, Check.BEGAN)] if is_dated(situation) else steps


def _besides(situation: Situation) -> list[Step]:
    """What a likely cause asks for whichever rule decided."""
    house, lead, weighed = situation.house, situation.leading, situation.case.odds is not None
    steps = []
    if lead is not None and lead.code in ("meter-step", "old-meter-slow") and noted(situation)["noted"]:
        steps.append(replace(think_back(situation), worth=BEFORE_ALL))  # a day at home, beside a meter
    if weighed and (_both_meters(situation) or (situation.rule.name == "run-outside" and situation.exchanged)):
        steps.append(asking("old-meter-test", for_cause="old-meter-slow"))
    if weighed and house.bills and all(bill.kwh == 0 for bill in house.bills):
        steps.append(plain(situation, "standing-meter"))
    if house.loads and situation.weights.get(State.LIST, 0.0) > situation.costs.likely:
        steps.append(plain(situation, "walk-through"))
    return steps


def nothing_needed(situation: Situation) -> Step:
    """What is left to do where nothing is worth a check: nothing, or to think back where more was used."""
    cause, case = situation.leading, situation.case
    if situation.away and not case.high:
        return plain(situation, "keep-reading")
    if case.told and situation.named is not None:
        thing = quoted(situation.named.load or situation.named.note or "")
        return made(situation, "confirm", {"thing": thing, "day": situation.named.day}, Hazard.PAPER)
    if is_dated(situation):
        return check_step(situation, Check.BEGAN)
    if case.high or (cause is not None and cause.code in OF_ONE_BILL):
        return think_back(situation)
    if cause is not None and cause.code == "unlisted" and cause.probability >= situation.costs.likely:
        return plain(situation, "complete-list")
    open_yet = cause is not None and cause.code != "unlisted" and (cause.kwh or 0.0) > 0.0
    return plain(situation, "watch" if open_yet or case.cannot_tell else "keep-reading")


def is_dated(situation: Situation) -> bool:
    """Whether the likeliest cause is one that begins at home, on a known day and of a known size."""
    cause = situation.leading
    return cause is not None and cause.code in BEGINS_AT_HOME and cause.since is not None and bool(cause.size)


def _both_meters(situation: Situation) -> bool:
    odds = situation.case.odds
    if odds is None or situation.rule.decision not in (Decision.OUTSIDE_CHECK, Decision.FIELD_TEST):
        return situation.rule.name == "old-meter"
    return (
        odds.exchange >= situation.costs.likely
        and situation.weights.get(State.OLD_SLOW, 0.0) >= situation.costs.open_at
    )


def _telling(steps: Sequence[Step]) -> bool:
    """Whether a step that tells causes apart is among some."""
    return any(step.code in {check.value for check in Check} for step in steps)


def known_already(situation: Situation) -> frozenset[str]:
    """Checks that the facts already hold, or that cannot tell anything here."""
    known = set()
    if situation.case.site.run in ("fast", "slow", "inside") and not situation.case.site.by_list:
        known.add(Check.KNOWN_LOAD.value)
    if at_the_circuit(situation):
        known |= {Check.BREAKERS.value, Check.BEGAN.value, Check.QUIET.value}
    if situation.house.interval is not None:
        known.add(Check.DOWNLOAD.value)
        if situation.house.nights_known:
            known.add(Check.QUIET.value)
    if situation.planned is None or Check.KNOWN_LOAD.value in known:
        known.add(PLANNED)
    return frozenset(known)


def run_again(situation: Situation) -> str:
    """Code of the run that is still wanted where one was made that cannot tell."""
    return BY_REGISTER if situation.case.site.by_constant else RUN_AGAIN


def known_load(situation: Situation) -> Step:
    """The run with a known load; again, where one was made that cannot tell."""
    step = check_step(situation, Check.KNOWN_LOAD)
    if not situation.case.site.again:
        return step
    again = plain(situation, run_again(situation))
    return replace(step, text=again.text, would_show=again.would_show, minutes=again.minutes)


def _missing(situation: Situation) -> list[Step]:
    """What would let the bills say more."""
    house, wanted = situation.house, []
    if len(house.bills) < 12:
        wanted.append(made(situation, "more-bills", {"count": len(house.bills)}, Hazard.PAPER))
    if not house.loads:
        wanted.append(plain(situation, "more-loads"))
    elif not situation.case.listed:
        wanted.append(plain(situation, "sharper-loads"))
    return wanted
