"""What to do next: the steps a decision needs, those that are worth their while, in order of hazard, then of worth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from reconcile.decide.hidden import BLIND_PERCENT, hidden_percent
from reconcile.house import House
from reconcile.kinds import Decision, Hazard
from reconcile.loads.handbook import find
from reconcile.plan.first import ADVICE, BEFORE_ALL, OF_ONE_BILL, in_order, of_a_season, read_today
from reconcile.plan.looks import (
    after_a_look,
    alone_likely,
    ended,
    hot_water_look,
    of_a_slow_old_meter,
    of_suspects,
    of_the_list,
    think_back,
    two_as_one,
    weather_look,
)
from reconcile.plan.night_run import run_words
from reconcile.plan.situation import Situation
from reconcile.plan.step_made import (
    BEGINS_AT_HOME,
    OWN_MINUTES,
    REQUEST_MINUTES,
    asking,
    at_the_circuit,
    belongs,
    cautions,
    check_reading,
    check_step,
    made,
    noted,
    plain,
    weathered,
    worth_here,
)
from reconcile.plan.worth import NEEDS_A_RUN, Check, State, cost
from reconcile.result import Step
from reconcile.say import quoted
from reconcile.texts import tell
from reconcile.texts.meter_words import AGAIN, WAYS
from reconcile.texts.requests import HOUSEHOLD, request
from reconcile.texts.step_words import BY_REGISTER, NAMED, PLANNED, RUN_AGAIN

SEEN_ENOUGH = 4.0
"""Smallest visible meter error [%] above which the cheap decisive checks are always offered."""

MAY_BE_ANOTHER, FELL_PERCENT = ("constant-load", "habit-step", "meter-low", "meter-step"), 35.0
"""Causes that crossed meters are taken for, and the least fall of one [%]: no meter is so slow (our choice)."""
FEWEST_DOUBLED = 2
"""High bills, each of twice the usual, from which the meter may count another home (our choice)."""
NEARLY_SURE, CANNOT_DECIDE = 0.9, (Check.QUIET, Check.OWN_READINGS)
"""Chance of a wrong meter from which the run with a known load, which decides, comes without the readings that
cannot: a quiet night and a week look the same beside a fast meter and a load (our choice)."""
TWO_YEARS = 700
"""Days of bills from which every season stands in them twice (our choice: a bill may be missing)."""
MISSING_DAYS = 20
"""Days without a bill from which one is taken to be missing (our choice)."""


def next_steps(situation: Situation) -> tuple[Step, ...]:
    """Choose the steps.

    Returns
    -------
    tuple of Step
        In the order of :func:`reconcile.plan.first.in_order`.
    """
    if situation.rule.decision is Decision.URGENT:
        return ()
    if situation.case.site.counts_with_main_off:
        return _ahead_of_main(situation)
    steps = [*_of_records(situation), *_of_diary(situation), *_of_decision(situation)]
    if _doubled(situation) and all(step.code != "meter-follows" for step in steps):
        # at an exchange that asks about the multiplier, that is the likelier of the two
        asked = any(step.code in ASKED_BY_A_LOOK[:2] for step in steps) and not situation.meter_work
        steps.append(replace(_own(situation, "meter-follows", {}), optional=asked))
    if _disk_before(situation):
        steps = [step for step in steps if step.code != Check.DOWNLOAD]
    taken = {step.code for step in steps} | ({Check.BEGAN.value} if _of_diary(situation) else set())
    taken |= {Check.DOWNLOAD.value} if _disk_before(situation) else set()
    taken |= {Check.KNOWN_LOAD.value} if taken & {RUN_AGAIN, BY_REGISTER} else set()
    steps += [s for s in _worth_their_while(situation) if s.code not in taken]
    if any(step.code == Check.KNOWN_LOAD for step in steps):
        if situation.wrong_meter >= NEARLY_SURE:
            steps = [step for step in steps if step.code not in CANNOT_DECIDE]
        steps += _planned(situation)
    steps = of_a_slow_old_meter(situation, after_a_look(situation, steps))
    taken = {step.code for step in steps}
    if all(step.code in ADVICE for step in steps):
        last = _nothing_needed(situation)
        steps = [last, *steps] if not steps or last.code != "keep-reading" else steps
    steps += _to_be_sure(situation, taken)
    return in_order(situation, steps)


def _nothing_needed(situation: Situation) -> Step:
    """What is left to do where nothing is worth a check: nothing, or to think back where more was used."""
    cause, case = situation.leading, situation.case
    if situation.away and not case.high:
        return plain(situation, "keep-reading")
    if case.told and situation.named is not None:
        thing = quoted(situation.named.load or situation.named.note or "")
        return made(situation, "confirm", {"thing": thing, "day": situation.named.day}, Hazard.PAPER)
    if _dated(situation):
        return check_step(situation, Check.BEGAN)
    if case.high or (cause is not None and cause.code in OF_ONE_BILL):
        return think_back(situation)
    if cause is not None and cause.code == "unlisted" and cause.probability >= situation.costs.likely:
        return plain(situation, "complete-list")
    open_yet = cause is not None and cause.code != "unlisted" and (cause.kwh or 0.0) > 0.0
    return plain(situation, "watch" if open_yet or case.cannot_tell else "keep-reading")


def _of_diary(situation: Situation) -> list[Step]:
    """The thing that the diary names, before anything unknown is looked for."""
    event = situation.named
    if event is None or event.kind != "new-load" or event.until is not None or not (event.load or event.note):
        return []  # what is over is confirmed, not switched off
    if situation.rule.name not in ("lasting", "rivals", "explained", "late-bill") or not (
        situation.case.high or situation.case.stands_out
    ):
        return []
    thing = quoted(event.load or event.note)
    same = {kind.load for kind in find(thing)}
    # by its name, or as the same kind of thing by another: an electric car is on the list as its charger
    known = [load for load in situation.house.loads if load.name.casefold() == thing.casefold()]
    known += [load for load in situation.house.loads if same & {kind.load for kind in find(load.name)[:1]}]
    own = known[0] if known else None
    listed = "" if own is None else "always" if own.arrives is None else "dated"
    fits = tuple(kind for kind in situation.suspects.kinds if kind not in same)
    figures = {
        "thing": thing,
        "day": event.day,
        "listed": listed,
        "own": own.name if own is not None else "",
        "fits": fits,
    }
    step = made(situation, NAMED, figures, Hazard.PAPER)
    near = cautions(situation, NAMED, Hazard.LOOK)  # the meter is read before and after
    return [replace(step, cautions=near, minutes=OWN_MINUTES[NAMED], worth=BEFORE_ALL)]


def _ahead_of_main(situation: Situation) -> tuple[Step, ...]:
    """The utility is called, and until it has looked nobody switches anything, for whatever else the bills may ask."""
    test = situation.house.field_test
    unknown = test is not None and any(reading.service_underground is None for reading in test.main_off)
    steps = [plain(situation, "underground")] if unknown else []
    steps += [
        asking("ahead-of-main"),
        *_of_records(situation),
        plain(situation, "compare"),
        plain(situation, "ahead"),
    ]
    if situation.rule.name == "run-outside":
        steps.append(asking("meter-test", Hazard.UTILITY, "meter-step"))
    return tuple(sorted(steps, key=lambda step: step.hazard))


AT_THE_METER = (
    "meter-follows", "read-to-settle", "read-yourself", "watch-register", "compare-number", "look-for-multiplier",
)  # fmt: skip
"""What the household is asked to look at on the meter: the cautions of a look stand before it."""
ASKED_BY_A_LOOK = ("multiplier", "multiplier-times", "multiplier-of-both", "which-meter", "own-reading")
"""What is asked of the utility once the meter was looked at."""


def _own(situation: Situation, key: str, figures: Mapping[str, Any]) -> Step:
    """What a finding asks of the household."""
    hazard = Hazard.LOOK if key in AT_THE_METER else Hazard.PAPER
    near = Hazard.LOOK if key == "kwh-typed" else hazard
    text = tell(situation.voice, HOUSEHOLD, key, figures)
    worth = BEFORE_ALL if key == "meter-follows" else 0.0
    return Step(
        text,
        hazard,
        cautions(situation, key, near),
        code=key,
        minutes=20 if key == "meter-follows" else 5,
        worth=worth,
    )


def _doubled(situation: Situation) -> bool:
    """Whether use has at least doubled, or fallen by a good part, for good: the meter may count another home."""
    cause, odd = situation.leading, situation.odd
    if cause is None or cause.code not in MAY_BE_ANOTHER or situation.case.site.run:
        return False
    if situation.meter_work:
        return True
    if situation.named is not None:
        return False  # what the diary says of that time is asked about first
    if cause.unit == "%" and abs(cause.size or 0.0) >= (FELL_PERCENT if (cause.kwh or 0.0) < 0.0 else 100.0):
        return True
    ratios = [(row.excess_kwh or 0.0) / row.usual_kwh for row in odd if row.usual_kwh]
    return len(ratios) >= FEWEST_DOUBLED and min(ratios) >= 1.0


def _of_records(situation: Situation) -> list[Step]:
    """What the findings ask, each thing once: of the household first, then of the utility."""
    asked: dict[str, Step] = {}
    own: dict[tuple[str, str], Step] = {}
    voice = situation.voice
    for finding in situation.findings:
        for key in finding.household:
            if key == "both-ways" and situation.rule.name == "generation":
                continue  # it was weighed by both already
            step = _own(situation, key, finding.figures)
            own.setdefault((key, step.text), step)
        for key in finding.asks:
            text = voice.fill(request(key).step, finding.figures)
            # a whole bill that is not there is the nearest thing to look for; a plan set anew is the answer itself
            missing = key == "missing-bill" and finding.figures.get("days", 0) >= MISSING_DAYS
            first = key == "plan-balance" or finding.key == "multiplier/perhaps"
            worth = BEFORE_ALL if missing or first else 0.0
            near = cautions(situation, key, Hazard.LOOK) if key in ASKED_BY_A_LOOK else ()
            asked[key] = Step(text, Hazard.PAPER, near, code=key, minutes=REQUEST_MINUTES, asks=key, worth=worth)
    at_exchange = situation.may_be_doubled and "exchange-readings" in asked
    if ("multiplier" in situation.whose or at_exchange) and not {"multiplier", "multiplier-times"} & set(asked):
        near = cautions(situation, "multiplier", Hazard.LOOK)
        asked["multiplier"] = replace(asking("multiplier"), cautions=near, worth=BEFORE_ALL)
    # look first, ask then; what a rule allows comes after what is there
    looked = sorted(own.values(), key=lambda step: step.code == "estimates-in-a-row")
    return [*looked, *asked.values()]


def _of_decision(situation: Situation) -> list[Step]:
    """What a rule needs whatever it is worth."""
    name, case, house, odds = situation.rule.name, situation.case, situation.house, situation.case.odds
    if name == "explained" and situation.fell:
        return [ended(situation)]
    if name == "falls" and case.emptied:
        return [ended(situation), plain(situation, "compare"), _known_load(situation)]
    if name == "too-few":
        more = [] if weathered(house) else [plain(situation, "more-weather")]
        return [*_missing(situation), *more, check_step(situation, Check.OWN_READINGS)]
    steps: list[Step] = []
    if situation.pricier and situation.rule.decision in (Decision.EXPLAINED, Decision.PAPERWORK):
        steps.append(replace(asking("which-rate"), worth=BEFORE_ALL))
    hidden = hidden_percent(house, case, situation.visible_percent)
    hides, blind = name == "explained" and hidden is not None, (hidden or 0.0) >= BLIND_PERCENT
    hides &= blind or not (case.told or situation.away)  # what the diary tells is confirmed first
    if (case.cannot_tell or hides) and situation.rule.decision in (Decision.EXPLAINED, Decision.PAPERWORK):
        steps += [*_missing(situation), check_step(situation, Check.DOWNLOAD)]
        if blind and all(step.code in _known(situation) for step in steps) and _days(house) < TWO_YEARS:
            steps.append(plain(situation, "older-bills"))
    calm = case.cannot_tell and odds is not None and odds.none >= situation.costs.likely and bool(situation.odd)
    if calm or (name == "explained" and alone_likely(situation)):
        steps.append(replace(think_back(situation), worth=BEFORE_ALL))  # what passes is remembered, not measured
    field = house.field_test
    once = name == "run-outside" and case.site.by_list
    once |= name in ("run-outside", "run-open") and field is not None and (field.once or case.site.by_constant)
    steps += (today := read_today(situation))
    explained = situation.rule.decision is Decision.EXPLAINED
    if case.stands_out and (situation.unlike or not explained) and not (today or once or name == "generation"):
        steps.append(plain(situation, "compare"))
        steps += [_nothing_needed(situation)] if explained else []
    fell = situation.leading is not None and situation.leading.code == "generation-fall"
    if name == "generation" or (fell and not steps):
        steps.append(replace(plain(situation, "inverter"), worth=BEFORE_ALL))
    if name in ("odd-bill", "late-bill", "moved"):
        low = case.low > 0 and not case.high
        steps += [two_as_one(situation) or think_back(situation)]
        if not situation.case.tied:
            steps += [check_reading(situation, "check-low-reading" if low else "check-reading")]
            # how much is used now says nothing of a bill that was low, nor of one that others have followed
            since = situation.last_bill is not None and situation.last_bill not in situation.odd
            steps += [] if low or (since and situation.odd) else [check_step(situation, Check.OWN_READINGS)]
        colder = not low and not weathered(house) and of_a_season(situation.odd, house)
        steps += [plain(situation, "more-weather")] if colder else []
    if name in ("run-outside", "run-open", "bills-alone"):
        cause = "meter-low" if odds is not None and odds.slow > odds.fast else "meter-step"
        # it is asked in writing, and it is the answer itself: before anything else
        again = check_step(situation, Check.KNOWN_LOAD) if case.site.by_list else plain(situation, _again(situation))
        steps += [again] if once else []
        written = asking("meter-test", Hazard.UTILITY if once else Hazard.PAPER, cause)
        steps.append(written if once else replace(written, worth=BEFORE_ALL))
    if name == "bills-alone" or (name in NEEDS_A_RUN and not once):
        steps.append(_known_load(situation))
    steps += [*weather_look(situation), *hot_water_look(situation)]
    steps += of_the_list(situation)
    if odds is not None and odds.steady >= situation.costs.likely and situation.rule.decision is Decision.OUTSIDE_CHECK:
        if _dated(situation):
            steps.append(check_step(situation, Check.BEGAN))
        steps += [check_step(situation, Check.QUIET)] if not case.site.read else []
        steps.append(check_step(situation, Check.BREAKERS))
    steps += [replace(step, worth=BEFORE_ALL) for step in at_the_circuit(situation)]
    if situation.suspects.timer is not None and situation.rule.decision is Decision.OUTSIDE_CHECK:
        steps.append(check_step(situation, Check.BREAKERS))
    if situation.rule.decision in (Decision.OUTSIDE_CHECK, Decision.INVENTORY, Decision.EXPLAINED):
        steps += of_suspects(situation)
    if name in ("lasting", "rivals") and not steps_that_tell(steps):
        # two meters that disagree go on doing so: a week's reading tells nothing of which is wrong
        alike = odds is not None and odds.exchange < situation.costs.likely and not house.nights_known
        steps += [check_step(situation, Check.OWN_READINGS)] if alike else []
        steps += [] if case.site.read else [check_step(situation, Check.QUIET)]
        steps += [_known_load(situation)] if situation.wrong_meter >= situation.costs.open_at else []
    lead = situation.leading
    if lead is not None and lead.code in ("meter-step", "old-meter-slow") and noted(situation)["noted"]:
        steps.append(replace(think_back(situation), worth=BEFORE_ALL))  # a day at home, beside a meter
    if name in ("lasting", "rivals") and _dated(situation):
        steps.append(check_step(situation, Check.BEGAN))
    if odds is not None and (_both_meters(situation) or (name == "run-outside" and situation.exchanged)):
        steps.append(asking("old-meter-test", for_cause="old-meter-slow"))
    if odds is not None and house.bills and all(bill.kwh == 0 for bill in house.bills):
        steps.append(plain(situation, "standing-meter"))
    if any(w > situation.costs.likely for s, w in situation.weights.items() if s is State.LIST) and house.loads:
        steps.append(plain(situation, "walk-through"))
    # the diary's own step asks it with the thing's name
    told = {Check.BEGAN.value} if _of_diary(situation) else set()
    return [step for step in steps if step.code not in _known(situation) | told]


def _days(house: House) -> int:
    return sum(bill.days for bill in house.bills)


def _dated(situation: Situation) -> bool:
    cause = situation.leading
    return cause is not None and cause.code in BEGINS_AT_HOME and cause.since is not None and bool(cause.size)


def _disk_before(situation: Situation) -> bool:
    """Whether two meters disagree of which the first turned a disk: no hours before the exchange exist."""
    odds, meters = situation.case.odds, situation.house.meters
    disk = any(meter.type == "disk" and meter.ends is not None for meter in meters)
    return disk and odds is not None and odds.exchange >= situation.costs.likely


def _both_meters(situation: Situation) -> bool:
    odds = situation.case.odds
    if odds is None or situation.rule.decision not in (Decision.OUTSIDE_CHECK, Decision.FIELD_TEST):
        return situation.rule.name == "old-meter"
    return (
        odds.exchange >= situation.costs.likely
        and situation.weights.get(State.OLD_SLOW, 0.0) >= situation.costs.open_at
    )


def steps_that_tell(steps: Sequence[Step]) -> bool:
    """Whether a step that tells causes apart is among some."""
    return any(step.code in {check.value for check in Check} for step in steps)


def _known(situation: Situation) -> frozenset[str]:
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


def _allowed(situation: Situation, check: Check) -> bool:
    odds = situation.case.odds
    if odds is None or check.value in _known(situation):
        return False
    if check in (Check.UTILITY_TEST, Check.PANEL, Check.OLD_METER):
        return False  # asked for by a rule, or by the plan of a field test, never for its worth alone
    if check in (Check.KNOWN_LOAD, Check.MAIN_OFF):
        return situation.wrong_meter >= situation.costs.open_at or (
            check is Check.MAIN_OFF and odds.steady >= situation.costs.likely
        )
    if check is Check.BREAKERS:
        return odds.steady >= situation.costs.likely
    if check is Check.BEGAN:
        return _dated(situation)
    if check is Check.QUIET:
        return not situation.case.site.read
    if check is Check.OWN_READINGS:
        return odds.exchange < situation.costs.likely and not situation.house.nights_known
    return True


def _again(situation: Situation) -> str:
    """Code of the run that is still wanted where one was made that cannot tell."""
    return BY_REGISTER if situation.case.site.by_constant else RUN_AGAIN


def _known_load(situation: Situation) -> Step:
    """The run with a known load; again, where one was made that cannot tell."""
    step = check_step(situation, Check.KNOWN_LOAD)
    if not situation.case.site.again:
        return step
    again = plain(situation, _again(situation))
    return replace(step, text=again.text, would_show=again.would_show, minutes=again.minutes)


def _worth_their_while(situation: Situation) -> list[Step]:
    """Checks whose expected saving is more than they cost."""
    if situation.rule.decision not in (Decision.OUTSIDE_CHECK, Decision.INVENTORY, Decision.FIELD_TEST):
        return []
    if situation.rule.name in ("run-outside", "generation"):
        return []
    good = [c for c in Check if _allowed(situation, c) and worth_here(situation, c) > cost(c, situation.costs)]
    return [_known_load(situation) if c is Check.KNOWN_LOAD else check_step(situation, c) for c in good]


def _to_be_sure(situation: Situation, taken: set[str]) -> list[Step]:
    """The cheap decisive checks on one optional line, where no step makes them and the bills could hide an error."""
    seen = situation.visible_percent
    if seen is not None and seen <= SEEN_ENOUGH:
        return []
    # hourly readings are the meter's own counts: only a load that something else measures tells the meter
    left = [way for way in WAYS if way not in taken and way not in _known(situation)]
    if situation.case.site.again:
        again = _again(situation)
        left = [again if way == Check.KNOWN_LOAD else way for way in left if again not in taken]
    figures = {"ways": ", or ".join((WAYS | AGAIN)[way] for way in left)}
    tested = any(finding.code == "meter-test" for finding in situation.findings)  # with better instruments
    steps = [made(situation, "be-sure", figures, Hazard.PLUG_IN, optional=True)] if left and not tested else []
    found_out = tested or situation.case.site.run in ("fast", "slow", "inside")
    if Check.DOWNLOAD.value not in taken | _known(situation) and not found_out:
        steps.append(made(situation, "see-hours", {}, Hazard.PAPER, optional=True))
    return steps


def _planned(situation: Situation) -> list[Step]:
    """The run that the data read by themselves, beside the one that is read at the meter."""
    plan = situation.planned
    if plan is None or PLANNED in _known(situation):
        return []
    step = made(situation, PLANNED, run_words(plan), Hazard.PLUG_IN)
    return [replace(step, for_cause=belongs(situation, Check.KNOWN_LOAD))]


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
