"""The question people come with, answered: whether the meter is fast, and what told."""

from __future__ import annotations

from reconcile.say import Voice
from reconcile.texts import Figures
from reconcile.texts.field.field_test import places
from reconcile.texts.headline_parts import in_season
from reconcile.texts.step_words import BY_REGISTER, RUN_AGAIN

OFTEN = 0.05
"""Chance of a fast or a slow meter from which it is no longer what is usual of meters (our choice)."""
TOLD = 0.25
"""Chance of a fast meter from which it is told, whatever could hide (our choice: a cause is told from there)."""
EVEN = 0.5
"""Chance from which the meter is rather fast than not: what could hide is then no longer the question."""


METER_BLIND = 25.0
"""Smallest visible meter error [%] from which these bills are said to tell nothing of the meter: people come with bills a
quarter higher (our choice, as for an all-clear)."""

TWICE = 100.0
"""Size of what could hide [%] from which none is told: no meter of a home counts twice what is used (our judgement)."""

LEFT_BY: dict[str, str] = {
    "run": "What could hide beside your field test: a meter less than about {percent:number} % fast.",
    "steps": "Your appliances switch as many watts as before: within the hourly readings (interval data) the meter has not become faster by "
    "more than about {percent:number} %.",
}
"""What may be there unseen, where something tells more of the meter than the bills."""

CANNOT_TELL = "These bills cannot tell"


def tells_of_meter(line: str) -> bool:
    """Whether an answer to the question of the meter says more than what is usual of meters."""
    return CANNOT_TELL not in line


def meter_line(figures: Figures, voice: Voice) -> str:
    """Answer the question people come with: is the meter fast? With what these bills could have shown.

    Parameters
    ----------
    figures : mapping
        ``fast`` (None where nothing was weighed), ``slow`` (chance of a slow one), ``percent``, ``watts``, ``run`` (zone of a known load, or empty),
        ``by_load`` (the listed load that told it, where it was no run), ``by`` (what leaves no more than ``percent``), ``once`` (whether one
        run alone told it), ``whose`` (whether another
        home's meter, or another multiplier, is open), ``seasons`` (how much more heating and cooling could hide [%]), ``size`` (of the likely error [%], or None), ``hours`` (whether
        hourly readings were read).

    Examples
    --------
    >>> meter_line({"fast": 0.02, "percent": 9.0, "watts": 200.0, "run": ""}, Voice())[:55]
    'Is the meter fast? Very unlikely (about 2 %). What coul'
    """
    if figures["fast"] is None and figures.get("danger"):
        return "Is the meter fast? That can wait: with a sign of danger no bill is weighed."
    if figures["fast"] is None:
        return "Is the meter fast? These bills are too few to say anything of it."
    run = figures["run"] in ("inside", "fast", "slow")
    if figures.get("whose") and not run:
        return (
            "Is the meter fast? Nothing in these bills tells a wrong meter from another multiplier, or from another home's "
            "meter: see to that first."
        )
    resized = figures.get("resized")
    if not run and resized and figures["fast"] < EVEN:
        why = "appliances are replaced far more often than meters fail. If none was then, it may well be"
        if _volts_open(resized):
            why = "appliances are replaced, and the supply's volts change, far more often than meters fail. If neither was "
            why += "so then, it may well be"
        return voice.fill(
            "Is the meter fast? {capital}: since about {day:day} appliances are recorded with {more} more power, and "
            f"{'by the diary none was replaced' if resized['kept'] else why}.",
            {
                **resized,
                "more": voice.percent(resized["percent"], doubt=2.0),
                "capital": voice.capital(voice.chance(figures["fast"])),
            },
        )
    slow = figures.get("slow") or 0.0
    blind = figures["percent"] is None or figures["percent"] >= METER_BLIND
    if not run and figures["fast"] < TOLD and slow < EVEN and blind:
        shows = "no ordinary meter error would show in bills like these"
        if figures["percent"] is not None and figures["percent"] < TWICE:
            shows = voice.fill("a meter less than {percent:percent} fast could hide in them", figures)
        rarely = "Before looking, meters are rarely wrong: by what is usual of meters it is {chance}."
        usual = rarely if figures["fast"] < OFTEN else "With what these bills look like it is {chance}."
        chance = {"chance": voice.chance(figures["fast"])}
        return voice.fill(f"Is the meter fast? {CANNOT_TELL}: {shows}. {usual}{_slow(figures, voice)}", chance)
    said = voice.fill("Is the meter fast? {capital}.", {"capital": voice.capital(voice.chance(figures["fast"]))})
    slowly = _slow(figures, voice)
    # where use fell, that is what is asked: it is no second sentence
    said = f"{said[:-1]}; that{slowly.removeprefix(' That')}" if slowly and figures.get("fell") else said + slowly
    if slow >= EVEN:
        said = voice.fill("Is the meter fast? No: that it is slow is {chance}.", {"chance": voice.chance(slow)})
    if figures["run"] == "inside":
        return f"{said} A steady load beside a plug-in meter showed it inside its limits."
    if figures["run"] in ("fast", "slow") and figures.get("by_load"):
        much = "much" if figures["run"] == "fast" else "little"
        return f"{said} By the watts you listed for {figures['by_load']}, the data show that it counts too {much}."
    if figures["run"] in ("fast", "slow"):
        once = ", in one run alone" if figures.get("once") else ""
        return f"{said} A steady load beside a plug-in meter showed that it counts too {'much' if figures['run'] == 'fast' else 'little'}{once}."
    if figures["percent"] is None:
        return f"{said} No ordinary meter error would have shown in bills like these."
    if max(figures["fast"], slow) >= EVEN and (figures.get("size") or figures["percent"]) < figures["percent"]:
        hours = " The hourly readings (interval data) tell it; by the bills alone an error of {percent:percent} or more would show."
        return said + (voice.fill(hours, figures) if figures.get("hours") else "")
    if max(figures["fast"], slow) >= EVEN:
        return said + voice.fill(" These bills can show a meter error of {percent:percent} or more.", figures)
    if figures.get("by") in LEFT_BY:
        return f"{said} {voice.fill(LEFT_BY[figures['by']], figures)}"
    season = f" So could {in_season(voice, figures['seasons'])}." if figures.get("seasons") else ""
    load = (
        voice.fill(", or a new load under {watts:watts} day and night", figures) if figures["watts"] is not None else ""
    )
    return said + voice.fill(
        f" What could hide in these bills: a meter less than {{percent:percent}} fast{load}.{season} More than that would very "
        "likely (about 90 %) show, if it began by the middle of the bills. A meter fast since before the first bill would "
        f"not: only a known load tells it.",
        figures,
    )


