"""The answer in one sentence, by the rule that decided."""

from __future__ import annotations

import math
from collections.abc import Sequence

from reconcile.rounding import as_parts
from reconcile.say import Voice, listed
from reconcile.texts import Figures, Sentence, tell
from reconcile.texts.field.field_test import places
from reconcile.texts.look_words import WIRING
from reconcile.texts.meter_words import OF_A_METER, resized_news, run_again

STOP = (
    "Touch neither the meter nor the panel, and call the utility's emergency line or a licensed electrician now; with smoke "
    "or fire go out and call the fire service first. The bills can wait."
)
MISMATCHES = (
    "{bills} bills from {first:short_day} to {last:short_day} ask together {amount:money} {way} than the tariff as typed gives: "
    "its prices may have changed since, or the bills are wrong."
)
DESK = "Settle this with the utility's billing desk."
ADD_THEM = "Add the two: nothing is lost if a kWh costs the same on both."
NO_DESK = "There is nothing to ask of the utility."
OPEN_YET = "The next bills will tell more."
"""In place of it, where a rise is likely all the same."""
PRINTED = "Compare the file with the printed bill first: most likely it was typed so."
NO_PATTERN = "No bill alone is clearly high, yet together they follow no single pattern."
NOT_YET = "Whether more was used as well, these bills cannot tell yet."
"""In place of it where the records themselves show something of the money: that is the news."""
UNSEEN = "No bill alone stands out."
WITHIN = "Every bill is within its range."
ROSE = "No bill alone stands out, but use has likely risen and stayed up."
HIDES = "But a lasting rise of up to about {hidden_percent:percent} could hide in these bills."
BLIND = "But these bills alone cannot tell a season from a change: {hides} could hide in them."
"""Said where the ranges are wide; the second stands in place of an all-clear."""
DIARY = "Your diary tells of something that fits{what} ({told:day})."
DIARY_NAMES = "Your diary names what may be behind it{what} ({named:day})."
DIARY_SAYS = "Your diary says of that time{what} ({named:day})."
AWAY = "Your diary says that {what}: that explains it."
GONE = {"away": "nobody was at home then", "outage": "the power was off then"}
COLDER = "A colder or hotter month than usual could do it too: no temperatures were given."
FELL = "If nothing at home fits, the readings should be checked."
NO_COVER = "Simple checks can tell, and no cover comes off."
LOOK_AT_IT = "A look at its thermostat, its filter and its outdoor unit can tell why, and no cover comes off."
LATER = "What it did not count may be billed later."
INVERTER = "The inverter's display would tell."
TO_LOOK = (NO_COVER, LOOK_AT_IT, INVERTER)
"""Sentences that send to a look; said no more where the diary tells of it."""
ONCE = "One run alone may be misread: make it twice more, every figure read anew, before you ask for a test."
TEST = "A meter test is warranted: the utility tests it, often free on request, and nobody needs to open the panel."


def _stop(voice: Voice, figures: Figures) -> str:
    signs = listed(figures["signs"])
    return f"Stop: there is a sign of danger{f' ({signs})' if signs else ''}. {STOP}"


def _sentences(*parts: str) -> str:
    return " ".join(part for part in parts if part)


def _seen(voice: Voice, figures: Figures) -> str:
    """What stands out, in the table's own sums."""
    out = []
    for side, word in (("over", "over"), ("under", "under")):
        part = figures[side]
        if not part["bills"] or (side == "under" and figures["over"]["bills"]):
            continue
        cost = voice.fill(" (about {amount:about_money})", part) if part["amount"] is not None else ""
        size = voice.fill("{kwh:number} kWh", part)
        if part["bills"] == 1:
            out.append(
                voice.fill(f"The bill of {{span:span}} is {size}{cost} {word} what this house usually uses.", part)
            )
        else:
            which = "from {first:short_day} to" if part["in_a_row"] else "between {first:short_day} and"
            text = f"{{bills}} bills {which} {{last:short_day}} are together {size}{cost} {word} what this house usually uses."
            out.append(voice.fill(text, part))
    return " ".join(out)


def _cause(voice: Voice, figures: Figures) -> str:
    """The likeliest cause; at an exchange the news first, then its two readings; else what cannot be told apart."""
    if figures.get("exchange"):
        return _exchange(voice, figures["exchange"])
    if figures.get("leading"):
        return str(figures["leading"])
    rivals = figures.get("rivals") or []
    if not rivals:
        return "The bills cannot tell yet what is behind it."
    return f"The bills cannot tell yet what is behind it; the likeliest are {listed(rivals)}."


