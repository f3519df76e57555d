"""What is asked at home and looked at: what began, what the diary says, which circuit, the heating, the cooling."""

from __future__ import annotations

from reconcile.say import Voice, listed
from reconcile.texts import Figures
from reconcile.texts.cause_words import PEOPLE_KWH_A_DAY
from reconcile.texts.interval_signals import in_season, running_text, standard_text

HEATER_WATTS = 1500.0
"""What a portable heater usually draws [W] (the handbook's figure)."""


def _on_a_timer(voice: Voice, figures: Figures) -> str:
    timer, fits = figures["timer"], listed(figures.get("fits") or ())
    what = "a timer" if timer.days_a_week is None else "what is charged or run on those days"
    began = "runs then" if in_season(timer) else "began about {since:day}"
    first = f"Ask at home what {began}, and look for {what}"
    if figures.get("noted"):
        first = f"Look for {what}, first of what your diary says of {{day:day}}, “{{noted}}”"
    text = voice.fill(
        f"{first}: something draws about {{watts:watts}}{running_text(voice, timer, figures.get('until'))}.",
        {**figures, "watts": timer.watts},
    )
    return f"{text} What fits: {fits}." if fits else text


def _of_the_diary(voice: Voice, figures: Figures) -> str:
    """Ask of what the diary says of that time whether it takes as much."""
    a_day = f"about {{a_day:figure}} kWh a day more ({figures['size']} day and night, or more for some hours)"
    watts = f"about {figures['size']} more {'on average' if figures['cause'] == 'timed-load' else 'day and night'}"
    by_day = figures["cause"] == "constant-load" and not figures["hours"]
    ask = {
        "habit-step": "about {size} more of the household's own use",
        "heating-rise": "about {size} more for heating",
        "cooling-rise": "about {size} more for cooling",
    }.get(figures["cause"], a_day if by_day else watts)
    asked = f"Ask at home whether what your diary says of {{day:day}} (“{{noted}}”) fits: {ask}."
    return f"{voice.fill(asked, figures)} If it does not, ask what else began then."


def began(voice: Voice, figures: Figures) -> str:
    """Ask at home what began, with what fits."""
    if figures.get("timer"):
        return _on_a_timer(voice, figures)
    if figures.get("noted"):
        return _of_the_diary(voice, figures)
    fits = listed(figures.get("fits") or ())
    hours = 1000.0 * (figures.get("a_day") or 0.0) / HEATER_WATTS
    heater = (
        f", or a portable heater of about {voice.watts(HEATER_WATTS)} for some {voice.number(hours)} hours a day"
        if figures.get("heater") and hours >= 1.5
        else ""
    )
    never_stops = "a pump that no longer stops, a water heater with a leak"
    one_more = "one more person at home, or "
    if (figures.get("a_day") or 0.0) >= PEOPLE_KWH_A_DAY:
        one_more = ""
        never_stops = "an element of a water heater, or the switch of an air conditioner or a heater, that sticks"
    what = {
        "constant-load": "something that draws about {size} day and night" + heater
        if figures["hours"]
        else f"{one_more}something that uses about {{a_day:figure}} kWh a day: {{size}} day and night"
        + (heater or ", or more for some hours"),
        "timed-load": "something that drew about {size} on average"
        + heater
        + (figures["warm_or_cold"] and f", or more {figures['warm_or_cold']}"),
        "habit-step": "the household's own use changed by about {size} (people, work at home, new habits)"
        + (", or something new runs for hours" if fits or figures.get("own") or figures.get("never_off") else ""),
        "heating-rise": "heating takes about {size} more for the same weather (a setting, a repair, a filter)",
        "cooling-rise": "cooling takes about {size} more for the same weather (a setting, a repair, a filter)",
    }[figures["cause"]]
    who = "who or what came" if figures["cause"] == "constant-load" and not figures["hours"] else "what began"
    when = "about {since:day}"
    if figures.get("until"):  # it is over: nothing can be left off to try
        who, when, what = (
            "what ran",
            "from about {since:day} to {until:day}",
            what.replace("heating takes", "heating took"),
        )
        what = what.replace("cooling takes", "cooling took")
    text = voice.fill(f"Ask at home {who} {when}: {what}.", figures)
    if figures["cause"] not in ("constant-load", "timed-load", "habit-step"):
        return text
    if figures["cause"] == "habit-step" and "something new" not in text:
        return text
    if figures.get("never_off"):
        text += f" From your own list, your {figures['never_off']} would use as much more if it never stopped: look at its timer."
    if figures.get("left_on"):
        text += f" Your {figures['left_on']} would use as much if it was left on out of its listed months: was it?"
    if figures.get("own"):
        text += f" From your own list, {listed([f'your {name}' for name in figures['own']])} may use more than listed."
    return (
        f"{text} What {'else ' if any(map(figures.get, OWN)) else ''}fits: {fits}; or {never_stops}."
        if fits
        else f"{text} It may be {never_stops}."
    )


