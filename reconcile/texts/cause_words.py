"""What each cause is called, and how it is said: chance first, then what acts, since when, and how much."""

from __future__ import annotations

from datetime import date
from typing import Any

from reconcile.rounding import step_of, to_step, two_figure_step
from reconcile.say import Voice
from reconcile.texts import Figures, Sentence, tell
from reconcile.texts.interval_signals import in_season, running_text

NAMES: dict[str, str] = {
    "none": "no cause needed",
    "single-period": "one odd bill",
    "swap": "use moved between two bills",
    "meter-always": "a meter fast since the first bill",
    "meter-step": "a fast meter",
    "old-meter-slow": "a slow old meter",
    "meter-low": "a slow meter",
    "constant-load": "a new load",
    "timed-load": "a load between two dates",
    "habit-step": "a change of habits",
    "heating-rise": "more heating than usual",
    "cooling-rise": "more cooling than usual",
    "heating-fall": "less heating than usual",
    "cooling-fall": "less cooling than usual",
    "unlisted": "loads missing from the list",
    "load-gone": "a load that is no longer there",
    "generation-fall": "the house's own generation fell",
}
"""Short name of each cause, for tables and pictures."""


MORE_THAN_ONE = 1.1
"""Sum of the chances of some bills from which more than one of them stands apart."""


def _single(voice: Voice, figures: Figures) -> str:
    several = [_which(voice, one) for one in figures.get("one_of") or ()]
    if several and sum(one.probability for one in figures["one_of"]) > MORE_THAN_ONE:
        return f"more than one bill stands apart by itself: {', and '.join(several)}"
    if several:
        return f"one bill alone stands apart, and the bills leave open which: {', or '.join(several)}"
    side = "low" if figures["fell"] else "high"
    if figures.get("bills", 1) > 1:
        until = " to {until:day}" if figures.get("until") else ""
        return voice.fill(
            f"{{bills}} bills on end are {side}, by about {{size}} together, as of an empty house: from {{since:day}}{until}",
            figures,
        )
    return voice.fill(f"one bill alone is {side}, by about {{size}}: the one that begins {{since:day}}", figures)


def _moved(voice: Voice, figures: Figures) -> str:
    if figures.get("bills", 2) <= 2:
        told = "about {size} billed in one of two neighboring bills belongs to the other (from {since:day})"
    else:
        side = "more" if figures["fell"] else "less"
        told = (
            f"the {figures['bills'] - 1} bills from {{since:day}} charge about {{size}} {side} than was used, and the one "
            f"after them puts it right, as an actual reading does after estimates"
        )
    return voice.fill(told, figures)


def _which(voice: Voice, one: Any) -> str:
    side = "low" if one.kwh < 0.0 else "high"
    figures = {"since": one.since, "kwh": voice.figure(abs(one.kwh)), "chance": voice.chance_percent(one.probability)}
    return voice.fill(f"the one that begins {{since:day}}, about {{kwh}} kWh {side} ({{chance}})", figures)


def _habit(voice: Voice, figures: Figures) -> str:
    moved = "fell" if figures["fell"] else "rose"
    return voice.fill(f"the household's own use {moved} by about {{size}}, from {{since:day}}", figures)


def _by_clock(voice: Voice, figures: Figures) -> str:
    timer, over = figures["timer"], figures.get("until")
    draws, when = ("drew", ", from {since:day} to {until:day}") if over else ("draws", ", since {since:day}")
    when, while_on = ("", " while it does") if in_season(timer) else (when, "")
    runs = running_text(voice, timer, over)
    told = f"something {draws} about {{watts:watts}}{runs}{when} (about {{size}} on average{while_on})"
    return voice.fill(told, {**figures, "watts": timer.watts})


def _timed(voice: Voice, figures: Figures) -> str:
    if figures.get("timer"):
        return _by_clock(voice, figures)
    until = " to {until:day}" if figures.get("until") else ""
    return voice.fill(f"something drew about {{size}} on average from {{since:day}}{until}", figures)


