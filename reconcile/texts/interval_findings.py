"""Sentences of what interval data say of the bills."""

from __future__ import annotations

from reconcile.say import Voice
from reconcile.texts import Figures, Sentence

POINTS_TO = {
    "unit": "A ratio of this size is a matter of the unit: the file is in another unit than it says.",
    "power": "The ratio is the length of an interval in hours: the file's values are mean power that was read as "
    "energy, or the other way round.",
    "multiplier": "A whole number points to a meter multiplier that is in one of the two and not in the other.",
    "other-scope": "It can be a meter multiplier or loss factor on the bill, the data of another meter or channel, or "
    "data of a part of the house only.",
}
"""What a ratio of billed to interval energy fits, by code."""


def hour_text(hours: float, voice: Voice) -> str:
    """Say a time of reading, counted in hours from the midnight that begins the printed day.

    Parameters
    ----------
    hours : float
        -24 to 24 [h].

    Examples
    --------
    >>> hour_text(0.0, Voice()), hour_text(9.25, Voice()), hour_text(-16.0, Voice()), hour_text(24.0, Voice())
    ('at midnight', 'at 9:15', 'at 8:00 on the day before', 'at the end of the printed day')
    """
    if hours in (0.0, 24.0, -24.0):
        return {0.0: "at midnight", 24.0: "at the end of the printed day", -24.0: "a day before"}[hours]
    minutes = round((hours % 24.0) * 60.0)
    clock = f"{minutes // 60}:{minutes % 60:02d}"
    return f"at {clock} on the day before" if hours < 0 else f"at {clock}"


def paid_text(voice: Voice, figures: Figures, typed: float, other: float) -> str:
    """Say which of two figures the bill's amount pays for, where it pays for one of them alone."""
    return {
        "typed": f" The amount is the price of {voice.kwh(typed)}, so the kWh were not mistyped here: they were billed.",
        "other": f" The amount is the price of {voice.number(other)} kWh, so the bill is right, and its kWh were "
        "mistyped here.",
    }.get(figures.get("paid", ""), "")


def _beside(voice: Voice, figures: Figures) -> str:
    """Say what a bill has, and what the intervals of its days add up to."""
    over = figures["billed"] - figures["interval"]
    text = (
        f"The bill of {voice.span(*figures['dates'])} says {voice.kwh(figures['billed'])}; the hourly readings "
        f"(interval data) of the same days add up to {voice.number(figures['interval'])} kWh, {voice.number(abs(over))} kWh "
        f"{'less' if over > 0 else 'more'}"
    )
    if figures["hour"]:
        text += f", with the meter read {hour_text(figures['hour'], voice)}, as most of the bills have it"
    return text + "."


def _end(voice: Voice, figures: Figures) -> str:
    text = _beside(voice, figures)
    if figures.get("paid") != "other":
        over = figures["billed"] - figures["interval"]
        which, beside = ("first", "the bill before it") if figures["opens"] else ("last", "the next bill")
        text += (
            f" A {which} reading taken a day early or late would explain it, and then {beside} holds those "
            f"{voice.number(abs(over))} kWh {'less' if over > 0 else 'more'} and nothing is lost; else this one is wrong."
        )
    return text + paid_text(voice, figures, figures["billed"], figures["interval"])


def _bill(voice: Voice, figures: Figures) -> str:
    text = _beside(voice, figures)
    if figures["why"] == "no-hour":
        text += " No time of reading within a day of the printed dates explains it."
    elif figures["hour"] is None and figures["hours"] is not None:
        low, high = (hour_text(round(4.0 * hour) / 4.0, voice) for hour in figures["hours"])
        text += f" The other bills fit a meter read at another hour each time, as from {low.removeprefix('at ')} to {high.removeprefix('at ')}. "
        text += (
            "No such hours explain this one."
            if figures["why"] == "no-such-hour"
            else "By itself this one could fit too, but not together with the readings before and after it."
        )
    if figures["digits_swapped"]:
        text += " Two neighboring digits that changed places would explain it."
    if figures["estimated"]:
        text += " The closing reading was an estimate, which may be all of it."
    return text + paid_text(voice, figures, figures["billed"], figures["interval"])


