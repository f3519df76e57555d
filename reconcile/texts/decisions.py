"""The answer in one sentence, by the rule that decided."""

from __future__ import annotations

import math
from collections.abc import Sequence

from reconcile.say import Voice, listed
from reconcile.texts import Figures, Sentence, tell
from reconcile.texts.field.field_test import places
from reconcile.texts.headline_parts import (
    ADD_THEM,
    ADD_UP,
    AWAY,
    BELOW_LIST,
    BLIND,
    BY_THE_REGISTER,
    COLDER,
    DESK,
    DIARY,
    DIARY_NAMES,
    DIARY_SAYS,
    FELL,
    FOREIGN_DATA,
    GONE,
    HIDES,
    IF_AWAY,
    IF_USED,
    INVERTER,
    IT_IS_OVER,
    LATER,
    LOOK_AT_IT,
    NO_COVER,
    NO_DESK,
    NO_PATTERN,
    NOT_YET,
    OLD_LATER,
    ONCE,
    ONE_MADE,
    OPEN_YET,
    PRINTED,
    RISEN,
    ROSE,
    STOP,
    TEST,
    TO_LOOK,
    UNSEEN,
    WHY_LOW,
    WITHIN,
    in_season,
    large,
    likeliest,
    news_of,
    sentences,
    slow,
    stands_out,
)
from reconcile.texts.look_words import WIRING
from reconcile.texts.meter_words import TWICE, of_bills, resized_news, run_again


def _stop(voice: Voice, figures: Figures) -> str:
    signs = listed(figures["signs"])
    return f"Stop: there is a sign of danger{f' ({signs})' if signs else ''}. {STOP}"


def _records(voice: Voice, figures: Figures) -> str:
    seen, why = stands_out(voice, figures), str(figures.get("settling") or figures.get("leading") or "")
    if figures.get("priced") and not figures["asks"] and not figures["cannot_tell"]:
        return sentences(seen, str(figures["dearest"]), why)
    if figures["cannot_tell"]:
        untold = NOT_YET if why else sentences(NO_PATTERN, likeliest(voice, figures))
        rest = likeliest(voice, figures) if seen else untold
        # money that is asked about before a bill that is low
        first = figures["asks"] and not figures["over"]["bills"]
        news = (why, seen, rest) if first or not seen else (seen, rest, why)
        return sentences(*news, _diary(voice, figures), DESK if figures["asks"] else "")
    if not figures["asks"] and not figures.get("typed") and figures["open_rise"]:
        return sentences(seen, why, str(figures["leading"]), OPEN_YET)
    if figures["asks"] or figures.get("typed"):
        # what asks nothing is not all that is told where something is asked
        also = "" if figures.get("settling_asks") or not figures["asks"] else _asked(voice, figures)
        told = (why, seen) if figures.get("settling_more") else (seen, why)
        return sentences(*told, also, DESK if figures["asks"] else PRINTED)
    return sentences(seen, why, NO_DESK, _hides(voice, figures))


def _asked(voice: Voice, figures: Figures) -> str:
    """What the utility is asked about, where that is another fact than the one that settles."""
    if figures.get("resized"):
        return resized_news(voice, figures["resized"], figures["fast"])
    return str(figures.get("open_text") or "") if figures.get("open") else ""


def _moved(voice: Voice, figures: Figures) -> str:
    said = _records(voice, figures)
    if figures["pair"]:
        return said.replace(DESK, ADD_THEM)
    low = figures["under"]["bills"] and not figures["over"]["bills"]
    # what is low is thought back to first: the desk is asked only where nothing fits
    return said.replace(DESK, FELL) if low and not figures["open"] else said


def _diary(voice: Voice, figures: Figures) -> str:
    """What the diary says of that time, as it was written, or that nobody was at home."""
    if figures.get("told"):
        return voice.fill(DIARY, figures)
    if figures.get("named"):
        return voice.fill(DIARY_NAMES if figures["names"] else DIARY_SAYS, figures)
    return ""


def _outside(voice: Voice, figures: Figures) -> str:
    alone = "" if figures.get("exchange") or figures.get("leading") else ROSE
    tail = OLD_LATER if figures.get("old_slow") else NO_COVER
    if figures.get("rising"):  # a single bill is not what the checks are for
        seen = stands_out(voice, figures)
        rise = f"{RISEN if seen else ROSE} The likeliest are {listed(figures['rising'])}."
        return sentences(seen, rise, str(figures["leading"]), _diary(voice, figures), tail)
    return sentences(news_of(voice, figures, seen=stands_out(voice, figures) or alone), _diary(voice, figures), tail)


