"""Sentences of findings about dates, readings, estimates and meters."""

from __future__ import annotations

from reconcile.say import Voice, listed
from reconcile.texts import Figures, Sentence
from reconcile.texts.interval_findings import paid_text

HOW = {"digit": "one digit misread", "exchanged": "two digits exchanged"}


def _which(voice: Voice, f: Figures) -> str:
    if f["count"] == 1:
        return f"The bill of {voice.span(*f['bill'])}"
    return f"Each of {f['count']} bills from {voice.day(f['bill'][0])}"


def _gap(voice: Voice, f: Figures) -> str:
    text = (
        f"{voice.days(f['days'])} {'lies' if f['days'] == 1 else 'lie'} between the bill to {voice.day(f['closes'])} "
        f"and the next, from {voice.day(f['opens'])}"
    )
    return text + ("." if f["kwh"] is None else f"; by the readings {voice.kwh(f['kwh'])} were used in them.")


def _overlap(voice: Voice, f: Figures) -> str:
    text = f"The bill of {voice.span(*f['bill'])} starts {voice.days(f['days'])} before the last one ends"
    return text + ("." if f["kwh"] is None else f"; by the readings {voice.kwh(f['kwh'])} are on both.")


def _days_mismatch(voice: Voice, f: Figures) -> str:
    bill, printed = voice.span(*f["bill"]), voice.days(f["printed"])
    return f"The bill of {bill} prints {printed}; its dates give {voice.number(f['days'])}."


def _period_length(voice: Voice, f: Figures) -> str:
    if f["cycle"] == "own":
        usual = f"the other bills have about {voice.number(f['middle'])}"
    else:
        usual = f"{f['cycle']} bills have {voice.number(f['fewest'])} to {voice.number(f['most'])}"
    more = f["days"] > f["middle"]
    size = "" if f["kwh"] is None else f", about {voice.figure(abs(f['kwh']))} kWh at its own use a day"
    return (
        f"The bill of {voice.span(*f['bill'])} has {voice.days(f['days'])}; {usual}. That is "
        f"{voice.number(abs(f['days'] - f['middle']))} {'more' if more else 'fewer'} than usual{size}."
    )


def _times(f: Figures) -> str:
    return "twice" if f["count"] == 2 else f"{f['count']} times"


def _copied(voice: Voice, f: Figures) -> str:
    return f"The bill of {voice.span(*f['bill'])} is there {_times(f)}."


def _repeated(voice: Voice, f: Figures) -> str:
    joined, left = ("and with", "neither is") if f["count"] == 2 else ("to", "none of them is")
    return (
        f"The bill of {voice.span(*f['bill'])} is there {_times(f)}, with {voice.kwh(f['least_kwh'])} {joined} "
        f"{voice.kwh(f['most_kwh'])}; the records do not say which one stands, and {left} used."
    )


def _corrected(voice: Voice, f: Figures) -> str:
    text = f"The bill of {voice.span(*f['bill'])} replaces {'an earlier one' if f['count'] == 1 else 'earlier ones'}"
    said = []
    if f["kwh_before"] is not None:
        said.append(f"{voice.kwh(f['kwh'])} instead of {voice.kwh(f['kwh_before'])}")
    if f["amount_before"] is not None:
        said.append(f"{voice.money(f['amount'])} instead of {voice.money(f['amount_before'])}")
    changed = ", ".join(said)
    return f"{text}{f': {changed}' if changed else ''}. Only the corrected bill is used here."


def _run(voice: Voice, f: Figures) -> str:
    energy = "" if f["kwh"] is None else f" ({voice.kwh(f['kwh'])} billed)"
    if f["count"] == 1:
        return f"The bill of {voice.span(*f['bill'])} closes with an estimated reading{energy}"
    return f"{f['count']} bills in a row, to {voice.day(f['closes'])}, close with estimated readings{energy}"


