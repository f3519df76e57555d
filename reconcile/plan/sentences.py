"""The verdict in sentences: the answer first, every reason with its number."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, Protocol

from reconcile.decide import CHECK_AT, FEWEST, FEWEST_BARE, LEVEL_AT, MONEY_FINDINGS, TEST_AT, Chances
from reconcile.facts import Facts, Finding
from reconcile.house import House
from reconcile.meter.observation import Observation
from reconcile.plan.cause_words import chance, money, month, rounded
from reconcile.plan.ladder import ladder, missing
from reconcile.result import Cause, Measure, Period, Step, Verdict
from reconcile.say import Voice
from reconcile.texts.money import bridge_sentence


class Seen(Protocol):
    """What these bills could have shown."""

    @property
    def meter_percent(self) -> float | None:
        """Smallest meter error [%]."""

    @property
    def constant_watts(self) -> float | None:
        """Smallest round-the-clock load [W]."""


def verdict_of(
    decision: str,
    house: House,
    facts: Facts,
    rows: Sequence[Period],
    findings: Sequence[Finding],
    causes: Sequence[Cause],
    odds: Chances | None,
    observations: Sequence[Observation],
    measures: Sequence[Measure],
    view: Seen | None,
    account: Any,
    field_test: Any = None,
) -> Verdict:
    """Put the decision into words.

    Parameters
    ----------
    decision : str
    house, facts, rows, findings, causes, odds, observations, measures, view
        As weighed.
    account : Money or None
        Whose bridge sentence, if any, tells why the money changed.
    field_test : FieldTestResult or None
        Whose cautions come first where the test itself shows a danger.

    Returns
    -------
    Verdict
    """
    checked = any(o.kind != "main-off" for o in observations)
    leading = next((c for c in causes if c.code != "none" and c.probability >= CHECK_AT), None)
    headline = _headline(decision, house, rows, findings, causes, leading, odds)
    reasons = [*_stands_out(house, rows, causes)]
    reasons += [finding.text for finding in findings if finding.settles]
    reasons += [cause.text for cause in causes if cause.probability >= 0.2 and cause.code != "none"][:4]
    if not any(cause.probability >= CHECK_AT for cause in causes if cause.code != "none"):
        reasons += [cause.text for cause in causes if cause.code == "none" and cause.probability >= 0.2]
    reasons += [observation.text for observation in observations if observation.text]
    if odds is not None and house.loads and decision in ("inventory", "explained"):
        reasons.append(_level(odds))
    reasons += _apart(causes, checked)
    if account is not None and account.bridge is not None:
        reasons.append(bridge_sentence(account.bridge, Voice(house.locale, house.currency)))
    if view is not None:
        reasons.append(_visible(view))
    if decision == "not-enough-data":
        reasons = [_too_little(house, rows), *reasons]
    unlisted = bool(house.loads) and any(c.code == "unlisted" and c.probability >= CHECK_AT for c in causes)
    steps = ladder(decision, house, findings, measures, checked=checked, unlisted=unlisted)
    if decision == "urgent" and not house.dangers and field_test is not None:
        steps = tuple(Step(text, 0) for text in (*field_test.cautions, *field_test.next_steps))
        reasons = [*field_test.reasons, *reasons]
    return Verdict(
        decision=decision,
        headline=headline,
        field_test_warranted=decision == "field-test",
        reasons=tuple(dict.fromkeys(reasons)),
        next_steps=steps,
        smallest_visible_meter_error_percent=view.meter_percent if view is not None else None,
        smallest_visible_constant_watts=view.constant_watts if view is not None else None,
    )


def _headline(
    decision: str,
    house: House,
    rows: Sequence[Period],
    findings: Sequence[Finding],
    causes: Sequence[Cause],
    leading: Cause | None,
    odds: Chances | None,
) -> str:
    if decision == "urgent":
        return (
            "Stop: there is a sign of danger. Touch nothing, and call the utility's emergency line or a licensed "
            "electrician now; the bills can wait."
        )
    excess = _over(house, rows)
    if decision == "paperwork":
        settling = next((f for f in findings if f.settles), None) or next(
            (f for f in findings if f.code in MONEY_FINDINGS), None
        )
        why = settling.text if settling is not None else leading.text if leading is not None else ""
        lead = f"{excess} " if excess else ""
        return f"{lead}{why} Settle this with the utility's billing desk first."
    if decision == "not-enough-data":
        wanted = missing(house)[:1] or ("No bill is left that can be judged: see what is said of each.",)
        return f"There is too little here to tell a high bill from an ordinary one. {wanted[0]}"
    if decision == "field-test":
        share = max((c.probability for c in causes if c.code.startswith("meter")), default=TEST_AT)
        return (
            f"{excess} That the meter is wrong is {chance(share)}: a meter test is warranted. The utility "
            "tests it, often free on request; nobody needs to open the panel."
        ).strip()
    if decision == "outside-check":
        said = leading.text if leading is not None else "Two or more causes share the blame about evenly."
        return f"{excess} {said} A few checks with no cover removed would tell.".strip()
    if decision == "inventory" and leading is not None and leading.code in ("heating-rise", "cooling-rise"):
        return f"{excess} {leading.text} Measure that equipment first; nothing points to the meter.".strip()
    if decision == "inventory" and odds is not None and odds.level_score < 0:
        return (
            f"All the bills together stand about {abs(odds.level_percent):.0f} % below what the list of loads accounts "
            "for. Check the list and that the meter number and the readings are this home's."
        )
    if decision == "inventory":
        percent = odds.level_percent if odds is not None else 0.0
        return (
            f"All the bills together stand about {percent:.0f} % above what the list of loads accounts for, month "
            "after month. Measure the loads named below before suspecting the meter."
        )
    if excess and leading is not None:
        return f"{excess} {leading.text}"
    if excess:
        return f"{excess} It has not come back since, and nothing points to the meter."
    if leading is not None and leading.code != "none":
        return f"{leading.text} Nothing points to the meter."
    if odds is not None and house.loads and odds.level_score < -LEVEL_AT:
        return (
            f"No bill is too high: all together they stand about {abs(odds.level_percent):.0f} % below what the list "
            "of loads accounts for. Some hours on the list are too long, or something on it is no longer used."
        )
    known = ["its days", *(["its weather"] if house.weather else []), *(["its loads"] if house.loads else [])]
    given = " and ".join([", ".join(known[:-1]), known[-1]] if len(known) > 1 else known)
    usual = "should have used" if house.loads else "usually uses"
    return f"Every bill is what this house {usual}, given {given}."


def _over(house: House, rows: Sequence[Period]) -> str:
    over = [row for row in rows if row.flag == "over" and row.excess_kwh is not None and row.excess_kwh > 0]
    if not over:
        return ""
    kwh = sum(row.excess_kwh or 0.0 for row in over)
    amounts = [row.excess_amount for row in over]
    known = [amount for amount in amounts if amount is not None]
    total = sum(known, Decimal(0)) if len(known) == len(amounts) else None
    cost = f" ({money(total, house.currency)})" if total is not None else ""
    width = (
        sum(((row.usual_high_kwh or 0.0) - (row.usual_low_kwh or 0.0)) / 2 for row in over) / max(len(over), 1) ** 0.5
    )
    size = rounded(kwh, max(width / 2, 1.0))
    if len(over) == 1:
        return f"The bill of {month(over[0].end)} is {size} kWh{cost} over what this house usually uses."
    return (
        f"{len(over)} bills from {month(over[0].end)} to {month(over[-1].end)} are {size} kWh{cost} in all "
        "over what this house usually uses."
    )


def _stands_out(house: House, rows: Sequence[Period], causes: Sequence[Cause]) -> list[str]:
    judged = [row for row in rows if row.flag != "not-judged"]
    over = [row for row in judged if row.flag == "over"]
    under = [row for row in judged if row.flag == "under"]
    if not judged:
        return []
    apart = [row for row in judged if row.flag == "within" and _outside(row)]
    said = []
    if apart:
        said.append(
            f"Outside its own band, yet not further than one of {len(judged)} bills may be by chance: "
            f"{', '.join(month(row.end) for row in apart[:3])}."
        )
    elif not over and not under:
        lie = "The one period judged lies within its band." if len(judged) == 1 else ""
        return [lie or f"All {len(judged)} periods judged lie within their bands."]
    for name, which in (("over", over), ("under", under)):
        if which:
            stand = f"stands {name} its" if len(which) == 1 else f"stand {name} their"
            months = ", ".join(month(row.end) for row in which[:4]) + (" and more" if len(which) > 4 else "")
            said.append(f"{len(which)} of {len(judged)} periods {stand} band: {months}.")
    return said


def _outside(row: Period) -> bool:
    low, high, billed = row.usual_low_kwh, row.usual_high_kwh, row.billed_kwh
    return low is not None and high is not None and billed is not None and not low <= billed <= high


def _level(odds: Chances) -> str:
    return (
        f"All bills together stand {abs(odds.level_percent):.0f} % {'above' if odds.level_percent > 0 else 'below'} "
        f"what the list alone expects; {'more' if abs(odds.level_score) > LEVEL_AT else 'no more'} "
        "than its limits allow."
    )


def _apart(causes: Sequence[Cause], checked: bool) -> list[str]:
    """Say what the bills alone cannot tell apart."""
    rivals = [c for c in causes if c.code in ("meter-step", "constant-load", "habit-step") and c.probability >= 0.05]
    if checked or len(rivals) < 2:
        return []
    names = {
        "meter-step": "a meter that turned fast",
        "constant-load": "a round-the-clock load",
        "habit-step": "a change of the household's own use",
    }
    listed = " or ".join(names[rival.code] for rival in rivals)
    return [f"Bills alone tell these poorly apart: {listed}. The base load at night and one known load would."]


def _visible(view: Seen) -> str:
    if view.meter_percent is None:
        return "No ordinary meter error would have shown in bills like these."
    # two figures: it is found by a few draws, and stands so on the report too
    error = rounded(view.meter_percent, view.meter_percent / 10.0)
    load = rounded(view.constant_watts, view.constant_watts / 10.0) if view.constant_watts else ""
    watts = f", or a round-the-clock load of {load} W," if load else ""
    return (
        f"A meter error of about {error} %{watts} beginning in the middle of these bills would "
        "have been seen nine times in ten; a smaller one may be there unseen."
    )


def _too_little(house: House, rows: Sequence[Period]) -> str:
    judged = sum(row.flag != "not-judged" for row in rows)
    wanted = FEWEST if house.loads else FEWEST_BARE
    listed = "with" if house.loads else "without"
    can = "1 period" if judged == 1 else f"{judged} periods"
    return f"{can} can be judged; {listed} a list of loads at least {wanted} are needed."