def _slow(figures: Figures, voice: Voice) -> str:
    """Say how likely it is slow, where that is the likelier of the two and no longer what is usual of meters, or asked."""
    slow = figures.get("slow") or 0.0
    if (slow < OFTEN and not figures.get("fell")) or slow <= figures["fast"]:
        return ""
    unless = ", unless people are at home there as before" if figures.get("emptied") else ""
    return voice.fill(f" That it is slow is {{chance}}{unless}.", {"chance": voice.chance(slow)})


def _volts_open(moved: Figures) -> bool:
    """Whether a change of the supply's volts may be behind appliances that are recorded with more power."""
    return not (moved["volts"] or moved["other_volts"])


def resized_news(voice: Voice, moved: Figures, fast: float) -> str:
    """Say that the house's own appliances are recorded with more power since a date, and what settles why.

    Parameters
    ----------
    moved : mapping
        Figures of the finding ``step-sizes``.
    fast : float
        Chance that the meter is fast.
    """
    several = moved["moved"] > 1
    volts = "the supply's volts changed, or " if _volts_open(moved) else ""
    if moved["kept"]:
        why = f"By the diary none was replaced: {volts}the meter {'' if volts else 'may '}count{'s' if volts else ''} too much "
        why += "(the chance is {fast:chance_percent})."
    else:
        were = "They were" if several else "It was"
        why = (
            f"{were} replaced then, {volts or 'or '}the meter counts too much (the chance is {{fast:chance_percent}}). "
        )
        nothing = "nothing was replaced and the volts are the same" if volts else "nothing was replaced"
        why += f"Find out which first: if {nothing}, the meter may well be the reason."
    which = f"{moved['moved']} of your own appliances are" if several else "an appliance of about {watts} is"
    return voice.fill(
        f"Since about {{day:day}}, {which} recorded with {{more}} more power than before. {why} One steady load beside a "
        "plug-in meter would clear it.",
        {
            "day": moved["day"],
            "more": voice.percent(moved["percent"], doubt=2.0),
            "watts": voice.watts(moved["watts"][0], doubt=50.0),
            "fast": fast,
        },
    )


def run_again(voice: Voice, figures: Figures) -> str:
    """Say what a run with a known load read that tells nothing by itself, and that more of it would tell."""
    step = places(figures["run_expanded"])
    read, doubt = voice.number(figures["run_percent"], step), voice.number(figures["run_expanded"], step)
    slip = figures["run"] != "cannot-tell"
    tells = "may as well be a figure written down wrong" if slip else "neither clears the meter nor shows it wrong"
    if figures["by_constant"]:
        tells = "may as well be the Wh a flash written wrong"
    bills = "With the bills beside it, the chance that the meter is wrong is {wrong:chance_percent}."
    more = "One run alone cannot tell yet; the same run twice more would."
    if figures["by_constant"]:
        more = "The meter's own kWh, read over hours, would tell."
    return f"The run with a known load read {read} % (give or take {doubt}), which {tells}. {voice.fill(bills, figures)} {more}"


WAYS: dict[str, str] = {
    "known-load": "run a heater through a plug-in energy meter beside the meter (30 minutes, no cover removed)",
}
"""The cheap ways to be sure of a meter, for one optional line; none that keeps anybody awake beside a heater."""

AGAIN = {
    RUN_AGAIN: "make the run with the plug-in energy meter twice more, with a larger load or for longer (no cover removed)",
    BY_REGISTER: "make one more run of hours, read off the meter's own kWh (no cover removed)",
}
"""The same where one run was made that cannot tell."""

OF_A_METER = {
    "the meter registers": "the bills count",
    "the old meter registered": "the bills of the old meter counted",
}
"""What is said of a meter, and what of the bills, while it is open whose meter or which multiplier they are of."""


def of_bills(text: str) -> str:
    """Say of the bills what is said of a meter.

    Examples
    --------
    >>> of_bills("Likely, the meter registers 98 % more than is used")
    'Likely, the bills count 98 % more than is used'
    """
    for a_meter, the_bills in OF_A_METER.items():
        text = text.replace(a_meter, the_bills)
    return text


def own_power_news(voice: Voice, figures: Figures) -> str:
    """Say in the headline that the drawn register shows panels; nothing where the house says so itself."""
    if figures["said"]:
        return ""
    since = "" if figures["since"] is None else voice.fill("Since {since:day} ", figures)
    text = f"{since}next to nothing is drawn about noon, and no less by night: so it is with solar panels, not with a slow meter. Are there any?"
    return text[:1].upper() + text[1:]
