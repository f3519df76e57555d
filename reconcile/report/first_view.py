"""What stands on the first screen: the figures beside the answer, and the first thing to do."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from reconcile.costs import COSTS
from reconcile.decide import HIDES_PERCENT
from reconcile.report.money_view import field_test_view
from reconcile.say import NOTHING
from reconcile.texts.cause_words import NAMES
from reconcile.texts.page_words import NO_BILL
from reconcile.verdict import excess_step

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reconcile.result import Cause, Reconciliation, Step

Words = dict[str, Any]
_SENTENCE = re.compile(r"(?<=[.!?])\s+(?=[A-Z])")


def three_figures(result: Reconciliation) -> Words:
    """The three figures beside the answer."""
    over, voice = result.verdict.over, result.voice
    step = excess_step(result.rows)
    fast = result.verdict.meter_fast_probability
    return {
        "kwh": f"{voice.number(over.kwh, step)} kWh",
        "money": voice.about_money(over.amount) if over.amount is not None else "–",
        "meter": voice.chance_percent(fast).removeprefix("about ") if fast is not None else "–",
    }


def figures_beside(result: Reconciliation) -> list[tuple[str, str]]:
    """Return the figures beside the answer, each with what it is."""
    three, verdict, voice = three_figures(result), result.verdict, result.voice
    over, seen = verdict.over, verdict.smallest_visible_meter_error_percent
    told = [(three["kwh"], "over usual"), (three["money"], "over usual")] if over.bills else [NO_BILL]
    rise = _rise(result)
    if rise is not None and not over.bills and rise.kwh:
        name, chance = NAMES.get(rise.code, rise.code), voice.chance_percent(rise.probability)
        told.append((f"{voice.figure(rise.kwh)} kWh", f"more in all, if it is {name} ({chance})"))
    fast = "chance that the meter is fast"
    if verdict.meter_fast_probability is not None and (seen is None or seen >= HIDES_PERCENT):
        fast += "; any error could hide" if seen is None else f"; an error under {voice.percent(seen)} could hide"
    return [(size, what) for size, what in (*told, (three["meter"], fast)) if size != NOTHING]


def _rise(result: Reconciliation) -> Cause | None:
    """The likeliest cause of a lasting rise that is worth a look, where no bill alone shows it."""
    likely = [
        c
        for c in result.causes
        if c.code != "none" and c.probability >= (result.costs or COSTS).look_at and (c.kwh or 0.0) > 0
    ]
    return max(likely, key=lambda cause: cause.probability, default=None)


def test_line(result: Reconciliation) -> str:
    """Return what the field test says, in a sentence, where there is one that the answer itself does not tell."""
    told, test = field_test_view(result), result.field_test
    if told is None or test is None or not told["headline"]:
        return ""
    decided = test.registration is not None and not test.doubtful and test.registration.zone != "cannot-tell"
    return "" if decided else f"Your field test: {_SENTENCE.split(told['headline'], maxsplit=1)[0]}"


def first_step(steps: Sequence[Step]) -> Words | None:
    """The first thing to do in one sentence, with what stands before it; all of it is among the steps again."""
    wanted = next((step for step in steps if not step.optional), None)
    if wanted is None:
        return None
    return {
        "text": _SENTENCE.split(wanted.text, maxsplit=1)[0],
        "cautions": list(wanted.cautions),
        "minutes": f"{wanted.minutes} minutes" if wanted.minutes else "",
        "nothing": wanted.code == "keep-reading",
    }