PEOPLE_KWH_A_DAY = 30.0
"""Most that guests, or people in a house that is empty otherwise, are said to use more [kWh/d]: as much as a whole home
does in the mean of the country (some 10,500 kWh a year, from memory; our choice)."""


def _constant(voice: Voice, figures: Figures) -> str:
    """What draws the same every day: bills tell kWh a day, never the hours of the day."""
    if figures.get("timer"):
        return _by_clock(voice, figures)
    if figures.get("grew_until"):
        told = "something draws about {size} round the clock: it began about {since:month}, grew until about {grew_until:month} and has stayed so"
        return voice.fill(told, figures)
    if figures["hours"]:
        return voice.fill("something draws about {size} round the clock, since {since:day}", figures)
    people = " or people" if figures["a_day"] < PEOPLE_KWH_A_DAY else ""
    return voice.fill(
        "use has been about {a_day:figure} kWh a day higher since {since:day}: {size} round the clock, or a bigger "
        f"load{people} for some hours",
        figures,
    )


def _unlisted(voice: Voice, figures: Figures) -> str:
    if figures.get("seasonal"):
        return voice.fill(
            "about {size} on average is not on the list of loads, most of it in the months of the highest bills: heating or "
            "cooling that the list lacks",
            figures,
        )
    return voice.fill("about {size} on average has been there all the time and is not on the list of loads", figures)


def _weather(what: str) -> Sentence:
    """More heating or cooling, or less: it goes with the weather where that is known, and may be over again."""

    def said(voice: Voice, figures: Figures) -> str:
        than = "than in the hot months before" if what == "cooling" else "than in the cold months before"
        than = "for the same weather" if figures.get("weathered", True) else than
        much = f"about {{size}} {'less' if figures.get('fell') else 'more'} {than}"
        if figures.get("until"):
            return voice.fill(f"{what} used {much}, from {{since:day}} to {{until:day}}", figures)
        return voice.fill(f"{what} uses {much}, since {{since:day}}", figures)

    return said


def _fast(voice: Voice, figures: Figures) -> str:
    if figures.get("grew_until"):
        told = "the meter has turned fast by and by since about {since:month}, and by {grew_until:month} registered about {size} more than was used"
        return voice.fill(told, figures)
    return voice.fill("the meter registers about {size} more than is used, since {since:day}", figures)


def _panels(voice: Voice, figures: Figures) -> str:
    if figures.get("all_of_it"):
        return voice.fill("the house's own panels make nothing, or next to nothing, since {since:day}", figures)
    return voice.fill("the house's own panels make about {size} less than before, since {since:day}", figures)


def _slow(voice: Voice, figures: Figures) -> str:
    if figures.get("grew_until"):
        told = "the meter has turned slow by and by since about {since:month}, and by {grew_until:month} registered about {size} less than was used"
        return voice.fill(told, figures)
    if figures["since"] is None:
        return voice.fill(
            "the meter registers about {size} less than is used; these bills do not tell since when", figures
        )
    return voice.fill("the meter registers about {size} less than is used, since {since:day}", figures)


SAYS: dict[str, Sentence] = {
    "none": "days, weather and habits are enough to account for these bills",
    "none-apart": "apart from {apart}, days, weather and habits are enough to account for the bills",
    "single-period": _single,
    "swap": _moved,
    "meter-step": _fast,
    "meter-always": "the meter has registered about {size} more than is used since before the first bill",
    "old-meter-slow": "the old meter registered about {size} less than was used, until {until:day}",
    "meter-low": _slow,
    "constant-load": _constant,
    "timed-load": _timed,
    "habit-step": _habit,
    "heating-rise": _weather("heating"),
    "cooling-rise": _weather("cooling"),
    "heating-fall": _weather("heating"),
    "cooling-fall": _weather("cooling"),
    "unlisted": _unlisted,
    "load-gone": "about {size} on average is no longer used, since {since:day}",
    "generation-fall": _panels,
}
"""What each cause says once its chance has been said."""


