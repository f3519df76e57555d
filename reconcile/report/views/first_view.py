"""What stands on the first screen: the figures beside the answer, and the first thing to do."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from reconcile.costs import COSTS
from reconcile.facts import OTHERS, moved_kwh, only_moves
from reconcile.grounds.load_shares import too_large
from reconcile.kinds import Decision
from reconcile.money.stake import mean_of
from reconcile.plan.situation import LASTING_FALLS
from reconcile.report.views.money_view import field_test_view
from reconcile.rounding import step_of
from reconcile.say import NOTHING
from reconcile.texts.cause_words import NAMES, size_text
from reconcile.texts.headline_parts import BELOW_LIST
from reconcile.texts.labels import DECISIONS, spoken
from reconcile.texts.meter_words import EVEN, OFTEN, TWICE, tells_of_meter
from reconcile.texts.money import price_rise, rise_sentence
from reconcile.texts.page_words import (
    BEYOND_TARIFF,
    BY_ONE_RUN,
    IN_QUESTION,
    METER_FAST,
    METER_HIDDEN,
    METER_OPEN,
    METER_SLOW,
    NEW_COUNTS,
    NO_BILL,
    OF_WHOM,
    OVER,
    SINCE,
    SINCE_OPEN,
    UNDER,
    WRONG_BILL,
)
from reconcile.verdict.exchange_news import exchange_news
from reconcile.verdict.sums import excess_step

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from reconcile.result import Cause, Reconciliation, Step

Words = dict[str, Any]
TOLD_PERCENT = 2
"""Chance from which a cause is told [%]."""
LEAST_WATTS = 5.0
"""A load that is smaller on average is told only where it is likely [W] (our choice: a charger left in the wall draws
as much; nobody looks for it, and no bill shows it)."""
TELLS_EXCHANGE = ("lasting", "rivals", "meter-slow", "meter-open", "bills-alone", "run-open")
"""Rules whose answer says that two meters disagree."""
_SENTENCE = re.compile(r"(?<=[.!?])(?<!\b[A-Z][a-z]\.)\s+(?=[A-Z])")
"""Where a sentence ends: not after "Pa." and its like."""


def sentences(text: str) -> list[str]:
    """Part a text into its sentences.

    >>> sentences("Some rules do (such as 52 Pa. Code 56.12). Check yours.")
    ['Some rules do (such as 52 Pa. Code 56.12).', 'Check yours.']
    """
    return _SENTENCE.split(text)


def causes_told(result: Reconciliation) -> list[Cause]:
    """Causes that the page tells, in words, picture and sum alike: a list that is not there lacks nothing."""
    at = (result.costs or COSTS).likely
    known = [c for c in result.causes if round(100 * c.probability) >= TOLD_PERCENT]
    known = [c for c in known if c.probability >= at or c.unit != "W" or c.size is None or abs(c.size) >= LEAST_WATTS]
    return [c for c in known if c.code != "unlisted" or result.house.loads or c.probability >= at]


def three_figures(result: Reconciliation) -> Words:
    """The three figures beside the answer: of the low bills where the answer is of them."""
    low, slow = tells_less(result), _rather_slow(result)
    side, voice = result.verdict.under if low else result.verdict.over, result.voice
    wrong = result.verdict.meter_slow_probability if slow else result.verdict.meter_fast_probability
    return {
        "side": UNDER if low else OVER,
        "of": METER_SLOW if slow else METER_FAST,
        "kwh": f"{voice.number(abs(side.kwh), excess_step(result.rows))} kWh",
        "money": voice.about_money(abs(side.amount)) if side.amount is not None else "–",
        "meter": voice.chance_percent(wrong).removeprefix("about ") if wrong is not None else "–",
    }


def tells_less(result: Reconciliation) -> bool:
    """Whether the low bills are what the answer is of: no other is marked, or a fall is what leads."""
    over, under = result.verdict.over, result.verdict.under
    return bool(under.bills) and (not over.bills or falls_lead(result))


def falls_lead(result: Reconciliation) -> bool:
    """Whether the answer is that less is counted: a slow meter, or use that fell, whatever single bills are over."""
    if result.verdict.rule in ("meter-slow", "falls"):
        return True
    cause = likeliest_of(result)
    if cause is None or cause.probability < (result.costs or COSTS).likely or not (cause.kwh or 0.0) < 0.0:
        return False
    return cause.code in ("meter-low", *LASTING_FALLS)


def _rather_slow(result: Reconciliation) -> bool:
    """Whether a slow meter is the likelier, and no longer what is usual of meters, or what is asked where use fell."""
    slow, fast = result.verdict.meter_slow_probability or 0.0, result.verdict.meter_fast_probability or 0.0
    return slow > fast and (slow >= OFTEN or falls_lead(result))


def _slow(result: Reconciliation) -> bool:
    """Whether the meter is rather slow than not: a chance that it is fast would then hide the answer."""
    return (result.verdict.meter_slow_probability or 0.0) >= EVEN


def figures_beside(result: Reconciliation) -> list[tuple[str, str]]:
    """Return the figures beside the answer, each with what it is."""
    ways = _NEWS if result.verdict.over.bills else (*_NEWS[:1], *_CALM, *_NEWS[1:])
    first = next((told for way in ways if (told := way(result))), _over(result))
    return [(size, what) for size, what in (*first, _of_the_meter(result)) if size != NOTHING]


Beside = list[tuple[str, str]]


def _over(result: Reconciliation) -> Beside:
    """What the bills marked high are over, or the low ones under; that none is high only where no rise is open, and no
    reading in doubt.
    """
    three, rise = three_figures(result), lasting_rise(result)
    if result.verdict.over.bills or tells_less(result):
        return [(three["kwh"], three["side"]), (three["money"], three["side"])]
    doubt = any(f.asks and only_moves(f) for f in result.findings)
    return [NO_BILL] if not doubt and (rise is None or not rise.kwh) else []


def _rise(result: Reconciliation) -> Beside:
    """A rise that the answer tells: one that it leaves open is no figure beside it."""
    rise, voice = lasting_rise(result), result.voice
    if rise is None or not rise.kwh or not _tells(result, rise):
        return []
    name, chance = NAMES.get(rise.code, rise.code), voice.chance_percent(rise.probability)
    return [(f"{voice.figure(rise.kwh)} kWh", f"more in all, if it is {name} ({chance})")]


def _missing(result: Reconciliation) -> Beside:
    """What the list lacks."""
    missing, voice = short_list(result), result.voice
    if missing is None or result.verdict.meter_open:
        return []
    low, high = missing.size_low or 0.0, missing.size_high or 0.0
    size = size_text(missing.size or 0.0, missing.unit, (high - low) / 2.0, voice)
    chance = voice.chance_percent(missing.probability)
    return [(size, f"on average, not on the list ({chance}) [{voice.between(low, high, missing.unit)}]")]


def _new_counts(result: Reconciliation) -> Beside:
    """How far two meters disagree."""
    news, voice = _two_meters(result), result.voice
    return [] if news is None else [(voice.percent(news["percent"]), voice.fill(NEW_COUNTS, news))]


def _by_the_run(result: Reconciliation) -> Beside:
    """What a meter found fast has on these bills."""
    proved = _proved(result)
    return [] if proved is None else [(proved, "more on these bills, by the meter found fast")]


def _others(result: Reconciliation) -> Beside:
    """What bills charge that may be of another home's meter."""
    others = next((f for f in result.findings if f.key in OTHERS), None)
    if others is None:
        return []
    return [(f"{result.voice.figure(sum(result.rows[i].billed_kwh or 0.0 for i in others.periods))} kWh", OF_WHOM)]