def _part(voice: Voice, figures: Figures) -> str:
    return (
        f"The bill of {voice.span(*figures['dates'])} says {voice.kwh(figures['billed'])}, but the part of its days "
        f"that the hourly readings (interval data) cover already adds up to {voice.number(figures['interval'])} kWh."
    )


def _ratio(voice: Voice, figures: Figures) -> str:
    ratio = voice.number(figures["ratio"], 0.001 if abs(figures["ratio"] - 1.0) < 0.1 else 0.01)
    of, one = f"{figures['bills']} bills are", "One ratio throughout"
    if figures.get("dates"):
        since = (
            f"Since {voice.day(figures['dates'][0])}" if figures["last"] else f"From {voice.span(*figures['dates'])}"
        )
        of, one = f"{since}, {figures['bills']} bills are", "The others add up. One ratio over several bills"
    over = figures["billed"] - figures["interval"]
    return (
        f"{of} each {ratio} times what their own hourly readings (interval data) add up to "
        f"({voice.number(figures['billed'])} against {voice.number(figures['interval'])} kWh, "
        f"{voice.number(abs(over))} kWh {'more' if over > 0.0 else 'less'}). {one} is "
        f"not the error of one bill, and not the household's use. {POINTS_TO[figures['points_to']]}"
    )


def _more_or_less(voice: Voice, percent: float) -> str:
    return f"{voice.percent(abs(percent), doubt=2.0)} {'less' if percent < 0.0 else 'more'}"


def _foreign(voice: Voice, figures: Figures) -> str:
    least, most = (_more_or_less(voice, figures[key]) for key in ("least", "most"))
    return (
        f"Hardly any of {figures['bills']} bills agrees with the hourly readings (interval data) of its days: they add "
        f"up to from {least} to {most} than the bills, and no hours of reading explain that. The file seems to be of "
        "another meter, another channel or other dates, so nothing else is read from it. Compare the meter number in the "
        "file with the one on the bill."
    )


def _moved(voice: Voice, figures: Figures) -> str:
    first, second = ("earlier", "later") if figures["first_high"] else ("later", "earlier")
    by_hours = ""
    if figures["written"] is not None:
        by_hours = f" By the data it would be about {voice.reading(round(figures['fits']))} instead of {voice.reading(figures['written'])}."
    return (
        f"The reading between two bills, of {voice.day(figures['edge'])}, does not fit the hourly readings (interval data): about "
        f"{voice.number(figures['moved'])} kWh of the {second} bill's use stands on the {first} bill. Together the two "
        "add up." + by_hours
    )


def _estimate(voice: Voice, figures: Figures) -> str:
    return (
        f"The bills of {voice.span(*figures['dates'])} are divided by an estimated reading. About "
        f"{voice.number(figures['moved'])} kWh stand on another of these bills than the one in which they were used; "
        "together they add up to the hourly readings (interval data)."
    )


def _sizes(voice: Voice, figures: Figures) -> str:
    """Say which appliances are recorded at another size, and what can be the reason."""
    one, percent = figures["moved"] == 1, figures["percent"]
    sizes = " and ".join(voice.watts(watts, doubt=50.0) for watts in figures["watts"])
    since = f"Since {voice.day(figures['day'])}"
    if (figures["to"] - figures["from"]).days > SURE_DAYS:
        since = f"Since a day between {voice.day(figures['from'])} and {voice.day(figures['to'])}"
    amount = f"{voice.percent(abs(percent), doubt=2.0)} {'more' if percent > 0 else 'less'} power than before"
    if one:
        text = f"{since}, one appliance of about {sizes} switches with {amount} in the hourly readings (interval data)"
    else:
        several = f"{figures['moved']} of the house's own appliances, among them about {sizes},"
        text = f"{since}, {several} switch with {amount} in the hourly readings (interval data)"
    text += f" (give or take {voice.percent(figures['expanded'], doubt=2.0)}). "
    meter = f"a meter that counts {'more' if percent > 0 else 'less'}"
    if figures["kept"]:
        text += f"By the diary none was replaced; {meter} since then would do this."
    elif one:
        text += f"An appliance that was replaced would do this, and so would {meter}: the data alone do not tell which."
    else:
        text += f"One appliance replaced would move one of them; {meter} moves all."
    if not figures["volts"]:
        by = (
            " By the diary the supply's volts changed then, and that"
            if figures["other_volts"]
            else " A change of the supply's volts"
        )
        text += f"{by} moves heating appliances too, by twice as many percent."
    return text + " A heater run for half an hour through a plug-in energy meter tells a meter from the rest."