def _estimated(voice: Voice, f: Figures) -> str:
    since = (
        "An actual reading was taken later, but the bill that would put it right is not here."
        if f["read_since"]
        else "No actual reading follows yet, so its error is not known."
    )
    return f"{_run(voice, f)}: it was not read from the meter. {since}"


SPLIT_BY = {
    "days": "Spread evenly over the days",
    "year": "Split as in bills of the same season",
    "weather": "Split by the weather",
}


def _trued_up(voice: Voice, f: Figures) -> str:
    many = f["count"] > 1
    text = (
        f"{_run(voice, f)}. The next bill has an actual reading and puts {'them' if many else 'it'} right (a catch-up)"
    )
    error = f["error"]
    if error is None:
        told = "" if f.get("by") is None else " How far off it was, these bills do not tell."
        return f"{text}.{told.replace('it was', 'they were') if many else told}"
    what = "the estimates were" if many else "the estimate was"
    if f["about_right"]:
        return f"{text}. {SPLIT_BY[f['by']]}, {what} about right."
    way, back = ("high", "less") if error > 0 else ("low", "more")
    by = "By the hourly readings" if f.get("by_hours") else SPLIT_BY[f["by"]]
    about = "" if f.get("by_hours") else f" (give or take {voice.figure(f['doubt'])})"
    return (
        f"{text}. {by}, {what} about {voice.figure(abs(error))} kWh{about} too {way}, and the next bill "
        f"charged that much {back}."
    )


def _catch_up(voice: Voice, f: Figures) -> str:
    many = f.get("estimates", 1) > 1
    before = f"the {f['estimates']} estimates" if many else "the estimate"
    text = f"The bill of {voice.span(*f['bill'])} puts {before} before it right (a catch-up)"
    if f["kwh"] is None:
        return f"{text}."
    return (
        f"{text}. From actual to actual reading the {voice.days(f['days'])} took {voice.kwh(f['kwh'])}, "
        f"{voice.per_day(f['per_day'])}; this bill alone shows {voice.per_day(f['own_per_day'])} and {before} "
        f"before it {voice.per_day(f['estimate_per_day'])}."
    )


def _mismatch(voice: Voice, f: Figures) -> str:
    times = f" x {voice.exact(f['multiplier'])}" if f["multiplier"] != 1 else ""
    through = ", the register having passed zero" if f["passed"] else ""
    more = f["billed"] > f["read"]
    return (
        f"The bill of {voice.span(*f['bill'])} charges {voice.kwh(f['billed'])}; its readings, "
        f"{voice.reading(f['opens'])} to {voice.reading(f['closes'])}{times}{through}, give {voice.kwh(f['read'])}: "
        f"{voice.kwh(abs(f['billed'] - f['read']))} {'more' if more else 'fewer'} charged than read."
        + paid_text(voice, f, f["billed"], f["read"])
    )


def _dated(voice: Voice, f: Figures) -> str:
    across = ", the old meter to its final and the new one from its first," if f["exchanged"] else ""
    return (
        f"The bill of {voice.span(*f['bill'])} charges {voice.kwh(f['billed'])}; the dated readings{across} give "
        f"{voice.kwh(f['read'])}." + paid_text(voice, f, f["billed"], f["read"])
    )


def _own_reading(voice: Voice, f: Figures) -> str:
    whose = "Your own reading" if f["own"] else "The reading"
    kind = f"{f['read_type']} " if f["read_type"] != "actual" else ""
    return (
        f"{whose} of {voice.day(f['day'])}, {voice.reading(f['value'])}, and the {kind}"
        f"{'closing' if f['closing'] else 'opening'} reading of the bill of {voice.span(*f['bill'])}, "
        f"{voice.reading(f['printed'])}, cannot both be right: a register only rises. They are at least "
        f"{voice.kwh(f['kwh'])} apart."
    )


def _misprint(voice: Voice, f: Figures) -> str:
    how = f" ({HOW[f['how']]})" if f["how"] else ""
    return (
        f"The reading of {voice.day(f['day'])} is written {voice.reading(f['closing'])} on one bill and "
        f"{voice.reading(f['opening'])} on the next{how}. The kWh charged agree with {voice.reading(f['right'])}, so "
        f"only the figure {voice.reading(f['wrong'])} is wrong, and the energy charged is not affected."
    )