def _by_the_multiplier(result: Reconciliation) -> Beside:
    """What a multiplier would have made, where the bills marked high tell less."""
    times = sum(f.kwh for f in result.findings if f.code == "multiplier" and f.settles and f.asks and f.kwh)
    over = result.verdict.over
    return [(result.voice.kwh(times), IN_QUESTION)] if times > (over.kwh if over.bills else 0.0) else []


def _on_the_wrong_bill(result: Reconciliation) -> Beside:
    """What a misread reading put on one bill instead of another, where no bill is marked high by more."""
    moved = max((moved_kwh(f) for f in result.findings if f.asks), default=0.0)
    return [(f"{result.voice.figure(moved)} kWh", WRONG_BILL)] if moved > max(result.verdict.over.kwh, 0.0) else []


def _beyond_the_tariff(result: Reconciliation) -> Beside:
    """What bills ask beyond the tariff, where those marked high are over by less."""
    asked = {i for f in result.findings if f.asks and f.code in OF_THE_AMOUNT for i in f.periods}
    told = () if result.money is None else result.money.recomputed
    more = sum(
        (r.difference for r in told if r.period in asked and r.difference and r.difference > 0), start=Decimal(0)
    )
    over = result.verdict.over.amount or Decimal(0)
    return [(result.voice.about_money(more), BEYOND_TARIFF)] if more > over else []