OWN = ("own", "never_off", "left_on")
"""Figures that name a load of the household's own list."""

ENDED: dict[str, str] = {
    "load-gone": "something that drew about {size} on average was taken away, repaired or switched off",
    "habit-step": "the household's own use fell by about {size} (people, work at home, habits)",
    "meter-low": "somebody who left or is away, heating or cooling over with its season, something taken away or broken",
    "heating-fall": "heating takes about {size} less than before (a repair, a setting, another fuel)",
    "cooling-fall": "cooling takes about {size} less than before (a repair, a setting)",
}


def ended(voice: Voice, figures: Figures) -> str:
    """Ask at home what stopped."""
    return voice.fill(f"Ask at home what ended about {{since:day}}: {ENDED[figures['cause']]}.", figures)


def think_back(voice: Voice, figures: Figures) -> str:
    """Ask what was different then, or whether the diary fits."""
    when = voice.fill("{span:span}", figures) if figures["span"] else "that time"
    if figures["noted"]:
        return voice.fill(f"Your diary says of {{day:day}}: “{{noted}}”. Does it fit the bills of {when}?", figures)
    what = (
        "nobody at home, something taken away or broken"
        if figures["low"]
        else "guests, a heater, a repair, somebody ill"
    )
    where = "your diary" if figures["kept"] else "a file events.txt beside the bills, a line each"
    return f"Think back to {when}: {what}? Write it with its date into {where}."


def named(voice: Voice, figures: Figures) -> str:
    """Ask about the thing that the diary names; its line on the list, or a new one, is what is left to do."""
    does = {
        "": "add it to the list of loads with its watts, its hours a day and its start (column from)",
        "always": "your list has {own} without a start: give it {day:day} as its start (column from)",
        "dated": "check the watts and the hours a day of {own} on your list",
    }[figures["listed"]]
    text = voice.fill(f"Your diary: {{thing}}, {{day:day}}; {does}.", figures)
    text += " Leave it off for a day and a night, unless somebody depends on it, and read the meter before and after."
    fits = listed(figures.get("fits") or ())
    return f"{text} What else fits: {fits}." if fits else text


def of_today(voice: Voice, figures: Figures) -> str:
    """Ask for a reading today beside the bill's."""
    closed = (
        voice.fill(", which closed at {reading:exact} on {day:day}", figures) if figures["reading"] is not None else ""
    )
    text = (
        f"Read the meter today, looking only, and compare it and its number with the last bill as printed{closed}. Check the "
        "figures typed here with it too."
    )
    if figures["instead"] is None:
        return text
    told = "With {instead:exact} in place of {reading:exact} that bill would be as usual: one digit may be wrong."
    return f"{text} {voice.fill(told, figures)}"


BRANCH_BY_BRANCH = (
    ", the main breaker on and every screwed cover on: one person switches off one branch breaker after another, never the "
    "main; another watches the meter. Note which breaker slows it"
)


def breakers(voice: Voice, figures: Figures) -> str:
    """Find the circuit, branch by branch."""
    if figures.get("timer"):
        timer = figures["timer"]
        by = standard_text(timer.by_standard_time)
        when = f"Do it between {timer.begins} and {timer.ends}{by}"
        when += ". Find the circuit" if timer.days_a_week is None else ", on a day on which it runs. Find the circuit"
        size = voice.fill(" by about {watts:watts}", {"watts": figures["timer"].watts})
        return f"{when}{BRANCH_BY_BRANCH}{size}."
    size = voice.fill(" by about {size}", figures) if figures.get("size") else ""
    size += " or more" if size and not figures["hours"] else ""
    return f"Find the circuit{BRANCH_BY_BRANCH}{size}."