def _unjoined(voice: Voice, f: Figures) -> str:
    text = (
        f"The bill to {voice.day(f['day'])} closes at {voice.reading(f['closing'])}, and the next one opens at "
        f"{voice.reading(f['opening'])}"
    )
    if f["how"]:
        text += f" ({HOW[f['how']]}: one of the two may be a misread or keying error)"
    if f["kwh"] > 0 and not f["on_both"]:
        return f"{text}. Both readings cannot stand: a register only rises."
    both = "are on both bills" if f["kwh"] > 0 else "are on neither bill"
    return f"{text}. {voice.kwh(abs(f['kwh']))} {both} if both readings stand."


def _jump(voice: Voice, f: Figures) -> str:
    bills = "the bill after it is" if f["count"] == 1 else f"the {f['count']} bills from then on are"
    same = f" Both print meter {f['meter']}." if f["meter"] else ""
    return (
        f"The bill to {voice.day(f['day'])} closes at {voice.reading(f['closing'])}; the next one opens at "
        f"{voice.reading(f['opening'])}, and the register goes on from there. No single misread figure does that.{same} "
        + (
            f"{by_the_hours(voice, f)} An exchange of the meter alone would not do that: most likely {bills} of another "
            "home's meter."
            if f.get("hours")
            else f"Either the meter was exchanged about then, or {bills} of another home's meter."
        )
    )


def by_the_hours(voice: Voice, f: Figures) -> str:
    """Say which bills the interval data add up to, and which not."""
    count, agree = f["count"], f["agree"]
    own = (
        f"each of the {f['own']} bills {f['where']}"
        if f["where"] != "beside"
        else f"each of the {f['own']} other bills"
    )
    which = f"{'only ' * bool(agree)}{agree or 'none'} of the {count} bills of {voice.span(*f['dates'])}"
    return (
        f"The hourly readings (interval data) add up to {own}, so they are of this home's meter, and to {which}: "
        f"{voice.kwh(f['billed'])} by the bills, {voice.number(f['interval'])} by the readings."
    )


def _hours(voice: Voice, f: Figures) -> str:
    return (
        f"{by_the_hours(voice, f)} No one ratio and no hours of reading explain that, and an exchange of the meter would "
        "not: most likely those bills are of another home's meter."
    )


def _rollover(voice: Voice, f: Figures) -> str:
    return (
        f"In the bill of {voice.span(*f['bill'])} the register went past {'9' * f['dials']} and began again: from "
        f"{voice.reading(f['opens'])} to {voice.reading(f['closes'])} is {voice.kwh(f['kwh'])}, with a 1 put before "
        "the closing reading."
    )


def _backwards(voice: Voice, f: Figures) -> str:
    text = (
        f"In the bill of {voice.span(*f['bill'])} the register would have run backwards, from "
        f"{voice.reading(f['opens'])} to {voice.reading(f['closes'])}: one of the two readings is wrong."
    )
    for k, p in enumerate(f["proposals"]):
        whose = ", a customer's reading" if p["customer"] else ""
        text += (
            f" It would {'also ' if k else ''}fit if the reading of {voice.day(p['day'])} were "
            f"{voice.reading(p['fits'])} instead of {voice.reading(p['written'])} ({HOW[p['how']]}{whose})."
        )
    return text


def _suggested(voice: Voice, f: Figures) -> str:
    return (
        f"The bill of {voice.span(*f['bill'])} shows {voice.per_day(f['per_day'])} and the next one "
        f"{voice.per_day(f['next_per_day'])}. No other bill is that high or that low, and both together are ordinary "
        f"({voice.per_day(f['together_per_day'])}). {voice.reading(f['fits'])} instead of "
        f"{voice.reading(f['written'])} ({HOW[f['how']]}) as the reading between them would make both ordinary. That "
        "fits; it is not certain."
    )