OF_THE_AMOUNT = ("amount-mismatch", "unit-price", "other-charge", "budget-settlement")
"""Findings of amounts that are not the price of their kWh."""

_NEWS = (_by_the_run, _others, _by_the_multiplier, _on_the_wrong_bill, _beyond_the_tariff)
"""Figures that come before what the bills marked high are over, the first that there is."""
_CALM = (_new_counts, _missing, _rise)
"""The same where no bill is high."""


def _of_the_meter(result: Reconciliation) -> tuple[str, str]:
    """What is known of the meter: its chance to be wrong, or what could hide."""
    verdict, slow = result.verdict, _rather_slow(result)
    seen = verdict.could_hide.percent
    if not (tells_of_meter(verdict.meter_line) or slow) and verdict.over.bills + len(result.causes):
        what = "of any ordinary size" if seen is None or seen >= TWICE else f"under {result.voice.percent(seen)}"
        return METER_HIDDEN[0], METER_HIDDEN[1].format(of=what)
    if verdict.meter_open and result.field_test is None:
        return METER_OPEN
    three = three_figures(result)
    return three["meter"], three["of"] + (BY_ONE_RUN if _by_one_run(result) else "")


def _tells(result: Reconciliation, rise: Cause) -> bool:
    """Whether the answer speaks of a rise: where nothing is to be looked at, only of one that it tells."""
    calm = result.verdict.decision in (Decision.EXPLAINED, Decision.PAPERWORK)
    named = NAMES.get(rise.code, rise.code)
    return not calm or any(said in result.verdict.headline for said in (rise.text, named))


def _two_meters(result: Reconciliation) -> Words | None:
    """Figures of the news that two meters disagree, where the answer tells it."""
    verdict, test = result.verdict, result.field_test
    exchange, fast = verdict.meters_disagree_probability, verdict.meter_fast_probability
    settled = test is not None and test.registration is not None and test.registration.zone == "inside"
    if exchange is None or fast is None or settled or verdict.rule not in TELLS_EXCHANGE:
        return None
    return exchange_news(result.causes, exchange, fast, result.costs or COSTS)


SURELY_DATED = 0.9
"""Part of the chance of a fast meter that must lie with one that turned fast within these bills before a date is told
as the day it began (our choice)."""


def since_open(result: Reconciliation) -> bool:
    """Whether the bills do not tell since when: a fast meter may as well have been so before the first of them, a slow
    one on any day of most of them.
    """
    slow = next((c for c in result.causes if c.code == "meter-low"), None)
    if _slow(result) and slow is not None:
        return slow.since is None or _anywhere(result, slow)
    begun, always = (
        sum(cause.probability for cause in result.causes if cause.code == code)
        for code in ("meter-step", "meter-always")
    )
    return always > 0.0 and begun < SURELY_DATED * (begun + always)