def _generation(voice: Voice, figures: Figures) -> str:
    return sentences(news_of(voice, figures), _diary(voice, figures), INVERTER)


def _main_off(voice: Voice, figures: Figures) -> str:
    return sentences(
        stands_out(voice, figures),
        "The meter counts with the main breaker off: something acts ahead of it, or the meter counts by itself (it creeps).",
        "Call the utility before anything else is switched.",
    )


def _open(voice: Voice, figures: Figures) -> str:
    seen = news_of(voice, figures) if figures.get("exchange") or figures.get("leading") else stands_out(voice, figures)
    if figures.get("again") and figures["run_percent"] is not None:
        return sentences(seen, run_again(voice, figures))
    return sentences(
        seen,
        voice.fill(
            "The readings so far cannot clear the meter (the chance that it is wrong is {wrong:chance_percent}): one steady load beside a plug-in meter would.",
            figures,
        ),
    )


def _always(voice: Voice, figures: Figures) -> str:
    return sentences(
        stands_out(voice, figures),
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
    tail = "" if word == "more" else " What the meter did not count may be billed later: ask how before you pay."
    news = f"The meter registers {off} % (give or take {doubt}) {word} than is used: "
    if figures.get("run_by"):
        news += voice.fill(
            "your {load}, listed with {listed:watts}, is seen to switch {seen:watts}. That rests on the listed watts: a heater "
            "through a plug-in meter makes sure, then ask the utility for a test.",
            figures["run_by"],
        )
        return sentences(news + tail, stands_out(voice, figures))
    news += "a steady load beside a plug-in meter (a known load) showed it."
    if figures.get("once"):
        return sentences(news, ONCE + tail, stands_out(voice, figures))
    return sentences(news, TEST + tail, stands_out(voice, figures))


def _test(voice: Voice, figures: Figures) -> str:
    return sentences(news_of(voice, figures), _diary(voice, figures), TEST)


def _run_open(voice: Voice, figures: Figures) -> str:
    ask = BY_THE_REGISTER if figures["by_constant"] else ONE_MADE if figures["once"] else TEST
    return sentences(news_of(voice, figures), _diary(voice, figures), ask)


EMPTIED = (
    "If people are at home there as before, the meter may stand still at times, or count only a part of what is used."
)
"""What is said beside a home that likely stands empty, of which nobody has told."""


def _slow(voice: Voice, figures: Figures) -> str:
    later = "" if figures.get("whose") or figures.get("slow") else LATER
    # at an exchange what is usual lies between the two meters, and the low bills say nothing by themselves
    fell = "" if figures.get("exchange") else stands_out(voice, {**figures, "over": {**figures["over"], "bills": 0}})
    # where the likeliest cause is another, what is not counted is the meter's
    told = [likeliest(voice, figures), fell]
    # where no cause is told, what it is about comes first
    told = told if figures.get("exchange") or figures.get("leading") else told[::-1]
    rest = EMPTIED if figures.get("emptied") else slow(voice, figures)
    return sentences(*told, rest, later, NO_COVER)


def _old_meter(voice: Voice, figures: Figures) -> str:
    return sentences(
        "A steady load beside a plug-in meter (a known load) shows that the meter now on the wall is in order."
        if figures["run"] == "inside"
        else "A steady load beside a plug-in meter (a known load) shows the meter now on the wall to be right, or close to it.",
        str(figures.get("leading") or ""),
        "What the old one did not count may be billed later: ask before you pay.",
        stands_out(voice, figures),
    )


def _odd(voice: Voice, figures: Figures) -> str:
    return sentences(_odd_bill(voice, figures), str(figures.get("missing") or ""))


def _odd_bill(voice: Voice, figures: Figures) -> str:
    seen, diary = stands_out(voice, figures), _diary(voice, figures)
    leading = str(figures.get("leading") or "")
    if not figures["over"]["bills"]:
        if figures.get("away"):
            return sentences(seen, AWAY.format(what=GONE[figures["away"]]))
        one = figures["under"]["bills"] == 1
        reading = "its reading should be checked" if one else "their readings should be checked"
        if leading:
            return sentences(seen, leading, diary, f"If nothing of the kind is known, {reading}.")
        return sentences(
            seen,
            diary,
            "If nobody was at home then, nothing needs to be done. If somebody was, the bills cannot tell yet why: "
            f"{reading}.",
        )
    what = leading or sentences("The bills cannot tell yet why.", large(voice, figures))
    reading = "its reading" if figures["over"]["bills"] == 1 else "their readings"
    told = f"{voice.capital(reading)} should be checked."
    if figures.get("calm") and not leading and not figures.get("large"):  # what passes is thought of first
        unless = f"If nobody remembers guests or anything else of the kind, {reading} should be checked."
        told = told if diary else unless
    if figures.get("exchanged_in"):
        told = "The meter was exchanged within it: ask for its two readings."
    return sentences(seen, what, diary, told)


def _level(voice: Voice, figures: Figures) -> str:
    low = figures["level"]["side"] == "below"
    size = figures["level"]["percent"]
    if low:
        return f"All the bills together are about {size} below what the list of loads accounts for. Check the list, and that the meter number and the readings are this home's."
    when = "most of it in the months of the highest bills" if figures.get("seasonal") else "month after month"
    short = "lack heating or cooling" if figures.get("seasonal") else "be short"
    return f"All the bills together are about {size} above what the list of loads accounts for, {when}. The list may {short}, or the meter may be fast. Measuring the loads named below, and one steady load beside a plug-in meter, can tell."


def _equipment(voice: Voice, figures: Figures) -> str:
    told = likeliest(voice, figures)
    also = str(figures.get("of_weather") or "")  # what the look is for
    return sentences(stands_out(voice, figures), told, "" if also in told else also, LOOK_AT_IT)


def _hides(voice: Voice, figures: Figures) -> str:
    """How large a lasting rise could hide all the same, where that is worth saying."""
    if figures["blind"]:
        return _blind(voice, figures)
    return voice.fill(HIDES, figures) if figures["hidden_percent"] else ""


def _blind(voice: Voice, figures: Figures) -> str:
    hidden = figures["hidden_percent"]
    rise = "a rise of any size" if math.isinf(hidden) else "even twice as much use"
    rise = voice.fill("a rise of {hidden_percent:percent}", figures) if hidden < TWICE else rise
    return BLIND.format(hides=rise)


def _calm(voice: Voice, figures: Figures) -> str:
    """What is left to say where nothing needs a check."""
    seen = sentences(stands_out(voice, figures), ADD_UP if figures.get("tied") else "")
    if figures["clear"]:
        given = listed(figures["known"])
        hides = voice.fill(HIDES, figures) if figures["hidden_percent"] else ""
        if figures["season_hides"]:
            season = in_season(voice, figures["season_hides"])
            hides = f"{hides} So could {season}." if hides else f"But {season} could hide in these bills."
        if hides:
            return sentences(f"No bill stands out, given {given}.", str(figures["dearest"]), hides)
        uses = "should have used" if figures["fits_list"] else "usually uses"
        told = f"Every bill is what this house {uses}, given {given}."
        return sentences(told, str(figures["off_list"]), str(figures["dearest"]))
    low = figures["under"]["bills"] and not figures["over"]["bills"]
    if figures.get("away") and not figures["over"]["bills"]:
        return sentences(seen or str(figures.get("leading") or ""), AWAY.format(what=GONE[figures["away"]]))
    diary, what = _diary(voice, figures), str(figures.get("leading") or figures.get("rise") or "")
    if figures.get("told"):
        return sentences(seen or (ROSE if figures["rose"] else WITHIN), what, diary)
    if figures.get("leading"):
        seen = seen or (UNSEEN if figures.get("short_list") else "")
        shape, fell = str(figures.get("shape") or ""), FELL if figures["fell"] else ""
        return sentences(seen, str(figures["leading"]), large(voice, figures), shape, diary, fell)
    if low:
        over = sentences(IT_IS_OVER, "" if diary or not figures["cannot_tell"] else WHY_LOW)
        return sentences(seen, diary, over if figures["over_since"] else IF_USED if figures.get("tied") else IF_AWAY)
    if figures["cannot_tell"]:
        dearer = "" if seen or figures.get("priced") else str(figures["dearest"])
        priced = not seen and (dearer or figures.get("priced"))
        news = (dearer, NOT_YET) if priced else (seen or NO_PATTERN, dearer, likeliest(voice, figures))
        return sentences(*news, diary)
    if figures["below_list"]:
        size = figures["level"]["percent"]
        return f"{BELOW_LIST} {size} below what the list of loads accounts for. Some hours on the list are too long, something on it is no longer used, or the meter counts too little."
    if figures["open"]:
        return sentences(str(figures.get("open_text") or ""), seen or WITHIN)
    if figures["blind"]:
        return sentences(seen or WITHIN, _blind(voice, figures))
    dearer = "" if seen or figures.get("priced") else str(figures["dearest"])
    return sentences(seen or WITHIN, dearer, str(figures.get("none") or ""), what, diary)


def _above_plate(voice: Voice, figures: Figures) -> str:
    news = "Your {load}, listed with {listed:watts}, is seen to switch {seen:watts}: its element is larger than listed, or "
    news += "the meter counts too much. Read its plate; one steady load beside a plug-in meter tells the rest."
    return sentences(stands_out(voice, figures) or UNSEEN, voice.fill(news, _spoken(figures["above_plate"])))


def _resized(voice: Voice, figures: Figures) -> str:
    return sentences(stands_out(voice, figures), resized_news(voice, figures["resized"], figures["fast"]))


def _spoken(named: Figures) -> Figures:
    """A load's name as it stands within a sentence."""
    return {**named, "load": named["load"][:1].lower() + named["load"][1:]}


def _explained(voice: Voice, figures: Figures) -> str:
    """A price that rose before all else, where no all-clear tells it already."""
    priced = str(figures["dearest"]) if figures.get("priced") and not figures["clear"] else ""
    return sentences(str(figures["own_power"]), priced, _calm(voice, figures))


def _few(_: Voice, figures: Figures) -> str:
    few = "There is too little here to tell a high bill from an ordinary one."
    return sentences(str(figures["own_power"]), few, str(figures["wanted"]))


HEADLINES: dict[str, Sentence] = {
    "danger": _stop,
    "few-and-settled": _records,
    "too-few": _few,
    "run-outside": _run,
    "records-account": _records,
    "bills-alone": _test,
    "run-open": _run_open,
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
ANOTHER = "This change may also mean {what}: look at that first."
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
        text = sentences(text, voice.fill(READ_SINCE, figures["read_since"]))
    if figures.get("instead") and rule in ALONE:
        text = sentences(text, voice.fill(INSTEAD, figures["instead"]))
    what = [WHOSE[code] for code in figures.get("whose") or (("home",) if figures.get("another") else ())]
    seen = figures.get("looked") or {}
    if seen.get("code") in ("other-home", "own-meter"):
        what = [code for code in what if code != WHOSE["home"]]
    if what and rule not in NO_PRICE:
        text = of_bills(text) if figures.get("whose") else text
        text = sentences(_without(text, TO_LOOK), ANOTHER.format(what=" or ".join(what)))
    if figures.get("colder") and not figures.get("exchanged_in") and rule in (*ALONE, "explained", "moved", *LASTS):
        text = sentences(text, COLDER)
    if seen and (rule in LASTS or (seen["code"] == "other-home" and rule not in NO_PRICE)):
        if seen["code"] != "noted":
            text = _without(text, TO_LOOK)
        text = sentences(text, voice.fill(SINCE_THEN + LOOKED[seen["code"]], seen))
    if figures.get("wiring") and rule not in NO_PRICE:
        text = sentences(_without(text, TO_LOOK), voice.fill(WIRING, figures["wiring"]))
    if figures.get("foreign") and rule not in NO_PRICE:
        text = sentences(text, voice.fill(FOREIGN_DATA, {}))
    if figures.get("of_another") and rule not in NO_PRICE:
        them = figures["of_another"]
        asked = "" if them["amount"] is None else voice.fill("They ask {amount:money} in all.", them)
        return sentences(str(figures["proved"]), asked, DESK)
    if figures.get("proved") and figures["proved"] not in text and rule not in NO_PRICE:
        text = sentences(str(figures["proved"]), text, "" if DESK in text else DESK)
    if not figures.get("pricier") or not dearer or dearer in text or rule in NO_PRICE:
        return text
    return sentences(text, dearer) if figures["over"]["bills"] or figures.get("exchange") else sentences(dearer, text)