def _charges(voice: Voice, f: Figures) -> str:
    which = _which(voice, f)
    if f["since"]:
        which = f"Since {voice.day(f['bill'][0])}, each of {f['count']} bills"
    more = f"{voice.kwh(abs(f['more']))} {'more' if f['more'] > 0 else 'less'} than was read"
    return (
        f"{which} charges {_factor(voice, f['used'])} times the difference of its readings, in all {more}; {_given(voice, f)}."
        + _begins(voice, f)
        + _all_paid(f)
    )


def _lost(voice: Voice, f: Figures) -> str:
    times, day = _factor(voice, f["used"]), voice.day(f["day"])
    when, runs = (
        (f"the meter exchange of {day}", "the new register runs about as the old one did")
        if f["exchange"]
        else (day, "the register runs on about as before")
    )
    return (
        f"Each of {f['count']} bills before {when} charges {times} times the difference of its readings, the bills since then "
        f"the difference alone, and {runs}. Either the multiplier of {times} was left out since then, and "
        f"{voice.kwh(f['less'])} may be billed later, or the bills before charged {times} times what was used."
    )


def _factor(voice: Voice, times: float) -> str:
    """Write a number of times with all its decimals, four at most."""
    decimals = f"{times:.4f}".rstrip("0").partition(".")[2]
    return voice.number(times, 10.0 ** -len(decimals))


def _given(voice: Voice, f: Figures) -> str:
    return "no multiplier is given" if f["given"] == 1 else f"the multiplier given is {voice.exact(f['given'])}"


def _begins(voice: Voice, f: Figures) -> str:
    if not f["begins"]:
        return ""
    meter = f"meter {f['meter']}" if f["meter"] else "the new meter"
    return f" A multiplier of {voice.exact(f['used'])} begins with {meter}: which one applies to it?"


def _all_paid(f: Figures) -> str:
    each = "" if f["count"] == 1 else " of each"
    return {
        "typed": f" The amount{each} is the price of the kWh as charged, so they were not mistyped here: they were "
        "billed.",
        "other": f" The amount{each} is the price of what its readings give, so the kWh were mistyped here.",
    }.get(f.get("paid", ""), "")


def _every_charges(voice: Voice, f: Figures) -> str:
    used, more = voice.exact(f["used"]), voice.exact(f["used"] / f["given"])
    return (
        f"Every bill charges {used} times the difference of its readings; {_given(voice, f)}. Either the "
        f"meter's multiplier is {used} and is missing under [meter], or every bill charges {more} times what was used."
    )


def _changed(voice: Voice, f: Figures) -> str:
    return (
        f"{_which(voice, f)} is made with multiplier {voice.exact(f['used'])}, the other bills of this meter with "
        f"{voice.exact(f['usual'])}, and no exchange is known."
    )


def _as_if(voice: Voice, f: Figures) -> str:
    left_out = f["left_out"]
    why = "a multiplier or a decimal place were wrong"
    if left_out:
        why = f"a multiplier of {voice.exact(left_out)} had been left out"
    if f["begins"]:
        why = f"the multiplier of {voice.exact(f['begins'])} that begins with the new meter did not belong to it"
    times = f"1/{voice.exact(left_out)} of" if left_out else f"{voice.number(f['ratio'])} times"
    return f"{_which(voice, f)} is about {times} what the other bills are a day, as if {why}."


def _exchange(voice: Voice, f: Figures) -> str:
    if not f.get("dated", True):
        return (
            f"The bill of {voice.span(*f['bill'])} is the first from meter {f['new']} ({f['old']} before): the meter was "
            "exchanged within it, or as it began."
        )
    numbers = ""
    if f["old"] or f["new"]:
        numbers = f" ({f['old'] or 'the old one'} out, {f['new'] or 'the new one'} in)"
    bill = f"the bill of {voice.span(*f['bill'])}"
    where = f"within {bill}" if f["inside"] else f"and {bill} is the first from the new one"
    return f"The meter was exchanged on {voice.day(f['day'])}{numbers}, {where}."