MOST_OF_THE_BILLS = 0.5
"""Part of the days of the bills within which a cause may have begun from which its date is told to nobody else (our
choice: as likely as not it is another)."""


def _anywhere(result: Reconciliation, cause: Cause) -> bool:
    """Whether a cause may have begun on any day of most of the bills."""
    if cause.since_low is None or cause.since_high is None:
        return False
    days = (result.rows[-1].end - result.rows[0].start).days
    return (cause.since_high - cause.since_low).days > MOST_OF_THE_BILLS * days


def _proved(result: Reconciliation) -> str | None:
    """Energy and money of a meter that a known load showed fast, where the bills marked high tell less."""
    stakes = () if result.money is None or result.verdict.rule != "run-outside" else result.money.stakes
    of = [one for one in stakes if one.code in ("meter-step", "meter-always")]
    if not of or (one := mean_of(of)).kwh <= result.verdict.over.kwh:
        return None
    voice, limits = result.voice, one.kwh_limits or (one.kwh, one.kwh)
    if len(of) > 1 and since_open(result):  # a mean of the two would be true of neither
        low, high = (voice.figure(end) for end in limits)
        amounts = [stake.amount for stake in of if stake.amount is not None]
        ends = (voice.about_money(min(amounts)), voice.about_money(max(amounts))) if len(amounts) == len(of) else ()
        return f"{low} to {high} kWh ({'' if not ends else ' to '.join(ends) + '; '}{SINCE_OPEN})"
    energy = voice.kwh(one.kwh, doubt=max(abs(limits[1] - limits[0]) / 2.0, 1.0))
    return energy if one.amount is None else f"{energy} ({voice.about_money(one.amount)})"


def since_line(result: Reconciliation, *, whole: bool = False) -> str:
    """The reason for asking about a meter, where the bills marked high say less than half of it; or in any case."""
    if not {"meter-test", "old-meter-test"} & set(result.verdict.requests):
        return ""
    fast = next((c for c in result.causes if c.code == "meter-step"), None)
    if fast is not None and not whole and (result.verdict.over.kwh or 0.0) >= 0.5 * abs(fast.kwh or 0.0):
        return ""
    slow = next((c for c in result.causes if c.code == "old-meter-slow"), None)
    less = next((c for c in result.causes if c.code == "meter-low"), None)
    if _slow(result) and less is not None and less.size:
        if since_open(result) and result.verdict.rule == "run-outside":
            return SINCE["low-known"]
        least, most = sorted(abs(x) for x in (less.size_low or less.size, less.size_high or less.size))
        key = "low-open" if since_open(result) else "low"
        return _since_told(result, key, less.since, (abs(less.size), least, most))
    if fast is None or fast.since is None or not fast.size:
        return ""
    key, told = "meter", [fast.size, fast.size_low, fast.size_high]
    if slow is not None and "old-meter-test" in result.verdict.requests:
        key = "exchange"
        if slow.probability > fast.probability and slow.size:
            sizes = (slow.size, slow.size_low, slow.size_high)
            told = [None if x is None else 100.0 * x / max(100.0 - x, 1.0) for x in sizes]
    size, low, high = told
    if size is None or low is None or high is None:
        return ""
    if key == "meter" and since_open(result):
        return SINCE["open"]
    since = fast.since if key == "meter" or slow is None or slow.turn is None else slow.turn
    return _since_told(result, key, since, (abs(size), low, high))


def _since_told(result: Reconciliation, key: str, since: date | None, sizes: tuple[float, float, float]) -> str:
    """Say a size with its limits, to its doubt, and by what it is seen: the bills, or hours where they could not."""
    (size, low, high), voice = sizes, result.voice
    doubt, hides = (high - low) / 2.0, result.verdict.could_hide.percent
    hours = result.interval is not None and hides is not None and size < hides
    said = {"size": voice.percent(size, doubt=doubt), "low": voice.number(low, step_of(doubt))}
    what = voice.of_readings("hourly readings") if hours else "bills"
    said |= {"high": voice.number(high, step_of(doubt)), "what": what}
    return voice.fill(SINCE[key], {"since": since, **said})