def _news(voice: Voice, figures: Figures, *, seen: str = "") -> str:
    """What stands out, and its cause; the cause first where only low bills stand out: who comes pays too much."""
    seen = seen or _seen(voice, figures)
    rise_first = figures["under"]["bills"] and not figures["over"]["bills"]
    if rise_first and figures.get("exchange"):  # what is usual lies between the two meters
        return _cause(voice, figures)
    named = figures.get("exchange") or figures.get("leading")
    parts = (_cause(voice, figures), seen) if rise_first and named else (seen, _cause(voice, figures))
    return _sentences(*parts)


def _exchange(voice: Voice, figures: Figures) -> str:
    whole, fast = as_parts(figures["chance"], figures["fast"], figures["slow"])
    figures = {**figures, "chance": whole, "fast": fast}
    news = voice.fill(
        "{chance:chance}, the old and the new meter disagree: since {since:day} the new one counts about "
        "{percent:percent} more.",
        figures,
    )
    new, old = voice.fill("{fast:chance_percent}", figures), voice.fill("{slow:chance_percent}", figures)
    return voice.capital(f"{news} The new meter may be fast ({new}), or the old one was slow ({old}).")


def _records(voice: Voice, figures: Figures) -> str:
    seen, why = _seen(voice, figures), str(figures.get("settling") or figures.get("leading") or "")
    if figures.get("priced") and not figures["asks"] and not figures["cannot_tell"]:
        return _sentences(seen, str(figures["dearest"]), why)
    if figures["cannot_tell"]:
        rest = _cause(voice, figures) if seen else NOT_YET if why else _sentences(NO_PATTERN, _cause(voice, figures))
        # money that is asked about before a bill that is low
        news = (why, seen) if figures["asks"] and not figures["over"]["bills"] else (seen, why)
        return _sentences(*news, rest, _diary(voice, figures), DESK if figures["asks"] else "")
    if not figures["asks"] and not figures.get("typed") and figures["open_rise"]:
        return _sentences(seen, why, str(figures["leading"]), OPEN_YET)
    return _sentences(seen, why, DESK if figures["asks"] else PRINTED if figures.get("typed") else NO_DESK)


def _moved(voice: Voice, figures: Figures) -> str:
    said = _records(voice, figures)
    return said.replace(DESK, ADD_THEM) if figures["pair"] else said


def _diary(voice: Voice, figures: Figures) -> str:
    """What the diary says of that time, as it was written, or that nobody was at home."""
    if figures.get("told"):
        return voice.fill(DIARY, figures)
    if figures.get("named"):
        return voice.fill(DIARY_NAMES if figures["names"] else DIARY_SAYS, figures)
    return ""


def _outside(voice: Voice, figures: Figures) -> str:
    alone = "" if figures.get("exchange") or figures.get("leading") else ROSE
    tail = LATER if figures.get("old_slow") else NO_COVER
    return _sentences(_news(voice, figures, seen=_seen(voice, figures) or alone), _diary(voice, figures), tail)


def _generation(voice: Voice, figures: Figures) -> str:
    return _sentences(_news(voice, figures), _diary(voice, figures), INVERTER)


def _main_off(voice: Voice, figures: Figures) -> str:
    return _sentences(
        _seen(voice, figures),
        "The meter counts with the main breaker off: something acts ahead of it, or the meter counts by itself (it creeps).",
        "Call the utility before anything else is switched.",
    )


def _open(voice: Voice, figures: Figures) -> str:
    seen = _news(voice, figures) if figures.get("exchange") or figures.get("leading") else _seen(voice, figures)
    if figures.get("again") and figures["run_percent"] is not None:
        return _sentences(seen, run_again(voice, figures))
    return _sentences(
        seen,
        voice.fill(
            "The readings so far cannot clear the meter (the chance that it is wrong is {wrong:chance_percent}): one steady load beside a plug-in meter would.",
            figures,
        ),
    )