def _above_plate(voice: Voice, figures: Figures) -> str:
    """Say that a listed load switches more than its plate leaves room for, and what can be the reason."""
    return voice.fill(
        "{load} is on the list with {listed:watts} by its plate, and is seen to switch {seen:watts} in the hourly readings "
        "(interval data): {percent:percent} more. What elements and the supply's volts usually differ by makes at most "
        "about {room:percent}. A larger element would do this (those of 4,500 and 5,500 W fit the same tanks), and so "
        "would a meter that counts too much, even since before the first bill: the data alone do not tell which. A heater "
        "run for half an hour through a plug-in energy meter tells the meter.",
        figures,
    )


def _own_power(voice: Voice, figures: Figures) -> str:
    """Say that the drawn register shows panels, since when, and what it leaves open."""
    since = figures["since"]
    text = "On {days} days{since} next to nothing was drawn in some hour about noon, while by night the house draws "
    text += (
        "{watts:watts} or more as ever. So it is with solar panels behind the meter; a meter that counts too little "
    )
    text += "does so by night too."
    told = voice.fill(
        text, {**figures, "since": "" if since is None else voice.fill(" since {day:day}", {"day": since})}
    )
    if since is None:
        return told
    return told + " The bills since then hold what was drawn, not what was used: none of them is judged."


SURE_DAYS = 6
"""Width of the limits of a date from which both are said [d]."""

INTERVAL: dict[str, Sentence] = {
    "step-sizes/one": _sizes,
    "step-sizes/several": _sizes,
    "above-plate": _above_plate,
    "own-power/since": _own_power,
    "own-power/always": _own_power,
    "interval-mismatch/bill": _bill,
    "interval-mismatch/end": _end,
    "interval-mismatch/part": _part,
    "interval-mismatch/foreign": _foreign,
    "interval-mismatch/ratio": _ratio,
    "interval-mismatch/moved": _moved,
    "interval-mismatch/estimate": _estimate,
}
"""Findings of the tie-out, by ``code/case``."""


UNCOVERED = {
    "outside": "before or after the data",
    "partly": "the data cover part of it",
    "gaps": "too many readings are missing",
    "not-asked-for": "canceled or replaced",
    "days-in-doubt": "its dates are not known well enough",
}
"""Why a bill was not held against the data, by what the tie-out says of it."""

AGREES: dict[str, str] = {
    "other-hour": "agrees, read at another hour or a day off",
    "any-hour": "agrees, by the hours it was read",
    "opened-off": "agrees, if first read a day off",
    "closed-off": "agrees, if last read a day off",
}
AGREES |= {"split": "agrees with its other rows", "estimate": "agrees with the bill beside it"}
"""How a bill that agrees is spoken of whose reading was not taken at the hour of the others."""


def reads_text(hour: float | None, inclusive: bool, voice: Voice) -> str:
    """Say when the meter was read, as learnt from the bills and the intervals.

    Parameters
    ----------
    hour : float or None
        As in :class:`reconcile.interval.found.IntervalResult` [h].

    Returns
    -------
    str
        Empty where the readings were at midnight of the printed dates.
    """
    told = []
    if inclusive:
        told.append("The printed first and last day of each bill both count: only so do the bills add up.")
    if hour is not None and hour != 0.0:
        told.append(f"The bills add up with the meter read {hour_text(hour, voice)}.")
    return " ".join(told)