def price_line(result: Reconciliation) -> str:
    """The reason for asking which rate applies."""
    if "which-rate" not in result.verdict.requests:
        return ""
    return rise_sentence(price_rise(result.findings), result.voice)


def runs_first(result: Reconciliation) -> bool:
    """Whether more runs must agree before a test of the meter is asked for."""
    return result.verdict.rule in ("run-outside", "run-open") and any(
        step.code in ("run-again", "register-run", "known-load") and not step.optional
        for step in result.verdict.next_steps
    )


def _by_one_run(result: Reconciliation) -> bool:
    return result.verdict.rule == "run-outside" and any(step.code == "run-again" for step in result.verdict.next_steps)


def decision_name(result: Reconciliation) -> str:
    """What the decision is called: nothing reassuring over a rise that is told, or where the bills cannot tell."""
    verdict = result.verdict
    name = str(verdict.decision)
    if verdict.blind or (verdict.rule == "explained" and verdict.cannot_tell):
        name = "cannot-tell"
    elif verdict.rule == "explained" and BELOW_LIST in verdict.headline:
        name = "below-list"
    elif verdict.rule == "explained" and used_more(result):
        name = "rise-explained"
    elif verdict.rule == "explained" and (fell(result) or verdict.under.bills):
        name = "fell"
    elif verdict.rule == "explained" and lasting_rise(result) is not None:
        name = "cannot-tell"
    elif verdict.rule == "explained" and "which-rate" in verdict.requests:
        name = "price-rose"
    elif verdict.rule == "explained" and short_list(result) is not None:
        name = "list-differs" if too_large(result.loads) else "list-short"
    elif verdict.rule == "explained" and verdict.requests:
        name = "find-out"
    elif runs_first(result):
        name = "run-first"
    elif verdict.rule == "equipment":
        name = verdict.rule
    elif verdict.rule in OF_A_READING:
        name = "odd-reading"
    return spoken(name, DECISIONS)


OF_A_READING = ("moved", "odd-bill")
"""Rules by which a reading may be off: the bills suggest it, and no record shows it."""


def likeliest_of(result: Reconciliation) -> Cause | None:
    """The likeliest cause of all."""
    return max((c for c in result.causes if c.code != "none"), key=lambda c: c.probability, default=None)


def lasting_rise(result: Reconciliation) -> Cause | None:
    """The likeliest cause of all, where it is a rise that is worth a look and no bill alone shows it."""
    likeliest = likeliest_of(result)
    if likeliest is None or likeliest.probability < (result.costs or COSTS).look_at or not (likeliest.kwh or 0.0) > 0:
        return None
    return None if likeliest.code == "unlisted" else likeliest


def fell(result: Reconciliation) -> bool:
    """Whether less is likely used, or counted, for good, and the household is asked what ended."""
    return any(step.code == "ended" for step in result.verdict.next_steps)


def used_more(result: Reconciliation) -> bool:
    """Whether more was used than usual: bills are high, or a rise is more likely than not."""
    rise = lasting_rise(result)
    return bool(result.verdict.over.bills) or (rise is not None and rise.probability >= (result.costs or COSTS).likely)


def short_list(result: Reconciliation) -> Cause | None:
    """Loads missing from the list, where that is the likeliest of all and more likely than not: no rise, no calm."""
    likeliest = likeliest_of(result)
    if likeliest is None or likeliest.code != "unlisted" or likeliest.probability < (result.costs or COSTS).likely:
        return None
    return likeliest if (likeliest.kwh or 0.0) > 0 else None


def field_line(result: Reconciliation) -> str:
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