def cause_text(code: str, probability: float, figures: Figures, voice: Voice) -> str:
    """Say a cause in one sentence, chance first.

    Parameters
    ----------
    figures : mapping
        ``size`` (written, with its unit), ``since``, ``until``, ``grew_until``, ``fell``; ``hours`` (whether hours of the
        day are known) and ``a_day`` [kWh/d] for what draws the same every day; ``weathered``; ``unsure`` (first and last day on which it
        may have begun, where they lie months apart).

    Examples
    --------
    >>> figures = {"size": "400 W", "since": date(2025, 10, 9), "until": None, "fell": False, "hours": True}
    >>> cause_text("constant-load", 0.8, figures, Voice())
    'Likely (about 80 %), something draws about 400 W round the clock, since October 9, 2025.'
    """
    unsure = figures.get("unsure")
    date = voice.fill(" (the date is unsure: {dates})", {"dates": voice.span(*unsure)}) if unsure else ""
    return f"{voice.capital(voice.chance(probability))}, {tell(voice, SAYS, code, figures)}{date}."


UNSURE_DAYS = 75
"""Days within which a cause likely began from which its date is said to be unsure [d]: two or three bills (our choice)."""


def unsure(since: date | None, low: date | None, high: date | None) -> tuple[date, date] | None:
    """Return the days between which a cause began, where they lie months apart.

    Examples
    --------
    >>> unsure(date(2024, 6, 24), date(2024, 4, 2), date(2024, 11, 9))
    (datetime.date(2024, 4, 2), datetime.date(2024, 11, 9))
    >>> unsure(date(2024, 6, 24), date(2024, 6, 14), date(2024, 7, 2))
    """
    if since is None or low is None or high is None or (high - low).days < UNSURE_DAYS:
        return None
    return low, high


def size_text(size: float, unit: str, doubt: float | None, voice: Voice) -> str:
    """Write a size with its unit, rounded to its doubt but never to nothing.

    Examples
    --------
    >>> size_text(412.0, "W", 60.0, Voice()), size_text(21.7, "%", 45.0, Voice())
    ('410 W', '22 %')
    """
    size = abs(size)
    write = {"W": voice.watts, "%": voice.percent}.get(unit, voice.kwh)
    rough = write(size) if unit in ("W", "%") else f"{voice.figure(size)} kWh"
    if doubt is None or not 0 < doubt < size:
        return rough
    return write(size, doubt=doubt)


def kwh_a_day(watts: float, limits: tuple[float | None, float | None]) -> float:
    """Return a day's energy of watts round the clock [kWh/d], of the watts as :func:`size_told` writes them.

    Examples
    --------
    >>> kwh_a_day(418.0, (200.0, 600.0)), kwh_a_day(412.0, (None, None))
    (9.6, 9.84)
    """
    low, high = limits
    watts, doubt = abs(watts), None if low is None or high is None else (high - low) / 2.0
    step = two_figure_step(watts) if doubt is None or not 0 < doubt < watts else step_of(doubt)
    return round(24.0 * to_step(watts, step) / 1000.0, 3)


def size_told(size: float, unit: str, limits: tuple[float | None, float | None], voice: Voice) -> str:
    """Write the size of a cause as every sentence writes it, by its limits.

    Examples
    --------
    >>> size_told(412.0, "W", (350.0, 474.0), Voice()), size_told(412.0, "W", (None, None), Voice())
    ('410 W', '410 W')
    """
    low, high = limits
    return size_text(size, unit, None if low is None or high is None else (high - low) / 2.0, voice)


def named(code: str, since: date | None, voice: Voice) -> str:
    """Name a cause with the date from which, or until which, it acts.

    Examples
    --------
    >>> named("meter-step", date(2025, 3, 7), Voice())
    'a fast meter, from Mar 7, 2025'
    """
    word = "until" if code == "old-meter-slow" else "from"
    name = NAMES.get(code, code.replace("-", " "))
    return f"{name}, {word} {voice.short_day(since)}" if since else name
