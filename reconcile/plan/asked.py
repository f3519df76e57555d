"""What the findings ask, and what the diary names: of the household first, then of the utility."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from reconcile.kinds import Hazard
from reconcile.loads.handbook import find
from reconcile.plan.first import BEFORE_ALL
from reconcile.plan.situation import Situation
from reconcile.plan.step_made import OWN_MINUTES, REQUEST_MINUTES, asking, cautions, made
from reconcile.result import Step
from reconcile.say import quoted
from reconcile.texts import tell
from reconcile.texts.requests import HOUSEHOLD, request
from reconcile.texts.step_words import NAMED

MAY_BE_ANOTHER, FELL_PERCENT = ("constant-load", "habit-step", "meter-low", "meter-step"), 35.0
"""Causes that crossed meters are taken for, and the least fall of one [%]: no meter is so slow (our choice)."""
FEWEST_DOUBLED = 2
"""High bills, each of twice the usual, from which the meter may count another home (our choice)."""
MISSING_DAYS = 20
"""Days without a bill from which one is taken to be missing (our choice)."""
AT_THE_METER = (
    "meter-follows", "read-to-settle", "read-yourself", "watch-register", "compare-number", "look-for-multiplier",
)  # fmt: skip
"""What the household is asked to look at on the meter: the cautions of a look stand before it."""
ASKED_BY_A_LOOK = ("multiplier", "multiplier-times", "multiplier-of-both", "which-meter", "own-reading")
"""What is asked of the utility once the meter was looked at."""
MULTIPLIERS = ASKED_BY_A_LOOK[:2]


def of_records(situation: Situation) -> list[Step]:
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
    if ("multiplier" in situation.whose or at_exchange) and not {*MULTIPLIERS} & set(asked):
        near = cautions(situation, "multiplier", Hazard.LOOK)
        asked["multiplier"] = replace(asking("multiplier"), cautions=near, worth=BEFORE_ALL)
    # look first, ask then; what a rule allows comes after what is there
    looked = sorted(own.values(), key=lambda step: step.code == "estimates-in-a-row")
    return [*looked, *asked.values()]


def of_diary(situation: Situation) -> list[Step]:
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


def of_another_home(situation: Situation, steps: Sequence[Step]) -> list[Step]:
    """Look which home the meter follows, where its bills may be another's and no step asks it yet."""
    if not _doubled(situation) or any(step.code == "meter-follows" for step in steps):
        return []
    # at an exchange that asks about the multiplier, that is the likelier of the two
    rather = any(step.code in MULTIPLIERS for step in steps) and not situation.meter_work
    return [replace(_own(situation, "meter-follows", {}), optional=rather)]


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