def _always(voice: Voice, figures: Figures) -> str:
    return _sentences(
        _seen(voice, figures),
        str(figures.get("leading") or ""),
        voice.fill(
            f"These bills cannot clear the meter (the chance that it{', or the one before it,' if figures['either'] else ''} is wrong is {{wrong:chance_percent}}): one steady load beside a plug-in meter would.",
            figures,
        ),
    )


def _run(voice: Voice, figures: Figures) -> str:
    word = "more" if figures["run_percent"] > 100.0 else "less"
    step = places(figures["run_expanded"])
    off, doubt = voice.number(abs(figures["run_percent"] - 100.0), step), voice.number(figures["run_expanded"], step)
    tail = "" if word == "more" else " What it did not count may be billed later: ask how before you pay."
    news = f"The meter registers {off} % (give or take {doubt}) {word} than is used: "
    if figures.get("run_by"):
        news += voice.fill(
            "your {load}, listed with {listed:watts}, is seen to switch {seen:watts}. That rests on the listed watts: a heater "
            "through a plug-in meter makes sure, then ask the utility for a test.",
            figures["run_by"],
        )
        return _sentences(news + tail, _seen(voice, figures))
    news += "a steady load beside a plug-in meter (a known load) showed it."
    if figures.get("once"):
        return _sentences(news, ONCE + tail, _seen(voice, figures))
    return _sentences(news, TEST + tail, _seen(voice, figures))


def _test(voice: Voice, figures: Figures) -> str:
    return _sentences(_news(voice, figures), _diary(voice, figures), TEST)


def _slow(voice: Voice, figures: Figures) -> str:
    later = "" if figures.get("whose") else LATER
    if figures.get("slow"):  # the likeliest cause is another: what is not counted is the meter's
        return _sentences(_cause(voice, figures), str(figures["slow"]), later, NO_COVER)
    return _sentences(_cause(voice, figures), later, NO_COVER)


def _old_meter(voice: Voice, figures: Figures) -> str:
    return _sentences(
        "A steady load beside a plug-in meter (a known load) shows that the meter now on the wall is in order."
        if figures["run"] == "inside"
        else "A steady load beside a plug-in meter (a known load) shows the meter now on the wall to be right, or close to it.",
        str(figures.get("leading") or ""),
        "What the old one did not count may be billed later: ask before you pay.",
        _seen(voice, figures),
    )


def _odd(voice: Voice, figures: Figures) -> str:
    return _sentences(_odd_bill(voice, figures), str(figures.get("missing") or ""))


def _odd_bill(voice: Voice, figures: Figures) -> str:
    seen, diary = _seen(voice, figures), _diary(voice, figures)
    leading = str(figures.get("leading") or "")
    if not figures["over"]["bills"]:
        if figures.get("away"):
            return _sentences(seen, AWAY.format(what=GONE[figures["away"]]))
        one = figures["under"]["bills"] == 1
        reading = "its reading should be checked" if one else "their readings should be checked"
        if leading:
            return _sentences(seen, leading, diary, f"If nothing of the kind is known, {reading}.")
        return _sentences(
            seen,
            diary,
            "If nobody was at home then, nothing needs to be done. If somebody was, the bills cannot tell yet why: "
            f"{reading}.",
        )
    what = leading or "The bills cannot tell yet why."
    if figures.get("tied"):
        return _sentences(seen, what, diary, "The hourly readings add up to it: it was used.")
    told = "The meter was exchanged within it: ask for its two readings."
    return _sentences(seen, what, diary, told if figures.get("exchanged_in") else "Its reading should be checked.")


def _level(voice: Voice, figures: Figures) -> str:
    low = figures["level"]["side"] == "below"
    size = figures["level"]["percent"]
    if low:
        return f"All the bills together are about {size} below what the list of loads accounts for. Check the list, and that the meter number and the readings are this home's."
    when = "most of it in the months of the highest bills" if figures.get("seasonal") else "month after month"
    short = "lack heating or cooling" if figures.get("seasonal") else "be short"
    return f"All the bills together are about {size} above what the list of loads accounts for, {when}. The list may {short}, or the meter may be fast. Measuring the loads named below, and one steady load beside a plug-in meter, can tell."


def _equipment(voice: Voice, figures: Figures) -> str:
    return _sentences(_seen(voice, figures), _cause(voice, figures), LOOK_AT_IT)


def _blind(voice: Voice, figures: Figures) -> str:
    finite = math.isfinite(figures["hidden_percent"])
    rise = voice.fill("a rise of {hidden_percent:percent}", figures) if finite else "a rise of any size"
    return BLIND.format(hides=rise)