def _over(voice: Voice, figures: Figures) -> str:
    return voice.fill("Ask at home what was mended or changed about {until:day}. ", figures) if figures["until"] else ""


def heating(voice: Voice, figures: Figures) -> str:
    """What to look at of a heat pump."""
    return (
        f"{_over(voice, figures)}Look at the heating, no cover off. Does the heat pump's thermostat show AUX, AUX HEAT or EM HEAT on a day that "
        "is not very cold, or is it set to emergency heat? Does the outdoor unit run while the house is heated? Is the air "
        "filter clean? Were the set temperatures changed, or is another electric heater in use?"
    )


def heater(voice: Voice, figures: Figures) -> str:
    """What to look at where no heat pump heats."""
    return (
        f"{_over(voice, figures)}Look at the heating, no cover off. Does its blower stop once the room is warm (fan on AUTO)? Is the air filter "
        "clean? Were the set temperatures changed, or is another electric heater in use?"
    )


def cooling(voice: Voice, figures: Figures) -> str:
    """What to look at of the cooling."""
    return (
        f"{_over(voice, figures)}Look at the cooling, no cover off. Is the air filter clean, and the outdoor unit free of leaves? Does its fan "
        "run while the house is cooled? Is there ice on a pipe or on the indoor unit, or is the air from the vents hardly "
        "cool? Were the set temperatures changed?"
    )


def hot_water(voice: Voice, figures: Figures) -> str:
    """Where hot water may run off that electricity warms."""
    return (
        "Look for hot water that runs off: it takes power day and night, and more in winter. With every tap shut, is a tap, "
        "a shower head or the end of the pipe from the water heater's relief valve dripping, or warm? Take care, it may "
        "scald. Is a floor, a wall or the ground outside warm or damp? Read the water meter, use no water for an hour, and "
        "read it again."
    )


HOT_WATER_SHOWS = (
    (
        "something drips, is warm or damp, or the water meter moved",
        "shut that tap's own valve where it has one, and call a plumber. Never plug a relief valve: it keeps the tank from "
        "bursting",
    ),
    ("all is dry and the water meter stood still", "no hot water runs off: go on with the next step"),
)
"""What that look may show."""

WIRING = (
    "With everything on circuit {circuit} unplugged its wiring still takes about {fell_watts:watts}: leave its breaker off, "
    "and call a licensed electrician."
)
"""Said of what was found breaker by breaker, in place of a look."""

HEATING_SHOWS = (
    (
        "the thermostat is set to emergency heat",
        "set it back to heat. Where it was set so because the heat pump failed, call a heating firm",
    ),
    (
        "AUX or EM HEAT shows by itself for hours, or the outdoor unit stands still",
        "backup heat carries the house, at two to three times the energy: call a heating firm, open nothing",
    ),
    (
        "the filter is clogged, a setting was changed, or another heater is in use",
        "put that right, and watch the next week",
    ),
    ("all is as it should be", "ask a heating firm for a check of the heat pump and its backup heat"),
)
"""What a look at a heat pump may show, and what follows."""

HEATER_SHOWS = (
    (
        "the blower never stops, the filter is clogged, a setting was changed, or another heater is in use",
        "put that right, and watch the next week",
    ),
    ("all is as it should be", "ask a heating firm for a check"),
)
"""What a look at another heater may show, and what follows."""

LIVED_IN = (
    "Is anybody at home there as before? From {since:day} on the bills count so little that hardly anybody would be."
)
"""Asked where nearly all that people use is gone."""

LIVED_IN_SHOWS = (
    (
        "nobody is, or far fewer",
        "that is the cause: write the day into the diary, and nothing else needs to be done",
    ),
    (
        "as before",
        "the meter likely stands still at times, or counts only a part of what is used: look at it, then run the known load",
    ),
)
"""What the answer may be, and what follows."""
