"""What to do next: the steps a decision needs, those that are worth their while, in order of hazard, then of worth."""

from __future__ import annotations

from dataclasses import replace

from reconcile.kinds import Decision, Hazard
from reconcile.plan.asked import of_another_home, of_diary, of_records
from reconcile.plan.first import ADVICE, in_order
from reconcile.plan.looks import after_a_look, of_a_slow_old_meter
from reconcile.plan.needed import is_dated, known_already, known_load, nothing_needed, of_decision, run_again
from reconcile.plan.night_run import run_words
from reconcile.plan.situation import Situation
from reconcile.plan.step_made import asking, belongs, check_step, made, plain, worth_here
from reconcile.plan.worth import Check, cost
from reconcile.result import Step
from reconcile.texts.meter_words import AGAIN, WAYS
from reconcile.texts.step_words import BY_REGISTER, PLANNED, RUN_AGAIN

SEEN_ENOUGH = 4.0
"""Smallest visible meter error [%] above which the cheap decisive checks are always offered."""

NEARLY_SURE, CANNOT_DECIDE = 0.9, (Check.QUIET, Check.OWN_READINGS)
"""Chance of a wrong meter from which the run with a known load, which decides, comes without the readings that
cannot: a quiet night and a week look the same beside a fast meter and a load (our choice)."""


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
    diary = of_diary(situation)
    told = {Check.BEGAN.value} if diary else set()  # the diary's own step asks it with the thing's name
    steps = [*of_records(situation), *diary, *(s for s in of_decision(situation) if s.code not in told)]
    steps += of_another_home(situation, steps)
    if _disk_before(situation):
        steps = [step for step in steps if step.code != Check.DOWNLOAD]
    taken = {step.code for step in steps} | told
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
        last = nothing_needed(situation)
        steps = [last, *steps] if not steps or last.code != "keep-reading" else steps
    steps += _to_be_sure(situation, taken)
    return in_order(situation, steps)


def _ahead_of_main(situation: Situation) -> tuple[Step, ...]:
    """The utility is called, and until it has looked nobody switches anything, for whatever else the bills may ask."""
    test = situation.house.field_test
    unknown = test is not None and any(reading.service_underground is None for reading in test.main_off)
    steps = [plain(situation, "underground")] if unknown else []
    steps += [
        asking("ahead-of-main"),
        *of_records(situation),
        plain(situation, "compare"),
        plain(situation, "ahead"),
    ]
    if situation.rule.name == "run-outside":
        steps.append(asking("meter-test", Hazard.UTILITY, "meter-step"))
    return tuple(sorted(steps, key=lambda step: step.hazard))


def _disk_before(situation: Situation) -> bool:
    """Whether two meters disagree of which the first turned a disk: no hours before the exchange exist."""
    odds, meters = situation.case.odds, situation.house.meters
    disk = any(meter.type == "disk" and meter.ends is not None for meter in meters)
    return disk and odds is not None and odds.exchange >= situation.costs.likely


def _allowed(situation: Situation, check: Check) -> bool:
    odds = situation.case.odds
    if odds is None or check.value in known_already(situation):
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
        return is_dated(situation)
    if check is Check.QUIET:
        return not situation.case.site.read
    if check is Check.OWN_READINGS:
        return odds.exchange < situation.costs.likely and not situation.house.nights_known
    return True


def _worth_their_while(situation: Situation) -> list[Step]:
    """Checks whose expected saving is more than they cost."""
    if situation.rule.decision not in (Decision.OUTSIDE_CHECK, Decision.INVENTORY, Decision.FIELD_TEST):
        return []
    if situation.rule.name in ("run-outside", "generation"):
        return []
    good = [c for c in Check if _allowed(situation, c) and worth_here(situation, c) > cost(c, situation.costs)]
    return [known_load(situation) if c is Check.KNOWN_LOAD else check_step(situation, c) for c in good]


def _to_be_sure(situation: Situation, taken: set[str]) -> list[Step]:
    """The cheap decisive checks on one optional line, where no step makes them and the bills could hide an error."""
    seen = situation.visible_percent
    if seen is not None and seen <= SEEN_ENOUGH:
        return []
    # hourly readings are the meter's own counts: only a load that something else measures tells the meter
    left = [way for way in WAYS if way not in taken and way not in known_already(situation)]
    if situation.case.site.again:
        again = run_again(situation)
        left = [again if way == Check.KNOWN_LOAD else way for way in left if again not in taken]
    figures = {"ways": ", or ".join((WAYS | AGAIN)[way] for way in left)}
    tested = any(finding.code == "meter-test" for finding in situation.findings)  # with better instruments
    steps = [made(situation, "be-sure", figures, Hazard.PLUG_IN, optional=True)] if left and not tested else []
    found_out = tested or situation.case.site.run in ("fast", "slow", "inside")
    if Check.DOWNLOAD.value not in taken | known_already(situation) and not found_out:
        steps.append(made(situation, "see-hours", {}, Hazard.PAPER, optional=True))
    return steps


def _planned(situation: Situation) -> list[Step]:
    """The run that the data read by themselves, beside the one that is read at the meter."""
    plan = situation.planned
    if plan is None or PLANNED in known_already(situation):
        return []
    step = made(situation, PLANNED, run_words(plan), Hazard.PLUG_IN)
    return [replace(step, for_cause=belongs(situation, Check.KNOWN_LOAD))]