def _calm(voice: Voice, figures: Figures) -> str:
    """What is left to say where nothing needs a check."""
    seen = _seen(voice, figures)
    if figures["clear"]:
        given = listed(figures["known"])
        if figures["hidden_percent"]:
            return _sentences(
                f"No bill stands out, given {given}.", str(figures["dearest"]), voice.fill(HIDES, figures)
            )
        uses = "should have used" if figures["fits_list"] else "usually uses"
        told = f"Every bill is what this house {uses}, given {given}."
        return _sentences(told, str(figures["off_list"]), str(figures["dearest"]))
    low = figures["under"]["bills"] and not figures["over"]["bills"]
    if figures.get("away") and not figures["over"]["bills"]:
        return _sentences(seen or str(figures.get("leading") or ""), AWAY.format(what=GONE[figures["away"]]))
    diary, what = _diary(voice, figures), str(figures.get("leading") or figures.get("rise") or "")
    if figures.get("told"):
        return _sentences(seen or (ROSE if figures["rose"] else WITHIN), what, diary)
    if figures.get("leading"):
        seen = seen or (UNSEEN if figures.get("short_list") else "")
        shape, fell = str(figures.get("shape") or ""), FELL if figures["fell"] else ""
        return _sentences(seen, str(figures["leading"]), shape, diary, fell)
    if low:
        return _sentences(
            seen,
            diary,
            "It is over: the bills since then are within their range."
            if figures["over_since"]
            else "If nobody was at home then, nothing needs to be done; if somebody was, the next bill may put it right.",
        )
    if figures["cannot_tell"]:
        dearer = "" if seen or figures.get("priced") else str(figures["dearest"])
        priced = not seen and (dearer or figures.get("priced"))
        news = (dearer, NOT_YET) if priced else (seen or NO_PATTERN, dearer, _cause(voice, figures))
        return _sentences(*news, diary)
    if figures["below_list"]:
        size = figures["level"]["percent"]
        return f"No bill is too high: all together they are about {size} below what the list of loads accounts for. Some hours on the list are too long, something on it is no longer used, or the meter counts too little."
    if figures["open"]:
        return _sentences(str(figures.get("open_text") or ""), seen or WITHIN)
    if figures["blind"]:
        return _sentences(seen or WITHIN, _blind(voice, figures))
    dearer = "" if seen or figures.get("priced") else str(figures["dearest"])
    return _sentences(seen or WITHIN, dearer, str(figures.get("none") or ""), what, diary)


def _above_plate(voice: Voice, figures: Figures) -> str:
    news = "Your {load}, listed with {listed:watts}, is seen to switch {seen:watts}: its element is larger than listed, or "
    news += "the meter counts too much. Read its plate; one steady load beside a plug-in meter tells the rest."
    return _sentences(_seen(voice, figures) or UNSEEN, voice.fill(news, _spoken(figures["above_plate"])))


def _resized(voice: Voice, figures: Figures) -> str:
    return _sentences(_seen(voice, figures), resized_news(voice, figures["resized"], figures["fast"]))


def _spoken(named: Figures) -> Figures:
    """A load's name as it stands within a sentence."""
    return {**named, "load": named["load"][:1].lower() + named["load"][1:]}


def _explained(voice: Voice, figures: Figures) -> str:
    """A price that rose before all else, where no all-clear tells it already."""
    priced = str(figures["dearest"]) if figures.get("priced") and not figures["clear"] else ""
    return _sentences(str(figures["own_power"]), priced, _calm(voice, figures))


def _few(_: Voice, figures: Figures) -> str:
    few = "There is too little here to tell a high bill from an ordinary one."
    return _sentences(str(figures["own_power"]), few, str(figures["wanted"]))


HEADLINES: dict[str, Sentence] = {
    "danger": _stop,
    "few-and-settled": _records,
    "too-few": _few,
    "run-outside": _run,
    "records-account": _records,
    "bills-alone": _test,
    "run-open": _test,
    "main-off-counts": _main_off,
    "meter-slow": _slow,
    "generation": _generation,
    "lasting": _outside,
    "rivals": _outside,
    "falls": _slow,
    "meter-open": _open,
    "old-meter": _old_meter,
    "settled": _records,
    "moved": _moved,
    "above-list": _level,
    "below-list": _level,
    "meter-always": _always,
    "equipment": _equipment,
    "late-bill": _outside,
    "meter-maybe": _always,
    "above-plate": _above_plate,
    "resized": _resized,
    "odd-bill": _odd,
    "owed": _records,
    "explained": _explained,
}
"""The answer in one sentence or three, by the rule that decided."""


