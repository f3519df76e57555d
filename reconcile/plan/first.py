"""Which step comes first: the one that would settle most for the least effort, for the cause that is suspected."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Any

from reconcile.facts import settling_of
from reconcile.house import Bill, House, RegisterReading
from reconcile.house.registers import Misread, misreads_of
from reconcile.kinds import Decision, Flag, Hazard
from reconcile.plan.situation import Situation
from reconcile.plan.step_made import made, plain, weathered
from reconcile.plan.worth import Check, State
from reconcile.result import Period, Step
from reconcile.texts.step_words import BILL_IS_LEFT, GO_ON, READ_TODAY, RUN_IS_LEFT

EXTREME_MONTHS = (12, 1, 2, 6, 7, 8)
"""Months of the coldest and the hottest bills (common practice)."""
HEATING_MONTHS = (10, 11, 12, 1, 2, 3, 4)
"""Months in which homes heat (common practice)."""
BEFORE_ALL = 1e6
"""Worth of a step that goes before every other of its hazard."""

FIRST_LOOKS = (
    "lived-in",
    "leave-off",
    "one-circuit",
    READ_TODAY,
    "compare-number",
    "meter-follows",
    "inverter",
    "done",
)
"""Looks that settle the question at once: before any paper."""
MAY_BE_WEATHER = 0.1
"""Chance of more heating or cooling from which that is asked about first (our choice)."""
ADVICE = ("compare-per-day",)
"""What the household is told about its bills, which settles nothing: never before a cause's own step."""
OF_ONE_BILL = ("single-period", "swap")
NO_RIVALS = ("meter-step", "old-meter-slow", "unlisted", *OF_ONE_BILL)
"""Causes beside which two meters that disagree are still the news."""
AT_AN_EXCHANGE = ("exchange-readings", "exchange-split", "old-meter-test")
"""What is asked of the utility about two meters that disagree: their own readings and record tell which is wrong."""
AT_ONE_BILL = ("two-as-one", "diary", "check-reading", "check-low-reading")
"""What settles one bill that stands out: a date remembered, or its own reading."""


WITHIN_A_WEEK = timedelta(days=7)
"""What began so little before the last bill shows in that bill alone."""
ALONE = ("odd-bill", "late-bill", "lasting", "rivals")
"""Rules of which one high bill, the last, may be all there is."""


def in_order(situation: Situation, steps: Sequence[Step]) -> tuple[Step, ...]:
    """Put the steps in order, each of them once.

    Returns
    -------
    tuple of Step
        Those that may be left out last. Of the others ``hazard`` never falls, but for a look that settles the question
        at once; within a hazard the step of the most worth first.
    """
    distinct = {(step.code, step.text): step for step in _settling_first(situation, steps)}
    ordered = sorted(
        distinct.values(),
        key=lambda s: (s.optional, not _at_once(situation, s), s.hazard, s.code in ADVICE, -s.worth),
    )
    return _ended(ordered)


def _at_once(situation: Situation, step: Step) -> bool:
    """Whether a look comes before any paper.

    Whether the meter follows this home does where the records speak of work at the meters, or use doubled out of
    season: of what fell, or may be heating, the household knows more than such a look shows.
    """
    if step.code != "meter-follows" or situation.meter_work:
        return step.code in FIRST_LOOKS
    if any(step.code in finding.household for finding in situation.findings):
        return True
    rose = situation.leading is not None and (situation.leading.kwh or 0.0) > 0.0
    return rose and situation.weights.get(State.WEATHER, 0.0) < MAY_BE_WEATHER


def _ended(steps: Sequence[Step]) -> tuple[Step, ...]:
    """Let the last step that counts go on to none: what is left is the run that is optional, or the next bill."""
    at = sum(not step.optional for step in steps) - 1
    if at < 0:
        return tuple(steps)
    after = RUN_IS_LEFT if any(step.code == "be-sure" for step in steps[at + 1 :]) else BILL_IS_LEFT
    shown = tuple(replace(one, then=one.then.replace(GO_ON, after)) for one in steps[at].would_show)
    return (*steps[:at], replace(steps[at], would_show=shown), *steps[at + 1 :])


def _settling_first(situation: Situation, steps: Sequence[Step]) -> list[Step]:
    """Raise what settles this cause above what tells more of any: temperatures, then hours."""
    steps = list(steps)
    download = next((step for step in steps if step.code == Check.DOWNLOAD), None)
    if download is not None and not weathered(situation.house) and all(s.code != "more-weather" for s in steps):
        # bills print them, so they lie nearer than hours
        steps.append(replace(plain(situation, "more-weather"), worth=download.worth + 1.0))
    usual = max((s.worth for s in steps if s.worth < BEFORE_ALL), default=0.0)
    codes = _codes(situation, steps)
    rank = {code: usual + 1.0 + len(codes) - at for at, code in enumerate(codes)}
    return [replace(s, worth=max(s.worth, rank[s.code])) if s.code in rank else s for s in steps]