def _meter_number_since(voice: Voice, f: Figures) -> str:
    bills = f"Since the bill of {voice.span(*f['bill'])} the bills are of meter {f['billed']}, before of {f['listed']}"
    if f["read"] is None:
        return (
            f"{bills}; the number given for this home's meter is {f['listed']}. Either the meter was exchanged, or these "
            "bills are of another home's meter."
        )
    return (
        f"{bills}; yet meter {f['listed']} was read at home on {voice.day(f['read'])}. If that is this home's meter, these "
        "bills are of another's."
    )


def _meter_number(voice: Voice, f: Figures) -> str:
    return (
        f"The bills are for meter {listed(f['billed'])}; the meter listed for this house is {listed(f['listed'])}. "
        "They may be another meter's bills."
    )


def _tested(voice: Voice, f: Figures) -> str:
    limits = f"right is {voice.exact(f['low'])} to {voice.exact(f['high'])} %"
    shown = f"{voice.exact(f['percent'])} % of what is used"
    if f["low"] <= f["percent"] <= f["high"]:
        return f"The meter was tested on {voice.day(f['day'])} and registers {shown}; {limits}. It is not the meter."
    return f"The test of {voice.day(f['day'])} found that the meter registers {shown}; {limits}."


RECORDS: dict[str, Sentence] = {
    "gap": _gap,
    "gap/every-bill": "Every bill starts one day after the one before it ends: both printed days probably count.",
    "overlap": _overlap,
    "overlap/every-bill": "Every bill shares a day with the one before it: both printed days probably do not count.",
    "days-mismatch": _days_mismatch,
    "days-mismatch/every-bill": lambda voice, f: (
        f"Every bill prints one day {'more' if f['more'] else 'fewer'} than its dates give."
    ),
    "long-period": _period_length,
    "short-period": _period_length,
    "rebill": _corrected,
    "rebill/alone": "The bill of {bill:span} is a corrected bill; the one it replaces is not here.",
    "rebill/cancelled": "The bill of {bill:span} was cancelled, and no corrected bill is here.",
    "duplicate/same": _copied,
    "duplicate/differ": _repeated,
    "estimated-read": _estimated,
    "estimated-read/trued-up": _trued_up,
    "catch-up": _catch_up,
    "catch-up/opens": (
        "The bill of {bill:span} begins with an estimated reading, so it also carries the error of a bill that is not "
        "here."
    ),
    "reading-mismatch": _mismatch,
    "reading-mismatch/dated": _dated,
    "reading-mismatch/own-reading": _own_reading,
    "reading-mismatch/misprint": _misprint,
    "reading-mismatch/unjoined": _unjoined,
    "reading-slip/misprint": _misprint,
    "reading-slip/unjoined": _unjoined,
    "reading-slip/backwards": _backwards,
    "reading-slip/suggested": _suggested,
    "rollover": _rollover,
    "multiplier/readings": _charges,
    "multiplier/lost": _lost,
    "multiplier/every-bill": _every_charges,
    "multiplier/changed": _changed,
    "multiplier/as-if": _as_if,
    "multiplier/perhaps": (
        "Since the exchange of {day:day} the bills are about {percent:percent} of those of the same season before it, as if "
        "the new meter had another multiplier."
    ),
    "meter-exchange": _exchange,
    "meter-number": _meter_number,
    "meter-number/since": _meter_number_since,
    "meter-number/jump": _jump,
    "meter-number/hours": _hours,
    "meter-work": (
        "The diary names work at the meters on {day:day}; since then the bills are about {after:per_day}, before about "
        "{before:per_day}. Where several homes stand together, meters or their wires can be mixed up: the number on the "
        "meter then agrees with the bill, and yet it counts another home."
    ),
    "meter-test/right": _tested,
    "meter-test/fast": _tested,
    "meter-test/slow": _tested,
}
"""Sentence of each finding by ``code`` or ``code/case``."""
