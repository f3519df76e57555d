"""The rules of speech, each as a check of one answer in every form it takes; returns what breaks them.

Rules: S1 all clear only where nothing speaks against it; S2 one reading of a bill; S3 chance first; S4 the question
people come with is answered; S5 rivals that mean the same act are added; S6 a step belongs to a cause; S7 the cheap
decisive check is offered; S8 checks close only what they can close; S9 site verdict and decision agree; S10 the letter
asks what the steps ask; S11 danger first; S14 one form of a number; S15 no code name on a page; S16 no
calm over a rise; S17 one level; S18 nothing said that is of no use; S19 sums that meet are explained; S20 a difference
under the load list is what is said of it; S21 no step goes to the meter without its cautions; S22 the diary is quoted;
S23 what the records show of most money leads; S24 a fall that is told asks what ended; S25 a step that may be left out
is never the first of others; S26 what asks for nothing, and the answer does not tell, is no figure beside it. S12 and
S13 compare two answers and stand in the tests themselves.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from dataclasses import dataclass

from reconcile.costs import COSTS
from reconcile.grounds.load_shares import OF_THE_LIST
from reconcile.plan.first import FIRST_LOOKS
from reconcile.plan.situation import LASTING_FALLS
from reconcile.plan.worth import Check
from reconcile.report.pages.html import laid_out
from reconcile.report.pages.letter import letter_text
from reconcile.report.screens.terminal import terminal_text
from reconcile.report.views.asking_view import phone_lines
from reconcile.report.views.first_view import causes_told, decision_name, figures_beside, lasting_rise
from reconcile.report.views.letter_view import letter
from reconcile.report.views.loads_view import loads_apart, loads_sum
from reconcile.report.views.view import NOTHING_KWH, view
from reconcile.result import Reconciliation
from reconcile.say import CHANCE_WORDS, NOTHING
from reconcile.texts.cause_words import NAMES
from reconcile.texts.danger_signs import DANGER
from reconcile.texts.field.field_test import places, registration_words
from reconcile.texts.findings import finding_text
from reconcile.texts.headline_parts import DESK
from reconcile.texts.labels import DECISIONS, SIGNS
from reconcile.texts.meter_words import tells_of_meter
from reconcile.texts.page_words import BY_ONE_RUN, NO_BILL
from reconcile.texts.phone import IF_AGREED
from reconcile.texts.requests import request
from reconcile.texts.step_words import NAMED

ALL_CLEAR = ("Every bill is what this house",)
CANNOT = "cannot tell yet"
CODES = re.compile(
    r"\b(outside-check|not-enough-data|field-test(?!\.| sheet)|meter-(step|always|low)|old-meter-slow|constant-load|"
    r"timed-load|habit-step|(heating|cooling)-(rise|fall)|single-period|load-gone|reading-slip|estimated-read|"
    r"cannot-tell|not-judged)\b|\[\[|\bpart_of\b|\busual_kwh\b"
)
ISO = re.compile(r"\b\d{4}-\d{2}-\d{2}\b")
IDLE = re.compile(r"(?<![\d.,])[−-]0(?:\.0+)?(?![\d.,])")
SIGN = {"USD": "$", "EUR": "€", "GBP": "£"}


@dataclass(frozen=True)
class Broken:
    """One sentence about one rule that an answer breaks."""

    rule: str
    what: str


def broken(result: Reconciliation) -> list[Broken]:
    """Return everything that an answer breaks."""
    return [Broken(rule, what) for rule, check in CHECKS.items() for what in check(result)]


def text_of(page: str) -> str:
    """Words of a page as a person reads them."""
    bare = re.sub(r"<(style|head|script)\b.*?</\1>", " ", page, flags=re.S)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", bare)).replace("\xa0", " ").split())


NO_PICTURE = dict.fromkeys(("wide", "narrow", "alt"), "")


def page_text(result: Reconciliation) -> str:
    """Words of the page, without its pictures."""
    named = ("bills", "excess", "causes", "loads", "visible_meter", "visible_watts")
    return text_of(laid_out(result, dict.fromkeys(named, NO_PICTURE)))


def _meter(result: Reconciliation) -> float:
    verdict = result.verdict
    return (verdict.meter_fast_probability or 0.0) + (verdict.meter_slow_probability or 0.0)


def _chance(result: Reconciliation, *codes: str) -> float:
    return sum(c.probability for c in result.causes if c.code in codes)


def _run_zone(result: Reconciliation) -> str:
    test = result.field_test
    if test is None or test.registration is None:
        return ""
    return str(test.registration.zone)


def _settled_all(result: Reconciliation) -> bool:
    outside = {i for i, row in enumerate(result.rows) if row.flag in ("over", "under")}
    covered = {i for f in result.findings if f.settles for i in f.periods}
    judged = sum(row.flag != "not-judged" for row in result.rows)
    whole = any(f.settles and len(f.periods) >= 0.8 * max(judged, 1) for f in result.findings)
    return bool(covered) and (whole or (bool(outside) and outside <= covered))


def all_clear(result: Reconciliation) -> Iterator[str]:
    verdict = result.verdict
    none = next((c.probability for c in result.causes if c.code == "none"), 0.0)
    marked = [row for row in result.rows if row.flag in ("over", "under")]
    if verdict.headline.startswith(ALL_CLEAR) or "Every bill is within" in verdict.headline:
        if marked:
            yield f"all clear over {len(marked)} bills outside their range"
        if verdict.headline.startswith(ALL_CLEAR):
            if none < 0.5:
                yield f"all clear with none at {none:.2f}"
            if any(f.asks or f.settles for f in result.findings):
                yield "all clear over an open fact"
        if _run_zone(result) == "outside":
            yield "all clear against a reading on site"
    stands = bool(marked) or (bool(result.causes) and none < 0.5)
    top = max((c.probability for c in result.causes if c.code != "none"), default=0.0)
    unsettled = result.causes and stands and not _settled_all(result) and top < 0.5
    if verdict.cannot_tell != bool(unsettled):
        yield f"cannot_tell is {verdict.cannot_tell}, top cause {top:.2f}, none {none:.2f}"
    plain = verdict.rule not in ("danger", "too-few", "few-and-settled", "run-outside")
    told = CANNOT in verdict.headline or "disagree" in verdict.headline or "stand" in verdict.headline
    if unsettled and plain and not told and verdict.rule not in ("main-off-counts", "above-list", "below-list"):
        readings = "cannot clear" in verdict.headline or "If nobody was at home" in verdict.headline
        diary = "diary" in verdict.headline
        if not readings and not diary:
            yield f"does not say that it cannot tell: {verdict.headline[:90]}"


def one_reading(result: Reconciliation) -> Iterator[str]:
    for row in result.rows:
        if row.flag == "not-judged":
            continue
        low, high, billed = row.usual_low_kwh, row.usual_high_kwh, row.billed_kwh
        if low is None or high is None or billed is None:
            yield f"{row.start}: judged without limits"
            continue
        wanted = "over" if billed > high else "under" if billed < low else "within"
        if row.flag != wanted:
            yield f"{row.start}: {row.flag} but {billed} in {low} to {high}"
        if row.part_of is not None and not 0 <= row.part_of < len(result.causes):
            yield f"{row.start}: part of no cause"
    rows = view(result)["periods"]
    shown = [row for row, own in zip(rows, result.rows, strict=True) if own.flag == "over"]
    over = result.verdict.over
    if over.bills != len(shown):
        yield f"{over.bills} bills over, the table marks {len(shown)}"
    if result.house.locale == "en_US":
        kwh = sum(_number(row["excess"]) for row in shown)
        if abs(kwh - over.kwh) > 1e-6:
            yield f"{over.kwh} kWh over, the table adds up to {kwh}"
        amounts = [row["amount"] for row in shown]
        if over.amount is not None and all(amounts):
            money = sum(_number(amount) for amount in amounts)
            if abs(money - float(over.amount)) > 1e-6:
                yield f"{over.amount} over, the table adds up to {money}"
    if shown and result.verdict.decision != "urgent":
        said = re.match(r"(\d+) bills? from|The bill of", result.verdict.headline)
        count = int(said[1]) if said and said[1] else 1 if said else None
        if count is not None and count != over.bills and "under what" not in result.verdict.headline:
            yield f"the headline counts {count}, the table {over.bills}"


def _number(text: str) -> float:
    digits = re.sub(r"[^\d.]", "", text) or "0"
    return -float(digits) if "−" in text else float(digits)


_FIRST = tuple(word.capitalize() for _, word in CHANCE_WORDS)


def chance_first(result: Reconciliation) -> Iterator[str]:
    for cause in result.causes:
        if not cause.text.startswith(_FIRST) or "(" not in cause.text.split(",")[0]:
            yield f"chance is not first: {cause.text}"
    said = terminal_text(result, 200)
    for word in ("refund", "proved", "definitely"):
        if word in said.casefold() and word != "refund":
            yield f"says {word!r} of an inference"


def question_answered(result: Reconciliation) -> Iterator[str]:
    line = result.verdict.meter_line
    if not line.startswith("Is the meter fast?"):
        yield f"no answer to the question: {line}"
    if line not in result.verdict.reasons and result.verdict.decision != "urgent":
        yield "the answer to the question is not among the reasons"
    slow = result.verdict.meter_slow_probability or 0.0
    if slow >= 0.5 and not result.verdict.meter_open and not re.search("slow|too little", line):
        yield f"a meter that is slow ({slow:.2f}) is not told: {line[:80]}"
    test, hides = result.field_test, result.verdict.could_hide
    read = test is not None and test.registration is not None and not test.doubtful
    right = read and abs(test.registration.percent - 100.0) <= test.registration.expanded_percent
    if (
        (hides.by != "bills" or (right and result.causes))
        and not tells_of_meter(line)
        and (hides.percent or 99.0) < 25.0
    ):
        yield "the bills alone are said to leave what a run or equal steps do not"
    if (
        right
        and result.causes
        and (hides.percent is None or hides.percent > 2.0 * test.registration.expanded_percent + 2.0)
    ):
        yield f"{hides.percent} % is said to hide beside a test good to {test.registration.expanded_percent:.1f} %"
    seen = result.verdict.smallest_visible_meter_error_percent
    if seen is not None and (hides.percent is None or hides.percent > seen):
        yield "more is said to hide than the bills leave"
    if (
        result.causes
        and result.verdict.meter_fast_probability is None
        and any(r.flag != "not-judged" for r in result.rows)
    ):
        yield "bills were judged and the chance of a fast meter is not given"


def rivals_added(result: Reconciliation) -> Iterator[str]:
    fast, slow = _chance(result, "meter-step"), _chance(result, "old-meter-slow")
    if min(fast, slow) < 0.05 or max(fast, slow) >= 0.5 or fast + slow < 0.55 or _run_zone(result) == "inside":
        return
    verdict = result.verdict
    if verdict.decision in ("explained", "inventory", "not-enough-data"):
        yield f"{verdict.decision} with {fast:.2f} and {slow:.2f} for one exchange"
    if verdict.decision == "outside-check" and "disagree" not in verdict.headline:
        yield f"the news is not told first: {verdict.headline[:90]}"


def step_belongs(result: Reconciliation) -> Iterator[str]:
    yield from _settling_first(result)
    verdict, steps = result.verdict, {step.code: step for step in result.verdict.next_steps}
    if "meter-test" in steps and _meter(result) < COSTS.open_at and _run_zone(result) != "outside":
        yield f"a meter test is asked for at a meter chance of {_meter(result):.3f}"
    if verdict.decision == "outside-check" and _chance(result, "constant-load") >= 0.5:
        cause = next(c for c in result.causes if c.code == "constant-load")
        leading = max((c for c in result.causes if c.code != "none"), key=lambda c: c.probability)
        if cause.since is not None and leading is cause and not {"began", NAMED, "other-home", "done"} & set(steps):
            yield "a dated load, and nobody is asked what began then"
        if "breakers" not in steps:
            yield "a round-the-clock load without the search of its circuit"
    if "download" in steps and result.house.interval is not None:
        yield "asks for a download that is there"
    if result.verdict.decision != "urgent":
        yield from _said_on_the_page(result)
    if "known-load" in steps and _run_zone(result) in ("inside", "outside"):
        yield "asks for a run that settled the question"
    today = bool(verdict.next_steps) and verdict.next_steps[0].code in FIRST_LOOKS
    hazards = [int(step.hazard) for step in verdict.next_steps[today:] if not step.optional]
    if hazards != sorted(hazards):
        yield f"hazards out of order: {hazards}"
    if verdict.decision != "urgent" and not verdict.next_steps:
        yield "no step at all"
    untold = not re.search("disagree|under", verdict.headline)
    if verdict.rule == "meter-slow" and verdict.under.bills and untold:
        yield f"a slow meter without the low bills: {verdict.headline[:80]}"
    count = [step for step in verdict.next_steps if not step.optional]
    if any("next step" in one.then for step in count[-1:] for one in step.would_show):
        yield "the last step that counts goes on to a next one"
    for step in verdict.next_steps:
        if step.code in {check.value for check in Check} and not step.would_show:
            yield f"{step.code} does not say what it would show"
        if step.code in {check.value for check in Check} and step.minutes <= 0:
            yield f"{step.code} takes no time"


def _settling_first(result: Reconciliation) -> Iterator[str]:
    """What settles most for this cause comes first: not the temperatures at an exchange or a misread bill."""
    verdict, test = result.verdict, result.house.field_test
    codes = [step.code for step in verdict.next_steps if not step.optional]
    generic = ("more-weather", "download", "more-loads", "more-bills")
    if not codes:
        return
    if "disagree" in verdict.headline and {"exchange-readings", "old-meter-test"} & set(codes) and codes[0] in generic:
        yield f"{codes[0]} before the removed meter's own readings and record"
    if verdict.rule == "odd-bill" and codes[0] in generic:
        yield f"{codes[0]} before what would settle one odd bill"
    if verdict.rule == "run-outside" and test is not None and test.once and "by_load" not in verdict.meter_line:
        known = any(step.code == "run-again" for step in verdict.next_steps)
        if known and "twice more" not in verdict.headline:
            yield "one run alone, and the answer does not say to make it again"
        if known:
            yield from _test_waits(result)


def _test_waits(result: Reconciliation) -> Iterator[str]:
    """A test that waits for more runs waits wherever the page speaks of it."""
    words = view(result)
    asks = [line for line in words["phone"] if "test the meter that serves" in line]
    if "Not yet" not in words["complain"] or not all(line.startswith(IF_AGREED) for line in asks):
        yield "what to say asks for a test before the runs agree"
    if words["decision"] != DECISIONS["run-first"] or "is warranted where they agree" not in page_text(result):
        yield "a test is warranted before the runs agree"
    if not any(what.endswith(BY_ONE_RUN) for _, what in figures_beside(result)):
        yield "the chance beside the answer does not say that one run gave it"


def _said_on_the_page(result: Reconciliation) -> Iterator[str]:
    """Every step, every request and the answer stand on the page; cautions stand before their step."""
    page = page_text(result)
    plain = " ".join(result.verdict.headline.replace("\xa0", " ").split())
    if plain not in page:
        yield "the page does not open with the answer"
    _, _, steps = page.partition("What to do next")
    for step in result.verdict.next_steps:
        text = " ".join(step.text.replace("\xa0", " ").split())
        at = steps.find(text)
        if at < 0:
            yield f"the page leaves out a step: {step.code}"
        for caution in step.cautions:
            if not 0 <= steps.find(" ".join(caution.replace("\xa0", " ").split())) < at:
                yield f"a caution of {step.code} does not stand before it"
    for line in letter(result)["requests"]:
        if " ".join(line[1:].replace("\xa0", " ").split()) not in page:
            yield "the page leaves out a request of the letter"


def cheap_check(result: Reconciliation) -> Iterator[str]:
    verdict = result.verdict
    seen = verdict.smallest_visible_meter_error_percent
    if verdict.decision == "urgent" or (seen is not None and seen <= 4.0) or verdict.rule == "main-off-counts":
        return  # nothing is switched or run before the utility was there
    codes = {step.code for step in verdict.next_steps}
    offered = " ".join(step.text for step in verdict.next_steps)
    if "known-load" not in codes and "plug-in" not in offered and _run_zone(result) not in ("inside", "outside"):
        yield "the known-load run is not offered"
    if _run_zone(result) in ("inside", "outside"):
        return  # a run has told the meter
    if "download" not in codes and "hourly" not in offered and result.house.interval is None:
        yield "the hourly download is not offered"


def closes_what_it_can(result: Reconciliation) -> Iterator[str]:
    test = result.house.field_test
    if test is None or not (test.quiet or test.main_off or test.runs) or result.verdict.decision == "urgent":
        return
    if _run_zone(result) in ("inside", "outside") or not result.causes or result.verdict.rule == "main-off-counts":
        return
    if _meter(result) >= COSTS.open_at:
        if result.verdict.decision in ("explained", "inventory", "not-enough-data"):
            yield f"{result.verdict.decision} with a meter chance of {_meter(result):.2f} and no run"
        codes = {step.code for step in result.verdict.next_steps}
        if result.verdict.decision == "outside-check" and "known-load" not in codes:
            yield "the missing known-load run is not named"


def site_agrees(result: Reconciliation) -> Iterator[str]:
    zone, verdict = _run_zone(result), result.verdict
    if zone == "outside" and verdict.decision not in ("field-test", "urgent"):
        yield f"outside on site, {verdict.decision} in the answer"
    if verdict.field_test_warranted != (verdict.decision == "field-test"):
        yield "warranted and decision disagree"
    if zone == "outside" and verdict.decision == "field-test":
        found = result.field_test.registration
        step = places(found.expanded_percent)
        off = result.voice.number(abs(found.percent - 100.0), step)
        if f"{off} %" not in verdict.headline:
            yield f"the headline does not carry the {off} % of the test: {verdict.headline[:90]}"
        said = letter_text(result)
        whole, _ = registration_words(result.voice, found)
        if whole not in said:
            yield f"the letter leaves out the test at {whole} %"


def letter_asks(result: Reconciliation) -> Iterator[str]:
    said = letter(result)
    if len(said["requests"]) != len(result.verdict.requests):
        yield f"the letter asks {len(said['requests'])} things, the steps {len(result.verdict.requests)}"
    flat = " ".join(letter_text(result).split())
    figures = {key: f.figures for f in reversed(result.findings) for key in f.asks}
    for key in result.verdict.requests:
        # the bills whose readings are asked about are named by the letter itself
        for part in request(key).letter.split("{which}"):
            line = result.voice.fill(part, figures.get(key, {}))
            if " ".join(line.split()) not in flat:
                yield f"the letter leaves out {key}"
    if not said["requests"] and "I ask you to" in flat:
        yield "the letter asks without a request"
    desk = DESK in result.verdict.headline
    if desk and not said["requests"]:
        yield "the headline sends to the billing desk, the letter asks nothing"


def danger_first(result: Reconciliation) -> Iterator[str]:
    found = result.house.dangers or (result.field_test is not None and result.field_test.dangers)
    if not found:
        return
    if result.verdict.decision != "urgent":
        yield f"a danger, and the answer is {result.verdict.decision}"
    if any(step.code != "stop" for step in result.verdict.next_steps):
        yield "a step that is not stopping"
    if not letter_text(result).startswith("Stop"):
        yield "the letter does not open with the danger"
    for sign in result.house.dangers:
        if SIGNS[sign] not in result.verdict.headline:
            yield f"the headline does not name {sign}"
    if not result.verdict.reasons or not result.verdict.reasons[0].startswith(tuple(d.sign for d in DANGER.values())):
        yield "the reasons do not begin with the sign"
    page = page_text(result)
    if not page.startswith("Danger Stop") or "What to do next" in page or "Do this first" in page:
        yield "the page does not open with the danger, or goes on with steps"


def one_form(result: Reconciliation) -> Iterator[str]:
    said = " ".join((terminal_text(result, 200), letter_text(result), page_text(result)))
    names = " ".join(load.name for load in result.house.loads) + " ".join(b.note for b in result.house.bills)
    names += " ".join(result.house.notices)  # how a file was read is shown in its own words
    for found in ISO.findall(said):
        if found not in names:
            yield f"an ISO date in a sentence: {found}"
    if IDLE.search(said):
        yield f"a nought with a sign: {IDLE.search(said)}"  # type: ignore[str-bytes-safe]
    sign = SIGN.get(result.house.currency)
    if sign != "$" and re.search(r"(?<![A-Z])\$\d", said):
        yield "dollars in a house of another currency"
    if sign is not None and re.search(rf"\d\s?{result.house.currency}\b", said):
        yield f"{result.house.currency} beside its own sign"
    if NOTHING + " kWh" in said:
        yield "an unknown figure in a sentence"
    if re.search(r"\bnan\b|\binf\b|\bNone\b", said):
        yield "a figure that is not there"


def no_code(result: Reconciliation) -> Iterator[str]:
    said = " ".join((terminal_text(result, 200), letter_text(result), page_text(result), *result.verdict.reasons))
    found = CODES.search(said)
    if found:
        yield f"a code name on the page: {found[0]}"
    if re.search(r"\{\w*(:\w+)?\}", said):
        yield "an unfilled place in a sentence"


REASSURES = ("Nothing out of the ordinary", "nothing to complain about", "Nothing needs to be done")


def no_calm_over_a_rise(result: Reconciliation) -> Iterator[str]:
    """Nothing reassuring stands over bills told to be high, over a rise that is told, or over an open cause."""
    rise = lasting_rise(result)
    open_yet = [c for c in result.causes if c.code not in ("none", "unlisted") and (c.kwh or 0.0) > 0.0]
    if rise is not None or result.verdict.over.bills or any(c.probability >= 0.25 for c in open_yet):
        said = " ".join([*phone_lines(result), *(step.text for step in result.verdict.next_steps)])
        for word in REASSURES[1:]:
            if word in said:
                yield f"{word!r} over bills that are high, a rise, or an open cause"
    weather = _chance(result, "heating-rise", "cooling-rise")
    if (
        result.verdict.rule == "explained"
        and weather >= 1.05 * COSTS.measure_at
        and "diary" not in result.verdict.headline
    ):
        yield f"explained, with heating or cooling likely more ({weather:.2f})"
    if not (result.verdict.over.bills or rise is not None) or result.verdict.decision == "urgent":
        return
    if decision_name(result) == REASSURES[0]:
        yield f"{REASSURES[0]!r} over a rise"
    if rise is not None and NO_BILL in figures_beside(result):
        yield "no bill alone is high, beside a rise"
    if result.verdict.headline.startswith("Your diary"):
        yield "the headline does not say what the diary tells of"


def one_level(result: Reconciliation) -> Iterator[str]:
    """How far the bills stand from the list is told as the table of loads has it."""
    said = next((r for r in result.verdict.reasons if r.startswith("All bills together are about")), "")
    sums = loads_sum(result)
    if not said or not sums or result.house.locale != "en_US":
        return
    listed, billed = _number(sums[0]["listed"]), _number(sums[1]["listed"])
    percent = float(re.search(r"about ([\d,.]+) %", said)[1].replace(",", ""))  # type: ignore[index]
    signed = percent if " above " in said else -percent
    apart = 100.0 * (billed / listed - 1.0)
    if (
        abs(signed - apart) > 0.56  # a whole per cent, as both sums stand on the page
        and not result.house.generation
    ):
        yield f"told {signed} %, the table of loads gives {apart:.2f} %"


def difference_said(result: Reconciliation) -> Iterator[str]:
    """What lies under the load list is what is said of it: causes by their chances, bills left out, and rounding."""
    sums = loads_sum(result)
    if not sums or result.house.locale != "en_US":
        return
    apart = _number(sums[2]["with_bills"])
    parts = [_number(kwh) for kwh in re.findall(r"([+−]?[\d,]+) kWh", loads_apart(result))]
    if abs(apart - sum(parts)) > 5.0 * len(result.loads) + 2.0:
        yield f"{apart} kWh apart under the load list, and {parts} are told of it"
    whole = all(row.flag != "not-judged" and row.billed_kwh is not None for row in result.rows)
    if whole and len(parts) > 1 and not result.house.generation and not any(f.settles for f in result.findings):
        yield f"{parts[1]} kWh are told of bills left out, and none is"
    causes = sum(c.probability * (c.kwh or 0.0) for c in result.causes if c.code not in OF_THE_LIST)
    if abs(parts[0] - causes) > 1.0:
        yield f"causes add {causes} kWh by their chances, {parts[0]} is told"


def worth_saying(result: Reconciliation) -> Iterator[str]:
    """No benefit is told that is none, and what may hide is told in plain words."""
    for measure in view(result)["measures"]:
        told = [float(x.replace(",", "")) for x in re.findall(r"about ([\d,.]+) %", measure["then"])]
        if told and (told[0] > 50.0 or (len(told) > 1 and told[0] > 0.95 * told[1])):
            yield f"no benefit: {measure['then']}"
    said = " ".join((terminal_text(result, 200), page_text(result)))
    for word in ("Nine times in ten", "to within about", "trues up", "trues it up"):
        if word in said:
            yield f"says {word!r}"
    if "interval data" in said.replace("(interval data)", "").replace("runs in the interval data", "").replace(
        "run in the interval data", ""
    ):
        yield "says interval data without the plain word"


def sums_explained(result: Reconciliation) -> Iterator[str]:
    """Chances that add to more than 100 say so; two sums of one rise are bridged; no cause means of the other bills."""
    words = view(result)
    told = [round(100 * c.probability) for c in causes_told(result)]
    if sum(told) > 100 and len(told) > 1 and f"(here to {sum(told)} %)" not in " ".join(words["chances"]):
        yield f"chances add up to {sum(told)} % without a word"
    none = next((c for c in result.causes if c.code == "none"), None)
    if none is not None and any(r.flag in ("over", "under") for r in result.rows) and "apart from" not in none.text:
        yield f"beside a bill that stands out: {none.text}"
    over = result.verdict.over.amount
    for stake in () if result.money is None or over is None or not over else result.money.stakes:
        touches = any(result.rows[i].flag == "over" for i in stake.periods)
        shown = abs(stake.kwh) >= NOTHING_KWH  # what only moves energy between bills is not among the sums
        if stake.probability is None or stake.amount is None or stake.amount <= 0 or not touches or not shown:
            continue
        one, two = result.voice.about_money(stake.amount), result.voice.about_money(over)
        said = " ".join(terminal_text(result, 200).split())
        if one != two and f"the {two} over usual".replace("\xa0", " ").casefold() not in said.casefold():
            yield f"{one} and {two} stand side by side without a word"


AT_THE_METER = re.compile(
    r"\b(?:read|watch|look at) (?:the|this|its) meter\b|\bmeter's (?:face|number)|\bon the wall\b|\bat the meter\b",
    re.I,
)


def near_the_meter(result: Reconciliation) -> Iterator[str]:
    """A step that sends somebody to the meter says first what not to touch."""
    for step in result.verdict.next_steps:
        if (
            AT_THE_METER.search(step.text.replace("nobody at the meter", ""))
            and not step.cautions
            and step.code != "stop"
        ):
            yield f"{step.code} sends to the meter without a caution: {step.text[:80]}"


def diary_said(result: Reconciliation) -> Iterator[str]:
    """What the diary says of the days that stand out is told, and not asked to be written again."""
    verdict, events = result.verdict, result.house.events
    low = [row for row in result.rows if row.flag == "under"]
    gone = [event for event in events if event.kind == "away"]
    covered = bool(low) and all(any(e.day < r.end and (e.until or e.day) > r.start for e in gone) for r in low)
    if (
        covered
        and not verdict.over.bills
        and verdict.rule in ("explained", "odd-bill")
        and "diary" not in verdict.headline
    ):
        yield "days away are in the diary, and the answer does not say so"
    if "diary" in verdict.headline and any("into a file events.txt" in step.text for step in verdict.next_steps):
        yield "the diary is quoted, and asked to be written"


def money_leads(result: Reconciliation) -> Iterator[str]:
    """A price that is asked about is told; what the records show of most money stands in the answer."""
    verdict, test = result.verdict, result.field_test
    if verdict.decision == "urgent" or verdict.rule in ("main-off-counts", "run-outside") or test is not None:
        return
    if "which-rate" in verdict.requests and not re.search(r"A kWh costs|price", verdict.headline):
        yield f"a price is asked about, and the answer says nothing of it: {verdict.headline[:80]}"
    paid = sorted(bill.amount for bill in result.house.bills if bill.amount is not None)
    usual = float(paid[len(paid) // 2]) if paid else 0.0
    least = max(0.1 * usual, abs(float(verdict.over.amount or 0)))
    asked = [f for f in result.findings if f.asks and f.amount is not None and abs(float(f.amount)) > least]
    most = max(asked, key=lambda f: abs(float(f.amount)), default=None)
    if (
        most is not None
        and finding_text(most, result.voice) not in verdict.headline
        and "the tariff as typed" not in verdict.headline
    ):
        yield f"{most.key} of {most.amount} is not in the answer"


def fall_asked(result: Reconciliation) -> Iterator[str]:
    """A fall that is more likely than not, and of which no diary tells, asks what ended."""
    falls = [c for c in result.causes if c.code in LASTING_FALLS and c.since and (c.kwh or 0.0) < 0.0]
    told = [c for c in falls if c.probability >= 0.5 and c.text in result.verdict.headline]
    if result.verdict.rule != "explained" or not told or "diary" in result.verdict.headline:
        return
    said = " ".join([decision_name(result), *phone_lines(result), *(s.text for s in result.verdict.next_steps)])
    for word in REASSURES:
        if word in said:
            yield f"{word!r} over a fall: {told[0].text}"


def optional_last(result: Reconciliation) -> Iterator[str]:
    """A step that may be left out comes after all that may not."""
    optional = [step.optional for step in result.verdict.next_steps]
    if optional != sorted(optional):
        yield f"{[step.code for step in result.verdict.next_steps]}: optional {optional}"


def told_and_beside(result: Reconciliation) -> Iterator[str]:
    """The figures beside the answer are of what it tells, and an all-clear tells of nothing that it asks nothing of."""
    rise, said = lasting_rise(result), result.verdict.headline
    calm = result.verdict.decision in ("explained", "paperwork")
    for _, what in figures_beside(result) if calm else ():
        if "if it is" in what and rise is not None and rise.text not in said and NAMES[rise.code] not in said:
            yield f"{what} stands beside an answer that does not tell it"
    small = [c for c in result.causes if c.code == "unlisted" and c.probability < 0.5]
    if result.verdict.rule == "explained" and any(c.text in said for c in small):
        yield f"what the list may lack is told, and asks for nothing: {small[0].text}"


def rises_behind_a_rise(result: Reconciliation) -> Iterator[str]:
    """Where a rise is told that no bill shows alone, what may be behind it is named, and it is no fall."""
    said = result.verdict.headline
    if "likely risen" not in said:
        return
    falls = [NAMES[c.code] for c in result.causes if (c.kwh or 0.0) < 0.0 and c.code in LASTING_FALLS]
    for name in (*falls, "one odd bill", "no more than days, weather"):
        if f"likeliest are {name}" in said or f"and {name} (" in said:
            yield f"{name} is named behind a rise: {said[:120]}"


LITTLE_SAID = re.compile(r"kWh of what (?:it is|they are) over|\(a catch-up\)")


def causes_carry(result: Reconciliation) -> Iterator[str]:
    """The causes told have most of what the bills marked high are over, or it is said what they make of it."""
    over, said = [i for i, row in enumerate(result.rows) if row.flag == "over"], result.verdict.headline
    told = [c for c in result.causes if c.code != "none" and c.text in said]
    facts = any(finding_text(f, result.voice) in said for f in result.findings)
    kwh = sum(result.rows[i].excess_kwh or 0.0 for i in over)
    makes = sum(c.pattern_kwh[i] for c in told for i in over)
    if told and not facts and 0.0 < makes < 0.45 * kwh and not LITTLE_SAID.search(said):
        yield f"what is told makes {makes:.0f} of {kwh:.0f} kWh: {said[:120]}"


CHECKS = {
    "S1": all_clear,
    "S2": one_reading,
    "S3": chance_first,
    "S4": question_answered,
    "S5": rivals_added,
    "S6": step_belongs,
    "S7": cheap_check,
    "S8": closes_what_it_can,
    "S9": site_agrees,
    "S10": letter_asks,
    "S11": danger_first,
    "S14": one_form,
    "S15": no_code,
    "S16": no_calm_over_a_rise,
    "S17": one_level,
    "S18": worth_saying,
    "S19": sums_explained,
    "S20": difference_said,
    "S21": near_the_meter,
    "S22": diary_said,
    "S23": money_leads,
    "S24": fall_asked,
    "S25": optional_last,
    "S26": told_and_beside,
    "S27": rises_behind_a_rise,
    "S28": causes_carry,
}