def _codes(situation: Situation, steps: Sequence[Step]) -> list[str]:
    """Codes of the steps that settle most here, in order."""
    rule, odds, leading = situation.rule, situation.case.odds, situation.leading
    first: list[str] = []
    # no rival of two that disagree: either of them, what one bill holds, the list lacks or the diary tells of
    no_rival = leading is None or leading.code in NO_RIVALS or situation.case.told
    rival = 0.0 if leading is None or no_rival else leading.probability
    if odds is not None and odds.exchange >= max(situation.costs.likely, rival):
        first += AT_AN_EXCHANGE
    told = settling_of(situation.findings)
    # an estimate of other bills settles nothing of those that stand out, and does not go before what may
    elsewhere = told is not None and bool(situation.odd) and not situation.case.settled
    explained = rule.decision is Decision.EXPLAINED and not elsewhere
    if situation.case.settled or rule.name == "owed" or explained:
        found = {key for f in situation.findings for key in (*f.household, *f.asks)}
        first += () if told is None else (*told.household, *told.asks)
        first += [step.code for step in steps if step.code in found]
    first += AT_AN_EXCHANGE if situation.exchanged_in else ()
    proved = situation.proved
    first = [*proved.household, *proved.asks, *first] if proved is not None else first
    one = leading is not None and leading.code in OF_ONE_BILL
    if rule.name in ("odd-bill", "moved") or (rule.name == "late-bill" and one):
        first += AT_ONE_BILL
    return [*(code for code in dict.fromkeys(first) if code not in ADVICE), Check.BEGAN.value]


def read_today(situation: Situation) -> list[Step]:
    """A look at the meter today, where the last bill alone is high: it tells a misread bill at once."""
    row, bill, odds = situation.last_bill, _last(situation.house), situation.case.odds
    if row is None or row.flag is not Flag.OVER or bill is None or odds is None or situation.case.told:
        return []
    if read_since(situation.house) is not None or situation.case.tied:
        return []
    if situation.rule.name not in ALONE or situation.case.high != 1 or odds.exchange >= situation.costs.likely:
        return []
    instead, since = one_digit(bill, row), situation.leading.since if situation.leading is not None else None
    began = since is not None and since >= row.start - WITHIN_A_WEEK
    if not began and instead is None and odds.high < situation.costs.look_at:
        return []
    figures: dict[str, Any] = {"day": row.end, "reading": bill.reading_end, "instead": instead}
    return [made(situation, READ_TODAY, figures, Hazard.LOOK)]


def of_a_season(odd: Sequence[Period], house: House) -> bool:
    """Whether one bill is high of months whose weather may be all of it.

    Those are the coldest and the hottest, and where the home heats by electricity every month that is heated.
    """
    heats = house.heating_fuel == "electric" or any(load.follows == "heating" for load in house.loads)
    months = {*EXTREME_MONTHS, *(HEATING_MONTHS if heats else ())}
    return len(odd) == 1 and (odd[0].start + (odd[0].end - odd[0].start) / 2).month in months


def read_since(house: House) -> RegisterReading | None:
    """Return the household's own reading after the last bill, of its meter and no lower, where there is one."""
    last = _last(house)
    if last is None or last.reading_end is None:
        return None
    own = [
        reading
        for reading in house.readings
        if reading.day > last.closes and reading.event in (None, "check") and reading.register == "total"
        if reading.meter in (None, last.meter) and reading.value >= last.reading_end
    ]
    return max(own, key=lambda reading: reading.day, default=None)


def _last(house: House) -> Bill | None:
    return max(house.bills, key=lambda bill: bill.closes, default=None)


def one_digit(bill: Bill, row: Period) -> float | None:
    """Return the closing reading, another by one digit, with which a high bill would be as usual.

    Parameters
    ----------
    bill : Bill
        With both readings.
    row : Period
        Its usual range.

    Returns
    -------
    float or None
        None where none is, or where several are.
    """
    opens, closes, low, high = bill.reading_start, bill.reading_end, row.usual_low_kwh, row.usual_high_kwh
    if opens is None or closes is None or low is None or high is None or row.billed_kwh is None or closes <= opens:
        return None
    opens, closes = float(opens), float(closes)
    times = row.billed_kwh / (closes - opens)
    found = [
        other
        for other, how in misreads_of(closes, len(str(int(closes)))).items()
        if how is Misread.DIGIT
        # smaller places would fit several ways: they tell nothing
        and 10.0 ** math.floor(math.log10(round(abs(other - closes)))) * times > (high - low) / 2.0
        and low <= (other - opens) * times <= high
    ]
    return found[0] if len(found) == 1 else None