READ_SINCE = "Your own reading of {day:day} ({reading:exact}) is above the last bill's: {a_day:per_day} since, {billed:per_day} on that bill."
INSTEAD = (
    "A closing reading of {instead:exact} in place of {reading:exact} would explain it too: one digit may be misread."
)
ALONE = ("odd-bill", "late-bill", "lasting", "rivals")
"""Rules of which one high bill, the last, may be all there is."""
ANOTHER = "A change like this may also mean {what}: look at that first."
WHOSE = {"home": "that this meter counts another home", "multiplier": "that the bills are made with another multiplier"}
SINCE_THEN = "Your diary says since then: “{noted}” ({day:day})"
LOOKED: dict[str, str] = {
    "other-home": ": so this meter may count another home. Tell the billing desk.",
    "own-meter": ": so it is this home's meter.",
    "backup-heat": ": call a heating firm.",
    "panels": ": call whoever installed the panels.",
    "done": "; a week's readings show whether that was it.",
    "noted": ".",
}
"""What follows from what the diary tells since a rise began."""
LASTS = ("lasting", "rivals", "equipment", "late-bill", "generation", "meter-slow", "falls")
"""Rules of a change of which the diary may tell more since then."""
NO_PRICE = ("danger", "main-off-counts", "run-outside")
"""Rules whose answer says nothing of a price."""


def _without(text: str, said: Sequence[str]) -> str:
    """Take sentences out of a text."""
    for sentence in said:
        text = text.replace(f" {sentence}", "")
    return text


def headline(rule: str, figures: Figures, voice: Voice) -> str:
    """Say the answer.

    Parameters
    ----------
    rule : str
        Name of a rule of :data:`reconcile.decide.rules.RULES`.
    """
    text, dearer = tell(voice, HEADLINES, rule, figures), str(figures.get("dearest") or "")
    if figures.get("read_since") and rule not in NO_PRICE:
        text = _sentences(text, voice.fill(READ_SINCE, figures["read_since"]))
    if figures.get("instead") and rule in ALONE:
        text = _sentences(text, voice.fill(INSTEAD, figures["instead"]))
    what = [WHOSE[code] for code in figures.get("whose") or (("home",) if figures.get("another") else ())]
    seen = figures.get("looked") or {}
    if seen.get("code") in ("other-home", "own-meter"):
        what = [code for code in what if code != WHOSE["home"]]
    if what and rule not in NO_PRICE:
        for a_meter, the_bills in OF_A_METER.items() if figures.get("whose") else ():
            text = text.replace(a_meter, the_bills)
        text = _sentences(_without(text, TO_LOOK), ANOTHER.format(what=" or ".join(what)))
    if figures.get("colder") and not figures.get("exchanged_in") and rule in (*ALONE, "explained", "moved", *LASTS):
        text = _sentences(text, COLDER)
    if seen and (rule in LASTS or (seen["code"] == "other-home" and rule not in NO_PRICE)):
        if seen["code"] != "noted":
            text = _without(text, TO_LOOK)
        text = _sentences(text, voice.fill(SINCE_THEN + LOOKED[seen["code"]], seen))
    if figures.get("wiring") and rule not in NO_PRICE:
        text = _sentences(_without(text, TO_LOOK), voice.fill(WIRING, figures["wiring"]))
    if figures.get("of_another") and rule not in NO_PRICE:
        them = figures["of_another"]
        asked = "" if them["amount"] is None else voice.fill("They ask {amount:money} in all.", them)
        return _sentences(str(figures["proved"]), asked, DESK)
    if figures.get("proved") and figures["proved"] not in text and rule not in NO_PRICE:
        text = _sentences(str(figures["proved"]), text, "" if DESK in text else DESK)
    if not figures.get("pricier") or not dearer or dearer in text or rule in NO_PRICE:
        return text
    return _sentences(text, dearer) if figures["over"]["bills"] or figures.get("exchange") else _sentences(dearer, text)
